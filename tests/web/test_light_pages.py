"""An opened folder, and a page that computes nothing, need no library of statistics, tables or charts.

A served plant loads what its other pages need before it listens (`test_warm.py`); commands do not.
"""

import subprocess
import sys
from pathlib import Path

from tests.web.plant_server import PlantServer, invented_plant

ROOT = Path(__file__).parents[2]
HEAVY = ("numpy", "scipy", "statsmodels", "pandas", "plotly", "sqlite_utils")
SCRIPT = """
import sys
from pathlib import Path

HEAVY = {heavy!r}


def loaded(after, status=200):
    found = [name for name in HEAVY if name in sys.modules]
    if status != 200 or found:
        sys.exit(f"{{after}} answers {{status}} and loads {{found}}")


import qc.web.server
loaded("qc serve")

from qc.web.app import create_app
from qc.web.house import open_house
from tests.web.plant_server import NOW, Page
house = open_house(Path({folder!r}), lambda: NOW)
app = create_app(house)
loaded("an opened folder")


class Server:
    client = staticmethod(app.test_client)


for role, address in {asked!r}:
    page = Page(Server, role)
    loaded(address, page.client.get(address, follow_redirects=True).status_code)
house.close()
"""
ASKED = [
    ("inspector", "/app/"),
    ("inspector", "/sign-in"),
    ("inspector", "/units"),
    ("dispatch", "/"),
    ("repairer", "/paper"),
]


def lived_in(folder: Path) -> None:
    """Make a folder that has been opened before: its first opening takes the library of the migrations."""
    invented = invented_plant()[0]
    (folder / "plant").mkdir(parents=True)
    for name, table in invented.items():
        (folder / "plant" / name).write_text(table, encoding="utf-8")
    PlantServer(folder).house.close()


def run(folder: Path, asked: list[tuple[str, str]]) -> subprocess.CompletedProcess:
    script = SCRIPT.format(heavy=HEAVY, folder=str(folder), asked=asked)
    return subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=ROOT)


def test_an_opened_folder_and_plain_pages_load_nothing_heavy(tmp_path):
    lived_in(tmp_path / "plant")

    done = run(tmp_path / "plant", ASKED)

    assert (done.returncode, done.stderr) == (0, "")


def test_the_check_sees_a_page_that_computes(tmp_path):
    lived_in(tmp_path / "plant")

    done = run(tmp_path / "plant", [("quality_manager", "/review")])

    assert done.returncode == 1
    assert "/review answers 200 and loads ['numpy'" in done.stderr
