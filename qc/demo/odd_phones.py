"""Phones out of order: one found in a drawer, one with a clock ahead, one whose author never signed in."""

from typing import Any

import numpy as np
import orjson

from qc.demo.acts import uuid7
from qc.demo.hours import MINUTE
from qc.domain.operations import SCHEMA
from qc.store.verdicts import PushBatch

DAY = 24 * 60 * MINUTE


def odd_pushes(chassis: str, ms: int, seed: int) -> list[PushBatch]:
    """Return pushes that arrive about an instant and whose operations are kept without effect."""
    rng = np.random.default_rng([seed, 10])
    late = _push(rng, "P2", "p2-drawer", chassis, (ms, ms - 70 * DAY))
    ahead = _push(rng, "P4", "p4-dead-battery", chassis, (ms + MINUTE, ms + 2 * DAY))
    stranger = _push(rng, "P1", "p1-found", chassis, (ms + 2 * MINUTE, ms))
    return [late, ahead, PushBatch(*_fields(stranger), lambda session, author, device: False, stranger.received_ms)]


def _fields(push: PushBatch) -> tuple[str, str, int, list[tuple[bytes, Any]]]:
    return push.device, push.install_epoch, push.sent_ms, push.operations


def _push(rng: np.random.Generator, device: str, epoch: str, chassis: str, when: tuple[int, int]) -> PushBatch:
    received, wall = when
    raw = {
        "id": uuid7(wall, rng.bytes(10)),
        "device": device,
        "install_epoch": epoch,
        "seq": 1,
        "kind": "inspection_begun",
        "schema": SCHEMA,
        "unit": chassis,
        "body": {"point": "D01", "purpose": "presentation", "light": "overcast"},
        "author": "I1",
        "deps": [],
        "seen_through": 0,
        "wall_ms": wall,
        "tz_min": 0,
        "session": f"demo-{epoch}",
        "mono_ms": 0,
    }
    return PushBatch(device, epoch, received, [(orjson.dumps(raw), raw)], None, received)
