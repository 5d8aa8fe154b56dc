"""What the pages ask of the rooms below: the counts and the plant's own day, for the house that answers."""

from datetime import date
from typing import cast

from flask import current_app

from qc.store.counts.counts import Counts
from qc.web.house import House

_KEY = "qc.counts"


def counts_of(house: House) -> Counts:
    """Return the count tables of the house, made once for an application."""
    kept = current_app.extensions
    if _KEY not in kept:
        kept[_KEY] = Counts(house.journal)
    return cast(Counts, kept[_KEY])


def today(house: House) -> date:
    """Return the plant's production day now."""
    return counts_of(house).today(house.clock())
