"""The wheel holds what git holds: nothing that is ignored goes along, nothing that is needed stays behind."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PLACES = {"static/": "qc/_bundled/static/", "pwa/": "qc/_bundled/pwa/", "demo_data/": "qc/_bundled/demo_data/"}


def tracked() -> set[str]:
    """Return the tracked files of the shipped folders, under the names that they have in the wheel."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "qc", *PLACES], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\0")
    return {place(name) for name in listed if name}


def place(name: str) -> str:
    for outside, inside in PLACES.items():
        if name.startswith(outside):
            return inside + name.removeprefix(outside)
    return name


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel, built from the tracked files only, as a fresh clone would."""
    out = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", out, ROOT],
        check=True,
        capture_output=True,
        text=True,
    )
    return next(out.glob("*.whl"))


def test_the_wheel_holds_exactly_the_tracked_files_of_the_shipped_folders(wheel):
    packed = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}

    assert packed == tracked()


def test_the_wheel_is_called_daybay_and_brings_the_command(wheel):
    archive = zipfile.ZipFile(wheel)
    entry_points = next(name for name in archive.namelist() if name.endswith("entry_points.txt"))

    assert wheel.name.startswith("daybay-")
    assert "qc = qc.cli:main" in archive.read(entry_points).decode()
