"""Stations against their own past in a funnel: who lies beyond what chance makes of so few or so many defects.

Instead of a league table. Stations do different work, so a plain rate per unit compares the work; what can be
compared is how far each is from the defects that its own past would have made of the same units. Confirmed and open
suspected defects count; those of unknown or disputed origin are charged to nobody; criticals are listed one by one.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import Literal

from qc.domain.counted.counts import StationWeeks
from qc.domain.plant.plant import UNKNOWN
from qc.domain.words.speaking import marked, say
from qc.reports.asking import COUNTED, LEAST_BASELINE_WEEKS, LEVEL, Asking
from qc.reports.periods import WEEK, Period, monday_of, weeks_before
from qc.reports.stations.funnel_words import notes, sentence
from qc.stats.answers import TooLittle
from qc.stats.change.mix_exposure import mix_exposure
from qc.stats.series import Rates, rates_of
from qc.stats.stations.funnel import Funnel, FunnelPoint, against_own_past, exact_funnel, multiplicative_funnel
from qc.stats.stations.ranking import chance_of_being_worst
from qc.stats.stations.shrinkage import GammaPrior, fitted_gamma_prior, gamma_poisson_rates
from qc.stats.stations.unsure_prior import HierarchicalRates, hierarchical_rates

INNER, OUTER = 0.95, 0.998  # about two and three standard deviations, as Spiegelhalter (2005) draws them
WINSORISED = 0.1  # the same source
NAMED = 0.90  # chance of being furthest above its past from which a station is named (common practice, no source)
LEAST_EXPECTED = 5.0  # defects expected below which there is no verdict (common practice, no source)
PAST_WEEKS = 26
KEPT = 32  # sets of counts whose integral is kept: one page is asked again and again between two records
BUILD_KINDS = ("main", "feeder", "remote")
DENOMINATOR = marked(
    "Majors and minors, confirmed or suspected and still open, on units presented in these weeks whose build contains "
    "the station; expected: what its own past would have made of the same units, model by model"
)

Standing = Literal["usual range", "high", "very high", "low", "very low", "little exposure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StationStanding:
    """One station. units: presented whose build contains it; confirmed, suspected (still open) defects on them.

    expected: defects that its own past makes of these units; ratio: defects over expected. exact: limits of chance
    alone on the ratio (outer low, inner low, inner high, outer high); wide: widened by how uncertain the past is and by
    the stations' scatter, which the standing goes by. shrunken, low, high: the ratio drawn towards all stations' as far
    as its few defects deserve; furthest: chance that it truly is the furthest above its past; None where that cannot be
    told.
    """

    station: str
    name: str
    units: int
    confirmed: int
    suspected: int
    expected: float
    ratio: float
    exact: tuple[float, float, float, float]
    wide: tuple[float, float, float, float]
    standing: Standing
    shrunken: float | None
    low: float | None
    high: float | None
    furthest: float | None

    @property
    def defects(self) -> int:
        """Return confirmed and suspected together."""
        return self.confirmed + self.suspected


@dataclass(frozen=True, slots=True, kw_only=True)
class StationFunnel:
    """The stations of the build in table order. past: the weeks before the period that expected counts come from.

    funnel: the evidence, limits widened by its dispersion. named: stations that are furthest above their past with a
    chance of at least 90 %. unknown: defects charged to nobody. no_past: (station, defects now) without a defect or a
    unit of a model before, so that nothing is expected. sentence, notes, denominator in words.
    """

    period: Period
    past: Period
    stations: tuple[StationStanding, ...]
    funnel: Funnel
    named: tuple[str, ...]
    unknown: int
    no_past: tuple[tuple[str, int], ...]
    sentence: str
    notes: tuple[str, ...]
    denominator: str


@dataclass(frozen=True, slots=True)
class _Made:
    """A station's weeks of the period, and the defects that its past expects with their standard error."""

    weeks: StationWeeks
    expected: float
    error: float

    @property
    def defects(self) -> int:
        return sum(self.weeks.confirmed) + sum(self.weeks.suspected)


def station_funnel(ask: Asking, period: Period) -> StationFunnel | TooLittle:
    """Return the stations of the build against their own past; TooLittle while the record has no such past."""
    past = _past(ask, period)
    if isinstance(past, TooLittle):
        return past
    every = _made(ask, period, past)
    made = {name: one for name, one in every.items() if one.expected > 0}
    if len(made) < 3:
        reason = say("fewer than three stations have a past to stand beside")
        return TooLittle("funnel of stations", reason, len(made), 3)
    rates = rates_of([one.defects for one in made.values()], [one.expected for one in made.values()], tuple(made))
    indicator = against_own_past(rates, [one.error for one in made.values()])
    exact, wide = exact_funnel(indicator, INNER, OUTER), multiplicative_funnel(indicator, INNER, OUTER, WINSORISED)
    assert isinstance(exact, Funnel)  # three stations have an expected count above nought
    assert isinstance(wide, Funnel)
    drawn, furthest, named = _shrunken(rates)
    stations = tuple(
        _standing(ask, made[point.label], point, wide.points[place], drawn.get(point.label), furthest.get(point.label))
        for place, point in enumerate(exact.points)
    )
    no_past = tuple((name, one.defects) for name, one in every.items() if not one.expected)
    return StationFunnel(
        period=period,
        past=past,
        stations=stations,
        funnel=wide,
        named=named,
        unknown=_unknown(ask, period),
        no_past=no_past,
        sentence=sentence(stations, [(name, furthest[name]) for name in named]),
        notes=notes(stations, wide, no_past, past.name, LEAST_EXPECTED),
        denominator=say(DENOMINATOR),
    )


