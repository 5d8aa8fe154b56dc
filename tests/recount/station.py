"""One station's page: what waits, its own trend by work and by found, whose it is, its types, what came through."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import cache, cached_property

from tests.recount.attributed import Expected, Marks, Rows, Sheet, Table, Value, Words
from tests.recount.everywhere import ESTIMATE, LIMITS, counted, given, literal
from tests.recount.plant import NOT_KNOWN, monday_of, week_of
from tests.recount.presented import SEVERITIES, Presented, weeks_to
from tests.recount.record import FIELD, Defect
from tests.recount.review_level import limits_in
from tests.recount.shares import percent, wilson
from tests.recount.signals_page import WATCH
from tests.recount.stations_page import disputed, waits
from tests.recount.view import NON_CRITICAL, View, spoken

LEAST_OF_A_GUESS = 5  # settled defects with a first guess, before open ones with it are judged by them
HISTORY = 26  # weeks of a station's own trend
SHOWN = 6  # waiting defects before the older ones are folded away
LONG = 3  # working days after which a wait is called long


@dataclass(frozen=True, eq=False)
class AtStation:
    """A station's own counts."""

    view: View
    station: str

    @cached_property
    def units(self) -> tuple[Presented, ...]:
        """Return the presented units whose build contains the station."""
        return tuple(one for one in self.view.counted.units if self.view.plant.builds(self.station, one.unit.model))

    def weeks(self) -> tuple[str, ...]:
        wanted = weeks_to(self.view.week, HISTORY)
        return tuple(one for one in wanted if one in self.view.record_weeks)

    @cached_property
    def by_work(self) -> dict[str, list[Presented]]:
        told: dict[str, list[Presented]] = {}
        for one in self.units:
            told.setdefault(week_of(self.view.counted.work_day(self.station, one)), []).append(one)
        return told

    @cached_property
    def by_found(self) -> dict[str, list[Presented]]:
        told: dict[str, list[Presented]] = {}
        for one in self.units:
            told.setdefault(one.week, []).append(one)
        return told

    def worked_in(self, week: str) -> list[Presented]:
        if self.view.plant.stations[self.station]["kind"] == "external":
            return self.found_in(week)  # no place of the build: its work has no day of its own
        return self.by_work.get(week, [])

    def found_in(self, week: str) -> list[Presented]:
        return self.by_found.get(week, [])

    def own(self, units: list[Presented], severities: tuple[str, ...] = NON_CRITICAL) -> list[Defect]:
        """Return the defects of those units that stand against the station."""
        return [
            one
            for unit in units
            for one in unit.defects
            if one.stands_against == self.station and one.severity in severities
        ]


def split(defects: list[Defect]) -> tuple[int, int]:
    """Return how many are confirmed and how many still only suspected."""
    sure = sum(one.is_confirmed for one in defects)
    return sure, len(defects) - sure


def station_sheet(view: View, station: str) -> Sheet:
    at = AtStation(view, station)
    return Sheet(
        words=[*_waiting(at), *_trend(at), *_whose(at), *_through(at)],
        rows=[
            Rows("{words:words}", lambda _, table: _weeks(at, table, at.worked_in), "by the day the work was done"),
            Rows("{words:words}", lambda _, table: _weeks(at, table, at.found_in), "by the day the unit was presented"),
            Rows("Defects of first presentations{words:words}", lambda *_: _three(at), "suspected and expected"),
            Rows("Types made at {words:words}", lambda _, table: _types(at, table)),
            Rows("The same by type.{words:words}", lambda _, table: _upstream_types(at, table)),
            Rows("{words:words}", lambda _, table: _upstream(at, table), "Made upstream"),
        ],
        marks=[Marks("upstream", lambda words: _sums(at, words)), Marks("expected", lambda words: _marked(at, words))],
    )


# what waits


