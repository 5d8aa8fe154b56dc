"""An act on a range of shop numbers looked through: what it would do to each unit, before anything is done."""

from collections.abc import Mapping
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from qc.domain.handed.build_plan import Outcome
from qc.domain.handed.unit_range import ACTS, UnusableRange, range_lines
from qc.domain.plant.chassis import cleaned
from qc.domain.plant.plant import Plant
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.units.build_plan import PlanReport
from qc.reports.wording import listed
from qc.store.reading.numbered import units_in_range
from qc.store.reading.reads import Reads

MOST = 1_000  # units in one act
_COUNTED: Mapping[Outcome, str] = {
    "changed": marked("{number} to change"),
    "same": marked("{number} so already"),
    "wrong": marked("{number} that cannot be"),
}


class RangeReport(PlanReport):
    """An act on a range looked through: its lines are units, none of them new."""

    @property
    def summary(self) -> str:
        """How many units come to what: "9 units: 5 to change, 3 so already and 1 that cannot be"."""
        told = [say(words, number=len(self.of(one))) for one, words in _COUNTED.items() if self.of(one)]
        return say_many("{number} unit: {told}", "{number} units: {told}", len(self.lines), told=listed(told))


def unit_range_report(
    reads: Reads, plant: Plant, now: int, *, first: str, last: str, act: str, reason: str, day: str, line: str
) -> RangeReport:
    """Return what an act would do to the units from one shop number to another, both in it; nothing is done.

    now: ms since 1970 UTC. Raises UnusableRange, in words for who asked.
    """
    first, last = cleaned(first), cleaned(last)
    first, last = first or last, last or first
    if not first:
        raise UnusableRange(say("no shop number was given; give the first and the last of the range"))
    if len(first) != len(last) or first > last:
        words = say(
            "from “{first}” to “{last}” is no range: both are whole shop numbers of one length, the smaller first",
            first=first[:40],
            last=last[:40],
        )
        raise UnusableRange(words)
    if act not in ACTS:
        raise UnusableRange(
            say("“{act}” is nothing that is done to a range; there are {acts}", act=act[:20], acts=", ".join(ACTS))
        )
    units = units_in_range(reads.connection(), first, last, MOST + 1)
    if not units:
        raise UnusableRange(
            say(
                "no unit from {first} to {last} is planned; read the numbers off the build plan", first=first, last=last
            )
        )
    if len(units) > MOST:
        raise UnusableRange(
            say(
                "from {first} to {last} are more than {most} units; take a smaller range",
                first=first,
                last=last,
                most=MOST,
            )
        )
    today = datetime.fromtimestamp(now / 1000, UTC).astimezone(ZoneInfo(plant.time_zone)).date()
    return RangeReport(range_lines(units, act, reason, day, line, plant, today), ())
