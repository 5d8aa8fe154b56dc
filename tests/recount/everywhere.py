"""Numbers that stand in the words of many pages and count nothing: levels, settings, standing sentences."""

from collections.abc import Callable

from tests.recount.attributed import Given, Marks, Sheet, Value, Words
from tests.recount.plant import monday_of

LIMITS = Given("limits and usual ranges: qc/stats, held in tests/reference against published cases")
ESTIMATE = Given("an estimate and its range: qc/stats, held in tests/reference and tests/truth")


def nothing(_: dict[str, str]) -> dict[str, Value]:
    """Answer for words whose numbers are part of the words."""
    return {}


def literal(*says: str, place: str = "") -> list[Words]:
    """Return words whose numbers are a setting or a level, as written."""
    return [Words(one, nothing, place) for one in says]


def given(says: str, why: Given, *names: str, place: str = "") -> Words:
    """Return words whose holes are a statistic's answers."""
    return Words(says, lambda _: dict.fromkeys(names, why), place)


def counted(says: str, place: str = "", **figures: Value | Callable[[], Value]) -> Words:
    """Return words whose holes are recounted figures, each a number or a call that counts it when it is printed."""
    return Words(says, lambda _: {name: one() if callable(one) else one for name, one in figures.items()}, place)


def _weeks(groups: dict[str, str]) -> dict[str, Value]:
    days = monday_of(groups["b"]) - monday_of(groups["a"])
    return {"n": days.days // 7 + 1}


# How limits were made and what the baseline scatters: a statistic's words on its own method.
METHODS = (
    "the scatter between {a} periods is {b} times",
    "The scatter between {a} periods is {b} times",
    "times what chance gives (p = {a})",
    "times what chance gives (p = {a}e-{b})",
    "because in {a} weeks fewer than {b} units",
    "because in {a} week fewer than {b} units",
    "In {a} weeks fewer than {b} units",
    "In {a} week fewer than {b} units",
    "In each week fewer than {a} units",
    "The baseline has {a} periods",
    "The baseline scatters less than chance (σz = {a})",
    "In {a} weeks fewer than {b} defects",
    "In {a} week fewer than {b} defects",
    "because in each week fewer than {a} units",
    "in each week {a} or more units",
    "in each week {a} or more defects",
    "{a} standard deviations around the pooled baseline",
    "widened by σz = {a} from neighbouring periods",
    "limits, {a} % and {b} %",
    "a scatter of {a} times Poisson's",
    "these counts scatter {a} times what chance gives",
    "widened as counts scatter {a} times what chance gives",
    "a false alarm on each side at most {a};",
)


def everywhere() -> Sheet:
    """Return what every page may say."""
    return Sheet(
        marks=[Marks("", lambda words: (LIMITS,) if "95 % interval" in words else ())],
        words=[
            Words("{n} weeks {a:week} to {b:week}", _weeks),
            *(given(one, LIMITS, "a", "b", "c") for one in METHODS),
            *literal(
                "the last 5 to 6 figures",
                "is one is 1 or 0",
                "more than 3 working days",
                "after 3 working days",
                "over 3 working days",
                "at 95 %",
                "95 % interval",
                "Range, 95 %",
                "of the estimate, 95 %",
                "Exact intervals, 95 %",
            ),
        ],
    )


def together(*sheets: Sheet) -> Sheet:
    """Return one sheet of several; earlier ones are asked first."""
    whole = Sheet()
    for sheet in sheets:
        whole.words += sheet.words
        whole.rows += sheet.rows
        whole.marks += sheet.marks
    return whole
