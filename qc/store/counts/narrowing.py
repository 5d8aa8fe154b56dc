"""What a slice asks of a statement: the named parameters of its range, filters and severities."""

import json

from qc.domain.counted.counts import Slice
from qc.domain.plant.plant import SEVERITIES
from qc.store.counts.spans import Spans, all_spans

BITS = {"critical": 4, "major": 2, "minor": 1}
_KNOWN = ", ".join(SEVERITIES)


def check_slice(slice_: Slice) -> None:
    """Raise ValueError naming what cannot be: days the wrong way round, a severity that is none."""
    if slice_.first > slice_.end:
        raise ValueError(f"slice must begin before it ends, got {slice_.first} to {slice_.end}")
    for severity in slice_.severities:
        if severity not in BITS:
            raise ValueError(f"severities must be of {_KNOWN}, got {severity!r}")


def parameters(slice_: Slice, part: Spans, detail: bool, **more: str) -> dict[str, str | int]:
    """Return the parameters of one statement on one part of a slice.

    detail asks for rows by model, line and shift even where the slice does not narrow to any.
    """
    narrowed = bool(slice_.models or slice_.builds or slice_.shifts)
    return {
        "span": part.span,
        "first": part.first.isoformat(),
        "end": part.end.isoformat(),
        "detail": int(detail or narrowed),
        "every_model": int(not slice_.models),
        "models": json.dumps(slice_.models),
        **built(slice_.builds),
        "every_shift": int(not slice_.shifts),
        "shifts": json.dumps(slice_.shifts),
        **_severities(slice_),
        **more,
    }


def built(builds: tuple[tuple[str, str], ...]) -> dict[str, str | int]:
    """Return the parameters that narrow to builds, (model, line as told); () for all."""
    return {"every_build": int(not builds), "builds": json.dumps([" ".join(one) for one in builds])}


def all_parts(slice_: Slice) -> dict[str, str | int]:
    """Return the parameters of one statement on all spans of a slice at once: :parts is their list as JSON."""
    parts = [(part.span, part.first.isoformat(), part.end.isoformat()) for part in all_spans(slice_.first, slice_.end)]
    whole = Spans("", slice_.first, slice_.end)
    return {**parameters(slice_, whole, False), "parts": json.dumps(parts)}


def _severities(slice_: Slice) -> dict[str, int]:
    """Return which severities count, as bits (:mask) and as 0 or 1 each (:critical, :major, :minor)."""
    counted = set(slice_.severities) or set(BITS)
    return {"mask": sum(BITS[one] for one in counted), **{one: int(one in counted) for one in BITS}}
