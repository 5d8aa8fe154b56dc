"""How a plant's own server mails its people: through which mail server, when, and to which addresses."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from qc.domain.facts.people import Role
from qc.domain.words.speaking import say

MailKind = Literal["daily", "monday"]
KINDS: tuple[MailKind, ...] = ("daily", "monday")
WRITTEN_FOR: tuple[Role, ...] = ("quality_manager", "station_lead")  # for other roles there is nothing to tell by mail
UNTIL_MS: dict[MailKind, int] = {"daily": 12 * 3_600_000, "monday": 48 * 3_600_000}  # tried for so long, then missed
ADDRESS_MOST = 254  # RFC 5321, 4.5.3.1.3, less the brackets of a path
_LOCAL = re.compile(r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+(\.[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+)*")  # RFC 5322, 3.2.3
_LABEL = re.compile(r"[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?")  # RFC 1035, 2.3.1


@dataclass(frozen=True, slots=True, kw_only=True)
class MailPlan:
    """server, port: the plant's mail server. tls: from the first byte, by STARTTLS, or "none".

    user, password_file: "" where it asks for neither; root: a file of certificates that vouch for it, "" for those of
    the machine. sender: the address that stands as from. links: the address of the pages, without a slash at its end.
    at: time of day of the plant; days: ISO weekdays of the daily mail. domains: those that mail may go to.
    """

    server: str
    port: int
    tls: Literal["tls", "starttls", "none"]
    user: str
    password_file: str
    root: str
    sender: str
    links: str
    at: time
    days: tuple[int, ...]
    domains: tuple[str, ...]

    def dues(self, kind: MailKind, zone: ZoneInfo, after_ms: int, to_ms: int) -> Iterator[tuple[date, int]]:
        """Yield the days on which a mail was due after one instant and up to another, with when (ms since 1970 UTC).

        A time of day that the clocks leap over is due when they have; one that comes twice is due the first time.
        """
        day, last = (datetime.fromtimestamp(ms / 1000, zone).date() for ms in (after_ms, to_ms))
        while day <= last:
            due = round(datetime.combine(day, self.at, zone).timestamp() * 1000)
            if day.isoweekday() in (self.days if kind == "daily" else (1,)) and after_ms < due <= to_ms:
                yield day, due
            day += timedelta(days=1)


def address_fault(address: str, domains: tuple[str, ...] = ()) -> str:
    """Return why no mail goes to an address, "" where one may; domains: to these alone, () for any."""
    if not address.isascii() or not address.isprintable():
        return say("holds a line break or a sign that no address here may have; use letters, figures and . - _ +")
    local, at, domain = address.rpartition("@")
    labels = domain.split(".")
    if not at or not local or len(address) > ADDRESS_MOST or len(local) > 64:
        return say("is no address; write it as name@domain")
    if not _LOCAL.fullmatch(local) or len(labels) < 2 or not all(_LABEL.fullmatch(label) for label in labels):
        return say("is no address; write it as name@domain, without blanks, quotes and brackets")
    if domains and domain.lower() not in domains:
        return say("is outside the plant: mail goes to {domains} alone", domains=" and ".join(domains))
    return ""
