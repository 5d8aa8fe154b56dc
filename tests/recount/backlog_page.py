"""The manager's page of what waits: criticals, disputes, origins nobody named, leads, repairs, what got out."""

from collections import Counter, defaultdict
from datetime import date, timedelta

from tests.recount.attributed import Expected, Rows, Sheet, Told, Value, Words
from tests.recount.everywhere import counted as say
from tests.recount.everywhere import literal, together
from tests.recount.plant import NOT_KNOWN, monday_of, week_of
from tests.recount.presented import Presented
from tests.recount.record import FIELD, Defect
from tests.recount.review_first_pass import clocked_words, minutes_clocked
from tests.recount.shares import by_units, of_units, percent, share, wilson
from tests.recount.stations_page import disputed, waits
from tests.recount.view import BEFORE, View, spoken
from tests.recount.waiting import LONG, waiting_sheet

LISTED = 200
HEADS = (
    "1 Open criticals",
    "2 Disputed origins, for you to settle",
    "3 Origins that no lead has been asked about",
    "4 With the leads",
    "5 Repairs",
    "6 Got out",
)
NAV = "1 Open criticals 2 Disputes 3 Nobody asked 4 With the leads 5 Repairs 6 Got out"
DAYS, WEEKS = 60, 13
Told_ = list[tuple[str, list[tuple[Value, ...] | Told]]]


def backlog_sheet(view: View) -> Sheet:
    """Return what the recount knows of the page, the repairs in the view's week."""
    own = Sheet(
        words=[*_captions(view), *clocked_words(view), *_repairs(view), *_escaped_words(view)],
        rows=[
            Rows("Open criticals: {n}", lambda *_: _criticals(view)),
            Rows("Disputed origins: {n:words}", lambda *_: _disputes(view)),
            Rows("Origins that no lead has been asked about: {n:words}", lambda *_: _unnamed(view)),
            Rows("Origins by who answers, {words:words}", lambda *_: _leads(view)),
            Rows("Repair minutes, clocked beside usual", lambda *_: _clocked(view)),
            Rows("Repairs done in {words:words}", lambda *_: _came_back(view)),
            Rows("Found within 60 days of release, {words:words}", lambda *_: _escaped(view)),
        ],
    )
    return together(waiting_sheet(view), own)


def _standing(view: View) -> list[Defect]:
    return [one for one in view.record.defects.values() if one.state != "withdrawn"]


def _oldest(defects: list[Defect]) -> list[Defect]:
    return sorted(defects, key=lambda one: (one.severity != "critical", one.day, one.found, one.id))


def _age(view: View, one: Defect) -> int:
    return (view.today - one.day).days


def _shop(view: View, one: Defect) -> str:
    return view.record.units[one.unit].shop


# lists


def open_ones(view: View) -> list[Defect]:
    found = [one for one in _standing(view) if one.severity == "critical" and one.state in ("open", "repaired")]
    return sorted(found, key=lambda one: (one.day, one.found, one.id))


def _criticals(view: View) -> Expected:
    told: Told_ = [(_shop(view, one), [(), (), (_age(view, one),), (), (), ()]) for one in open_ones(view)]
    return Expected(told)


def disputes(view: View) -> list[tuple[int, Defect, str]]:
    """Return when it was last disputed, the defect and the reason, criticals first, then the oldest dispute."""
    said = defaultdict(list)
    for one in view.record.said:
        if one.applied and one.kind == "origin_disputed":
            said[one.body["defect"]].append(one)
    found = [
        (said[one.id][-1].happened, one, str(said[one.id][-1].body["reason"]))
        for one in _standing(view)
        if one.origin_state == "disputed"
    ]
    return sorted(found, key=lambda row: (row[1].severity != "critical", row[0], row[1].id))


def _disputes(view: View) -> Expected:
    told: Told_ = []
    for at, one, reason in disputes(view)[:LISTED]:
        days = (view.today - view.plant.day_and_shift(at)[0]).days
        told.append((_shop(view, one), [(), (), (), Told(reason), (days,)]))
    return Expected(told)


