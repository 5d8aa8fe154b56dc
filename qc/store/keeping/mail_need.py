"""What the server's own mail needs, and what of the last fortnight's did not go out."""

import os
import stat
import sys
import time
from contextlib import closing
from pathlib import Path

from qc.domain.plant.mail_plan import MailPlan
from qc.store.keeping.needs import Need
from qc.store.people.mail import not_sent, wishes
from qc.store.record.connection import RECORD, open_reader
from qc.store.tables.migrations import MIGRATIONS, version_of

NAME = "mail"


def mail_need(folder: Path, plan: MailPlan | None, now_ms: int | None = None) -> Need:
    """Return the need of a folder's mail; the mail server itself is not asked."""
    if plan is None:
        return Need(NAME, "unasked", "the server mails nobody: plant.toml has no section [mail]")
    for path in filter(None, (plan.password_file, plan.root)):
        if not os.access(path, os.R_OK):
            return Need(NAME, "missing", f"{path} cannot be read by this account; put it there, or mend plant.toml")
    if plan.password_file and sys.platform != "win32" and stat.S_IMODE(os.stat(plan.password_file).st_mode) & 0o077:
        words = f"others may read the password in {plan.password_file}; take it from them: chmod go= FILE"
        return Need(NAME, "soon", words)
    now = time.time_ns() // 1_000_000 if now_ms is None else now_ms
    with closing(open_reader(folder / RECORD)) as conn:
        if version_of(conn) != MIGRATIONS[-1].number:
            return Need(NAME, "unasked", "not looked at before the record is of this program's version")
        asked, unsent = wishes(conn), not_sent(conn, now)
    if unsent:
        last = unsent[0]
        told = f"{len(unsent)} of the last fortnight not sent; the last, of {last.day} to {last.person}: {last.words}"
        return Need(NAME, "missing", told)
    return Need(
        NAME, "met", f"through {plan.server}; {len(asked)} asked for it, all due in the last fortnight went out"
    )
