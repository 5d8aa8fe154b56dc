"""What is true in the invented plant, as frozen records read from ``demo_data/story``."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from sqlite_utils.utils import Format, rows_from_file


@dataclass(frozen=True, slots=True)
class Inspector:
    """An inspector. minor, major: share found of what is there; early, late: share of the shift's units."""

    code: str
    minor: float
    major: float
    early: float
    late: float

    def share(self, shift: str) -> float:
        """Return the share of a shift's units that this inspector walks round."""
        return self.early if shift == "early" else self.late

    def finds(self, severity: str) -> float:
        """Return the chance that this inspector records a defect that is there."""
        return self.minor if severity == "minor" else self.major


@dataclass(frozen=True, slots=True)
class Rate:
    """Defects made: of one type at one origin, per 100 units of the middle model, with each model's factor."""

    type: str
    origin: str
    per_100: float
    factors: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A change of what is made at a station; see story.toml for the shapes. full_week is 0 for a step."""

    id: str
    what: str
    station: str
    types: Mapping[str, float]
    shape: str
    from_week: int
    to_week: int
    full_week: int = 0


@dataclass(frozen=True, slots=True)
class Week:
    """A week as planned: number from 1, its Monday, units by model. units is their sum."""

    number: int
    monday: date
    by_model: Mapping[str, int]

    @property
    def units(self) -> int:
        """Units presented in the week."""
        return sum(self.by_model.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Critical:
    """A planted critical. week: of the daylight bay; found: T01, D01 or FIELD; others as in story.toml."""

    week: int
    type: str
    origin: str
    model: str
    found: str
    disputed_by: str = ""
    inspector: str = ""
    dealer_week: int = 0


@dataclass(frozen=True, slots=True)
class Change:
    """A note of a change at a station, from the Monday of a week."""

    station: str
    week: int
    kind: str
    what: str
    types: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """The whole story. The mappings hold shares and settings by the names of story.toml's sections."""

    first_monday: date
    units_a_shift: int
    inspectors: tuple[Inspector, ...]
    rates: tuple[Rate, ...]
    events: tuple[Event, ...]
    weeks: tuple[Week, ...]
    criticals: tuple[Critical, ...]
    changes: tuple[Change, ...]
    detection: Mapping[str, float]
    unit_shape: float
    origin: Mapping[str, float]
    noise: Mapping[str, Any]
    phones: Mapping[str, Any]
    relook: Mapping[str, int]

    def week_of(self, day: date) -> int:
        """Return the story's week that holds a day; week 1 begins on first_monday, earlier weeks are 0 and below."""
        return (day - self.first_monday).days // 7 + 1

    def monday(self, week: int) -> date:
        """Return the Monday of a week of the story."""
        return self.first_monday + timedelta(weeks=week - 1)

    def twin_of(self, code: str) -> str | None:
        """Return the near-twin type that is picked by mistake, None for a type without one."""
        for one, other in self.noise["twins"]:
            if code in (one, other):
                return str(other if code == one else one)
        return None


def read_story(folder: Path) -> Story:
    """Return the story of a folder with story.toml, rates.csv and weeks.csv."""
    data = tomllib.loads((folder / "story.toml").read_text(encoding="utf-8"))
    return Story(
        first_monday=data["first_monday"],
        units_a_shift=data["units_a_shift"],
        inspectors=tuple(Inspector(**one) for one in data["inspector"]),
        rates=tuple(_rate(row) for row in rows(folder / "rates.csv")),
        events=tuple(Event(**one) for one in data["event"]),
        weeks=tuple(_week(row) for row in rows(folder / "weeks.csv")),
        criticals=tuple(Critical(**one) for one in data["critical"]),
        changes=tuple(Change(**{**one, "types": tuple(one["types"])}) for one in data["change"]),
        detection=data["detection"],
        unit_shape=data["unit_effect"]["shape"],
        origin=data["origin"],
        noise=data["noise"],
        phones=data["phones"],
        relook=data["relook"],
    )


def rows(path: Path) -> list[dict[str, str]]:
    """Return a CSV file's rows by heading."""
    with path.open("rb") as file:
        found, _ = rows_from_file(file, format=Format.CSV)
        return [{heading: str(cell) for heading, cell in row.items()} for row in found]


def _rate(row: Mapping[str, str]) -> Rate:
    factors = {model: float(row[model]) for model in ("T36", "M50", "H62")}
    return Rate(row["type"], row["origin"], float(row["per_100_M50"]), factors)


def _week(row: Mapping[str, str]) -> Week:
    by_model = {model: int(row[model]) for model in ("T36", "M50", "H62")}
    return Week(int(row["week"]), date.fromisoformat(row["monday"]), by_model)
