"""What a slice asks of a statement: named parameters for the filters, and which columns its severities add up."""

import json
from collections.abc import Sequence

from qc.domain.counts import Slice
from qc.domain.plant import SEVERITIES
from qc.store.counts.spans import Spans

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

    detail asks for rows by model and shift even where the slice does not narrow to any.
    """
    narrowed = bool(slice_.models or slice_.shifts)
    return {
        "span": part.span,
        "first": part.first.isoformat(),
        "end": part.end.isoformat(),
        "detail": int(detail or narrowed),
        "every_model": int(not slice_.models),
        "models": json.dumps(slice_.models),
        "every_shift": int(not slice_.shifts),
        "shifts": json.dumps(slice_.shifts),
        **more,
    }


def mask(slice_: Slice) -> int:
    """Return the severities of the slice as bits, 7 for all."""
    return sum(BITS[severity] for severity in set(slice_.severities)) or 7


def counted(slice_: Slice, triple: Sequence[int]) -> tuple[int, int, int]:
    """Return (critical, major, minor) with the severities that the slice leaves out at 0."""
    bits = mask(slice_)
    critical, major, minor = (n if bits & bit else 0 for n, bit in zip(triple, BITS.values(), strict=True))
    return critical, major, minor
