"""A certificate for the plant's own network: a root that may vouch for the given names only, and the server's leaf.

The root is put on the phones once and its key kept away from the server; the leaf lasts 825 days at most, the longest
that phones accept from a root that a person installed (from memory). Shapes as in RFC 5280 sections 4.2.1.6 (names),
4.2.1.9 (basic constraints), 4.2.1.10 (name constraints), 4.2.1.12 (extended key usage).
"""

import os
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Network, IPv6Network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

LEAF_DAYS = 825
ROOT_DAYS = 10 * 365
_LABEL = r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?"
_NAME = re.compile(rf"{_LABEL}(\.{_LABEL})*\Z")


class NotAName(Exception):
    """A name that no certificate can be made for."""


class CertificateExists(Exception):
    """A file of that name is there; nothing was written."""


@dataclass(frozen=True, slots=True)
class Files:
    """Where the four files stand. root goes onto the phones; root_key is taken away from the server."""

    root: Path
    root_key: Path
    leaf: Path
    leaf_key: Path


def files_in(folder: Path) -> Files:
    """Return the paths of the files that a folder holds or will hold."""
    return Files(*(folder / name for name in ("root.crt", "root.key", "server.crt", "server.key")))


def make(folder: Path, names: tuple[str, ...], now: datetime | None = None) -> Files:
    """Make a certificate for DNS names, and the root unless the folder has one with its key.

    Raises NotAName (an IP address too: what a phone keeps belongs to a name, and an address changes; a name that the
    folder's root may not vouch for), and CertificateExists where the server's certificate is there already.
    """
    for name in names:
        _demand_name(name)
    begun = (now or datetime.now(UTC)) - timedelta(hours=1)  # phones' clocks run behind
    files = files_in(folder)
    if files.leaf.exists() or files.leaf_key.exists():
        raise CertificateExists(f"{files.leaf} is there already; move it away to make another. Nothing was changed.")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    root, root_key = _root(files, names, begun)
    key = ec.generate_private_key(ec.SECP256R1())
    leaf = _leaf(names, key, root, root_key, begun)
    _write(files.leaf_key, _key_bytes(key), 0o600)
    _write(files.leaf, leaf.public_bytes(Encoding.PEM) + root.public_bytes(Encoding.PEM), 0o644)
    return files


def _leaf_of(certificate: Path) -> x509.Certificate:
    """Return a file's first certificate. Raises ValueError where it holds none, such as a key in its place."""
    try:
        return x509.load_pem_x509_certificate(certificate.read_bytes())
    except ValueError:
        begins = "-----BEGIN CERTIFICATE-----"
        raise ValueError(f"it holds no certificate in PEM, text that begins with {begins}; is it the key?") from None


def names_in(certificate: Path) -> tuple[str, ...]:
    """Return the DNS names and addresses that a certificate file is for, in its order.

    Raises ValueError where the file holds no certificate or one without names.
    """
    leaf = _leaf_of(certificate)
    try:
        names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except x509.ExtensionNotFound:
        raise ValueError(f"{certificate} names no host (no subject alternative name); phones refuse it") from None
    dns = names.get_values_for_type(x509.DNSName)
    addresses = [f"[{ip}]" if ip.version == 6 else str(ip) for ip in names.get_values_for_type(x509.IPAddress)]
    return (*dns, *addresses)


def days_left(certificate: Path, now: datetime | None = None) -> int:
    """Return how many whole days a certificate is still good for, negative once it has ended."""
    return (ends_at(certificate) - (now or datetime.now(UTC))).days


def ends_at(certificate: Path) -> datetime:
    """Return until when a certificate is good."""
    return _leaf_of(certificate).not_valid_after_utc


