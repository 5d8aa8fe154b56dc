"""Whether what is watched scatters more than chance gives where each defect comes by itself, as Poisson counts."""

from collections.abc import Sequence

from qc.domain.words.speaking import say
from qc.reports.asking import SCATTER_LEVEL
from qc.reports.watch.watched_series import Series, outermost
from qc.stats.answers import TooLittle
from qc.stats.change.mix_exposure import dispersion_within


def scatter_beyond_chance(series: Sequence[Series], units: Sequence[Sequence[int]]) -> float:
    """Return the variance over Poisson's of the watched sums in their baselines, 0 where chance alone could give it.

    units: by week of the table and model. One sum has too few weeks to tell; all together tell a scatter of 1.4. A sum
    within another is counted once; each model has its own rate, so no change of the mix is scatter.
    Source: Pearson's index of dispersion, its chi-square and degrees added up over independent sums.
    """
    from scipy.special import chdtrc

    chi_square, degrees = 0.0, 0
    for one in outermost(series):
        weeks = range(one.first, one.end)
        defects = [[row[week] for row in one.by_model] for week in weeks]
        names = [str(week) for week in weeks], [str(at) for at in range(len(one.by_model))]
        told = dispersion_within(defects, units[one.first : one.end], *names)
        if not isinstance(told, TooLittle):
            chi_square, degrees = chi_square + told.index * told.degrees, degrees + told.degrees
    if not degrees or float(chdtrc(degrees, chi_square)) >= 1 - SCATTER_LEVEL:
        return 0.0
    return chi_square / degrees


def scatter_words(scatter: float) -> str:
    """Return what a reader must know of such a scatter, "" for none."""
    if not scatter:
        return ""
    return say(
        "In the baseline's weeks these counts scatter {scatter:.1f} times what chance gives, as where several defects "
        "on a unit have one cause. Limits, chances and usual ranges allow for that: a signal then takes more.",
        scatter=scatter,
    )
