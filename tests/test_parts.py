"""The lock holds what is asked for, the bill is CycloneDX, and each part's licence stands in the docs.

The bill is held against the schema of CycloneDX 1.5 by a library of others (cyclonedx-python-lib).
"""

import json
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from qc import parts
from qc.cli import main

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
UNBOUND = {"tzdata"}  # the law's changes of the clocks, by year: a bound would keep a plant on old ones


@pytest.fixture(scope="module")
def here():
    return parts.installed_parts()


def test_the_lock_pins_every_part_within_its_bounds(here):
    assert parts.lock_faults(parts.read_lock(), here) == []


def test_a_lock_that_does_not_hold_is_told(here):
    lock = parts.read_lock()
    flask = lock["flask"]

    assert parts.lock_faults({**lock, "flask": replace(flask, version="9.0")}, here)[0].startswith(
        "flask is pinned to 9.0"
    )
    assert parts.lock_faults({**lock, "flask": replace(flask, hashes=())}, here) == ["flask has no hash"]
    assert parts.lock_faults({name: pin for name, pin in lock.items() if name != "flask"}, here)[0] == (
        "flask is needed and not pinned"
    )
    assert parts.lock_faults({name: pin for name, pin in lock.items() if name != "jinja2"}, here) == [
        "jinja2 is needed by another part and not pinned"
    ]


def test_what_is_installed_and_not_what_is_pinned_is_told(here):
    lock = {name: replace(pin, version="0.1") for name, pin in parts.read_lock().items() if name == "flask"}

    (words,) = parts.differences(lock, here)
    assert words.endswith("is installed, 0.1 is pinned")


def test_the_lock_names_no_place_to_fetch_from():
    assert not re.search(r"://|--index|--find", parts.LOCK.read_text(encoding="utf-8"))


def test_each_need_has_a_bound_above():
    asked = [*PROJECT["dependencies"], *(need for extra in PROJECT["optional-dependencies"].values() for need in extra)]

    assert [need for need in asked if "<" not in need and re.split(r"[><=]", need)[0] not in UNBOUND] == []


def test_the_bill_is_what_its_schema_asks(here):
    from cyclonedx.schema import SchemaVersion  # two seconds of each worker that gathers the tests, at the top
    from cyclonedx.validation.json import JsonStrictValidator

    bill = json.loads(CliRunner().invoke(main, ["parts", "bill"]).output)

    assert JsonStrictValidator(SchemaVersion.V1_5).validate_str(json.dumps(bill)) is None
    assert JsonStrictValidator(SchemaVersion.V1_5).validate_str(json.dumps({**bill, "components": "none"})) is not None
    assert {one["name"] for one in bill["components"]} == {part.name for part in here}
    refs = {one["bom-ref"] for one in bill["components"]} | {"daybay"}
    assert all(set(one["dependsOn"]) <= refs for one in bill["dependencies"])


def test_each_part_stands_in_the_docs_with_its_licence(here):
    page = (ROOT / "static" / "docs" / "parts.md").read_text(encoding="utf-8")
    lock = parts.read_lock()

    for part in here:
        assert part.licence != "not named", part
        same = part.name in lock and lock[part.name].version == part.version
        row = f"| {part.name} | {part.licence} |" if same else f"| {part.name} | "
        assert row in page, row
