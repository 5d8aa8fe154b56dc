"""Frozen records of eight or more fields are made by name: two figures that swap places would not be seen."""

import dataclasses
import importlib
import pkgutil
from collections.abc import Iterator
from dataclasses import dataclass

import qc

MANY = 8


def records() -> Iterator[type]:
    """Yield the frozen dataclasses of the package."""
    for module in pkgutil.walk_packages(qc.__path__, "qc."):
        for one in vars(importlib.import_module(module.name)).values():
            if isinstance(one, type) and one.__module__ == module.name and is_frozen(one):
                yield one


def is_frozen(one: type) -> bool:
    return dataclasses.is_dataclass(one) and bool(one.__dataclass_params__.frozen)


def by_position(one: type) -> int:
    """Return how many fields of a record can be given by their place."""
    return sum(each.init and not each.kw_only for each in dataclasses.fields(one))


def test_every_record_of_many_fields_is_made_by_name():
    every = list(records())
    many = [one for one in every if len(dataclasses.fields(one)) >= MANY]

    assert len(every) > 300
    assert len(many) > 100
    assert [f"{one.__module__}.{one.__name__}" for one in many if by_position(one)] == []


def test_a_planted_record_by_position_is_found():
    @dataclass(frozen=True, slots=True)
    class Placed:
        a: int
        b: int

    assert is_frozen(Placed)
    assert by_position(Placed) == 2