def _waiting(at: AtStation) -> list[Words]:
    view, told = at.view, waits(at.view, at.station)
    today = view.today

    def waited(one: Defect) -> int:
        return view.plant.working_days_between(one.day, today)

    return [
        *(counted(f"{{n}} waiting for {whose} word", n=len(told)) for whose in ("its lead's", "your")),
        counted("{n} of them for more than 3 working days", n=lambda: sum(waited(one) > LONG for one in told)),
        counted("{n} disputed here", n=len(disputed(view, at.station))),
        *(
            counted(f"{{n}} {noun} open. Suspected or confirmed here", n=lambda: _open_criticals(at))
            for noun in ("critical is", "criticals are")
        ),
        counted("{n} older", n=max(0, len(told) - SHOWN)),
        Words("{head:words} Found {when:words}, {n} working day", lambda groups: {"n": _age(at, told, groups)}),
        *(
            Words(f"Photo {{k}} of {{n}}: {row['name']} at", lambda groups, code=code: _photos(at, code, groups))
            for code, row in view.plant.types.items()
        ),
    ]


def _open_criticals(at: AtStation) -> int:
    return sum(
        one.severity == "critical" and one.state in ("open", "repaired") and one.stands_against == at.station
        for one in at.view.record.defects.values()
    )


def one_of(shown: str, counts: set[int]) -> int:
    """Return a printed count if it is one of those recounted, else another one, which then differs."""
    return int(shown) if int(shown) in counts else max(counts, default=-1)


def _photos(at: AtStation, type_: str, groups: dict[str, str]) -> dict[str, Value]:
    """Return how many photos there are of a defect of that type, and which of them this is."""
    counts = {one.photos for one in at.view.record.defects.values() if one.type == type_}
    return {"n": one_of(groups["n"], counts), "k": one_of(groups["k"], set(range(1, int(groups["n"]) + 1)))}


def _age(at: AtStation, told: list[Defect], groups: dict[str, str]) -> int:
    """Return the age in working days of the waiting defect that a line names by unit and instant."""
    shop = groups["head"].split()[0]
    for one in (*told, *disputed(at.view, at.station)):
        unit = at.view.record.units[one.unit]
        instant = one.day if one.point == FIELD else at.view.plant.local(one.found)
        when = f"{instant:%a} {instant.day} {instant:%b %Y}" + ("" if one.point == FIELD else f"{instant: %H:%M}")
        if unit.shop == shop and when in groups["when"]:
            return at.view.plant.working_days_between(one.day, at.view.today)
    return -1


# its own trend


def _weeks(at: AtStation, table: Table, units_of: Callable[[str], list[Presented]]) -> Expected:
    told = []
    for week in reversed(at.weeks()):
        units = units_of(week)
        sure, guessed = split(at.own(units))
        limits = limits_in(table, week)
        told.append((week, ((sure + guessed, sure, guessed), limits, (), (len(units),))))
    return Expected(told)


def _trend(at: AtStation) -> list[Words]:
    def worked(groups: dict[str, str]) -> dict[str, Value]:
        units = at.worked_in(groups["w"])
        return {"d": len(at.own(units)), "u": len(units)}

    def found(groups: dict[str, str]) -> dict[str, Value]:
        units = at.found_in(groups["w"])
        return {"d": len(at.own(units)), "u": len(units)}

    return [
        Words("{d} in {w:week} on {u} units, by the day the work was done", worked),
        Words("{d} in {w:week} on {u} units, by the day the unit was presented", found),
        Words("{d} of {w:week}'s work on {u} units", worked),
        given("{a} to {b} is usual", LIMITS, "a", "b"),
        given("usual range rests on {n} weeks", LIMITS, "n"),
        *(
            Words(
                f"The usual range rests on {{u}} units of the {{n}} weeks {{a:week}} to {{b:week}}{end}",
                lambda groups, units_of=units_of: _rests(units_of, groups),
                place,
            )
            for place, units_of in (
                ("day the work was done", at.worked_in),
                ("day the unit was presented", at.found_in),
            )
            for end in (".", ", widened as counts scatter")
        ),
        given("The usual range rests on {u} units of {k} of the {n} weeks", WATCH, "u", "k", "n"),
        given("variance is {n} times what chance gives", LIMITS, "n"),
        Words("told at the station for {k} of {n} unit", lambda _: _told(at)),
        *literal("20 to 25 are usual", "It holds 95.0 % of weeks"),
    ]


