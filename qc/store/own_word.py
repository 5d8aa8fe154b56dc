"""Operations that this process makes and vouches for: what is done on a page, and what the server says of itself."""

import secrets
from collections.abc import Mapping
from typing import Any

import orjson

from qc.domain.operations import SCHEMA
from qc.domain.people import SERVER
from qc.store.verdicts import PushBatch


def uuid7(ms: int) -> str:
    """Return a version 7 UUID of an instant in milliseconds since 1970 UTC (RFC 9562 section 5.7)."""
    value = ms << 80 | secrets.randbits(80)
    value = value & ~(0xF << 76) | 7 << 76
    value = value & ~(0x3 << 62) | 2 << 62
    digits = f"{value:032x}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))


def own_batch(device: str, install_epoch: str, first_seq: int, now: int, *acts: Mapping[str, Any]) -> PushBatch:
    """Return a batch of operations in order; acts: kind, unit, body, author and session of each."""
    operations = []
    for seq, what in enumerate(acts, start=first_seq):
        envelope = {
            "id": uuid7(now),
            "device": device,
            "install_epoch": install_epoch,
            "seq": seq,
            "schema": SCHEMA,
            "deps": [],
            "seen_through": 0,
            "wall_ms": now,
            "tz_min": 0,
            "mono_ms": 0,
            **what,
        }
        operations.append((orjson.dumps(envelope), envelope))
    return PushBatch(device, install_epoch, now, operations, None, now)


def servers_word(kind: str, body: Mapping[str, Any], now: int) -> PushBatch:
    """Return what the server says of itself, in a stream of its own: it has no numbers to go on with."""
    what = {"kind": kind, "unit": None, "body": dict(body), "author": SERVER, "session": "server"}
    return own_batch(SERVER, f"server-{secrets.token_hex(8)}", 1, now, what)
