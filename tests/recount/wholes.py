"""Every column of every table sums to its whole, which the page itself says elsewhere than in the rows.

Each table either names its whole here or says why it has none; one that stands here nowhere is told.
"""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from tests.recount.printed import Page, Table

Sums = Callable[[Table, Page], Iterator[tuple[str, int, int]]]  # (column, what the rows sum to, the whole)
READ = ("/review", "/stations", "/signals", "/inspectors", "/backlog")
_NUMBER = re.compile(r"\d+")
FOLLOWED = r"followed up for \d+ days after release: (\d+) found after dispatch.*? of (\d+) units? \("
PAIRED = r"^(\d+) units? looked at by two .* (\d+) defects? found by both, (\d+) by .* (\d+) by the second"
TREND = r"in the week of their work at |in the week in which the last end point|in the week \(no station of the build"


@dataclass(frozen=True, slots=True)
class Whole:
    """A kind of table by its caption and the headings above it, and its whole or why it has none."""

    caption: str
    sums: Sums | str
    place: str = ""

    def is_of(self, table: Table) -> bool:
        """Return whether a table is of the kind."""
        return bool(re.search(self.caption, table.caption) and re.search(self.place, table.place))


def _rows(table: Table) -> list[dict[str, str]]:
    return [dict(zip(table.heads, row, strict=True)) for row in table.rows if len(row) == len(table.heads)]


def _figure(cell: str, place: int = 0) -> int:
    """Return a whole number of a cell by its place; a dash is nought."""
    found = _NUMBER.findall(re.sub(r"\d+\.\d+", "", cell))
    return int(found[place]) if len(found) > place else 0


def _sum(rows: list[dict[str, str]], head: str, place: int = 0) -> int:
    return sum(_figure(row[head], place) for row in rows)


def _said(page: Page, pattern: str, place: str = "") -> list[int]:
    """Return the numbers of the first sentence that matches, none where there is no such sentence."""
    for one in page.sentences:
        found = re.search(pattern, one.text) if re.search(place, one.place) else None
        if found:
            return [int(number) for number in found.groups()]
    return []


def _other(page: Page, caption: str, place: str = "") -> list[dict[str, str]]:
    return next(
        (_rows(one) for one in page.tables if re.search(caption, one.caption) and re.search(place, one.place)), []
    )


def _of_week(page: Page, caption: str, head: str, weeks: tuple[str, str], place: str = "") -> tuple[int, int] | None:
    """Return two figures of a table of weeks summed over some of them, None where the table does not reach so far."""
    rows = [row for row in _other(page, caption, place) if weeks[0] <= row["ISO week"][:8] <= weeks[1]]
    if not rows or rows[-1]["ISO week"][:8] != weeks[0]:
        return None
    return _sum(rows, head), _sum(rows, head, 1)


# the review


