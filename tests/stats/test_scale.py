"""What size does: scaling never makes a refusal of an answer, and the largest count is answered, in bounded work.

The bound is a watchdog on the processor's time of one call: it ends what would not end, and measures no speed.
"""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.stats.answers import TooLittle
from qc.stats.by_command.change.rate_trend import poisson_trend
from qc.stats.refusals import LARGEST_COUNT
from qc.stats.series import Counts, Rates, Shares, counts_of, rates_of, shares_of
from tests.stats.test_every_argument import equal, faults
from tests.stats.valid_calls import CALLS

PATIENCE = 20.0  # seconds of the processor for one call; the slowest takes a tenth of it
# Arguments that hold counts or what they were counted on: these are scaled together.
COUNTED = {
    "shares", "rates", "counts", "series", "strata", "rates_by_class", "baseline", "before", "after",
    "defects", "units", "defectives", "inspected", "before_defects", "before_units", "before_defectives",
    "before_inspected", "after_units", "now_units", "table", "first_defects", "first_units", "second_defects",
    "second_units", "first_defectives", "first_inspected", "second_defectives", "second_inspected",
    "only_first", "only_second", "first", "second", "both", "right", "first_defective", "first_clean",
    "second_defective", "second_clean", "bad_called_bad", "bad_called_good", "good_called_bad", "good_called_good",
    "followed", "amounts",
}  # fmt: skip
# Refused by name above a stated number of their own, as their terms are summed one by one: what the refusal says.
LIMITED = {
    "agreement.judgements_of_two": "at most",
    "count_limits.predictive_share_limits": "inspected must be at most 1000000",
    "exact_limits.predictive_p_chart": "inspected must be at most 1000000",
    "point_laws.share_law": "a normal law will do",
    "point_laws.rate_law": "a normal law will do",
    "simultaneous.sison_glaz_intervals": "take Goodman's",
    "type_changes.type_changes": "counts must sum to at most 100000",
    "watch_design.watch_design": "defects must be at most",
    "watch_design.chance_of_height": "defects must be at most",
}


SERIES = (Shares, Rates, Counts)


class TooLong(Exception):
    """A call that would not end."""


@contextmanager
def watched(seconds: float) -> Iterator[None]:
    """Raise TooLong in what runs inside once it has used so much of the processor."""

    def bark(*_: object) -> None:
        raise TooLong(f"more than {seconds:g} s of the processor")

    before = signal.signal(signal.SIGVTALRM, bark)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def scaled(value: Any, times: int) -> Any:
    """Return counts and exposures so many times as large, at most the largest that is answered."""
    if isinstance(value, list):
        return [scaled(one, times) for one in value]
    if isinstance(value, dict):
        return {key: scaled(one, times) for key, one in value.items()}
    if isinstance(value, Counts):
        return counts_of(scaled([*value.counts], times), value.labels)
    if isinstance(value, (Shares, Rates)):
        make = shares_of if isinstance(value, Shares) else rates_of
        return make(scaled([*value.events], times), scaled([*value.sizes], times), value.labels)
    if is_dataclass(value):  # a frozen baseline: it stays as it was
        return value
    return value if isinstance(value, bool) or value is None else value * times


def counted(name: str, value: Any) -> bool:
    """Return whether an argument holds counts; shares that are told as numbers hold none."""
    return name in COUNTED and not (name == "shares" and isinstance(value, list))


def scale_of(arguments: dict[str, Any], times: int) -> dict[str, Any]:
    return {name: scaled(one, times) if counted(name, one) else one for name, one in arguments.items()}


def has_counts(value: Any) -> bool:
    """Return whether a value holds numbers or a series, and not records of counts."""
    if isinstance(value, (list, dict)):
        return any(map(has_counts, value.values() if isinstance(value, dict) else value))
    return isinstance(value, (int, float, Shares, Rates, Counts))


SCALED = [
    name
    for name, (_, one) in CALLS.items()
    if any(has_counts(value) for key, value in one.items() if counted(key, value))
]


def test_the_watchdog_ends_what_would_not_end():
    def endless() -> None:
        while True:
            pass

    with pytest.raises(TooLong), watched(0.05):
        endless()


@pytest.mark.parametrize("times", [10, 1_000, 1_000_000])
@pytest.mark.parametrize("name", SCALED)
def test_scaling_counts_and_exposure_never_turns_an_answer_into_a_refusal(name, times):
    ask, arguments = CALLS[name]
    with watched(PATIENCE):
        try:
            answer = ask(**scale_of(arguments, times))
        except ValueError as refusal:
            if LIMITED.get(name, "nothing of the kind") not in str(refusal):
                raise
            return

    assert not isinstance(answer, TooLittle), answer
    assert faults(answer, ask) == []


