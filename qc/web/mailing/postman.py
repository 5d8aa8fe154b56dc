"""Handing one mail to the plant's mail server, with an answer to whether it took it."""

import re
import smtplib
import socket
import ssl
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from email.message import EmailMessage
from email.policy import SMTP as SMTP_POLICY
from email.utils import format_datetime
from pathlib import Path

from qc.domain.plant.mail_plan import MailPlan, address_fault

SILENCE_SECONDS = 20  # without a byte from the mail server
WHOLE_SECONDS = 90  # for one mail, however slowly the server speaks
SHOWN = 200  # of what the mail server answered


class NotTaken(Exception):
    """The mail was not taken now; it may be tried again. The message says why."""


class NobodyThere(NotTaken):
    """The mail server itself does not serve us, so no other mail would fare better now."""


class AddressRefused(Exception):
    """The mail server takes no mail for this address; the message says why."""


class NotKnownWhether(Exception):
    """The mail was handed over whole and no answer came: it may be on its way, so it must not be sent again."""


def hand_over(plan: MailPlan, to: str, message: EmailMessage, before_last: Callable[[], None]) -> None:
    """Hand a mail to the plant's mail server.

    before_last is called when all is sent but the full stop that lets the server take it: what it raises leaves the
    mail untaken. Raises NotTaken, NobodyThere, AddressRefused, NotKnownWhether.
    """
    if why := address_fault(to, plan.domains):
        raise AddressRefused(f"the address {why}")
    body = re.sub(rb"(?m)^\.", b"..", message.as_bytes(policy=SMTP_POLICY))  # RFC 5321, 4.5.2
    with _connection(plan) as server:
        _accepted(server.docmd("MAIL", f"FROM:<{plan.sender}>"), NobodyThere, NobodyThere)
        _accepted(server.docmd("RCPT", f"TO:<{to}>"), NotTaken, AddressRefused)
        _accepted(server.docmd("DATA"), NotTaken, AddressRefused)
        server.send(body if body.endswith(b"\r\n") else body + b"\r\n")
        before_last()
        try:
            server.send(b".\r\n")
            answer = server.getreply()
        except (OSError, smtplib.SMTPException) as silent:
            words = f"the mail server had all of it and did not answer ({silent}); it is not sent again"
            raise NotKnownWhether(words) from silent
        _accepted(answer, NotTaken, AddressRefused)
        with suppress(OSError, smtplib.SMTPException):  # it has the mail; how it parts is nothing to us
            server.quit()


def message_of(plan: MailPlan, to: str, subject: str, text: str, id_: str, date: str) -> EmailMessage:
    """Return a mail in plain UTF-8. id_: what its id begins with, the same each time it is tried."""
    message = EmailMessage()
    message["From"], message["To"], message["Subject"] = plan.sender, to, subject
    message["Date"] = date
    message["Message-ID"] = f"<{id_}@{plan.sender.rpartition('@')[2]}>"
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: no answer from somebody's holiday note
    message.set_content(text, charset="utf-8", cte="quoted-printable")
    return message


@contextmanager
def _connection(plan: MailPlan) -> Iterator[smtplib.SMTP]:
    """Open a connection that knows who we are; everything that fails in it is NobodyThere unless told otherwise."""
    late = threading.Event()
    server: smtplib.SMTP | None = None
    ending: threading.Timer | None = None
    try:
        context = ssl.create_default_context(cafile=plan.root or None)
        own = plan.sender.rpartition("@")[2]  # its own name would be asked of a name server, which may stall
        if plan.tls == "tls":
            server = smtplib.SMTP_SSL(plan.server, plan.port, own, timeout=SILENCE_SECONDS, context=context)
        else:
            server = smtplib.SMTP(plan.server, plan.port, own, timeout=SILENCE_SECONDS)
        ending = threading.Timer(WHOLE_SECONDS, _end, (server, late))
        ending.daemon = True
        ending.start()
        _accepted(server.ehlo(), NobodyThere, NobodyThere)
        if plan.tls == "starttls":
            server.starttls(context=context)
            server.ehlo()
        if plan.user:
            server.login(plan.user, Path(plan.password_file).read_text(encoding="utf-8").strip())
        yield server
    except (OSError, smtplib.SMTPException, ValueError) as why:  # ValueError: a name or file that is none
        words = f"took longer than {WHOLE_SECONDS} s" if late.is_set() else _said(why)
        raise NobodyThere(f"the mail server {plan.server} port {plan.port}: {words}") from why
    finally:
        if ending is not None:
            ending.cancel()
        if server is not None:
            server.close()


def _end(server: smtplib.SMTP, late: threading.Event) -> None:
    late.set()
    if (line := server.sock) is not None:
        with suppress(OSError):
            line.shutdown(socket.SHUT_RDWR)


def _accepted(answer: tuple[int, bytes], later: type[Exception], never: type[Exception]) -> None:
    code, words = answer
    if code // 100 in (2, 3):
        return
    told = f"the mail server answered {code} {_plain(words)}"
    raise (never if code // 100 == 5 else later)(told)


def _said(why: Exception) -> str:
    if isinstance(why, smtplib.SMTPResponseException):
        said = why.smtp_error
        return f"answered {why.smtp_code} {_plain(said if isinstance(said, bytes) else str(said).encode())}"
    return " ".join(f"{why or type(why).__name__}".split())[:SHOWN]


def _plain(words: bytes) -> str:
    """Return what a server answered as one short line that is safe to show: it is a stranger's text."""
    text = words.decode("ascii", "replace")
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())[:SHOWN]


def date_of(at_ms: int) -> str:
    """Return an instant as a mail's date, in UTC."""
    return format_datetime(datetime.fromtimestamp(at_ms / 1000, UTC))
