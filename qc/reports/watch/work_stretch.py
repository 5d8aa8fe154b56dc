"""When the work was done that a signal speaks of: the stretch of weeks with more defects, and the units in it."""

from collections.abc import Sequence
from dataclasses import dataclass

from qc.reports.watch.causes import causes_of
from qc.reports.watch.watching import changes_of
from qc.stats.change.several_changes import SeveralChanges


@dataclass(frozen=True, slots=True)
class WorkStretch:
    """Weeks of work, first to last (None while it lasts), with the weeks in which each end may lie (95 % ranges).

    sequences: first and last unit, by place in the build order, with a defect of the signal made in the stretch.
    """

    first: str
    last: str | None
    may_begin: tuple[str, str]
    may_end: tuple[str, str] | None
    sequences: tuple[int, int] | None
    units: int


def work_stretch(
    weeks: Sequence[str],
    defects: Sequence[int],
    exposed: Sequence[float],
    made: Sequence[tuple[str, int]],
    scatter: float,
) -> WorkStretch | None:
    """Return the latest stretch of weeks whose rate rose, None where none did.

    weeks, defects, exposed: by the week of the work, in time order; made: (week, sequence) of each defect; scatter:
    variance of counts over Poisson's, 0 for no more.
    """
    changes = changes_of(causes_of(defects, scatter), exposed, weeks)
    if not isinstance(changes, SeveralChanges):
        return None
    after = dict(zip(changes.labels, changes.labels[1:], strict=False))
    for at in range(len(changes.changes) - 1, -1, -1):
        before, here = changes.stretches[at], changes.stretches[at + 1]
        if here.value > before.value:
            begins = changes.changes[at]
            ends = changes.changes[at + 1] if at + 1 < len(changes.changes) else None
            within = set(changes.labels[changes.labels.index(here.first) : changes.labels.index(here.last) + 1])
            sequences = [sequence for week, sequence in made if week in within]
            return WorkStretch(
                here.first,
                here.last if ends else None,
                (after[begins.earliest], after[begins.latest]),
                (ends.earliest, ends.latest) if ends else None,
                (min(sequences), max(sequences)) if sequences else None,
                len(set(sequences)),
            )
    return None