def unnamed(view: View) -> list[Defect]:
    return _oldest(
        [
            one
            for one in _standing(view)
            if one.origin_state == "none" or (one.origin_state == "suspected" and not one.stands_against)
        ]
    )


def _unnamed(view: View) -> Expected:
    told: Told_ = [(_shop(view, one), [(), (), (), (), (_age(view, one),)]) for one in unnamed(view)[:LISTED]]
    return Expected(told)


def _leads(view: View) -> Expected:
    """Return each place at which anything waits; whose lead is whose stands in no table, so the order is not held."""
    told: Told_ = []
    for code in view.plant.stations:
        waiting, answered = waits(view, code), disputed(view, code)
        if code == NOT_KNOWN or not waiting + answered:
            continue
        long = sum(view.plant.working_days_between(one.day, view.today) > LONG for one in waiting)
        oldest = (max(_age(view, one) for one in waiting),) if waiting else ()
        counts: list[tuple[Value, ...] | Told] = [(), (len(waiting),), (long,), oldest, (len(answered),)]
        told.append((spoken(code, view.plant.stations), counts))
    whole: list[tuple[Value, ...] | Told] = [()]
    for place in (1, 2, 3, 4):
        column = [int(cells[place][0]) for _, cells in told if cells[place]]  # type: ignore[index, call-overload]
        whole.append((max(column) if place == 3 else sum(column),) if column or place != 3 else ())
    return Expected([("All", whole), *told] if told else [], ordered=False)


def _captions(view: View) -> list[Words]:
    def shown(count: int) -> list[dict[str, Value]]:
        return [{"n": count}] if count <= LISTED else [{"k": LISTED, "n": count}]

    words = [say("Open criticals: {n}", n=len(open_ones(view)))]
    for head, count in (
        ("Disputed origins: ", len(disputes(view))),
        ("Origins that no lead has been asked about: ", len(unnamed(view))),
    ):
        for figures in shown(count):
            says = head + ("the first {k} of {n}" if "k" in figures else "{n}")
            words.append(Words(says, lambda _, figures=figures: figures))
    plant = [one for one in unnamed(view) if one.point != FIELD]
    field = [one for one in unnamed(view) if one.point == FIELD]
    nobody = [sum(one.origin_state == "none" for one in group) for group in (plant, field)]
    return [
        *words,
        *literal(NAV, *HEADS),
        say(
            "Found at the plant: {a} that nobody has named a place for, {b} said to be not known. Found after "
            "dispatch: {c} and {d}.",
            a=nobody[0], b=len(plant) - nobody[0], c=nobody[1], d=len(field) - nobody[1],
        ),
    ]  # fmt: skip


# repairs


def _window(view: View) -> list[str]:
    return [*view.before, view.week]


def _clocked(view: View) -> Expected:
    told: Told_ = []
    for name, weeks in ((view.week, [view.week]), (_weeks_words(view.before), list(view.before))):
        units = len(view.units(*weeks))
        took, usual, done, found = minutes_clocked(view, *weeks)
        each = ((took / units,), (usual / units,)) if units else ((), ())
        told.append((name, [(units,), *each, (took,), (usual,), (done, found)]))
    return Expected(told)


def _weeks_words(weeks: tuple[str, ...]) -> str:
    return f"{len(weeks)} weeks {weeks[0]} to {weeks[-1]}"


def repaired(view: View) -> dict[str, tuple[int, int]]:
    """Return for each type the repairs done in the week and the weeks before, and those of them that came back."""
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for one in _standing(view):
        for repair in one.repairs:
            if week_of(view.plant.local(repair.at).date()) in _window(view):
                counts[one.type][0] += 1
                counts[one.type][1] += repair.back
    return {type_: (done, back) for type_, (done, back) in counts.items()}


def repairs_range(view: View) -> tuple[float, float]:
    """Return the range of the share that came back; repairs of one unit go together."""
    done = [
        (one.unit, repair)
        for one in _standing(view)
        for repair in one.repairs
        if week_of(view.plant.local(repair.at).date()) in _window(view)
    ]
    return by_units([of_units((unit for unit, repair in done if repair.back), (unit for unit, _ in done))])[0]


