"""Section 2 of the review: whether the data is fit to read, and who looked."""

from collections import Counter

from tests.recount.attributed import Expected, Given, Rows, Sheet, Table, Value, Words
from tests.recount.everywhere import counted, given
from tests.recount.plant import week_of
from tests.recount.presented import SEVERITIES
from tests.recount.record import FIELD, Defect, Look
from tests.recount.shares import by_units, of_units, percent, share_cell
from tests.recount.view import View, spoken, week_in

LONG = 3  # working days
LATE_MS = 24 * 3_600_000
JUDGED = Given("how many questions are judged: the reading of each stands in the table, against the plant's own limits")
BY_CHANCE = ("Origin not known", "Zones not looked at", "Withdrawn as duplicates")
SETTING = Given("a limit of the plant's own for the share, as set in the question")


def fitness_sheet(view: View) -> Sheet:
    sheet = Sheet(
        words=_in_few_lines(view), rows=[Rows("Fitness of the data, {w:week}", lambda _, table: _fitness(view, table))]
    )
    for point in view.plant.end_points:
        sheet.words += _changed(view, point)
        sheet.rows.append(
            Rows(
                f"First presentations at {spoken(point, view.plant.stations)} by inspector, in code order, "
                "by the day of the look",
                lambda *_, at=point: _who(view, at),
            )
        )
    return sheet


def _in_few_lines(view: View) -> list[Words]:
    told = {name: (part, whole) for name, (part, whole, *_) in answers(view).items()}
    return [
        *(
            counted(f"{name[0].lower()}{name[1:]} ({{a}} of {{b}})", "few lines|fit to read", a=part, b=whole)
            for name, (part, whole) in told.items()
        ),
        given("{n} of {m} questions of fitness are beyond", JUDGED, "n", "m"),
        given("{n} questions of fitness judged", JUDGED, "n"),
        given("{n} of {m} beyond the limit", JUDGED, "n", "m", place="few lines > Fitness"),
        given("none of {m} beyond the limit", JUDGED, "m", place="few lines > Fitness"),
    ]


def looks_in(view: View, point: str, *weeks: str) -> list[Look]:
    """Return first presentations at a point that ended in some weeks."""
    return [
        look
        for (chassis, at), look in view.counted.first_looks.items()
        if at == point and week_in(look.day, weeks)
        and view.narrowed.takes(view.record.units[chassis].model, look.shift)
    ]  # fmt: skip


def _changed(view: View, point: str) -> list[Words]:
    """Return the words on who looked more or less than before, person by person."""
    now = Counter(look.by for look in looks_in(view, point, view.week))
    before = Counter(look.by for look in looks_in(view, point, *view.before))
    return [
        counted(
            f"{who} {{p}} % before, {{q}} % now",
            f"Who looked at {point}",
            p=percent(before[who], before.total()),
            q=percent(now[who], now.total()),
        )
        for who in {*now, *before}
    ]


def _who(view: View, point: str) -> Expected:
    now = Counter(look.by for look in looks_in(view, point, view.week))
    before = Counter(look.by for look in looks_in(view, point, *view.before))
    return Expected([(who, ((now[who],), (before[who],))) for who in sorted({*now, *before})])


def not_known(view: View) -> tuple[int, int]:
    """Return the week's defects of which no origin is named or it is disputed, and the week's defects."""
    defects = view.defects(view.week, severities=SEVERITIES)
    return sum(not one.stands_against for one in defects), len(defects)


def not_known_range(view: View) -> tuple[float, float]:
    """Return the range of that share; how the defects of one unit go together is seen on every origin."""
    defects = view.defects(view.week, severities=SEVERITIES)
    known = [one for one in defects if one.stands_against]
    made = [
        of_units((one.unit for one in known if one.stands_against == origin), (one.unit for one in known))
        for origin in {one.stands_against for one in known}
    ]
    unknown = of_units((one.unit for one in defects if not one.stands_against), (one.unit for one in defects))
    return by_units([unknown], made)[0]


def why_not_known(view: View) -> tuple[int, int, int, int]:
    """Return how many nobody named, how many were said to be not known, are disputed, were settled as not known."""
    unknown = [one for one in view.defects(view.week, severities=SEVERITIES) if not one.stands_against]
    states = Counter(one.origin_state for one in unknown)
    return states["none"], states["suspected"], states["disputed"], states["settled"] + states["confirmed"]


def open_origins(view: View) -> list[Defect]:
    """Return the standing defects whose origin nobody has settled, whenever found, the field's in every shift."""
    return [
        one
        for one in view.record.defects.values()
        if one.state != "withdrawn" and not one.is_confirmed
        and (view.narrowed.takes(view.record.units[one.unit].model, one.shift)
             or (one.point == FIELD
                 and view.record.units[one.unit].model in (view.narrowed.models or view.plant.models)))
    ]  # fmt: skip


def who_is_asked(view: View) -> tuple[int, int, int, int]:
    """Return the open ones that wait for a lead, are disputed, are said to be not known, are named by nobody."""
    open_ = open_origins(view)
    states = Counter("lead" if one.stands_against else one.origin_state for one in open_)
    return states["lead"], states["disputed"], states["suspected"], states["none"]


