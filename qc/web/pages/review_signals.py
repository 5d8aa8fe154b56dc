"""The signals beside the review, worked out once for a state of the record: they cost more than all its numbers."""

from datetime import date

from flask import current_app

from qc.domain.words.speaking import tongue
from qc.reports.periods import monday_of
from qc.reports.watch.signals import Signals
from qc.web.house import House
from qc.web.pages.page_counts import today
from qc.web.pages.signals import reported

_KEY = "qc.review_signals"
KEPT = 8  # weeks that managers leaf through; each answer is small

_State = tuple[date, date, str, int, str]


def week_signals(house: House, week: date) -> Signals:
    """Return the signals of the week, kept for as long as neither the record nor the production day moves on.

    Each language has its own: sentences are among them.
    """
    kept: dict[_State, Signals] = current_app.extensions.setdefault(_KEY, {})
    state = (monday_of(week), today(house), tongue().tag, *house.reads.chain())
    answer = kept.get(state)
    if answer is None:
        answer = kept[state] = reported(house, week)
        # Another thread may take the same away first, so a missing one is no fault.
        for old in list(kept)[:-KEPT]:
            kept.pop(old, None)
    return answer
