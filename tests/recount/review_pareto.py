"""Section 6 of the review: types and origins by number of defects, minutes or severity, with the weeks before."""

from collections import Counter
from collections.abc import Callable, Sequence

from tests.recount.attributed import Expected, Given, Rows, Sheet, Table, Words
from tests.recount.everywhere import ESTIMATE, LIMITS, counted, given
from tests.recount.record import Defect
from tests.recount.shares import percent
from tests.recount.signals_page import Sum
from tests.recount.view import View, spoken

Key = Callable[[Defect], str]
VITAL = 0.8  # of the whole: what a plant that says nothing of its own asks


def pareto_sheet(view: View, moved: Sequence[Sum]) -> Sheet:
    """Return what the recount knows of the Pareto; moved: the sums on which a signal stands or stood."""
    types = {spoken(code, view.plant.types): code for code in view.plant.types}
    origins = {spoken(code, view.plant.stations): code for code in view.plant.stations}
    sheet = Sheet()
    for head, names, key in (("Types by", types, _type), ("Origins by", origins, _origin)):
        sheet.rows.append(
            Rows("{w:week}, {words:words}", lambda _, table, n=names, k=key: _table(view, table, n, k, moved), head)
        )
        sheet.words += _sentences(view, head, names, key)
    sheet.words += [
        counted("{u} units; beside it {n} weeks {a:week} to {b:week}, {v} units",
                u=lambda: len(view.units(view.week)), n=len(view.before), v=lambda: len(view.units(*view.before))),
        counted("as many as {n} weeks", "section|Pareto|by number", n=len(view.before)),
        counted("{d} defects have no named origin", d=lambda: sum(not _origin(one) for one in view.defects(view.week))),
        counted("{d} defect have no named origin", d=lambda: sum(not _origin(one) for one in view.defects(view.week))),
        counted("{d} defect has no named origin", d=lambda: sum(not _origin(one) for one in view.defects(view.week))),
        given("{n} rows could change places", ESTIMATE, "n"),
        given("{n} row could change places", ESTIMATE, "n"),
    ]  # fmt: skip
    sheet.rows.append(Rows("The first types in three orders, {words:words}", lambda _, table: _three(table)))
    return sheet


def _type(defect: Defect) -> str:
    return defect.type


def _origin(defect: Defect) -> str:
    return defect.stands_against


def _three(table: Table) -> Expected:
    return Expected([(str(k), ((),) * 3) for k in range(1, len(table.rows) + 1)])


def _sentences(view: View, head: str, names: dict[str, str], key: Key) -> list[Words]:
    now: Counter[str] = Counter()
    for one in view.defects(view.week):
        now[key(one)] += _weight(view, [one])
    unnamed = sum(not key(one) for one in view.defects(view.week))
    number = Counter(key(one) for one in view.defects(view.week))
    whole = now.total()
    top = sum(sorted((count for name, count in now.items() if name), reverse=True)[:3])
    most = sum(sorted((count for name, count in number.items() if name), reverse=True)[:3])
    few, reached = _vital_few(now)
    every = sum(bool(name and count) for name, count in number.items())
    place = f"{head}|The three types" if head == "Types by" else f"{head}|Where from"
    return [
        *(counted(f"{label} ({{d}})", place, d=number[code]) for label, code in names.items()),
        counted("The origin of {p} % is not known", head, p=percent(unnamed, number.total())),
        *(
            counted(f"{{k}} of {{n}} {noun} {verb} {{p}} %", head, k=few, n=every, p=percent(reached, whole))
            for noun in ("types", "origins")
            for verb in ("to make", "make", "makes")
        ),
        *(
            counted(
                f"make {{p}} % of the {what} ({{k}} of {{n}} {noun})",
                place,
                p=percent(reached, whole),
                k=few,
                n=every,
            )
            for what in ("minutes of usual rework", "defects", "majors")
            for noun in ("types", "origins")
        ),
        counted("make {p} % of the minutes of usual rework", head, p=percent(top, whole)),
        counted("make {p} % of the majors", head, p=percent(top, whole)),
        counted("make {p} % of {d} defects", place, p=percent(most, number.total()), d=number.total()),
        *([] if head == "Types by" else [counted("{n} of unknown or disputed origin", "Where from", n=unnamed)]),
        counted("{p} % of all", "The three types", p=percent(most, number.total())),
        counted(", {p} % of {d} defects in {w:week}", place, p=percent(most, number.total()), d=number.total()),
    ]


def _weight(view: View, defects: list[Defect]) -> int:
    """Return what defects weigh in the order asked for: number, usual minutes, or (by severity) how many are majors."""
    if view.order == "severity":
        return sum(one.severity == "major" for one in defects)
    return view.minutes(defects) if view.order == "minutes" else len(defects)


def _vital_few(counts: Counter[str]) -> tuple[int, int]:
    """Return the fewest named rows that reach four fifths of all, and how many that is."""
    ordered, reached = sorted((count for name, count in counts.items() if name and count), reverse=True), 0
    for place, count in enumerate(ordered, start=1):
        reached += count
        if reached >= VITAL * counts.total():
            return place, reached
    return 0, 0


def _limits(row: list[str], codes: set[str], moved: Sequence[Sum]) -> tuple[Given, ...]:
    """Return the row's limits; none where it says so, which only a signal on one of its codes makes right."""
    is_moved = any(one.station in codes or one.types & codes for one in moved)
    return () if is_moved and row[-1].startswith("too little to say") else (LIMITS, LIMITS)


def _table(view: View, table: Table, names: dict[str, str], key: Key, moved: Sequence[Sum]) -> Expected:
    """Return the rows as recounted. The order of ties is the page's own; whose counts they are is not."""
    printed = {row[0]: row for row in table.rows}
    every = {*view.plant.types, *view.plant.stations}
    now, before = view.defects(view.week), view.defects(*view.before)
    listed = [row[0] for row in table.rows if row[0] in names]
    codes = {names[label] for label in listed}
    rest = [one for one in now if key(one) not in codes]
    rest_before = [one for one in before if key(one) not in codes]
    told, running = [], 0
    whole, whole_before = _weight(view, now), _weight(view, before)
    groups = [(label, [one for one in now if key(one) == names[label]],
               [one for one in before if key(one) == names[label]]) for label in listed]  # fmt: skip
    others = [row[0] for row in table.rows if row[0] not in names]
    if rest or rest_before:
        groups.append((others[0] if others else "others", rest, rest_before))
    criticals = view.defects(view.week, severities=("critical",))
    for label, these, those in groups:
        own = {names[label]} if label in names else {key(one) for one in criticals} - codes
        running += _weight(view, these)
        told.append((label, [
            (len(these),),
            *(((sum(one.severity == severity for one in these)),) for severity in ("major", "minor")),
            (view.minutes(these),),
            (percent(_weight(view, these), whole),),
            (percent(running, whole),),
            _limits(printed.get(label, [""]), {names[label]} if label in names else every - codes, moved),
            (len(those), percent(_weight(view, those), whole_before)),
            (sum(key(one) in own for one in criticals),) if any(key(one) in own for one in criticals) else (),
            (),
        ]))  # fmt: skip
    return Expected([(label, [one if isinstance(one, tuple) else (one,) for one in cells]) for label, cells in told])
