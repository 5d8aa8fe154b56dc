"""The people's keys in the play: each phone signs what its people record, as the inspectors' app does."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

import orjson

from qc.demo.cast import DESK
from qc.domain.facts.proof import CERTIFIED_MS, SIGNATURE_MS, SIGNATURES, Certificate, as_text, run_message
from qc.store.record.certificates import Certificates
from qc.store.record.proofs import Run, hashes_of, proofs_of
from qc.store.record.verdicts import PushBatch

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

Raw = Mapping[str, Any]


class Authors:
    """Signs pushes. A person's key on a phone lasts for a session, a release is certified by itself."""

    def __init__(self, certificates: Certificates) -> None:
        self._certificates = certificates
        self._keys: dict[str, tuple[EllipticCurvePrivateKey, str]] = {}

    def batch(self, device: str, install_epoch: str, sent_ms: int, raws: Sequence[Raw], known: int) -> PushBatch:
        """Return a push as it arrives at an instant; what is done at the desk the server vouches for."""
        operations = [(orjson.dumps(raw), raw) for raw in raws]
        if device == DESK:
            return PushBatch(device, install_epoch, sent_ms, operations, None, known)
        runs = [
            self._run(device, install_epoch, [(data, raw) for data, raw in some], known - sent_ms)
            for _, some in groupby(operations, key=lambda one: _signer(one[1]))
        ]
        proofs = proofs_of(self._certificates, device, install_epoch, runs, operations)
        return PushBatch(device, install_epoch, sent_ms, operations, proofs, known)

    def _run(self, device: str, install_epoch: str, some: list[tuple[bytes, Raw]], behind_ms: int) -> Run:
        key, certificate = self._key(device, some[0][1], behind_ms)
        message = run_message(device, install_epoch, hashes_of(data for data, _ in some))
        return Run(len(some), certificate, as_text(_signature(key, message)))

    def _key(self, device: str, raw: Raw, behind_ms: int) -> "tuple[EllipticCurvePrivateKey, str]":
        signer = f"{device} {_signer(raw)}"
        if signer not in self._keys:
            from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key

            key = generate_private_key(SECP256R1())
            self._keys[signer] = (key, self._certificates.give(_certificate(key, device, raw, behind_ms)))
        return self._keys[signer]


def _signer(raw: Raw) -> str:
    """Return what one key signs: a session of a person within a day, or one release."""
    return f"{raw['author']} {raw['session']} {_day(raw)} {raw['id'] if raw['kind'] in SIGNATURES else ''}"


def _day(raw: Raw) -> int:
    return int(raw["wall_ms"]) // CERTIFIED_MS


def _certificate(key: "EllipticCurvePrivateKey", device: str, raw: Raw, behind_ms: int) -> Certificate:
    """Return the certificate that the server gives, by its own clock; behind_ms: how far the phone's is behind."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    public = as_text(key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint))
    signs = raw["kind"] in SIGNATURES
    begun = (raw["wall_ms"] if signs else _day(raw) * CERTIFIED_MS) + behind_ms
    until = begun + (SIGNATURE_MS if signs else CERTIFIED_MS)
    return Certificate(raw["author"], device, public, begun, until, raw["id"] if signs else "")


def _signature(key: "EllipticCurvePrivateKey", message: bytes) -> bytes:
    from cryptography.hazmat.primitives.asymmetric.ec import ECDSA
    from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
    from cryptography.hazmat.primitives.hashes import SHA256

    r, s = decode_dss_signature(key.sign(message, ECDSA(SHA256())))
    return r.to_bytes(32) + s.to_bytes(32)
