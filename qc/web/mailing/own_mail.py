"""The server's own mail: each that is due once, tried again until a stated end, never twice after a restart."""

import logging
import sqlite3
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from email.message import EmailMessage
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo

from qc.domain.plant.mail_plan import UNTIL_MS, MailKind, MailPlan
from qc.reports.mails.letter import Letter
from qc.store.intake.writer import StorageFailed, StorageFull, WriterClosed
from qc.store.people.mail import (
    TOLD_MS,
    Send,
    SendState,
    Wish,
    add_send,
    note_cut_short,
    note_send,
    sends,
    tidy,
    wishes,
)
from qc.web.mailing.postman import (
    AddressRefused,
    NobodyThere,
    NotKnownWhether,
    NotTaken,
    date_of,
    hand_over,
    message_of,
)

LOOK_SECONDS = 30
FIRST_WAIT_MS, LONGEST_WAIT_MS = 5 * 60_000, 3_600_000  # between tries, doubling
NOT_RUNNING = "no server ran from when it was due until the next one was"
TOO_LATE = "not sent within the time for which it is tried"
T = TypeVar("T")


class Record(Protocol):
    """What keeps which mails are due and what became of them."""

    def write(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run ``work`` in a transaction and return its answer once that is on disk."""


Post = Callable[[MailPlan, str, EmailMessage, Callable[[], None]], None]
_log = logging.getLogger("qc.web")


class OwnMail:
    """Looks what is due, writes it, hands it over and notes what became of it.

    A mail is noted as being handed over before the mail server may take it. Where the server ends just then, nobody
    knows whether it went out: it is not sent again, and that is told.
    """

    def __init__(
        self,
        plan: MailPlan,
        zone: ZoneInfo,
        clock: Callable[[], int],
        record: Record,
        compose: Callable[[Wish, Send], Letter],
        post: Post = hand_over,
    ) -> None:
        """clock: ms since 1970 UTC. compose: writes a letter anew."""
        self._plan, self._zone, self._clock, self._record = plan, zone, clock, record
        self._compose, self._post = compose, post
        self._is_first = True

    def start(self, stopping: threading.Event) -> None:
        """Look every half a minute until told to stop."""

        def run() -> None:
            while not stopping.wait(LOOK_SECONDS):
                try:
                    self.look(stopping)
                except (StorageFailed, StorageFull, WriterClosed, sqlite3.Error) as error:
                    _log.error("mail waits, the record cannot be written: %s", type(error).__name__)

        threading.Thread(target=run, name="own-mail", daemon=True).start()

    def look(self, stopping: threading.Event | None = None) -> int:
        """Send what is due and return how many went out."""
        now, sent = self._clock(), 0
        asked = {one.person.code: one for one in self._record.write(lambda conn: self._due(conn, now))}
        kept = self._record.write(lambda conn: sends(conn, now - TOLD_MS))
        to_try = [one for one in reversed(kept) if one.state == "waiting" and one.person in asked and _is_due(one, now)]
        away = ""  # why the mail server serves nobody: the others would wait as long for nothing
        for one in to_try:
            if stopping is not None and stopping.is_set():
                break
            if away:
                self._note(one, "waiting", away)
                continue
            try:
                sent += self._send(asked[one.person], one)
            except NobodyThere as why:
                away = str(why)
                self._note(one, "waiting", away)
        return sent

    def _due(self, conn: sqlite3.Connection, now: int) -> list[Wish]:
        """Note what is due and what is missed; return who asks for mail."""
        if self._is_first:
            note_cut_short(conn, now)
            self._is_first = False
        tidy(conn, now)
        asked = wishes(conn)
        for wish in asked:
            since = max(wish.asked_ms if wish.asked_ms <= now else 0, now - TOLD_MS)
            for kind in wish.kinds:
                dues = list(self._plan.dues(kind, self._zone, since, now))
                for day, due_ms in dues:
                    add_send(conn, _new(wish.person.code, kind, day, due_ms, due_ms == dues[-1][1], now))
        latest: dict[tuple[str, str], int] = {}
        for one in sends(conn, now - TOLD_MS):  # latest first
            newer = latest.setdefault((one.person, one.kind), one.due_ms) > one.due_ms
            if one.state == "waiting" and (newer or now > one.due_ms + UNTIL_MS[one.kind]):
                why = f"{TOO_LATE}; {one.words}" if one.words else NOT_RUNNING
                note_send(conn, replace(one, state="missed", at_ms=now, words=why))
        return asked

    def _send(self, wish: Wish, one: Send) -> bool:
        """Hand one mail over and note what came of it; return whether it went out. Raises NobodyThere."""
        try:
            letter = self._compose(wish, one)
        except Exception as fault:  # one person's letter must not keep the others'; the log has where it failed
            _log.exception("a mail could not be written")
            self._note(one, "waiting", f"it could not be written ({type(fault).__name__}); the server's log says where")
            return False
        id_ = f"{one.kind}-{one.day}-{one.due_ms}-{one.person}"
        now = self._clock()
        message = message_of(self._plan, wish.address, letter.subject, letter.text, id_, date_of(now))
        try:
            self._post(self._plan, wish.address, message, lambda: self._note(one, "handing_over", "", tried=False))
        except AddressRefused as why:
            self._note(one, "refused", str(why))
        except NotKnownWhether as why:
            self._note(one, "unknown", str(why))
        except NotTaken as why:
            if isinstance(why, NobodyThere):
                raise
            self._note(one, "waiting", str(why))
        else:
            self._note(one, "sent", "")
            return True
        return False

    def _note(self, one: Send, state: SendState, words: str, tried: bool = True) -> None:
        noted = replace(one, state=state, at_ms=self._clock(), words=words)
        self._record.write(lambda conn: note_send(conn, noted, tried))
        if tried:
            _log.info("mail %s of %s: %s", one.kind, one.day, state)


def _new(person: str, kind: MailKind, day: date, due_ms: int, is_last: bool, now: int) -> Send:
    """Return a mail that is due: only the last is sent, since what those before it would say is over."""
    return Send(
        person=person,
        kind=kind,
        day=day.isoformat(),
        due_ms=due_ms,
        state="waiting" if is_last else "missed",
        tries=0,
        at_ms=now,
        words="" if is_last else NOT_RUNNING,
    )


def _is_due(one: Send, now: int) -> bool:
    if not one.tries:
        return True
    wait = min(FIRST_WAIT_MS * 2 ** min(one.tries - 1, 10), LONGEST_WAIT_MS)
    return not one.at_ms <= now < one.at_ms + wait  # noted under a clock that was ahead: nobody knows how long ago
