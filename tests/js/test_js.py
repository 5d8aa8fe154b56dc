"""The app's modules: their own tests under node, their types, their number and size, and what a phone must keep."""

import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from qc.assets import folder
from qc.domain.plant_json import phone_plant
from qc.domain.tables.plant_tables import plant_from_tables, tables_of

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
PWA = folder("pwa")
MOST_MODULES = 60
MOST_DEPTH = 4
# As served, packed; 3 500 so that every sentence can be said in another language, 330 so that a unit is asked for the
# tests and origins of its own line, 200 so that its options are told by name
MOST_START_BYTES = 72_600
MOST_BYTES = 160_000


def missing(words: str) -> None:
    """Leave the check out and say so; on the build server a missing tool is a failure."""
    if os.environ.get("CI") == "true":
        pytest.fail(words)
    pytest.skip(words)


def tool(name: str, variable: str) -> str:
    """Return a tool named by an environment variable, in node_modules/.bin, or on the path."""
    places = [os.environ.get(variable), str(ROOT / "node_modules" / ".bin" / name), shutil.which(name)]
    found = next((place for place in places if place and Path(place).exists()), None)
    if found is None:
        missing(f"no {name} here (set {variable}, or run npm install {name}): this check is left out")
    return str(found)


def read_by(reader: str, scripts: Path) -> Any:
    """Return what a reader beside this module, which parses by typescript, tells of a folder of scripts."""
    typescript = ROOT / "node_modules" / "typescript" / "lib" / "typescript.js"
    if not typescript.is_file():
        missing(f"no typescript in node_modules (npm install typescript): what {reader} reads is left out")
    run = subprocess.run(
        [tool("node", "DAYBAY_NODE"), str(HERE / reader), str(typescript), str(scripts)],
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(run.stdout)


@pytest.mark.node
def test_the_modules_own_tests_pass(tmp_path):
    plant = tmp_path / "plant.json"
    plant.write_text(json.dumps(phone_plant(plant_from_tables(tables_of(folder("demo_data") / "plant")))))
    tests = sorted(str(path) for path in HERE.glob("*.test.js"))

    run = subprocess.run(
        [tool("node", "DAYBAY_NODE"), "--test", *tests],
        capture_output=True,
        text=True,
        env={**os.environ, "DAYBAY_PLANT": str(plant), "TZ": "Europe/London"},
    )

    assert tests
    assert run.returncode == 0, run.stdout + run.stderr


@pytest.mark.node
@pytest.mark.parametrize("project", ["tsconfig.json", "tsconfig.worker.json"])
def test_the_types_of_the_app_hold(project):
    run = subprocess.run([tool("tsc", "DAYBAY_TSC"), "-p", str(HERE / project)], capture_output=True, text=True)

    assert run.returncode == 0, run.stdout


def unformatted(scripts: Iterable[Path]) -> str:
    """Return what the formatter says of scripts that are not as it writes them, "" where all are."""
    settings = ["--config", str(ROOT / ".prettierrc.json"), "--list-different"]
    run = subprocess.run(
        [tool("prettier", "DAYBAY_PRETTIER"), *settings, *map(str, scripts)], capture_output=True, text=True
    )
    return run.stdout + run.stderr


@pytest.mark.node
def test_scripts_are_wrapped_as_the_formatter_wraps_them():
    rooms = (PWA, folder("static"), HERE, ROOT / "tests" / "browser")
    scripts = sorted(path for room in rooms for path in room.rglob("*.js"))

    assert {"main.js", "charts.js", "html.test.js", "frame.js"} <= {path.name for path in scripts}
    assert unformatted(scripts) == "", "npx prettier --write them, and look at the difference"


@pytest.mark.node
def test_a_planted_long_line_is_found(tmp_path):
    long = tmp_path / "long.js"
    long.write_text(f"const words = [{', '.join(repr(n) for n in range(1000, 1030))}];\n")

    assert "long.js" in unformatted([long])


@pytest.mark.node
def test_a_planted_wrong_type_is_found(tmp_path):
    shutil.copytree(PWA, tmp_path / "pwa")
    config = json.loads((HERE / "tsconfig.json").read_text())
    config["include"] = ["pwa/lib/*.js"]
    (tmp_path / "tsconfig.json").write_text(json.dumps(config))
    clock = tmp_path / "pwa" / "lib" / "clock.js"
    clock.write_text(clock.read_text() + "\nage('an hour');\n")

    run = subprocess.run([tool("tsc", "DAYBAY_TSC"), "-p", str(tmp_path)], capture_output=True, text=True)

    assert run.returncode != 0
    assert "clock.js" in run.stdout


def code_of(path: Path) -> str:
    """Return a module's text without its comments."""
    return re.sub(r"/\*.*?\*/", "", path.read_text(), flags=re.DOTALL)


def imports_of(path: Path, *, later: bool = False) -> list[Path]:
    """Return the modules that a module imports when it starts; with later also those that it loads on demand."""
    names = re.findall(r'^import [^;]*?"([^"]+)";', code_of(path), flags=re.MULTILINE)
    if later:
        names += re.findall(r'\bimport\("([^"]+)"\)', code_of(path))
    assert all(name.startswith(("./", "../")) for name in names), f"{path} imports {names}"
    return [(path.parent / name).resolve() for name in names]


def depths(*, later: bool = False) -> dict[Path, int]:
    """Return each module that the app loads at its start, with how many imports lie between it and the page.

    later: also what is loaded when a screen is first opened, counted from the page as well.
    """
    found = {PWA.resolve() / "main.js": 1}
    queue = list(found)
    while queue:
        here = queue.pop(0)
        for module in imports_of(here, later=later):
            if module not in found:
                found[module] = found[here] + 1
                queue.append(module)
    return found


def packed(modules: Iterable[Path]) -> int:
    """Return how many bytes the modules take over the wire."""
    from qc.web.assets_site import the_site

    files = the_site().files
    return sum(len(files[f"pwa/{path.relative_to(PWA.resolve())}"].small()) for path in modules)


def test_every_module_is_loaded_by_the_page_at_its_start_or_on_demand():
    written = {path.resolve() for path in PWA.rglob("*.js")} - {PWA.resolve() / "sw.js"}

    assert set(depths(later=True)) == written


def test_what_is_loaded_on_demand_is_named_in_one_place_in_plain_words():
    asking = {path.name: code_of(path) for path in PWA.rglob("*.js") if re.search(r"\bimport\(", code_of(path))}

    assert list(asking) == ["later.js"]
    assert len(re.findall(r"\bimport\(", asking["later.js"])) == len(re.findall(r'\bimport\("', asking["later.js"]))


def test_what_a_defect_needs_is_here_at_the_start():
    start = {path.name for path in depths()}
    needed = {"find.js", "walk.js", "zone.js", "draft.js", "photos.js", "stop.js", "outbox.js", "sync.js", "units.js"}

    assert needed <= start


def test_the_page_preloads_exactly_what_it_starts_with():
    page = (PWA / "index.html").read_text()
    preloaded = re.findall(r'rel="modulepreload" href="__ASSETS__/([^"]+)"', page)
    needed = {str(path.relative_to(PWA.resolve())) for path in depths()} - {"main.js"}

    assert sorted(preloaded) == sorted(needed)


def test_the_phone_keeps_every_file_that_the_page_needs():
    from qc.web.assets_site import the_site

    site = the_site()
    kept = set(site.precache())
    scripts = {site.address(f"pwa/{path.relative_to(PWA.resolve())}") for path in depths(later=True)}
    styles = re.findall(r'rel="stylesheet" href="__ASSETS__/([^"]+)"', (PWA / "index.html").read_text())
    shared = re.findall(r'rel="stylesheet" href="__SHARED__/([^"]+)"', (PWA / "index.html").read_text())
    needed = {*(f"pwa/{style}" for style in styles), *(f"static/{style}" for style in shared)}

    assert len(styles) == len(list((PWA / "css").glob("*.css")))
    assert shared == ["css/tokens.css"]
    assert scripts | {site.address(name) for name in needed} | {"/app/"} <= kept


def test_the_app_stays_small_enough_for_a_cold_start():
    start = depths()
    everything = depths(later=True)

    assert len(start) <= MOST_MODULES
    assert max(everything.values()) <= MOST_DEPTH
    assert packed(start) <= MOST_START_BYTES
    assert packed(everything) <= MOST_BYTES


@pytest.mark.node
@pytest.mark.parametrize("planted", ["", "const css = `\n/* kept */\n`;\n"])
def test_what_is_served_is_the_source_less_its_comments(tmp_path, planted):
    """TypeScript prints a source and what is served of it, both without comments: only a planted one may differ."""
    from qc.web.assets_site import without_comments

    tool("tsc", "DAYBAY_TSC")
    pairs = {}
    for path in (*PWA.rglob("*.js"), *folder("static").rglob("*.js")):
        source = path.read_text() + planted
        pairs[str(path)] = (source, without_comments(source))
        assert pairs[str(path)][1].count("\n") == source.count("\n")
    (tmp_path / "pairs.json").write_text(json.dumps(pairs))
    run = subprocess.run(
        [tool("node", "DAYBAY_NODE"), str(HERE / "same_code.js"), str(tmp_path / "pairs.json")],
        capture_output=True,
        text=True,
    )

    assert run.returncode == 0, run.stderr
    assert json.loads(run.stdout) == (list(pairs) if planted else [])


def test_nothing_is_written_inline_that_the_content_policy_blocks():
    page = (PWA / "index.html").read_text()
    sources = page + "".join(path.read_text() for path in PWA.rglob("*.js"))

    assert re.findall(r"<script(?![^>]*\bsrc=)[^>]*>|<style", sources) == []
    assert re.findall(r"\sstyle=|\son[a-z]+=\"", sources) == []
    assert re.findall(r"https?://(?!www\.w3\.org)", sources) == []
