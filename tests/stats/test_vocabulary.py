"""One vocabulary: the same thing has the same name and place in every statistic, read from their signatures."""

import dataclasses
import importlib
import inspect
import pkgutil

import pytest

import qc.stats
from tests.stats.valid_calls import CALLS

MODULES = [importlib.import_module(f"qc.stats.{one.name}") for one in pkgutil.iter_modules(qc.stats.__path__)]


def lists_after_labels(ask):
    """Return the lists of numbers that a statistic takes after the labels: labels stand last of its data."""
    given = list(inspect.signature(ask).parameters.values())
    names = [one.name for one in given]
    after = given[names.index("labels") + 1 :] if "labels" in names else []
    return [one.name for one in after if str(one.annotation) in ("Sequence[int]", "collections.abc.Sequence[int]")]


@pytest.mark.parametrize("name", [name for name in CALLS if not name.startswith("chart_points.")])
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


def test_a_chi_square_is_named_as_one_and_none_is_called_pearson_alone():
    fields = {
        f"{name}.{field.name}"
        for module in MODULES
        for name, record in inspect.getmembers(module, inspect.isclass)
        if dataclasses.is_dataclass(record)
        for field in dataclasses.fields(record)
    }

    assert sorted(field for field in fields if field.endswith((".pearson", ".chi2"))) == []
    assert "CountRegression.pearson_chi_square" in fields
