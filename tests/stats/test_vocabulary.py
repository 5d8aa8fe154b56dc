"""One vocabulary: the same thing has the same name and place in every statistic, read from their signatures.

The table of names stands in DEVELOPERS.md; this holds the code to it, and series to the one door that refuses them.
"""

import ast
import dataclasses
import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest

import qc.stats
from tests.stats.valid_calls import CALLS

ROOT = Path(__file__).parents[2]
MODULES = [
    importlib.import_module(one.name) for one in pkgutil.walk_packages(qc.stats.__path__, "qc.stats.") if not one.ispkg
]
# What makes and refuses series, and takes whatever it is given.
DOOR = ("series", "refusals")
KINDS = ("Shares", "Rates", "Counts")
CHECKS = ("demand_counts", "demand_sizes", "demand_labels", "demand_part", "demand_found", "demand_counted_on",
          "demand_no_more")  # fmt: skip
IN_ORDER = (("defects", "units"), ("defectives", "inspected"), ("events", "sizes"))


def functions():
    """Yield (module and name, function) of the public functions outside the door."""
    for module in MODULES:
        stem = module.__name__.rsplit(".", 1)[1]
        for name, one in inspect.getmembers(module, inspect.isfunction):
            if one.__module__ == module.__name__ and name[0] != "_" and stem not in DOOR:
                yield f"{stem}.{name}", one


def records():
    """Yield the records of the statistics."""
    for module in MODULES:
        for _, one in inspect.getmembers(module, inspect.isclass):
            if one.__module__ == module.__name__ and dataclasses.is_dataclass(one):
                yield one


def rows_of_the_table():
    """Return (names, names that are not used) of each row of the vocabulary in DEVELOPERS.md."""
    section = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## One vocabulary")[1].split("\n## ")[0]
    rows = [line.split("|") for line in section.splitlines() if line.startswith("| ")][1:]
    return [(re.findall(r"`(\w+)`", row[2]), re.findall(r"`(\w+)`", row[4])) for row in rows]


def strangers(parameters, fields):
    """Return the names that the table does not use; a record of one kind may hold its count."""
    refused = {name for _, others in rows_of_the_table() for name in others}
    return [name for name in parameters if name in refused] + [name for name in fields if name in refused - {"count"}]


def test_no_parameter_has_a_name_that_the_table_refuses():
    found = {name: strangers(signature_of(ask), ()) for name, ask in functions()}

    assert len(found) > 150
    assert {name: names for name, names in found.items() if names} == {}


def test_no_record_has_a_field_that_the_table_refuses():
    found = {
        record.__name__: strangers((), [field.name for field in dataclasses.fields(record)]) for record in records()
    }

    assert len(found) > 100
    assert {name: fields for name, fields in found.items() if fields} == {}


def test_every_name_of_the_table_is_in_use():
    used = {name for _, ask in functions() for name in inspect.signature(ask).parameters}
    used |= {field.name for record in records() for field in dataclasses.fields(record)}
    rows = rows_of_the_table()

    assert len(rows) > 12
    assert [name for names, _ in rows for name in names if name not in used] == []


def signature_of(ask):
    """Return the parameters of a function by name, in their order."""
    return inspect.signature(ask).parameters


def out_of_order(ask):
    """Return the pairs of a signature that do not stand side by side in the table's order."""
    given = list(signature_of(ask))
    return [
        (first, second) for first, second in IN_ORDER
        if first in given and second in given and given.index(second) != given.index(first) + 1
    ]  # fmt: skip


def loose_series(ask):
    """Return whether a function takes a series as loose lists, which each caller would have to check."""
    told = {name: str(one.annotation).replace("collections.abc.", "") for name, one in signature_of(ask).items()}
    lists = {name for name, annotation in told.items() if re.fullmatch(r"Sequence\[(int|float)\]", annotation)}
    return any(set(pair) <= lists for pair in IN_ORDER)


