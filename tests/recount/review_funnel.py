"""The end of section 7: each station against its own past."""

from collections import Counter

from tests.recount.attributed import Expected, Marks, Rows, Sheet, Table, Value, Words
from tests.recount.everywhere import ESTIMATE, LIMITS, counted, given, literal
from tests.recount.presented import Presented, weeks_to
from tests.recount.record import Defect
from tests.recount.station import split
from tests.recount.view import NON_CRITICAL, View, spoken

WINDOW = 13
LED = ("feeder", "remote", "main")  # stations that build
PLACE = "own past"


class Funnel:
    """Stations' defects on the units of some weeks, and what an earlier stretch leads one to expect on them."""

    def __init__(self, view: View) -> None:
        self.view = view

    def units(self, station: str, first: str, last: str) -> list[Presented]:
        return [
            one
            for one in self.view.counted.units
            if first <= one.week <= last
            and self.view.narrowed.takes(one.unit.model, one.shift)
            and self.view.plant.builds(station, one.unit.model)
        ]

    def made(self, station: str, units: list[Presented]) -> list[Defect]:
        return [
            one for unit in units for one in unit.defects
            if one.stands_against == station and one.severity in NON_CRITICAL
        ]  # fmt: skip

    def expected(self, station: str, now: list[Presented], past: list[Presented]) -> float:
        """Return what the past would have made of the same units, model by model."""
        built = Counter(one.unit.model for one in past)
        made = Counter(self.view.record.units[one.unit].model for one in self.made(station, past))
        return sum(made[one.unit.model] / built[one.unit.model] for one in now if built[one.unit.model])

    def rows(self, groups: dict[str, str], table: Table) -> Expected:
        told: list[tuple[str, list[tuple[Value, ...]]]] = []
        for code, row in self.view.plant.stations.items():
            if row["kind"] not in LED:
                continue
            now = self.units(code, groups["a"], groups["b"])
            made = self.made(code, now)
            expected = self.expected(code, now, self.units(code, groups["c"], groups["d"]))
            if not expected:
                continue
            label = spoken(code, self.view.plant.stations)
            printed = next((shown for shown in table.rows if shown[0] == label), [""] * 8)
            told.append((label, [
                (len(now),), split(made), (expected,), (len(made) / expected, LIMITS, LIMITS),
                (ESTIMATE,) * 3, (ESTIMATE,) * any(c.isdigit() for c in printed[6]), (),
            ]))  # fmt: skip
        return Expected(told)

    def sums(self, words: str) -> list[Value]:
        return [len(self.made(words.split()[0].rstrip(":"), self._recent(words.split()[0].rstrip(":")))), ESTIMATE]

    def _recent(self, station: str) -> list[Presented]:
        weeks = weeks_to(self.view.week, WINDOW)
        return self.units(station, weeks[0], weeks[-1])


def funnel_sheet(view: View) -> Sheet:
    funnel = Funnel(view)
    stations = view.plant.stations

    def named(code: str) -> int:
        return len(funnel.made(code, funnel._recent(code)))

    unknown = sum(
        not one.stands_against
        for unit in view.units(*weeks_to(view.week, WINDOW))
        for one in unit.defects
        if one.severity in NON_CRITICAL
    )
    return Sheet(
        words=[
            *(
                Words(f"{spoken(code, stations)} ({{d}}, {{e}} expected)",
                      lambda _, code=code: {"d": named(code), "e": ESTIMATE}, PLACE)
                for code in stations
            ),
            *(given(f"{code} ({{p}} %)", ESTIMATE, "p", place=PLACE) for code in stations),
            *(counted(f"{code} ({{n}} now)", PLACE, n=lambda code=code: named(code)) for code in stations),
            *literal("fewer than 5 defects expected", place=PLACE),
            counted("{n} defects of unknown or disputed origin are charged to no station", PLACE, n=unknown),
            given("and are {n} times as wide again", LIMITS, "n", place=PLACE),
            counted("needs {n} weeks before these", PLACE, n=8),
            counted("the record has {n}.", PLACE, n=lambda: _earlier(view)),
        ],
        rows=[
            Rows("{words:words}Units of {n} weeks {a:week} to {b:week}, the past is {m} weeks {c:week} to {d:week}.",
                 funnel.rows, PLACE),
        ],
        marks=[Marks("funnel", lambda words: funnel.sums(words) if words.split()[0].rstrip(":") in stations else ())],
    )  # fmt: skip


def _earlier(view: View) -> int:
    first = weeks_to(view.week, WINDOW)[0]
    return sum(one < first for one in view.record_weeks)
