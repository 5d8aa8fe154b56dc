"""What proves who made an operation: the server's certificate of an author's key, and what that key signs.

Words and bytes only; keys and signatures are made and checked elsewhere.
"""

import base64
import binascii
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from qc.domain.facts.operations import Operation

# Signed anew each time: the PIN or passphrase is asked again, and the server checks it, for this one operation.
SIGNATURES = frozenset({"unit_released"})

CERTIFIED_MS = 24 * 3_600_000  # a shift, and what a phone without signal runs over
SIGNATURE_MS = 15 * 60_000  # between the server's yes and the operation on the phone's disk
CLOCK_MS = 10 * 60_000  # by how much a phone's clock may differ from the server's


@dataclass(frozen=True, slots=True)
class Certificate:
    """The server's word that a key is a person's on a device, for what happens from ``from_ms`` to ``until_ms``.

    public: the key's point, uncompressed (SEC 1, 2.3.3), in base64url. operation: the id of the one operation that it
    is for, "" for all of the author's that are no signature. Instants by the server's clock.
    """

    person: str
    device: str
    public: str
    from_ms: int
    until_ms: int
    operation: str = ""

    def payload(self) -> bytes:
        """Return the bytes that the server signs, which are also those that are sent."""
        return json.dumps(asdict(self), separators=(",", ":"), sort_keys=True).encode()

    def covers(self, op: Operation, happened_ms: int) -> bool:
        """Whether it can prove an operation: its author's, from its device, within its time, a signature each its own.

        What happened before it was given is the author's as well: a later sign-in vouches for earlier work.
        """
        mine = (op.author, op.device) == (self.person, self.device)
        meant = self.operation == (op.id if op.kind in SIGNATURES else "")
        return mine and meant and happened_ms <= self.until_ms + CLOCK_MS


def certificate_from(payload: bytes) -> Certificate | None:
    """Return the certificate that a payload tells, None for what is none."""
    try:
        told = json.loads(payload)
        return Certificate(**told) if _shaped(told) else None
    except (ValueError, TypeError):
        return None


def _shaped(told: Any) -> bool:
    if not isinstance(told, Mapping):
        return False
    texts = (told.get(name, "") for name in ("person", "device", "public", "operation"))
    return all(isinstance(one, str) for one in texts) and all(
        type(told.get(name)) is int for name in ("from_ms", "until_ms")
    )


def certified_message(payload: bytes) -> bytes:
    """Return the bytes that the server's signature on a certificate is over."""
    return b"author certificate\n" + payload


def run_message(device: str, install_epoch: str, hashes: bytes) -> bytes:
    """Return the bytes that an author signs for a run of operations; hashes: the SHA-256 of each, joined."""
    return f"run of operations\n{device}\n{install_epoch}\n{hashes.hex()}\n".encode()


def device_message(device: str, bits: str) -> bytes:
    """Return the bytes that the server signs in a phone's secret: whose random bits they are."""
    return f"device secret\n{device}\n{bits}\n".encode("utf-8", "surrogatepass")


def sign_in_message(
    session: str, person: str, device: str, purpose: str, token_hash: str, begun_ms: int, ends_ms: int
) -> bytes:
    """Return the bytes that the server's seal on a sign-in is over."""
    return f"sign-in\n{session}\n{person}\n{device}\n{purpose}\n{token_hash}\n{begun_ms}\n{ends_ms}\n".encode()


def as_text(data: bytes) -> str:
    """Return bytes in base64url without padding (RFC 4648, section 5)."""
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def from_text(text: str) -> bytes:
    """Return the bytes that base64url without padding tells. Raises ValueError."""
    try:
        return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except binascii.Error as error:
        raise ValueError("is not base64url") from error
