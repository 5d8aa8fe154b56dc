"""Holds each printed number to a recounted figure by where it stands; what nobody recounted is left over and fails."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import chain, repeat
from typing import Any

from tests.recount.known import Known
from tests.recount.printed import AXIS, Chart, Drawing, Page, Sentence, Table, plain
from tests.recount.ranges import unjudged
from tests.recount.wholes import unsummed

NUMBER = r"\d+(?:\.\d+)?"
_NUMBER = re.compile(rf"(?<![\w.]){NUMBER}(?![\w])|(?<![\d.]){NUMBER}(?!\d)")
_MORE = re.compile(r"(\d+) more rows?")
_HOLE = re.compile(r"\{(\w+)(?::(\w+))?\}")
_KINDS = {
    "": NUMBER,
    "week": r"\d{4}-W\d\d",
    "words": r".+?",
    "day": r"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d{1,2} [A-Z][a-z]{2} \d{4}|\d{4}-\d\d-\d\d",
}


@dataclass(frozen=True, slots=True)
class Given:
    """A number that is no count: a statistic's answer, held against its sources elsewhere. why: where."""

    why: str


@dataclass(frozen=True, slots=True)
class Told:
    """Words of the plant's own tables or of a person, whose numbers a cell repeats as they stand."""

    words: str


Value = int | float | Given
Cells = Sequence[Sequence[Value] | Told]


@dataclass(slots=True)
class Expected:
    """A table as recounted. rows: each row's head and its cells' numbers; ordered: whether the order is held too."""

    rows: list[tuple[str, Cells]]
    ordered: bool = True


@cache
def _pattern(says: str, whole: bool = False) -> re.Pattern[str]:
    parts, at = [], 0
    for hole in _HOLE.finditer(says):
        parts += [re.escape(says[at : hole.start()]), f"(?P<{hole[1]}>{_KINDS[hole[2] or '']})"]
        at = hole.end()
    ends = r"\Z" if whole else r"(?!\d)" if says.endswith("}") else ""
    begins = r"(?<![\w.])" if says.startswith("{") else ""
    return re.compile(begins + "".join([*parts, re.escape(says[at:])]) + ends)


@dataclass(frozen=True, slots=True)
class Words:
    """Words with holes for numbers: ``{units} units in {week:week}``; place: what the headings above must match.

    figures(groups) answers each numeric hole by name. A hole ``{name:words}`` takes any words and vouches for nothing
    in them; figures outside holes are part of the words.
    """

    says: str
    figures: Callable[[dict[str, str]], Mapping[str, Value]]
    place: str = ""

    @property
    def pattern(self) -> re.Pattern[str]:
        return _pattern(self.says)

    @property
    def loose(self) -> set[str]:
        return {hole[1] for hole in _HOLE.finditer(self.says) if hole[2] == "words"}


@dataclass(frozen=True, slots=True)
class Rows:
    """Tables by their caption. figures(groups, table) answers the recounted table."""

    caption: str
    figures: Callable[[dict[str, str], Table], Expected]
    place: str = ""

    @property
    def pattern(self) -> re.Pattern[str]:
        return _pattern(self.caption, whole=True)


@dataclass(frozen=True, slots=True)
class Marks:
    """Numbers that a figure shows and its table does not. more(label) answers them for one mark."""

    figure: str
    more: Callable[[str], Iterable[Value]]


@dataclass(slots=True)
class Sheet:
    """All that the recount knows of one page."""

    words: list[Words] = field(default_factory=list)
    rows: list[Rows] = field(default_factory=list)
    marks: list[Marks] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Finding:
    """One number that differs, or that nobody knows. counted: None for a number left over."""

    page: str
    place: str
    printed: str
    counted: str | None

    def __str__(self) -> str:
        told = "no recounted figure knows it" if self.counted is None else f"recounted {self.counted}"
        return f"{self.page} | {self.place} | printed {self.printed}: {told}"