def key_fault(certificate: Path, key: Path) -> str:
    """Return why a key file cannot serve with a certificate file, "" where the two fit."""
    leaf = _leaf_of(certificate)
    try:
        private = load_pem_private_key(key.read_bytes(), None)
    except TypeError:
        return f"{key} is locked with a passphrase, and nobody is there to type it; write it without one, mode 0600"
    except ValueError:
        return f"{key} holds no private key in PEM"
    forms = (Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    if private.public_key().public_bytes(*forms) != leaf.public_key().public_bytes(*forms):
        return f"{key} is not the key of {certificate}: the two were made at different times, or one was moved"
    return ""


def _demand_name(name: str) -> None:
    is_address = re.fullmatch(r"[0-9.]+|.*:.*", name)
    if is_address or len(name) > 253 or not _NAME.match(name):
        raise NotAName(
            f"{name!r} is no name to make a certificate for; give the server's name on the plant's network in small "
            "letters, as record.plant.example, never an address: what phones keep belongs to the name"
        )


def _root(files: Files, names: tuple[str, ...], begun: datetime) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    if files.root.exists() and files.root_key.exists():
        key = load_pem_private_key(files.root_key.read_bytes(), None)
        assert isinstance(key, ec.EllipticCurvePrivateKey), f"{files.root_key} is not a key that this program made"
        root = x509.load_pem_x509_certificate(files.root.read_bytes())
        _demand_vouching(files, root, key, names)
        return root, key
    if files.root.exists():
        raise CertificateExists(
            f"{files.root} is there without its key {files.root_key.name}; put the key back for a moment, "
            "or move the root away to make a new one, which then goes onto every phone"
        )
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Quality record of {names[0]}")])
    permitted = [x509.DNSName(name) for name in names]
    # No address at all: an absent kind of name would be unconstrained.
    no_address = [x509.IPAddress(_everything(4)), x509.IPAddress(_everything(6))]
    root = (
        _builder(subject, subject, key, begun, ROOT_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints(permitted, no_address), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .sign(key, hashes.SHA256())
    )
    _write(files.root_key, _key_bytes(key), 0o600)
    _write(files.root, root.public_bytes(Encoding.PEM), 0o644)
    return root, key


def _demand_vouching(
    files: Files, root: x509.Certificate, key: ec.EllipticCurvePrivateKey, names: tuple[str, ...]
) -> None:
    """Refuse what phones would: a name that the root may not vouch for, and a key that is another root's."""
    if root.public_key() != key.public_key():
        raise CertificateExists(f"{files.root_key} is not the key of {files.root}; bring that one back")
    try:
        permitted = root.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    except x509.ExtensionNotFound:
        return
    known = [str(one.value) for one in permitted if isinstance(one, x509.DNSName)]
    if strange := [name for name in names if not any(f".{name}".endswith(f".{one}") for one in known)]:
        raise NotAName(
            f"{files.root} may vouch for {', '.join(known)} alone, and phones would refuse {', '.join(strange)} of it; "
            "give one of its own names, or move the root and its key away to make new ones, which go onto every phone"
        )


def _leaf(
    names: tuple[str, ...],
    key: ec.EllipticCurvePrivateKey,
    root: x509.Certificate,
    root_key: ec.EllipticCurvePrivateKey,
    begun: datetime,
) -> x509.Certificate:
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    return (
        _builder(subject, root.subject, key, begun, LEAF_DAYS)
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name) for name in names]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(root_key.public_key()), critical=False)
        .sign(root_key, hashes.SHA256())
    )


def _builder(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, begun: datetime, days: int
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begun)
        .not_valid_after(begun + timedelta(days=days) - timedelta(seconds=1))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _everything(version: int) -> IPv4Network | IPv6Network:
    return IPv4Network("0.0.0.0/0") if version == 4 else IPv6Network("::/0")


def _key_bytes(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def _write(path: Path, data: bytes, mode: int) -> None:
    try:
        number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    except FileExistsError:
        raise CertificateExists(f"{path} is there already; move it away first. It was not changed.") from None
    with open(number, "wb") as file:
        file.write(data)