def open_long(view: View) -> tuple[int, int]:
    """Return the defects whose origin is open for long, and all that are open."""
    open_ = open_origins(view)
    old = [one for one in open_ if view.plant.working_days_between(one.day, view.today) > LONG]
    return len(old), len(open_)


def zones_missed(view: View) -> tuple[int, int, int]:
    """Return zones not looked at, zones, and how many of the first are marked so, at the week's inspections."""
    missed = whole = marked = 0
    for point in view.plant.end_points:
        if view.plant.stations[point]["kind"] != "inspection":
            continue
        for look in looks_in(view, point, view.week):
            zones = [zone["zone_key"] for zone in view.plant.zones_of(view.record.units[look.unit].model)]
            whole += len(zones)
            missed += sum(look.zones.get(zone) is not True for zone in zones)
            marked += sum(look.zones.get(zone) is False for zone in zones)
    return missed, whole, marked


def marked_together(view: View) -> tuple[int, int]:
    """Return zones that one act marked as looked at with others, and zones marked so, at the week's inspections."""
    together = looked = 0
    for point in view.plant.end_points:
        if view.plant.stations[point]["kind"] != "inspection":
            continue
        for look in looks_in(view, point, view.week):
            acts = Counter(act for zone, act in look.acts.items() if look.zones[zone])
            looked += acts.total()
            together += sum(zones for zones in acts.values() if zones > 1)
    return together, looked


def recorded(view: View) -> list[Defect]:
    """Return all that was recorded in the week, what was withdrawn since too."""
    return [
        one
        for one in view.record.defects.values()
        if week_of(one.day) == view.week and view.narrowed.takes(view.record.units[one.unit].model, one.shift)
    ]


def duplicates(view: View) -> tuple[int, int]:
    """Return what was recorded twice, and what was recorded, blind second looks apart."""
    first = [one for one in recorded(view) if not (one.look and view.record.looks[one.look].purpose == "relook")]
    return sum(one.state == "withdrawn" and one.why == "duplicate" for one in first), len(first)


def _without_record(view: View) -> tuple[int, int]:
    planned = [
        unit
        for unit in view.record.units.values()
        if week_of(unit.planned) == view.week and unit.model in (view.narrowed.models or view.plant.models)
    ]  # a plan names no shift
    whole = {one.unit.chassis for one in view.counted.units}
    return sum(unit.chassis not in whole for unit in planned), len(planned)


def _unknown_units(view: View) -> tuple[int, int]:
    found = [  # of every shift: they are found in none
        one
        for one in view.record.defects.values()
        if one.point == FIELD
        and week_of(one.day) == view.week
        and view.record.units[one.unit].model in (view.narrowed.models or view.plant.models)
    ]
    lost = [
        one
        for one in view.record.said
        if one.kind == "field_finding" and not one.applied and one.unit not in view.record.units
        and week_of(view.plant.day_and_shift(one.happened)[0]) == view.week
    ]  # fmt: skip
    return len(lost), len(found) + len(lost)


def _came_late(view: View) -> tuple[int, int]:
    told = recorded(view)
    return sum(one.received - one.found > LATE_MS for one in told), len(told)


def _not_ended(view: View) -> int:
    return sum(look.ended is None for look in view.counted.first_looks.values())


def answers(view: View) -> dict[str, list[int]]:
    """Return each question's numbers: how many, of how many, and what its words add."""
    missed, zones, marked = zones_missed(view)
    return {
        "Origin not known": [*not_known(view), *why_not_known(view)],
        "Zones not looked at": [missed, zones, marked, missed - marked] if missed else [missed, zones],
        "Zones marked many at once": list(marked_together(view)),
        f"Origins open for more than {LONG} working days": [
            *open_long(view),
            len(open_origins(view)),
            *who_is_asked(view),
            sum(one.point == FIELD for one in open_origins(view)),
        ],
        "Withdrawn as duplicates": list(duplicates(view)),
        "Units without a record": list(_without_record(view)),
        "After-dispatch findings on unknown units": list(_unknown_units(view)),
        "Records that came late": list(_came_late(view)),
    }


def _fitness(view: View, table: Table) -> Expected:
    told = answers(view)
    rows: list[tuple[str, list[tuple[Value, ...]]]] = []
    for row in table.rows:
        if row[0] == "Inspections begun and not ended":
            count = _not_ended(view)
            rows.append((row[0], [(count,), (), (), (count,) if count else ()]))
        elif row[0] in told:
            part, whole, *more = told[row[0]]
            counts = (part, whole) if whole else (part,)
            limit = (SETTING,) if any(figure.isdigit() for figure in row[3]) else ()
            share = share_cell(part, whole)
            if row[0] == "Origin not known" and whole:
                share = (share[0], *not_known_range(view))
            if row[0] not in BY_CHANCE:  # come and go many at once: a share without a range
                share = share[:1]
            rows.append((row[0], [counts, share, limit, (*counts, *more) if whole else ()]))
    return Expected(rows)
