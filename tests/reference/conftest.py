"""Cases with answers from outside the project: one JSON file each, read by id, compared within its tolerance.

A case holds: source (where the answer stands), from_memory (whether inputs or answers were typed from memory of
that source), given (inputs), answer, within (absolute tolerance; "rel" adds that share of the answer; a key of
the answer overrides the tolerance for that answer) and note. Positions in the answers count from 1.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

CASES = Path(__file__).parent / "cases"


@dataclass(frozen=True)
class Case:
    """One case: its inputs, and the check of an answer against the published one."""

    id: str
    source: str
    from_memory: bool
    given: dict[str, Any]
    answer: dict[str, Any]
    within: dict[str, float]

    def agrees(self, key: str, value: Any) -> None:
        """Fail unless value is the published answer under key, within the printed digits."""
        expected = self.answer[key]
        absolute = self.within.get(key, self.within.get("abs", 0.0))
        assert value == pytest.approx(expected, abs=absolute, rel=self.within.get("rel", 0.0)), (
            f"{self.id}: {key} is {value}, {self.source} has {expected}"
        )


@pytest.fixture
def case() -> Callable[[str], Case]:
    """Return the reader of cases: case("p-oj-trial")."""

    def read(name: str) -> Case:
        facts = json.loads((CASES / f"{name}.json").read_text(encoding="utf-8"))
        return Case(
            name,
            facts["source"],
            facts["from_memory"],
            facts["given"],
            facts["answer"],
            facts["within"],
        )

    return read
