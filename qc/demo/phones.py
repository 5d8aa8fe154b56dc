"""Acts put into envelopes and pushes, exactly as the inspectors' app sends them."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from qc.demo.acts import Act
from qc.demo.authors import Authors
from qc.demo.hours import Hours
from qc.demo.network import Network
from qc.domain.facts.operations import SCHEMA
from qc.store.record.verdicts import PushBatch

MOST_OPERATIONS = 100  # in one push


@dataclass(slots=True)
class Phone:
    """One installation: its next sequence number and the newest server number that it has pulled."""

    device: str
    epoch: str
    next_seq: int = 1
    seen_through: int = 0


@dataclass
class Phones:
    """All installations of the play."""

    network: Network
    hours: Hours
    time_zone: ZoneInfo
    authors: Authors
    _phones: dict[str, Phone] = field(default_factory=dict)

    def of(self, device: str) -> Phone:
        """Return a device's installation, made at its first use."""
        return self._phones.setdefault(device, Phone(device, f"{device.lower()}-demo-1"))

    def pushes(self, acts: list[Act]) -> Iterator[list[Act]]:
        """Yield the acts in the portions in which they are sent: one device, one moment, a hundred at most."""
        for _, group in groupby(acts, key=lambda act: (act.device, act.known)):
            waiting = list(group)
            for place in range(0, len(waiting), MOST_OPERATIONS):
                yield waiting[place : place + MOST_OPERATIONS]

    def envelope(self, act: Act, seen_through: int) -> dict[str, Any]:
        """Return an act as an operation with the device's next sequence number."""
        phone = self.of(act.device)
        stretch = self.hours.at(act.ms)
        raw = {
            "id": act.id,
            "device": act.device,
            "install_epoch": phone.epoch,
            "seq": phone.next_seq,
            "kind": act.kind,
            "schema": SCHEMA,
            "unit": act.unit,
            "body": act.body,
            "author": act.author,
            "deps": list(act.deps),
            "seen_through": seen_through,
            "wall_ms": self.network.clock(act.device, act.ms),
            "tz_min": self._offset_minutes(act.ms),
            "session": f"demo-{act.device}-{act.author}-{stretch.day.isoformat()}",
            "mono_ms": max(0, act.ms - stretch.begins),
        }
        phone.next_seq += 1
        return raw

    def _offset_minutes(self, ms: int) -> int:
        offset = datetime.fromtimestamp(ms / 1000, UTC).astimezone(self.time_zone).utcoffset()
        assert offset is not None
        return round(offset.total_seconds() / 60)

    def batch(self, device: str, known: int, raws: list[dict[str, Any]]) -> PushBatch:
        """Return a push as it arrives at the server at an instant, signed by its authors."""
        return self.authors.batch(device, self.of(device).epoch, self.network.clock(device, known), raws, known)
