"""Certificates of authors' keys: given at a sign-in or for one signature, known again when an operation is proved."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from qc.domain.facts.proof import Certificate, as_text, certificate_from, certified_message, from_text
from qc.store.record.signing import ReleaseKey

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePublicKey

POINT_BYTES = 65  # an uncompressed point of P-256: 0x04 and two coordinates of 32 bytes (SEC 1, 2.3.3)
SIGNATURE_BYTES = 64  # r and s of 32 bytes each, as the Web Cryptography API writes them
_REMEMBERED = 10_000


class NotAKey(Exception):
    """What a phone sent as its public key is no point of the curve."""


class Certificates:
    """Gives certificates under the server's present key, and knows them again. Thread-safe."""

    def __init__(self, key: ReleaseKey, clock: Callable[[], int]) -> None:
        """clock: the server's, in milliseconds since 1970 UTC: what is certified happens by it."""
        self._key = key
        self._clock = clock
        self._known: dict[str, Certificate | None] = {}

    @property
    def key_id(self) -> str:
        """The id of the server's key under which certificates count."""
        return self._key.key_id

    def signature(self, message: bytes) -> bytes:
        """Return the present key's signature over a message that says what it is for."""
        return self._key.sign_bytes(message)

    def is_signed(self, signature: bytes, message: bytes) -> bool:
        """Return whether the present key signed a message."""
        return self._key.signed(signature, message)

    def seal(self, message: bytes) -> str:
        """Return the server's seal over a message that says what it is for: the key's id and the signature."""
        return f"{self._key.key_id}.{as_text(self._key.sign_bytes(message))}"

    def give(self, certificate: Certificate) -> str:
        """Return a certificate as it is sent and kept. Raises NotAKey for a public key that is none."""
        public_key(certificate.public)
        payload = certificate.payload()
        return f"{as_text(payload)}.{as_text(self._key.sign_bytes(certified_message(payload)))}"

    def give_for(self, person: str, device: str, public: str, lasts_ms: int, operation: str = "") -> tuple[str, int]:
        """Return a certificate that begins now, and until when it proves what is made, by the server's clock."""
        now = self._clock()
        return self.give(Certificate(person, device, public, now, now + lasts_ms, operation)), now + lasts_ms

    def known(self, text: str) -> Certificate | None:
        """Return the certificate that a text is, None where the server's present key did not sign it."""
        key = f"{self._key.key_id} {text}"
        if key not in self._known:
            if len(self._known) > _REMEMBERED:
                self._known.clear()
            parts = parts_of(text)
            signed = parts is not None and self._key.signed(parts[1], certified_message(parts[0]))
            self._known[key] = certificate_from(parts[0]) if parts and signed else None
        return self._known[key]


def parts_of(text: str) -> tuple[bytes, bytes] | None:
    """Return payload and signature of a certificate as it is sent, None for what is none."""
    payload, _, signature = text.partition(".")
    try:
        return from_text(payload), from_text(signature)
    except ValueError:
        return None


def public_key(text: str) -> "EllipticCurvePublicKey":
    """Return the P-256 key of a point in base64url. Raises NotAKey."""
    from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePublicKey

    try:
        point = from_text(text)
        if len(point) != POINT_BYTES:
            raise ValueError("has the wrong length")
        return EllipticCurvePublicKey.from_encoded_point(SECP256R1(), point)
    except ValueError as error:
        raise NotAKey(f"the public key {error}; it must be an uncompressed point of P-256 in base64url") from error


def is_authors(public: str, signature: bytes, message: bytes) -> bool:
    """Return whether an author's signature (ECDSA over SHA-256, r ‖ s) over a message is that of a public key."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ec import ECDSA
    from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
    from cryptography.hazmat.primitives.hashes import SHA256

    if len(signature) != SIGNATURE_BYTES:
        return False
    r, s = (int.from_bytes(half) for half in (signature[:32], signature[32:]))
    try:
        public_key(public).verify(encode_dss_signature(r, s), message, ECDSA(SHA256()))
    except (InvalidSignature, NotAKey, ValueError):
        return False
    return True