# chart_points and changed_since_frozen draw weighted sums too, which are no counts.
DRAWN = ["chart_points.changed_since_frozen", "chart_points.chart_points"]


def test_counts_stand_before_what_they_were_counted_on_and_make_one_value():
    assert [name for name, ask in functions() if out_of_order(ask)] == []
    assert [name for name, ask in functions() if loose_series(ask)] == DRAWN


def test_planted_names_and_orders_are_seen():
    def planted(units: "Sequence[float]", labels: list[str], defects: "Sequence[int]", shifted: float):  # noqa: F821
        """Take its arguments as some statistics once did."""

    assert strangers(signature_of(planted), ("count", "statistic")) == ["shifted", "statistic"]
    assert out_of_order(planted) == [("defects", "units")]
    assert loose_series(planted)


def checks_again(source):
    """Return the functions of a module that ask again what a series holds, or make one beside the door."""
    found = []
    for function in [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.FunctionDef)]:
        given = [*function.args.args, *function.args.kwonlyargs]
        series = {one.arg for one in given if one.annotation and {*KINDS} & words(one.annotation)}
        for given_on in [node for node in ast.walk(function) if isinstance(node, ast.Assign)]:
            if series & words(given_on.value):
                series |= {name for target in given_on.targets for name in words(target)}
        for call in [node for node in ast.walk(function) if isinstance(node, ast.Call)]:
            named = call.func.id if isinstance(call.func, ast.Name) else ""
            asked = named in CHECKS and any(series & words(one) for one in call.args)
            if asked or named in KINDS:
                found.append(f"{function.name}: {ast.unparse(call)}")
    return found


def words(node):
    """Return the names in a piece of code, those in text among them."""
    texts = {one.value for one in ast.walk(node) if isinstance(one, ast.Constant) and isinstance(one.value, str)}
    return {one.id for one in ast.walk(node) if isinstance(one, ast.Name)} | texts


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_a_series_is_made_and_refused_at_the_door_alone(module):
    source = inspect.getsource(module)
    assert module.__name__.rsplit(".", 1)[1] in DOOR or checks_again(source) == []
    assert re.findall(r"def (_?check\w*)", source) == []  # one verb: demand


def test_a_planted_second_check_is_seen():
    assert checks_again(
        "def chart(rates: Rates, width: float) -> None:\n"
        "    demand_counts(rates.defects, 'defects')\n"
        "    demand_labels(width, 'width', ())\n"
        "    found = rates.units\n"
        "    demand_sizes(found, 'units')\n"
        "    return Rates((1,), (2,), ('a',))\n"
    ) == [
        "chart: demand_counts(rates.defects, 'defects')",
        "chart: demand_sizes(found, 'units')",
        "chart: Rates((1,), (2,), ('a',))",
    ]


def lists_after_labels(ask):
    """Return the lists of numbers that a statistic takes after the labels: labels stand last of its data."""
    given = list(inspect.signature(ask).parameters.values())
    names = [one.name for one in given]
    after = given[names.index("labels") + 1 :] if "labels" in names else []
    return [one.name for one in after if str(one.annotation) in ("Sequence[int]", "collections.abc.Sequence[int]")]


@pytest.mark.parametrize("name", CALLS)
def test_labels_stand_after_the_counts_that_they_name(name):
    assert lists_after_labels(CALLS[name][0]) == []


def test_labels_before_the_counts_are_seen():
    def planted(labels: list[str], defects: "collections.abc.Sequence[int]"):  # noqa: F821
        """Take labels first, as a baseline once did."""

    assert lists_after_labels(planted) == ["defects"]


def test_a_record_has_one_name_and_a_name_one_record():
    records = {
        (name, record.__module__)
        for module in MODULES
        for name, record in inspect.getmembers(module, inspect.isclass)
        if dataclasses.is_dataclass(record) and record.__module__.startswith("qc.stats.") and not name.startswith("_")
    }

    names = [name for name, _ in records]
    assert sorted({name for name in names if names.count(name) > 1}) == []