def _past(ask: Asking, period: Period) -> Period | TooLittle:
    """Return the weeks before the period, at most 26, from the record's first on; too few are TooLittle."""
    first = ask.counts.first_week()
    have = max(0, (monday_of(period.first) - first) // WEEK) if first else 0
    if have < LEAST_BASELINE_WEEKS:
        least = LEAST_BASELINE_WEEKS
        reason = say(
            "a station's own past needs {least} weeks before these, the record has {have}", least=least, have=have
        )
        return TooLittle("funnel of stations", reason, have, LEAST_BASELINE_WEEKS)
    return weeks_before(Period(period.first, period.first + WEEK, "", False), min(PAST_WEEKS, have))


def _made(ask: Asking, period: Period, past: Period) -> dict[str, _Made]:
    models = ask.models or tuple(ask.plant.models)
    now = {m: _weeks(ask, period, (m,)) for m in models}
    then = {m: _weeks(ask, past, (m,)) for m in models}
    whole = _weeks(ask, period, ask.models)
    return {
        name: _Made(weeks, *_expected([now[m][name] for m in models], [then[m][name] for m in models], models))
        for name, weeks in whole.items()
        if ask.plant.stations[name].kind in BUILD_KINDS and any(weeks.exposed)
    }


def _weeks(ask: Asking, period: Period, models: tuple[str, ...]) -> dict[str, StationWeeks]:
    narrowed = Asking(
        counts=ask.counts, plant=ask.plant, now_ms=ask.now_ms, models=models, lines=ask.lines, shifts=ask.shifts
    )
    return ask.counts.all_station_weeks(narrowed.slice(period, COUNTED), "found", ask.now_ms)


def _expected(now: list[StationWeeks], then: list[StationWeeks], models: tuple[str, ...]) -> tuple[float, float]:
    """Return the defects that the past makes of the units now, nought where it cannot tell, and their standard error.

    The past's counts are chance too: the variance of each model's share of what is expected is that of a Poisson count.
    """
    units, past = [sum(one.exposed) for one in now], [sum(one.exposed) for one in then]
    found = [sum(one.confirmed) + sum(one.suspected) for one in then]
    answer = mix_exposure([units], ["now"], rates_of(found, past, models))
    if isinstance(answer, TooLittle):
        return 0.0, 0.0
    rows = zip(units, past, answer.rates, strict=True)
    return answer.expected[0], sqrt(sum(n * n * rate / base for n, base, rate in rows if base))


def _unknown(ask: Asking, period: Period) -> int:
    counts = ask.counts.category_counts(ask.slice(period, COUNTED), "origin")
    return dict(zip(counts.labels, counts.counts, strict=True)).get(UNKNOWN, 0)


Drawn = dict[str, tuple[float, float, float]]


@lru_cache(maxsize=KEPT)
def _shrunken(rates: Rates) -> tuple[Drawn, dict[str, float], tuple[str, ...]]:
    """Return shrunken ratios, the chances of being furthest above, and who is named; empty where none can be told."""
    prior = fitted_gamma_prior(rates)
    if not isinstance(prior, GammaPrior):
        return {}, {}, ()
    # Some twenty stations leave much of the prior open: the ranges allow for it.
    answer = hierarchical_rates(rates, LEVEL)
    assert isinstance(answer, HierarchicalRates)  # a prior was fitted to them
    furthest = chance_of_being_worst(gamma_poisson_rates(rates, prior, LEVEL), NAMED)
    drawn = dict(zip(rates.labels, zip(answer.values, answer.low, answer.high, strict=True), strict=True))
    if isinstance(furthest, TooLittle):
        return drawn, {}, ()
    return drawn, dict(zip(rates.labels, furthest.chances, strict=True)), furthest.named


def _standing(
    ask: Asking, made: _Made, exact: FunnelPoint, wide: FunnelPoint,
    drawn: tuple[float, float, float] | None, furthest: float | None,
) -> StationStanding:  # fmt: skip
    little = made.expected < LEAST_EXPECTED or wide.verdict == "no exposure"
    standing: Standing = "little exposure" if little else wide.verdict  # type: ignore[assignment]
    value, low, high = drawn if drawn else (None, None, None)
    weeks = made.weeks
    return StationStanding(
        station=weeks.station,
        name=ask.place_name(weeks.station),
        units=sum(weeks.exposed),
        confirmed=sum(weeks.confirmed),
        suspected=sum(weeks.suspected),
        expected=made.expected,
        ratio=exact.value,
        exact=exact.limits,
        wide=wide.limits,
        standing=standing,
        shrunken=value,
        low=low,
        high=high,
        furthest=furthest,
    )