@pytest.mark.parametrize("times", [1, 1_000, 150_000])
def test_scattered_series_of_any_size_have_a_trend(times):
    # The published tolerance of the fit is of the deviance, which rounding moves by more: one in four was refused.
    source, labels = np.random.default_rng(8), [str(week) for week in range(26)]
    for _ in range(12):
        series = (source.poisson(5_000, 26) * times).tolist()
        answer = poisson_trend(rates_of(series, [1] * 26, labels), list(range(26)), 0.95)

        assert not isinstance(answer, TooLittle), series
        assert answer.low < 1.001
        assert answer.high > 0.999


def test_the_series_that_was_refused_has_its_slope():
    answer = poisson_trend(rates_of([100_000, 200_000, 300_000, 400_007], [1] * 4, list("abcd")), [1, 2, 3, 4], 0.95)
    # The score equations of the slope, solved by hand on the counts in hundred thousands: sum (y - mu) t = 0.
    means = [np.exp(answer.regression.coefficients[0]) * answer.ratio ** (time - 2.5) for time in (1, 2, 3, 4)]

    assert sum(means) == pytest.approx(1_000_007, rel=1e-9)
    assert sum(mean * time for mean, time in zip(means, (1, 2, 3, 4), strict=True)) == pytest.approx(
        100_000 + 400_000 + 900_000 + 1_600_028, rel=1e-9
    )


LARGE = st.sampled_from([0, 1, 2**31 - 1, 2**31, LARGEST_COUNT]) | st.integers(0, LARGEST_COUNT)


def answerable(data: st.DataObject, values: tuple[Any, ...], times: int) -> list[Any]:
    """Return the values of a series enlarged; one beyond the largest is refused by what makes it, tested with lists."""
    return [min(one, LARGEST_COUNT) for one in enlarged(data, [*values], times)]


def enlarged(data: st.DataObject, value: Any, times: int) -> Any:
    """Return counts so many times as large, at most the largest, one in four of them of any size at all."""
    if isinstance(value, list):
        return [enlarged(data, one, times) for one in value]
    if isinstance(value, dict):
        return {key: enlarged(data, one, times) for key, one in value.items()}
    if isinstance(value, Counts):
        return counts_of(answerable(data, value.counts, times), value.labels)
    if isinstance(value, (Shares, Rates)):
        sizes = answerable(data, value.sizes, times)
        drawn = zip(answerable(data, value.events, times), sizes, strict=True)
        if isinstance(value, Shares):
            return shares_of([min(part, whole) for part, whole in drawn], sizes, value.labels)
        return rates_of([found if size else 0 for found, size in drawn], sizes, value.labels)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return value
    if data.draw(st.integers(0, 3)) == 0:
        return data.draw(LARGE)
    return type(value)(min(value * times, LARGEST_COUNT))


@pytest.mark.parametrize("name", SCALED)
@settings(
    max_examples=5,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(data=st.data())
def test_counts_up_to_the_largest_are_answered_whole_or_refused_by_name(name, data):
    ask, arguments = CALLS[name]
    times = 10 ** data.draw(st.integers(0, 8))
    changed = {key: enlarged(data, one, times) if counted(key, one) else one for key, one in arguments.items()}
    with watched(PATIENCE):
        try:
            answer = ask(**changed)
        except ValueError as refusal:
            # A series is refused by what is in it.
            within = [field.name for one in changed.values() if isinstance(one, SERIES) for field in fields(one)]
            if not any(word in str(refusal) for word in (*changed, *within, LIMITED.get(name, "?"))):
                raise
            return

    assert faults(answer, ask) == []


@pytest.mark.parametrize("name", SCALED)
def test_a_count_beyond_the_largest_is_refused_by_name(name):
    ask, arguments = CALLS[name]
    for key in COUNTED & arguments.keys():
        one = arguments[key]
        whole = one if type(one) is int else one[0] if isinstance(one, list) and type(one[0]) is int else None
        if whole is None or key == "amounts":
            continue  # an exposure or a weight, which may be larger
        for beyond in (10**13, 10**18, 10**30):
            changed = beyond if type(one) is int else [beyond, *one[1:]]
            with watched(PATIENCE), pytest.raises(ValueError, match=rf"{key}.* at most .*, got"):
                ask(**{**arguments, key: changed})


def as_fractions(value: Any) -> Any:
    """Return halves and tenths as fractions, flags as numpy's own."""
    if isinstance(value, list):
        return [as_fractions(one) for one in value]
    if isinstance(value, bool):
        return np.bool_(value)
    return Fraction(value).limit_denominator(10**6) if isinstance(value, float) and abs(value) < 1e9 else value


@pytest.mark.parametrize("name", CALLS)
def test_fractions_and_flags_of_numpy_are_answered_like_plain_numbers(name):
    ask, arguments = CALLS[name]
    answer = ask(**{key: as_fractions(one) for key, one in arguments.items()})

    assert faults(answer, ask) == []
    assert equal(ask(**arguments), answer)
