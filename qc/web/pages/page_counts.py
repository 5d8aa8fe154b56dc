"""The counts that one request reads, each page the same, and the plant's own day."""

from datetime import date
from typing import cast

from flask import current_app, g

from qc.store.counts.counts import Counts
from qc.web.house import House
from qc.web.pages.filters import usual_week

_KEY = "qc.counts"


def counts_of(house: House) -> Counts:
    """Return the count tables of the house as one request reads them: what is dirty is counted once for it."""
    kept = current_app.extensions
    if _KEY not in kept:
        kept[_KEY] = Counts(house.journal)
    if _KEY not in g:
        setattr(g, _KEY, cast(Counts, kept[_KEY]).moment())
    return cast(Counts, g.get(_KEY))


def count_anew() -> None:
    """Let what this request reads from here on hold what it has just written."""
    g.pop(_KEY, None)


def today(house: House) -> date:
    """Return the plant's production day now."""
    return counts_of(house).today(house.clock())


def usual(house: House) -> date:
    """Return the Monday of the week that a page opens on."""
    return usual_week(today(house), counts_of(house).first_week())
