"""An author's key as a phone makes it, and runs under its signature; written from the API's description alone."""

import base64
import hashlib
from collections.abc import Sequence
from itertools import groupby

from cryptography.hazmat.primitives.asymmetric.ec import ECDSA, SECP256R1, generate_private_key
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat


def base64url(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode().rstrip("=")


class Author:
    """A key pair on P-256 and the certificate that the server gave for it, "" before."""

    def __init__(self) -> None:
        self._key = generate_private_key(SECP256R1())
        self.certificate = ""

    @property
    def public(self) -> str:
        return base64url(self._key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint))

    def signature(self, device: str, epoch: str, operations: Sequence[bytes]) -> str:
        hashes = "".join(hashlib.sha256(raw).hexdigest() for raw in operations)
        message = f"run of operations\n{device}\n{epoch}\n{hashes}\n".encode()
        r, s = decode_dss_signature(self._key.sign(message, ECDSA(SHA256())))
        return base64url(r.to_bytes(32) + s.to_bytes(32))

    def run(self, device: str, epoch: str, operations: Sequence[bytes], certificate: str = "") -> dict:
        return {
            "operations": len(operations),
            "certificate": certificate or self.certificate,
            "signature": self.signature(device, epoch, operations),
        }


def unproved(count: int) -> dict:
    return {"operations": count, "certificate": None, "signature": None}


def runs_of(device: str, epoch: str, operations: Sequence[bytes], signers: Sequence[tuple[Author, str] | None]) -> list:
    """Return the runs of operations; for each the author that signs it and the certificate to show, None for nobody."""
    runs, place = [], 0
    for signer, same in groupby(signers):
        count = len(list(same))
        some = operations[place : place + count]
        runs.append(signer[0].run(device, epoch, some, signer[1]) if signer else unproved(count))
        place += count
    return runs