def _came_back(view: View) -> Expected:
    types = repaired(view)
    done, back = (sum(one[k] for one in types.values()) for k in (0, 1))
    all_types = (percent(back, done), *repairs_range(view)) if done else ()
    told: Told_ = [("All types", [(done,), (back,), all_types])]
    for type_, (own, returned) in sorted(types.items(), key=lambda row: (-row[1][1], row[0])):
        if returned:
            told.append((spoken(type_, view.plant.types), [(own,), (returned,), share(returned, own)]))
    return Expected(told)


def _repairs(view: View) -> list[Words]:
    types = repaired(view)
    done, back = (sum(one[k] for one in types.values()) for k in (0, 1))
    low, high = repairs_range(view) if done else (0.0, 0.0)
    return [
        say(
            "{b} of {n} repairs done in {k} weeks to {w:week} came back at the re-check ({p} %; 95 % range {l} % to "
            "{h} %)",
            b=back, n=done, k=BEFORE + 1, p=percent(back, done), l=low, h=high,
        ),
        say("Repairs done in {k} weeks", k=BEFORE + 1),
    ]  # fmt: skip


# what got out


def left_weeks(view: View) -> list[str]:
    """Return the latest whole weeks of which every unit that left in them has had its 60 days.

    None from before the record's first, at least one.
    """
    end = monday_of(week_of(view.today - timedelta(days=DAYS)))
    weeks = [week_of(end - timedelta(weeks=n)) for n in range(WEEKS, 0, -1)]
    first = min((one.week for one in view.counted.units), default="")
    return [one for one in weeks if one >= first] or weeks[-1:]


def gone(view: View) -> list[tuple[Presented, date]]:
    """Return the units that left in those weeks, with the day."""
    told = []
    for one in view.counted.units:
        if one.unit.released is not None:
            day = view.plant.day_and_shift(one.unit.released)[0]
            if week_of(day) in left_weeks(view):
                told.append((one, day))
    return told


def _in_time(view: View) -> list[Defect]:
    return [
        found
        for one, day in gone(view)
        for found in one.unit.defects
        if found.point == FIELD and found.state != "withdrawn" and (found.day - day).days <= DAYS
    ]


def _escaped(view: View) -> Expected:
    units, found = len(gone(view)), _in_time(view)
    cells: dict[tuple[str, str], list[Defect]] = defaultdict(list)
    for one in found:
        cells[one.stands_against or NOT_KNOWN, one.type].append(one)
    told: Told_ = []
    for (station, type_), own in sorted(cells.items(), key=lambda row: (-len(row[1]), row[0])):
        place = "Not known or disputed" if station == NOT_KNOWN else spoken(station, view.plant.stations)
        with_one = len({one.unit for one in own})
        told.append((f"{place}: {spoken(type_, view.plant.types)}", [(len(own),), (with_one,), share(with_one, units)]))
    return Expected(told or [("Nothing in this period.", [])])


def _escaped_words(view: View) -> list[Words]:
    units, found, weeks = len(gone(view)), _in_time(view), len(left_weeks(view))
    with_one = len({one.unit for one in found})
    low, high = wilson(with_one, units) if units else (0.0, 0.0)
    cells = Counter((one.stands_against, one.type) for one in found if one.stands_against)
    of_units = {"d": len(found), "a": with_one, "b": units, "p": percent(with_one, units), "l": low, "h": high}
    start = "{d} defects found within 60 days of release on {a} of {b} units released in the"
    ranged = "({p} %; 95 % range {l} % to {h} %)"
    return [
        say(f"{start} {{k}} weeks {{v:week}} to {{w:week}} {ranged}", k=weeks, **of_units),
        say(f"{start} week {{w:week}} {ranged}", **of_units),
        say("Found within 60 days of release, {n} units released in the {k} weeks", n=units, k=weeks),
        say("Found within 60 days of release, {n} units released in the week", n=units),
        say("released in the {k} weeks", k=weeks),
        say("nothing has had its {n} days", n=DAYS),
        say("has had its {n} days", n=DAYS),
        *(
            say(f"{spoken(type_, view.plant.types)}, {{n}}.", "Got out", n=count)
            for (_, type_), count in cells.items()
            if count == max(cells.values())
        ),
    ]  # fmt: skip
