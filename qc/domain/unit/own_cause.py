"""Whose cause an origin is: who disputed it and where it stood, so that nobody settles what is their own to answer.

A lead's word and the manager's settling are two halves of one check; a person with both roles does one of them
(common practice, no source).
"""

from collections.abc import Sequence

from qc.domain.facts.standing import Standing
from qc.domain.unit.origins import Origin, after
from qc.domain.unit.unit_record import Event

DISPUTE = "*"  # no code of a place


def own_cause(events: Sequence[Event], defect: str, author: str, standing: Standing) -> str:
    """Return why somebody does not settle a defect's origin, "" where they may.

    events: of the unit, in the order of their effect. Why is the code of the station that they lead and that it stood
    against, `DISPUTE` where they disputed it themselves.
    """
    origin, own, disputed_by = Origin(), "", ""
    for one in events:
        op = one.operation
        if one.verdict != "applied" or not op.kind.startswith("origin_") or op.body.get("defect") != defect:
            continue
        origin = after(origin, op.kind, op.body.get("station", ""), one.happened_ms)
        if standing.leads(origin.charged):
            own = origin.charged or ""
        if op.kind == "origin_disputed":
            disputed_by = op.author
    return own or (DISPUTE if disputed_by == author and origin.state == "disputed" else "")
