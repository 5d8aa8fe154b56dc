"""A run that is cut off has said which tests failed; what hangs is ended; what takes long is run when asked for."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

WAITS = """
import pathlib, time
def test_fails():
    assert 2 == 3, "two is not three"
def test_waits_until_the_failure_was_read():
    end = time.monotonic() + 60
    while not pathlib.Path(__file__).with_name("read").exists():
        assert time.monotonic() < end
        time.sleep(0.02)
"""

HANGS = """
import time
def test_hangs():
    time.sleep(60)
def test_after():
    pass
"""

LONG = """
import pytest
@pytest.mark.long
def test_takes_an_hour():
    pass
def test_takes_a_moment():
    pass
"""


ALONE = {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}  # with the others a run costs three times as much


def begun(folder: Path, text: str, *options: str, alone: bool = True) -> subprocess.Popen[str]:
    """Run a file of tests in a folder that has the conftest of this one; alone: with no plugin but the needed."""
    shutil.copy(Path(__file__).with_name("conftest.py"), folder / "conftest.py")
    (folder / "test_it.py").write_text(text)
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
        "--rootdir",
        str(folder),
        "--timeout-method=signal",
    ]
    if alone:
        command += ["-p", "pytest_timeout", "-p", "xdist.plugin"]
    env = {**os.environ, **ALONE} if alone else None
    return subprocess.Popen([*command, *options, "test_it.py"], cwd=folder, env=env, stdout=subprocess.PIPE, text=True)


@pytest.mark.parametrize(
    ("options", "alone"),
    [([], True), ([], False), (["-n", "1"], True)],
    ids=["one process", "with every plugin of the suite", "workers"],
)
def test_a_failure_is_told_before_the_run_ends(tmp_path, options, alone):
    with begun(tmp_path, WAITS, *options, alone=alone) as run:
        told = next(line for line in run.stdout if "failed: " in line)
        ends_after = run.poll() is None
        (tmp_path / "read").touch()
        rest = run.stdout.read()

    assert "test_it.py::test_fails" in told
    assert "two is not three" in told
    assert ends_after, "told only at the end"
    assert "1 failed, 1 passed" in rest


def test_a_test_that_hangs_is_ended_and_the_next_one_runs(tmp_path):
    with begun(tmp_path, HANGS, "--timeout", "1") as run:
        told = run.stdout.read()

    assert "failed: test_it.py::test_hangs: Failed: Timeout" in told
    assert "1 failed, 1 passed" in told


@pytest.mark.parametrize(
    ("options", "comes"),
    [
        ([], "1 passed, 1 deselected"),
        (["-m", "not browser"], "1 passed, 1 deselected"),
        (["-m", "(long)"], "1 passed, 1 deselected"),
        (["-m", "long or not long"], "2 passed"),
    ],
)
def test_a_long_form_runs_where_it_is_asked_for(tmp_path, options, comes):
    (tmp_path / "pytest.ini").write_text("[pytest]\nmarkers =\n  long: the long form\n  browser: none here\n")
    with begun(tmp_path, LONG, *options) as run:
        told = run.stdout.read()

    assert comes in told
