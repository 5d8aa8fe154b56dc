"""Columns of a file made into the values that statistics take, refused in the words of the command's own options."""

from collections.abc import Callable, Sequence
from typing import Any

from qc.stats.refusals import demand_counted_on, demand_found, demand_no_more
from qc.stats.series import Rates, Shares, counts_of, rates_of, shares_of


def rates_in(defects: Sequence[int], exposure: Sequence[float], labels: Sequence[str]) -> Rates:
    """Return the rates of --defects and --exposure."""
    return rates_of(defects, exposure, labels, names=("defects", "exposure"))


def shares_by_place(defectives: Sequence[int], inspected: Sequence[int], labels: Sequence[str]) -> Shares:
    """Return the shares of --defectives and --inspected of commands that name a row by its place in the column."""
    demand_no_more(defectives, "defectives", inspected, "inspected")
    return shares_of(defectives, inspected, labels)


def rates_by_place(
    counts: Sequence[int],
    exposures: Sequence[float],
    labels: Sequence[str],
    names: tuple[str, str] = ("counts", "exposures"),
) -> Rates:
    """Return the rates of --counts and --exposures of commands that name a row by its place in the column.

    names: the two options where they are called otherwise.
    """
    demand_counted_on(counts, names[0], exposures := [float(one) for one in exposures], names[1])
    return rates_of(counts, exposures, labels, names=names)


def of_shares(ask: Callable[..., object]) -> Callable[..., object]:
    """Return the statistic of shares as a command asks it: by --defectives and --inspected."""

    def asked(defectives: list[int], inspected: list[int], labels: list[str], **settings: Any) -> object:
        return ask(shares_of(defectives, inspected, labels), **settings)

    return asked


def of_rates(ask: Callable[..., object]) -> Callable[..., object]:
    """Return the statistic of rates as a command asks it: by --defects and --exposure."""

    def asked(defects: list[int], exposure: list[float], labels: list[str], **settings: Any) -> object:
        return ask(rates_in(defects, exposure, labels), **settings)

    return asked


def of_shares_by_place(ask: Callable[..., object]) -> Callable[..., object]:
    """Return the statistic of shares as of_shares, in the words of commands that name a row by its place."""

    def asked(defectives: list[int], inspected: list[int], labels: list[str], **settings: Any) -> object:
        return ask(shares_by_place(defectives, inspected, labels), **settings)

    return asked


def of_rates_by_place(ask: Callable[..., object]) -> Callable[..., object]:
    """Return the statistic of rates as a command asks it: by --counts and --exposures."""

    def asked(counts: list[int], exposures: list[float], labels: list[str], **settings: Any) -> object:
        return ask(rates_by_place(counts, exposures, labels), **settings)

    return asked


def of_counts(ask: Callable[..., object]) -> Callable[..., object]:
    """Return the statistic of counts as a command asks it: by --counts."""

    def asked(counts: list[int], labels: list[str], **settings: Any) -> object:
        return ask(counts_of(counts, labels), **settings)

    return asked


def of_one_rate(ask: Callable[..., object]) -> Callable[..., object]:
    """Return the statistic of one rate as a command asks it: by --count and --exposure."""

    def asked(count: int, exposure: float, **settings: Any) -> object:
        return ask(*demand_found(count, "count", exposure, "exposure"), **settings)

    return asked