def _told(at: AtStation) -> dict[str, Value]:
    units = [one.unit for week in at.weeks() for one in at.found_in(week)]
    return {"k": sum(at.station in one.passes for one in units), "n": len(units)}


def _rests(units_of: Callable[[str], list[Presented]], groups: dict[str, str]) -> dict[str, Value]:
    first, last = monday_of(groups["a"]), monday_of(groups["b"])
    weeks = [week_of(first + timedelta(weeks=k)) for k in range((last - first).days // 7 + 1)]
    return {"u": sum(len(units_of(week)) for week in weeks), "n": len(weeks)}


# whose it is


def _seen(at: AtStation) -> list[Presented]:
    weeks = weeks_to(at.view.week, HISTORY)
    return [one for one in at.view.counted.units if one.week in weeks]


def _settled(one: Defect) -> bool:
    return one.is_confirmed


def _whose(at: AtStation) -> list[Words]:
    seen = _seen(at)
    own = at.own(seen, SEVERITIES)
    sure, guessed = split(own)
    everything = [one for unit in seen for one in unit.defects]
    open_ = [one for one in everything if not _settled(one)]
    settled = [one for one in everything if _settled(one)]
    first = {one.id: _first_guess(one) for one in settled}
    from_here = [one for one in settled if one.confirmed == at.station]
    guessed_here = [one for one in settled if first[one.id] == at.station]
    right = sum(one.confirmed == at.station for one in guessed_here)
    missed = [one for one in from_here if first[one.id] != at.station]
    none = sum(not first[one.id] for one in missed)
    return [
        counted("{n} its lead said so", n=sure),
        counted("{n} a guess, not answered", n=guessed),
        Words("{e} {a} to {b} of {n} not settled in the plant",
              lambda _: {"e": ESTIMATE, "a": ESTIMATE, "b": ESTIMATE, "n": len(open_)}),
        counted("{n} confirmed here, {m} suspected here and not answered", n=sure, m=guessed),
        counted("{e} none of {n} not settled in the plant", e=0, n=len(open_)),
        Words("{k} of the {n} are left out of the estimate: fewer than {m} defects",
              lambda _: {"k": ESTIMATE, "n": len(open_), "m": LEAST_OF_A_GUESS}),
        counted("Of the {n} not yet settled in the whole plant", n=len(open_)),
        given("about {e} were probably made here ({a} to {b})", ESTIMATE, "e", "a", "b"),
        given("about {e} was probably made here ({a} to {b})", ESTIMATE, "e", "a", "b"),
        counted("Of {n} settled defects that the finder first guessed to be from", n=len(guessed_here)),
        counted(", {n} were, and {m} were from elsewhere", n=right, m=len(guessed_here) - right),
        counted("{n} more were from {s:words}: {a} first guessed elsewhere, {b} not guessed",
                n=len(missed), a=len(missed) - none, b=none),
        counted("criticals among them, on {n} units seen in", n=len(seen)),
        counted("{n} wait for an answer above", n=len(waits(at.view, at.station))),
    ]  # fmt: skip


def _marked(at: AtStation, words: str) -> tuple[Value, ...]:
    if words.lower().startswith("expected"):
        return (ESTIMATE, _open(at))
    return split(at.own(_seen(at), SEVERITIES))


def _open(at: AtStation) -> int:
    """Return how many defects of the plant's seen units nobody has settled."""
    return sum(not one.is_confirmed for unit in _seen(at) for one in unit.defects)


def _first_guess(one: Defect) -> str:
    """Return what the finder first took for the origin, "" where the finder made no guess."""
    guesses = (
        origin.station for origin in one.origins if origin.kind == "origin_suspected" and origin.by == one.finder
    )
    guess = next(guesses, NOT_KNOWN)
    return "" if guess == NOT_KNOWN else guess


def _three(at: AtStation) -> Expected:
    seen = _seen(at)
    sure, guessed = split(at.own(seen, SEVERITIES))
    open_ = sum(not _settled(one) for unit in seen for one in unit.defects)
    return Expected([
        ("Confirmed", ((sure,), ())),
        ("Suspected, not answered", ((guessed,), ())),
        (f"Expected of {open_} not settled", ((ESTIMATE,), (LIMITS, LIMITS))),
    ])  # fmt: skip


# its types


def _types(at: AtStation, table: Table) -> Expected:
    """Return the types made at the station on the week's units, and on those of the weeks before it."""
    now = Counter((one.type, one.is_confirmed) for one in at.own(at.found_in(at.view.week)))
    before = Counter((one.type, one.is_confirmed) for week in at.view.before for one in at.own(at.found_in(week)))
    told = []
    for type_ in {type_ for type_, _ in (*now, *before)}:
        label = spoken(type_, at.view.plant.types)
        limits = limits_in(table, label, 3)
        told.append(
            (
                label,
                ((now[type_, True],), (now[type_, False],), limits, (before[type_, True],), (before[type_, False],)),
            )
        )
    return Expected(told or [("Nothing in this period.", ())], ordered=False)


# what came through


@cache
def _came(at: AtStation) -> tuple[list[Presented], list[Defect]]:
    """Return the units that passed the station, and what was made upstream of it and found beyond it."""
    weeks = weeks_to(at.view.week, HISTORY)
    units = [one for one in at.units if one.week in weeks]
    above = at.view.plant.upstream[at.station]
    line = at.view.plant.flow
    beyond = {*(line[line.index(at.station) + 1 :] if at.station in line else line), FIELD}
    found = [
        one
        for unit in units
        for one in (*unit.defects, *(field for field in unit.unit.defects if field.point == FIELD))
        if one.state != "withdrawn" and one.stands_against in above and one.point in beyond
    ]
    return units, found


def _asked(at: AtStation, one: Defect) -> bool:
    """Return whether the station is asked to find a type: an end point those first asked for there or before it."""
    points = at.view.plant.end_points
    if at.station not in points:
        return True
    return at.view.plant.types[one.type]["first_detect_point"] in points[: points.index(at.station) + 1]


def _through(at: AtStation) -> list[Words]:
    units, every = _came(at)
    found = [one for one in every if _asked(at, one)]
    with_one = len({one.unit for one in found})
    low, high = wilson(with_one, len(units)) if units else (0.0, 0.0)
    made = Counter(one.stands_against for one in found)
    later = sum(one.point == FIELD for one in found)
    stations = at.view.plant.stations
    return [
        counted("{n} defects in", "Came through", n=len(found)),
        counted("{n} of {m}", "Came through.*<dd>", n=with_one, m=len(units)),
        counted("{n} of the {m}", "Came through", n=later, m=len(found)),
        counted("{n} defects made upstream went through", n=len(found)),
        counted("on {n} of {m} units ({p} %; 95 % range {a} % to {b} %)", "Came through",
                n=with_one, m=len(units), p=percent(with_one, max(1, len(units))), a=low, b=high),
        *(counted(f"{spoken(code, stations)}: {{n}}", "Came through", n=count) for code, count in made.items()),
        counted("{n} more were of types", n=len(every) - len(found)),
        counted("{n} units of", "Came through", n=len(units)),
    ]  # fmt: skip


def _upstream(at: AtStation, table: Table) -> Expected:
    del table
    found = [one for one in _came(at)[1] if _asked(at, one)]
    made = {one.stands_against for one in found}
    return Expected([
        (spoken(code, at.view.plant.stations),
         tuple((n,) for n in split([one for one in found if one.stands_against == code])))
        for code in made
    ], ordered=False)  # fmt: skip


def _upstream_types(at: AtStation, table: Table) -> Expected:
    del table
    found = [one for one in _came(at)[1] if _asked(at, one)]
    return Expected([
        (spoken(code, at.view.plant.types), tuple((n,) for n in split([one for one in found if one.type == code])))
        for code in {one.type for one in found}
    ], ordered=False)  # fmt: skip


def _sums(at: AtStation, words: str) -> list[Value]:
    found = [one for one in _came(at)[1] if _asked(at, one)]
    label = words.split(":")[0]
    made = Counter(spoken(one.stands_against, at.view.plant.stations) for one in found)
    return [made[label]] if label in made else list(made.values())