@dataclass(slots=True)
class Ledger:
    """What one page came to. compared: numbers held against a recount; given: statistics' answers by written reason."""

    page: str
    compared: int = 0
    given: int = 0
    known: int = 0
    findings: list[Finding] = field(default_factory=list)

    @property
    def different(self) -> int:
        return sum(one.counted is not None for one in self.findings)

    @property
    def left_over(self) -> int:
        return sum(one.counted is None for one in self.findings)

    def hold(self, place: str, shown: str, expected: Value, context: str = "") -> None:
        """Compare one printed number with its recounted figure."""
        if isinstance(expected, Given):
            self.given += 1
            return
        self.compared += 1
        if not agrees(shown, expected):
            words = f"{shown} in “{context}”" if context else shown
            told = str(expected) if isinstance(expected, int) else f"{expected:.6g}"
            self.findings.append(Finding(self.page, place, words, told))

    def differ(self, place: str, shown: str, counted: str) -> None:
        self.compared += 1
        self.findings.append(Finding(self.page, place, shown, counted))

    def left(self, place: str, number: str, context: str) -> None:
        self.findings.append(Finding(self.page, place, f"{number} in “{context}”", None))


def agrees(shown: str, expected: int | float) -> bool:
    """Return whether a printed number is the figure, rounded where it was printed with fewer places."""
    if isinstance(expected, int):
        return shown == str(expected)
    places = len(shown.partition(".")[2])
    return abs(float(shown) - expected) <= 0.5 * 10**-places + 1e-9


def numbers(text: str) -> list[re.Match[str]]:
    """Return the numbers in words from which names and dates are blanked out."""
    return list(_NUMBER.finditer(text))


def attribute(page: Page, sheet: Sheet, known: Known) -> Ledger:
    """Return the ledger of a page: each number compared, given with a reason, or left over."""
    ledger = Ledger(page.address)
    told: dict[str, dict[str, set[str]]] = {}
    for table in page.tables:
        _table(table, sheet, known, ledger)
        for row in table.rows:
            cells = told.setdefault(table.place, {}).setdefault(_label(row), set())
            cells |= {one.group() for cell in row for one in numbers(known.masked(cell))}
    folded = iter(page.more)
    for sentence in page.sentences:
        if found := _MORE.fullmatch(sentence.text):
            ledger.hold(sentence.place, found[1], next(folded, 0), sentence.text)
        else:
            _sentence(sentence, sheet, known, ledger)
    for drawing in page.drawings:
        if drawing.says:
            _sentence(
                Sentence(f"{drawing.place} <svg desc {drawing.name.removeprefix('view-')}>", drawing.says),
                sheet,
                known,
                ledger,
            )
        _drawing(drawing, _beside(drawing.place, told), sheet, known, ledger)
    places = {drawing.name: drawing.place for drawing in page.drawings}
    for chart in page.charts:
        _chart(chart, _beside(places.get(chart.name, ""), told), sheet, known, ledger)
    for place, words in unjudged(page):
        ledger.differ(place, words, "a range of no kind that is judged: tests/recount/ranges.py")
    for place, sum_, whole in unsummed(page):
        ledger.differ(place, sum_, whole)
    return ledger


def _beside(place: str, told: dict[str, dict[str, set[str]]]) -> dict[str, set[str]]:
    """Return the rows of the table beside a picture: under its own head, or under a smaller one that follows there."""
    below = [rows for other, rows in told.items() if other.startswith(f"{place} > ")]
    return told.get(place) or (below[0] if place and len(below) == 1 else {})


