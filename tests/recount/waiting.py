"""What waits for somebody, in the review's few lines: open criticals, disputes, origins that nobody named."""

from tests.recount.attributed import Sheet
from tests.recount.everywhere import counted
from tests.recount.record import Defect
from tests.recount.view import View

LONG = 3  # working days


def waiting_sheet(view: View) -> Sheet:
    """Return what the recount knows of everything that waits, whenever found, all models and shifts."""
    standing = [one for one in view.record.defects.values() if one.state != "withdrawn"]
    disputes = [one for one in standing if one.origin_state == "disputed"]
    unnamed = sum(one.origin_state == "none" for one in standing)
    not_known = sum(one.origin_state == "suspected" and not one.stands_against for one in standing)
    with_leads = [one for one in standing if one.origin_state == "suspected" and one.stands_against]
    oldest = max((_days_disputed(view, one) for one in disputes), default=0)
    long = sum(view.plant.working_days_between(one.day, view.today) > LONG for one in with_leads)
    critical = sum(one.severity == "critical" and one.state in ("open", "repaired") for one in standing)
    words = []
    for noun in ("critical", "criticals"):
        words.append(counted(f"{{n}} {noun} open", n=critical))
    for noun in ("dispute", "disputes"):
        words.append(counted(f"{{n}} {noun} for you to settle", n=len(disputes)))
    for noun in ("origin", "origins"):
        words.append(counted(f"{{n}} {noun} that nobody has named", n=unnamed))
    for noun in ("day", "days"):
        words.append(counted(f"the oldest for {{n}} {noun}", n=oldest))
    return Sheet(
        words=[
            *words,
            counted("{n} said to be not known", n=not_known),
            counted("{n} with the leads", n=len(with_leads)),
            counted("{n} of them for more than 3 working days", n=long),
        ]
    )


def _days_disputed(view: View, one: Defect) -> int:
    since = max(origin.at for origin in one.origins if origin.kind == "origin_disputed")
    return (view.today - view.plant.local(since).date()).days
