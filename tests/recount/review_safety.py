"""Section 1 of the review: every critical by number, and the units between them."""

from datetime import timedelta

from tests.recount.attributed import Expected, Rows, Sheet, Value
from tests.recount.everywhere import LIMITS, counted, given, literal
from tests.recount.plant import week_of
from tests.recount.presented import weeks_to
from tests.recount.record import FIELD, Defect
from tests.recount.view import View

ALIKE_DAYS = 14
GAPS = 8  # so many before a usual range is said


def safety_sheet(view: View) -> Sheet:
    def now() -> int:
        return len(criticals_in(view, view.week))

    def still_open() -> int:
        return sum(  # an open one is told however the page is narrowed
            one.severity == "critical" and one.state in ("open", "repaired") for one in view.record.defects.values()
        )

    return Sheet(
        words=[
            counted("{u} units presented since the last one", u=lambda: units_after_last(view)),
            counted(
                "since the last critical, each by every end point of its build: {u}.", u=lambda: units_after_last(view)
            ),
            counted("{n} found", "few lines > Criticals", n=now),
            counted("{u} since the last one, still open", u=lambda: units_after_last(view)),
            counted("The last gap was {u} units", u=lambda: _gap(view, criticals(view)[-1])),
            *(
                counted(
                    f"{{n}} {noun} before {{w:week}} on record, since {{d:words}}{what}",
                    "1 Safety",
                    n=lambda: len(criticals_on_record(view)),
                )
                for noun in ("critical", "criticals")
                for what in ("; those", ", each")
            ),
            counted("of the weeks shown, since {w:week}, are listed: {n}", n=lambda: len(criticals_before(view))),
            counted("the record has {n}.", "1 Safety", n=lambda: _gaps_before(view)),
            *(
                counted(f"{{n}} {noun} in {{w:week}}", "1 Safety|few lines", n=now)
                for noun in ("critical", "criticals")
            ),
            *(counted(f"{{n}} {noun} left out here", n=now) for noun in ("critical", "criticals")),
            *(counted(f"{{n}} {noun} open", n=still_open) for noun in ("critical is", "criticals are")),
            counted("The baseline has {n} gaps", n=lambda: _gaps_before(view)),
            counted("a baseline of {n} gaps", n=lambda: _gaps_before(view)),
            counted("first {n} gaps of the record", n=lambda: _gaps_before(view)),
            *literal(
                "95 of 100 gaps by chance alone", "a false alarm on each side at most 0.025", "20 to 25 are usual"
            ),
            given("half of them of at most {a}", LIMITS, "a"),
            given("95 of 100 gaps are of {a} to {b} units", LIMITS, "a", "b"),
            *literal(f"needs {GAPS} gaps before this week"),
        ],
        rows=[
            Rows("Criticals found in {w:week}, by number", lambda g, _: _listed(view, criticals_in(view, g["w"]))),
            Rows(
                "Units that every end point of their build has presented, between {words:words}", lambda *_: _gaps(view)
            ),
            Rows("Criticals before {w:week}, in the weeks shown", lambda *_: _listed(view, criticals_before(view))),
        ],
    )


def criticals(view: View) -> list[Defect]:
    """Return every critical on record that stands, oldest first, of the view's models and shifts."""
    told = [
        one
        for one in view.record.defects.values()
        if one.severity == "critical"
        and one.state != "withdrawn"
        and week_of(one.day) <= view.week
        and view.narrowed.takes(view.record.units[one.unit].model, _shift(view, one))
    ]
    return sorted(told, key=lambda one: (one.found, one.number))


def _shift(view: View, one: Defect) -> str:
    """Return the shift that a critical belongs to: that of its finding, after dispatch that of its unit."""
    return one.shift if one.point != FIELD else view.counted.shift_of.get(one.unit, "")


def criticals_in(view: View, week: str) -> list[Defect]:
    return [one for one in criticals(view) if week_of(one.day) == week]


def criticals_on_record(view: View) -> list[Defect]:
    """Return the criticals of the record before the week."""
    return [one for one in criticals(view) if week_of(one.day) < view.week]


def criticals_before(view: View) -> list[Defect]:
    """Return the criticals of the weeks that the page shows."""
    first = weeks_to(view.week, view.weeks)[0]
    return [one for one in criticals(view) if first <= week_of(one.day) < view.week]


def _gaps_before(view: View) -> int:
    return max(0, sum(week_of(one.day) < view.week for one in criticals(view)) - 1)


def units_between(view: View, first: Defect | None, last: Defect | None) -> int:
    """Return units presented on the days after one critical up to and with the day of another; None: the ends."""
    return sum(
        (first is None or one.day > first.day) and (last is None or one.day <= last.day)
        for one in view.counted.units
        if one.week <= view.week and view.narrowed.takes(one.unit.model, one.shift)
    )


def units_after_last(view: View) -> int:
    return units_between(view, criticals(view)[-1], None)


def _gap(view: View, one: Defect) -> int:
    every = criticals(view)
    return units_between(view, every[every.index(one) - 1], one)


def _gaps(view: View) -> Expected:
    limits = (LIMITS, LIMITS)
    told: list[tuple[str, list[tuple[Value, ...]]]] = [("so far", [(units_after_last(view),), limits, (), ()])]
    for one in reversed(criticals(view)[1:]):
        told.append((one.day.isoformat(), [(_gap(view, one),), limits, (), ()]))
    return Expected(told)


def alike(view: View, one: Defect) -> int:
    """Return criticals of the same type in the fortnight before."""
    return sum(
        other is not one and other.type == one.type
        and one.day - timedelta(days=ALIKE_DAYS) <= other.day and (other.found, other.number) < (one.found, one.number)
        for other in criticals(view)
    )  # fmt: skip


def _listed(view: View, which: list[Defect]) -> Expected:
    every = criticals(view)
    told: list[tuple[str, list[tuple[Value, ...]]]] = []
    for one in reversed(which):
        unit = view.record.units[one.unit]
        since = (_gap(view, one),) if every.index(one) else ()
        what = (alike(view, one), ALIKE_DAYS) if alike(view, one) else ()
        told.append((f"{unit.shop} {unit.model}", [what, (), (), (), (), since]))
    return Expected(
        told or [("None recorded in this period. That says what was recorded, not that there was none.", [])]
    )