def _sentence(sentence: Sentence, sheet: Sheet, known: Known, ledger: Ledger) -> None:
    masked = known.masked(sentence.text)
    left = {one.span(): one.group() for one in numbers(masked)}
    ledger.known += len(_NUMBER.findall(sentence.text)) - len(left)
    for words in sheet.words:
        if not left:
            return
        if not re.search(words.place, sentence.place):
            continue
        for found in words.pattern.finditer(sentence.text):
            inside = [span for span in left if found.start() <= span[0] and span[1] <= found.end()]
            loose = [found.span(name) for name in words.loose]
            inside = [span for span in inside if not any(a <= span[0] and span[1] <= b for a, b in loose)]
            if not inside:
                continue
            figures = words.figures(found.groupdict())
            for name, shown in found.groupdict().items():
                if found.span(name) in inside and name in figures:
                    ledger.hold(sentence.place, shown, figures[name], sentence.text[:160])
                    del left[found.span(name)]
            named = {found.span(name) for name in found.groupdict()}
            for span in inside:
                if span not in named:  # part of the words themselves
                    left.pop(span, None)
    for number in left.values():
        ledger.left(sentence.place, number, sentence.text[:160])


def _table(table: Table, sheet: Sheet, known: Known, ledger: Ledger) -> None:
    caption = Sentence(f"{table.place} <caption>", table.caption)
    found = None
    for rows in sheet.rows:
        found = rows.pattern.match(table.caption) if re.search(rows.place, table.place) else None
        if found:
            break
    _sentence(caption, sheet, known, ledger)
    for head in table.heads:
        _sentence(Sentence(f"{table.place} <column>", head), sheet, known, ledger)
    place = f"{table.place} > table “{table.caption[:60]}”"
    if not found:
        for row in table.rows:
            for cell in row:
                for one in numbers(known.masked(cell)):
                    ledger.left(f"{place} > {row[0]}", one.group(), cell)
        return
    _rows(table, place, rows.figures(found.groupdict(), table), known, ledger)


def _rows(table: Table, place: str, expected: Expected, known: Known, ledger: Ledger) -> None:
    labels, wanted = [_label(row) for row in table.rows], [label for label, _ in expected.rows]
    if (labels if expected.ordered else sorted(labels)) != (wanted if expected.ordered else sorted(wanted)):
        extra = [one for one in labels if one not in wanted] or ["(the same rows)"]
        lacks = [one for one in wanted if one not in labels] or ["(the same rows in another order)"]
        ledger.differ(place, f"rows {', '.join(extra[:4])}", f"rows {', '.join(lacks[:4])}")
    waiting: dict[str, list[Cells]] = {}
    for label, cells in expected.rows:
        waiting.setdefault(label, []).append(cells)
    for row in table.rows:
        if not waiting.get(_label(row)) or len(row) == 1:  # a row that says that there is none
            continue
        for head, shown, values in zip(
            table.heads[1:], row[1:], chain(waiting[_label(row)].pop(0), repeat(())), strict=False
        ):
            at = f"{place} > {row[0]} > {head}"
            found = [one.group() for one in numbers(known.masked(shown))]
            if isinstance(values, Told):
                values = [float(one.group()) for one in numbers(known.masked(plain(values.words)))]
            if len(found) != len(values):
                told = ", ".join("a statistic" if isinstance(one, Given) else f"{one:.6g}" for one in values)
                ledger.differ(at, shown, told or "no number")
                continue
            for number, value in zip(found, values, strict=True):
                ledger.hold(at, number, value, shown)


def _label(row: list[str]) -> str:
    """Return a row's head without the letter of a note that stands on it."""
    return re.sub(r", [A-Z]\Z", "", row[0])


def _drawing(drawing: Drawing, told: dict[str, set[str]], sheet: Sheet, known: Known, ledger: Ledger) -> None:
    for mark in drawing.marks:
        _mark(f"{drawing.place} > picture {drawing.name}", drawing.name, mark, told, sheet, known, ledger)
    every = set().union(*told.values())
    for kind, text in drawing.bare:
        found = numbers(known.masked(text))
        if kind == AXIS:
            continue
        for one in found:
            more = {
                value for marks in sheet.marks if re.search(marks.figure, drawing.name) for value in marks.more(text)
            }
            if one.group() in every or any(not isinstance(v, Given) and agrees(one.group(), v) for v in more):
                ledger.compared += 1
            else:
                ledger.left(f"{drawing.place} > picture {drawing.name}", one.group(), text)


