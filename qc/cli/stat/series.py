"""Columns of a file made into the values that statistics take, refused in the words of the command's own options."""

from collections.abc import Callable, Sequence
from typing import Any

from qc.stats.series import Rates, rates_of, shares_of


def rates_in(defects: Sequence[int], exposure: Sequence[float], labels: Sequence[str]) -> Rates:
    """Return the rates of --defects and --exposure."""
    return rates_of(defects, exposure, labels, names=("defects", "exposure"))


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
