"""A person's own page of re-looks: the same figures as on the manager's page, for one person alone."""

from tests.recount.attributed import Expected, Rows, Sheet, Words
from tests.recount.everywhere import counted, literal
from tests.recount.inspectors_page import Looked, false_calls, missed, share_found
from tests.recount.shares import exact, percent
from tests.recount.view import View

LEAST = 20  # defects found by the other look before a share is read


def own_looks_sheet(view: View, who: str) -> Sheet:
    """Return what the recount knows of one person's own page."""
    looked = Looked(view)
    return Sheet(
        words=_words(looked, who),
        rows=[
            Rows(f"{who} in paired re-looks, {{words:words}}", lambda *_: _only(who, share_found(looked))),
            Rows(f"Found by the other look and not by {who}, {{words:words}}", lambda *_: missed(looked, who)),
            Rows("False calls, all units, {words:words}", lambda *_: _only(who, false_calls(looked))),
        ],
    )


def _only(who: str, whole: Expected) -> Expected:
    return Expected([row for row in whole.rows if row[0] == who])


def _words(looked: Looked, who: str) -> list[Words]:
    others, own = looked.by_person()[who]
    low, high = exact(own.total(), others.total()) if others else (0.0, 100.0)
    return [
        counted("Share found {p} % ({a} % to {b} %)", p=percent(own.total(), max(1, others.total())), a=low, b=high),
        counted("the other look found {n} defect", n=others.total()),
        *literal(f"a share is read from {LEAST} on"),
    ]
