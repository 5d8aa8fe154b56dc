"""The page of signals: each watched sum week by week, found and expected on the same units."""

import re
from dataclasses import dataclass
from functools import cached_property

from tests.recount.attributed import Expected, Given, Rows, Sheet, Table, Value, Words
from tests.recount.everywhere import ESTIMATE, given, literal
from tests.recount.plant import week_of
from tests.recount.presented import Presented
from tests.recount.printed import Page
from tests.recount.record import Defect
from tests.recount.view import View

PHOTOS = 12  # the latest, and no more
MIX = Given(
    "the same units under the plant's own model mix: qc/stats/change/mix_exposure, held in tests/stats and tests/truth"
)
WATCH = Given("what the watch answers: qc/stats/watch/watch_design, held against simulation in tests/truth")


@dataclass(frozen=True)
class Sum:
    """One watched sum of a station: the types that it adds up."""

    view: View
    station: str
    types: frozenset[str]

    @cached_property
    def units(self) -> list[Presented]:
        return [one for one in self.view.counted.units if one.week <= self.view.week]

    def of(self, unit: Presented) -> list[Defect]:
        return [
            one
            for one in unit.defects
            if one.stands_against == self.station and one.type in self.types and one.severity != "critical"
        ]

    def found(self, first: str, last: str) -> list[Defect]:
        return [one for unit in self.units if first <= unit.week <= last for one in self.of(unit)]

    def units_with_one(self, first: str, last: str) -> list[int]:
        """Return the sequence numbers of units with such a defect whose work at the station lies in some weeks."""
        return sorted(
            unit.unit.sequence
            for unit in self.units
            if self.of(unit) and first <= week_of(self.view.counted.work_day(self.station, unit)) <= last
        )


class Sums:
    """The sums that a page names, each with its types: by its own name, or as the page lists them."""

    def __init__(self, view: View, page: Page) -> None:
        self.view = view
        self.named = {row["name"]: code for code, row in view.plant.types.items()}
        self.listed: dict[tuple[str, str], frozenset[str]] = {}
        for one in page.sentences:
            if one.text.startswith("It sums "):
                station, what = self.split(one.place.split(" > ")[1].replace(" : ", ", ").rpartition(", ")[0])
                codes = re.findall(r"(?:sums|;) ([A-Z]+-\d+) ", one.text)
                self.listed[station, what] = frozenset(codes)

    def split(self, head: str) -> tuple[str, str]:
        """Return a station's code and the sum's own name, from “S08 Roof fit and seal: Seals and water-tightness”."""
        for code, row in self.view.plant.stations.items():
            name = f"{code} {row['name']}"
            if name in head:
                return code, head.partition(name)[2].lstrip(":, ")
        code, _, what = head.partition(" ")
        return code, what

    def of(self, head: str) -> Sum:
        station, what = self.split(head)
        types = frozenset({self.named[what]}) if what in self.named else self.listed.get((station, what), frozenset())
        return Sum(self.view, station, types)


def signals_words(view: View, page: Page) -> Sheet:
    """Return what the recount knows of signals wherever they are told."""
    sums = Sums(view, page)

    def told(groups: dict[str, str]) -> dict[str, Value]:
        found = sums.of(groups["head"]).found(groups["a"], groups.get("b") or view.week)
        return {"d": len(found), "e": MIX}

    words = []
    for way in ("more", "fewer"):
        start = f"{{head:words}}: {way} than usual, {{d}} defects where {{e}} were to be expected from {{a:week}}"
        words += [Words(f"{start} to {{b:week}}", told), Words(f"{start} (", told)]
        words.append(
            Words(
                f"{{head:words}}: {way} than usual, {{d}} defect where {{e}} were to be expected from {{a:week}}", told
            )
        )
    return Sheet(
        words=[
            *words,
            given("({r} times, {a} to {b} at 95 %)", ESTIMATE, "r", "a", "b"),
            given("as strong in {n} of 1000 such watches", WATCH, "n"),
            given("would raise {n} as strong", WATCH, "n"),
            *literal("fewer than 1 in 1000 such watches"),
            given("{n} new in {w:week}, {k} known before", WATCH, "n", "k"),
            given("{n} new signal in {w:week}", WATCH, "n"),
            given("{n} new signals in {w:week}", WATCH, "n"),
            given("; {k} known before", WATCH, "k"),
            given("by {k} of the {n} weeks", WATCH, "k", "n"),
            given("({k} with a signal left out)", WATCH, "k"),
            given("and {k} more, whatever the week says", WATCH, "k"),
            given("a signal stood in {k} of the {n} weeks", WATCH, "k", "n"),
            given("{k} standing, with weeks", WATCH, "k"),
            *(
                given(f"{new}, {{k}} known", WATCH, "n", "k", place="few lines > Signals")
                for new in ("{n} new", "none new")
            ),
        ]
    )


def signals_sheet(view: View, page: Page) -> Sheet:
    """Return what the recount knows of the page of signals."""
    sums = Sums(view, page)
    sheet = signals_words(view, page)

    def rows(groups: dict[str, str], _: Table) -> Expected:
        one = sums.of(groups["head"])
        return Expected([
            (week, ((len(one.found(week, week)),), (MIX,))) for week in reversed(view.record_weeks)
        ])  # fmt: skip

    sheet.rows.append(Rows("{head:words} by the week found, majors and minors", rows))
    for heading, head in _heads(page).items():
        sheet.words += _of_card(sums.of(head), re.escape(heading.split(" <")[0]), _since(page, head))
    sheet.words += [
        given("{n} sums of station and type are watched", WATCH, "n"),
        given("and {n} of them, where it would show", WATCH, "n"),
        given("the limits in force add up to {n}", WATCH, "n"),
        *literal("at most 1 false signal a quarter"),
    ]
    return sheet


def _heads(page: Page) -> dict[str, str]:
    """Return each card's heading with the head of its sum: station and what it sums."""
    headings = {one.place.split(" > ")[1] for one in page.sentences if " : " in one.place}
    return {one: one.split(" <")[0].replace(" : ", ", ").rpartition(", ")[0] for one in headings}


def moved_sums(view: View, page: Page) -> list[Sum]:
    """Return the sums on which the page says that a signal stands or stood."""
    sums = Sums(view, page)
    return [sums.of(head) for head in _heads(page).values()]


def _since(page: Page, head: str) -> str:
    """Return the week from which a page says that a sum moved."""
    for one in page.sentences:
        if one.text.startswith(f"{head.replace(' :', ',')}: ") and (week := re.search(r"from (\d{4}-W\d\d)", one.text)):
            return week[1]
    return ""


def _of_card(one: Sum, place: str, since: str) -> list[Words]:
    def units(groups: dict[str, str]) -> dict[str, Value]:
        told = one.units_with_one(groups["a"], groups.get("b") or one.view.week)
        return {"n": len(told), "s": told[0] if told else -1, "t": told[-1] if told else -1}

    def photos(_: dict[str, str]) -> dict[str, Value]:
        return {"n": min(PHOTOS, sum(defect.photos for defect in one.found(since, one.view.week)))}

    return [
        Words(
            "work: from {a:week}, and it lasts ({span:words}). Units with such a defect: {n}, sequence {s} to {t}",
            units,
            place,
        ),
        Words(
            "work: from {a:week} to {b:week} ({span:words}). Units with such a defect: {n}, sequence {s} to {t}",
            units,
            place,
        ),
        Words("Its photos, {n} latest", photos, place),
        Words("Its photo, {n} latest", photos, place),
    ]
