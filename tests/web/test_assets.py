"""The app's files: the precache list is what main.js imports; an address with the hash never changes its content."""

import gzip
import re
from pathlib import Path

import pytest

from qc.assets import folder
from qc.web.assets_site import PLOTLY, Site, charts_script

PWA = folder("pwa")
_IMPORT = re.compile(
    r"""(?:^|\n)\s*(?:import|export)\s[^;'"]*?from\s*["']([^"']+)["']|(?:^|\n)\s*import\s*["']([^"']+)["']"""
)

_LATER = re.compile(r"""await import\(["']([^"']+)["']\)""")


def imported_from(module: Path) -> set[Path]:
    found = {first or second for first, second in _IMPORT.findall(module.read_text())}
    assert all(name.startswith((".", "..")) and name.endswith(".js") for name in found), (module, found)
    return {(module.parent / name).resolve() for name in found}


def import_graph(start: Path) -> dict[Path, int]:
    """Return every module that ``start`` needs, with how many imports it lies away."""
    depth, waiting = {start.resolve(): 0}, [start.resolve()]
    while waiting:
        module = waiting.pop(0)
        for other in imported_from(module):
            if other not in depth:
                depth[other] = depth[module] + 1
                waiting.append(other)
    return depth


@pytest.fixture(scope="module")
def site():
    return Site(folder("static"), PWA, charts_script())


def opened_later(graph: dict[Path, int]) -> set[Path]:
    """Return the modules that those of a graph load when a screen is first opened, and what these need."""
    later = {(module.parent / name).resolve() for module in graph for name in _LATER.findall(module.read_text())}
    return {needed for module in later for needed in import_graph(module)}


def precached_scripts(site) -> set[Path]:
    prefix = f"/a/{site.version}/pwa/"
    return {(PWA / name.removeprefix(prefix)).resolve() for name in site.precache() if name.endswith(".js")}


def test_the_precache_list_holds_what_the_app_imports_and_no_more(site):
    start = import_graph(PWA / "main.js")

    assert opened_later(start) - set(start)
    assert precached_scripts(site) == set(start) | opened_later(start)


def test_the_app_starts_from_few_modules_in_few_rounds():
    graph = import_graph(PWA / "main.js")

    assert len(graph) <= 60
    assert max(graph.values()) <= 4


def test_a_module_that_nobody_precached_would_be_found(tmp_path):
    (tmp_path / "main.js").write_text('import { a } from "./lib/a.js";\nimport "./b.js";\n')
    (tmp_path / "lib").mkdir()
    (tmp_path / "lib" / "a.js").write_text('export * from "../b.js";\n')
    (tmp_path / "b.js").write_text("")

    assert {path.name: depth for path, depth in import_graph(tmp_path / "main.js").items()} == {
        "main.js": 0,
        "a.js": 1,
        "b.js": 1,
    }


def test_the_worker_is_given_the_list_and_the_version(server, site):
    worker = server.client().get("/app/sw.js")

    assert worker.content_type == "text/javascript; charset=utf-8"
    assert worker.headers["Cache-Control"] == "no-cache"
    assert f'"{site.version}"' in worker.text
    assert f'"/a/{site.version}/pwa/main.js"' in worker.text
    assert '"/app/"' in worker.text
    assert "__PRECACHE__" not in worker.text
    assert "__VERSION__" not in worker.text


def test_the_page_and_the_manifest_name_files_under_the_hash(server, site):
    page, manifest = server.client().get("/app/"), server.client().get("/app/manifest.webmanifest")

    for starter in (page, manifest):
        assert starter.status_code == 200
        assert starter.headers["Cache-Control"] == "no-cache"
        assert "__ASSETS__" not in starter.text
    assert f'src="/a/{site.version}/pwa/main.js"' in page.text
    assert manifest.content_type == "application/manifest+json"


def test_everything_that_is_precached_can_be_had(server, site):
    for address in site.precache():
        assert server.client().get(address).status_code == 200, address


def test_what_starts_the_app_is_asked_for_again_each_time_and_cheaply(server):
    page = server.client().get("/app/")

    again = server.client().get("/app/", headers={"If-None-Match": page.headers["ETag"]})

    assert (again.status_code, again.data) == (304, b"")


def test_a_file_under_the_hash_is_kept_for_ever(server, site):
    answer = server.client().get(f"/a/{site.version}/static/css/base.css")

    assert answer.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert answer.content_type == "text/css; charset=utf-8"


@pytest.mark.parametrize(
    "path",
    [
        "static/css/none.css",
        "../qc/assets.py",
        "static/../../qc/assets.py",
        "pwa/index.html",
        "pwa/sw.js",
        "",
        "static",
        "static//css/base.css",
    ],
)
def test_nothing_else_is_served(server, site, path):
    assert server.client().get(f"/a/{site.version}/{path}").status_code in (301, 308, 404)


def test_another_versions_hash_is_not_there(server):
    """A page of an earlier version must not be given this version's files: it would mix the two."""
    assert server.client().get("/a/0123456789abcdef/static/css/base.css").status_code == 404


def test_a_changed_file_changes_every_address(tmp_path, site):
    changed = tmp_path / "pwa"
    changed.mkdir()
    (changed / "main.js").write_text("// other\n")

    assert Site(folder("static"), changed, charts_script()).version != site.version


def test_the_charts_script_is_packed_once_and_is_plotlys_own(server, site):
    address = site.address(PLOTLY)
    packed = server.client().get(address, headers={"Accept-Encoding": "gzip"})

    assert gzip.decompress(packed.data) == charts_script().read_bytes()
    assert len(packed.data) < 1_800_000
    assert site.files[PLOTLY].small() is site.files[PLOTLY].small()


def test_an_unknown_file_is_named(site):
    with pytest.raises(KeyError, match=r"static/css/none\.css"):
        site.address("static/css/none.css")
