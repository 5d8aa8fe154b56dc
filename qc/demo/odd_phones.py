"""Phones out of order: one found in a drawer, one with a clock ahead, one whose author never signed in."""

from dataclasses import replace

import numpy as np

from qc.demo.authors import Authors
from qc.demo.hours import MINUTE
from qc.domain.facts.operations import SCHEMA
from qc.domain.facts.uuids import uuid7_of
from qc.store.record.verdicts import PushBatch

DAY = 24 * 60 * MINUTE


def odd_pushes(authors: Authors, chassis: str, ms: int, seed: int) -> list[PushBatch]:
    """Return pushes that arrive about an instant and whose operations are kept without effect."""
    rng = np.random.default_rng([seed, 10])
    late = _push(authors, rng, "P2", "p2-drawer", chassis, (ms, ms - 70 * DAY))
    ahead = _push(authors, rng, "P4", "p4-dead-battery", chassis, (ms + MINUTE, ms + 2 * DAY))
    stranger = _push(authors, rng, "P1", "p1-found", chassis, (ms + 2 * MINUTE, ms))
    return [late, ahead, replace(stranger, proofs=[None])]


def _push(
    authors: Authors, rng: np.random.Generator, device: str, epoch: str, chassis: str, when: tuple[int, int]
) -> PushBatch:
    received, wall = when
    raw = {
        "id": uuid7_of(wall, rng.bytes(10)),
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
    return authors.batch(device, epoch, received, [raw], received)