def _mark(
    place: str, figure: str, words: str, told: dict[str, set[str]], sheet: Sheet, known: Known, ledger: Ledger
) -> None:
    """Hold a mark's numbers against its own row of the table beside the picture, which was recounted itself."""
    label = max((one for one in told if words.startswith(one)), key=len, default="")
    row = told.get(label, set())
    more = [value for marks in sheet.marks if re.search(marks.figure, figure) for value in marks.more(words)]
    start = len(label)
    for one in numbers(known.masked(words)):
        if one.start() < start:
            continue
        if one.group() in row or any(not isinstance(v, Given) and agrees(one.group(), v) for v in more):
            ledger.compared += 1
        elif any(isinstance(value, Given) for value in more):
            ledger.given += 1
        else:
            ledger.left(place, one.group(), words)


def _chart(chart: Chart, told: dict[str, set[str]], sheet: Sheet, known: Known, ledger: Ledger) -> None:
    """Hold an interactive chart's words, mark by mark, as those of the picture, and the heights it is drawn from."""
    for trace in chart.data.get("data", []):
        if not LIMIT_LINES.search(trace.get("name") or ""):
            _heights(chart.name, trace, told, sheet, ledger)
    for words in _texts(chart.data.get("data", [])):
        _mark(f"chart {chart.name}", chart.name, words, told, sheet, known, ledger)


# Limits, centres and the Pareto's expected counts: a statistic's answers, of which the words beside tell what they are.
LIMIT_LINES = re.compile(r"usual range|centre line|median gap|would lead one to expect")


def _heights(figure: str, trace: Any, told: dict[str, set[str]], sheet: Sheet, ledger: Ledger) -> None:
    """Hold each value that a trace draws against its label's row of the table, or what else its mark may show."""
    for label, value, words in _drawn(trace):
        heads = {one for one in told if one == label or one.startswith(f"{label} ")}
        heads = heads or {max((one for one in told if label.startswith(one)), key=len, default="")}
        row = set().union(*(told.get(head, set()) for head in heads))
        more = [one for marks in sheet.marks if re.search(marks.figure, figure) for one in marks.more(words or label)]
        shown = [one for one in row if agrees(one, float(value)) or agrees(one, 100 * float(value))]
        if shown or any(not isinstance(one, Given) and abs(one - value) < 1e-9 for one in more):
            ledger.compared += 1
        elif any(isinstance(one, Given) for one in more):
            ledger.given += 1
        else:
            near = ", ".join(sorted(row)) or "no row of that name"
            ledger.differ(f"chart {figure} > {trace.get('name')} > {label}", f"drawn at {value:.6g}", near)


def _drawn(trace: Any) -> Iterable[tuple[str, float, str]]:
    """Yield the label, value and words of each mark of a trace that has a value; a point of two measures is named by
    its words, and one without either is an outline of limits."""
    texts = trace.get("hovertext") or trace.get("text") or []
    if "z" in trace:
        for name, values in zip(trace["y"], trace["z"], strict=True):
            yield from ((name, value, name) for value in values if value is not None)
        return
    across, up = trace.get("x") or [], trace.get("y") or []
    lying = bool(up) and isinstance(up[0], str)
    labels, values = (up, across) if lying else (across, up)
    for place, (label, value) in enumerate(zip(labels, values, strict=True)):
        words = texts[place] if isinstance(texts, list) and place < len(texts) else ""
        said = plain((words or "").replace("<br>", ", "))
        if isinstance(value, int | float) and (isinstance(label, str) or said):
            yield label if isinstance(label, str) else said, value, said


def _texts(traces: Any) -> Iterable[str]:
    for trace in traces:
        told = trace.get("hovertext") or trace.get("text") or []
        for one in [told] if isinstance(told, str) else told:
            for words in [one] if isinstance(one, str) else one:
                if words:
                    yield plain(words.replace("<br>", ", "))