def _pareto(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    rows = _rows(table)
    week, first, last = re.match(r"(\S+), .* beside it \d+ weeks (\S+) to (\S+),", table.caption).groups()
    level = "per unit, of units that every end point"
    found = _of_week(page, level, "defects on units", (week, week))
    before = _of_week(page, level, "defects on units", (first, last))
    minutes = _of_week(page, "Minutes that each type usually takes", "usual minutes, on units presented", (week, week))
    if found:
        yield "Defects", _sum(rows, "Defects"), found[0]
        yield "Major and Minor", _sum(rows, "Major") + _sum(rows, "Minor"), found[0]
    if before and rows:  # a week of nothing has no rows, and says so
        yield "Weeks before", _sum(rows, "Weeks before"), before[0]
    if minutes:
        yield "Rework min", _sum(rows, "Rework min"), minutes[0]
    if rows:
        yield "Running share", round(float(rows[-1]["Running share"].split()[0])), 100
        tenths = sum(round(10 * float(row["Share"].split()[0])) for row in rows)
        yield "Share", 100 if abs(tenths - 1000) <= len(rows) else tenths // 10, 100


def _matrix(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    rows = _rows(table)
    points = table.heads[1 : table.heads.index("Together")]
    for row in rows:
        cells = sum(_figure(row[point]) + _figure(row[point], 1) for point in points)
        yield f"{row['Made at']}, its points", cells, _figure(row["Together"])
    said = _said(page, r"(\d+) defects? of known origin, (\d+) not known")
    if said:
        known = [row for row in rows if row["Made at"] != "Not known or disputed"]
        yield "Together, of known origin", _sum(known, "Together"), said[0]
        yield "Together", _sum(rows, "Together"), sum(said)


def _who_looked(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    point = re.match(r"First presentations at (\S+) .*by inspector", table.caption).group(1)
    week = table.heads[1].split(", ")[1]
    names = [row["Point"].removeprefix(f"{point} ") for row in _other(page, "^What each point let through, |Passed: ")
             if row["Point"].startswith(f"{point} ")]  # fmt: skip
    for name in names[:1]:
        trend, place = "^Units whose first presentation at the point", f"First-pass at {re.escape(name)}$"
        whole = _of_week(page, trend, "clean, of units presented", (week, week), place)
        if whole:
            yield table.heads[1], _sum(_rows(table), table.heads[1]), whole[1]


def _build_weeks(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    said = _said(page, FOLLOWED, "followed up")
    later = _said(page, r"\. (\d+) more came after day", "followed up")
    rows = _rows(table)
    if said:
        done = [row for row in rows if row["Reading"] == "complete"]
        yield "Found after dispatch, complete weeks", _sum(done, table.heads[4]), said[0]
        yield "Followed up, complete weeks", _sum(done, table.heads[2]), said[1]
    span = re.search(r"(\S+) to (\S+)$", table.caption)
    seen = (
        _of_week(page, "per unit, of units that every end point", "defects on units", (span[1], span[2]))
        if span
        else None
    )
    if seen:
        yield "Units", _sum(rows, "Units"), seen[1]
    if later:
        yield "Later, apart", _sum(rows, "Later, apart"), later[0]


def _models(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    """Yield for the chart of all models: each week's units are those of the models."""
    head = "Units with one, of units presented"
    if "All models: units with a critical or major" not in table.place:
        return
    parts = [
        one for one in page.tables
        if one.place.endswith("units with a critical or major") and one is not table and head in one.heads
    ]  # fmt: skip
    for row in _rows(table):
        own = [each[head] for part in parts for each in _rows(part) if each["ISO week"][:8] == row["ISO week"][:8]]
        for place, what in ((0, "with one"), (1, "presented")):
            yield f"{row['ISO week']}, {what}", sum(_figure(cell, place) for cell in own), _figure(row[head], place)


def _under_way(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    said = _said(page, r"(\d+) units? under way .* (\d+) defects? found on (?:them|it) so far", "fit to read")
    if said:
        yield "rows", len(_rows(table)), said[0]
        yield "Defects so far", _sum(_rows(table), "Defects so far"), said[1]


# what waits


def _all_row(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    whole, *rows = _rows(table)
    for head in ("Wait for their word", "Of these over 3 working days", "Disputed, with you"):
        yield head, _sum(rows, head), _figure(whole[head])


def _all_types(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    whole, *rows = _rows(table)  # a type of which none came back has no row, so that repairs need not add up
    yield "Came back", _sum(rows, "Came back"), _figure(whole["Came back"])


def _escaped(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    said = _said(page, r"^(\d+) defects? found within ")
    if said:
        yield "Defects", _sum(_rows(table), "Defects"), said[0]


def _listed(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    shown = [int(one) for one in _NUMBER.findall(table.caption.partition(": ")[2])]
    yield "rows", len(_rows(table)), shown[0]


# stations, signals, inspectors


def _types_of_station(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    week = re.search(r"units presented in (\d{4}-W\d\d)", table.caption).group(1)
    rows = _rows(table)
    for one in page.tables:
        if "by the day the unit was presented" in one.place and one.heads[0] == "ISO week":
            own = [row for row in _rows(one) if row["ISO week"][:8] == week]
            for place, head in ((1, "Week, confirmed"), (2, "Week, suspected")):
                yield head, _sum(rows, head), _sum(own, "Defects (confirmed + suspected)", place)


def _upstream(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    said = _said(page, r"^(\d+) defects? made upstream went through")
    if said:
        yield "Confirmed and Suspected", sum(_sum(_rows(table), head) for head in table.heads[1:]), said[0]


def _signal(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    for one in page.sentences:
        found = re.search(r" (\d+) defects? where [\d.]+ were to be expected from (\S+?)(?: to (\S+))? \(", one.text)
        if found and one.place.split(" <")[0] in table.place:
            rows = _rows(table)
            span = [row for row in rows if found[2] <= row["Week"] <= (found[3] or "9999")]
            if rows and rows[-1]["Week"] <= found[2]:
                yield "Defects since it began", _sum(span, "Defects"), int(found[1])
            return


def _pairs(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    said = _said(page, PAIRED)
    rows = _rows(table)
    if said:
        only = _sum(rows, table.heads[3]) + _sum(rows, table.heads[4])
        yield "Units", _sum(rows, "Units"), said[0]
        yield "Found by both", _sum(rows, "Found by both"), said[1]
        yield "Only by one", only, said[2] + said[3]


def _by_shift(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    shares = _other(page, "the other look of the pair found")
    for person in shares:
        own = [row for row in _rows(table) if row[table.heads[0]].startswith(f"{person['Inspector']}, ")]
        for head in ("Found by the other look", "Found by this one too"):
            yield f"{person['Inspector']}, {head}", _sum(own, head), _figure(person[head])


def _missed_types(table: Table, page: Page) -> Iterator[tuple[str, int, int]]:
    name = re.match(r"Found by the other look and not by (\S+),", table.caption).group(1)
    for person in _other(page, "the other look of the pair found"):
        if person["Inspector"] == name:
            missed = _figure(person["Found by the other look"]) - _figure(person["Found by this one too"])
            yield "Found by the other look only", _sum(_rows(table), "Found by the other look only"), missed


NONE = "each row is a thing of its own: "
WHOLES = (
    Whole(r"^\S+, \d+ units; beside it ", _pareto),
    Whole(r"^The first types in three orders", NONE + "names, in three orders"),
    Whole(r"^Units presented in .* wherever and whenever found", _matrix, "were found"),
    Whole(r"^First presentations at \S+ .*by inspector", _who_looked),
    Whole(r"^Findings by build week", _build_weeks),
    Whole(r"^Units that every end point of their build has presented", _models, "Units with a defect, by model"),
    Whole(
        r"^Units that every end point of their build has presented",
        NONE + "weeks; each model's stand on the page by model",
        "Level",
    ),
    Whole(
        r" per unit, of units that every end point",
        NONE + "weeks, against the sums of which the Pareto is held",
        "Level",
    ),
    Whole(r"^Units under way on ", _under_way),
    Whole(r"^Criticals (found in|before) ", NONE + "criticals by number, each counted by the recount"),
    Whole(r"between one critical and the next", NONE + "gaps between criticals"),
    Whole(r"^Fitness of the data", NONE + "questions, each with its own whole"),
    Whole(r"^First-pass, ", NONE + "points, each of the units that it presented"),
    Whole(r"^Units whose first presentation at the point", NONE + "weeks", "First-pass at"),
    Whole(r"^Minutes that each type usually takes", NONE + "weeks"),
    Whole(r"^What each point let through, |^Units presented in .* Passed: ", NONE + "a defect may pass several points"),
    Whole(
        r"confirmed or suspected and still open, on units presented",
        NONE + "stations against their own past",
        "own past",
    ),
    Whole(r"^Open criticals: |^Disputed origins: |^Origins that no lead has been asked about: ", _listed),
    Whole(r"^Origins by who answers", _all_row),
    Whole(r"^Repair minutes, clocked beside usual", NONE + "the week and the weeks before"),
    Whole(r"^Repairs done in ", _all_types),
    Whole(r"^Found within \d+ days of release", _escaped),
    Whole(r"^Stations, the defects that wait", NONE + "stations; what waits in all stands on the page of what waits"),
    Whole(TREND, NONE + "weeks", "Own trend"),
    Whole(r"^Defects of first presentations, criticals among them", NONE + "counted, guessed and estimated"),
    Whole(r"^Types made at ", _types_of_station),
    Whole(r"units of \d+ weeks .* whose build contains|^The same by type\.", _upstream, "Made upstream"),
    Whole(r" by the week found, majors and minors$", _signal),
    Whole(r"^Not watched", NONE + "names and reasons"),
    Whole(r"the other look of the pair found|in paired re-looks", NONE + "people, by what others found"),
    Whole(r"^Who looked at the same units", _pairs),
    Whole(r"^By shift of the first look", _by_shift),
    Whole(r"^Found by the other look and not by ", _missed_types),
    Whole(r"^False calls, all units", NONE + "people"),
)


def unsummed(page: Page) -> Iterator[tuple[str, str, str]]:
    """Yield (place, printed, whole) of each column that does not sum to its whole, and of each table of no kind."""
    if not page.address.startswith(READ):
        return
    for table in page.tables:
        place = f"{table.place} > table “{table.caption[:60]}”"
        kind = next((one for one in WHOLES if one.is_of(table)), None)
        if kind is None:
            yield place, "a table", "a whole, or why it has none: tests/recount/wholes.py"
        elif not isinstance(kind.sums, str):
            for column, rows, whole in kind.sums(table, page):
                if rows != whole:
                    yield f"{place} > {column}", f"rows that sum to {rows}", str(whole)
