"""The hash chain over the journal: each row's hash covers the row before, its own columns and the bytes received."""

import hashlib
import struct
from collections.abc import Sequence

GENESIS = bytes(32)  # what the first row calls its previous hash

_LENGTH = struct.Struct(">q")
_NULL = _LENGTH.pack(-1)  # no length is negative, so NULL and the empty text differ
_SHORT = tuple(_LENGTH.pack(length) for length in range(256))  # the lengths of all columns but the bytes, ready made

# The journal's columns in the order in which they are hashed; previous comes first, hash is the answer.
HASHED_COLUMNS = (
    "number",
    "id",
    "device",
    "install_epoch",
    "seq",
    "kind",
    "unit",
    "author",
    "author_standing",
    "happened_ms",
    "received_ms",
    "clock_suspect",
    "admission",
    "plant_revision",
    "rules",
    "bytes",
)


def row_hash(previous: bytes, values: Sequence[int | str | bytes | None]) -> bytes:
    """Return SHA-256(0x00 ‖ previous ‖ each value with its length before it) of a row; values as HASHED_COLUMNS.

    The lengths keep two rows whose values join to the same bytes apart; the leading 0x00 keeps a row's hash apart
    from a hash over hashes (domain separation as in RFC 6962, section 2.1).
    """
    parts = [b"\x00", previous]
    for value in values:
        if value is None:
            parts.append(_NULL)
            continue
        data = value if isinstance(value, bytes) else str(value).encode()
        length = len(data)
        parts.append(_SHORT[length] if length < 256 else _LENGTH.pack(length))
        parts.append(data)
    return hashlib.sha256(b"".join(parts)).digest()
