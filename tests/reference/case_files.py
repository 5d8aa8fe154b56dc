"""Read a reference case: facts typed from a named source, with how near an answer must come.

A case file holds: source; from_memory (typed from memory of the source, which ties inputs and answer together but
proves no page number); given; expect; within (absolute, with "relative" and own keys where they differ); note.
"""

import json
from pathlib import Path
from typing import Any

import pytest

CASES = Path(__file__).parent / "cases"


def case(name: str) -> dict[str, Any]:
    """Return the case of that name; a missing source is an error, since the source is the point of it."""
    facts = json.loads((CASES / f"{name}.json").read_text())
    assert facts["source"], f"{name} names no source"
    return facts


def near(facts: dict[str, Any], key: str, value: Any = None) -> Any:
    """Return what ``expect[key]`` (or the given part of it) may be, as a pytest.approx of the case's tolerance."""
    within = facts["within"]
    absolute = within.get(key, within["absolute"])
    expected = facts["expect"][key] if value is None else value
    return pytest.approx(expected, abs=absolute, rel=within.get("relative", 0))
