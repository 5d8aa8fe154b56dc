"""A served plant has loaded what its pages need before the first is asked for: none holds up a push by doing so."""

import subprocess
import sys

from tests.web.test_light_pages import ROOT, lived_in

PAGES = ["/review", "/signals", "/stations", "/stations/S05", "/units", "/backlog", "/inspectors", "/people", "/paper"]
SCRIPT = """
import sys
from pathlib import Path
from qc.web import warm
from qc.web.app import create_app
from qc.web.house import open_house
from tests.web.plant_server import NOW, Page

warm.LIBRARIES = tuple(name for name in warm.LIBRARIES if name not in {left_out!r})
house = open_house(Path({folder!r}), lambda: NOW)
app = create_app(house)
warm.warm(app)


def loaded():
    libraries = {{name.split(".")[0] for name in sys.modules}} | {{name for name in sys.modules if "scipy" in name}}
    return libraries | set(app.jinja_env.cache.keys())


class Server:
    client = staticmethod(app.test_client)


page, late = Page(Server, "quality_manager"), {{}}
for address in {pages!r}:
    before = loaded()
    status = page.client.get(address).status_code
    more = {{name for name in loaded() - before if isinstance(name, tuple) or "scipy" in name or "numpy" in name}}
    if status != 200 or more:
        late[address] = (status, sorted(map(str, more)))
house.close()
sys.exit(str(late) if late else 0)
"""


def run(folder, *left_out: str) -> subprocess.CompletedProcess:
    script = SCRIPT.format(folder=str(folder), pages=PAGES, left_out=left_out)
    return subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=ROOT)


def test_no_page_is_the_first_to_load_a_library_or_compile_a_template(tmp_path):
    lived_in(tmp_path / "plant")

    done = run(tmp_path / "plant")

    assert (done.returncode, done.stderr) == (0, "")
    assert "scipy.special" in run(tmp_path / "plant", "scipy.special", "scipy.optimize", "scipy.sparse").stderr


LOADING = """
import gc, os
from pathlib import Path
from qc.web import server


def ready():
    print(gc.isenabled(), gc.get_freeze_count() > 9 * len(gc.get_objects()), flush=True)
    os._exit(0)


server._load(Path({folder!r}), ["localhost"], ready)
"""


def test_a_server_that_is_ready_goes_over_its_own_program_no_more(tmp_path):
    lived_in(tmp_path / "plant")

    script = LOADING.format(folder=str(tmp_path / "plant"))
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=ROOT)

    assert (done.stdout.split(), done.returncode) == (["True", "True"], 0), done.stderr
