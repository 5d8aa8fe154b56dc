"""Proofs of authorship: runs of one author's operations under one signature, checked, kept and read back."""

import hashlib
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from qc.domain.facts.operations import Operation
from qc.domain.facts.proof import Certificate, from_text, run_message
from qc.store.record.certificates import Certificates, is_authors
from qc.store.record.signing import ReleaseKey

_KEEP = """
INSERT INTO author_run (first, last, certificate, key_id, hashes, signature) VALUES (?, ?, ?, ?, ?, ?)
"""


@dataclass(frozen=True, slots=True)
class Run:
    """So many operations of a batch, in order, as a phone sends them: "" and "" where it cannot prove them."""

    operations: int
    certificate: str
    signature: str


@dataclass(frozen=True, slots=True)
class Proof:
    """A run whose signature holds. text: the certificate as it was sent; hashes: SHA-256 of each operation, joined."""

    certificate: Certificate
    text: str
    key_id: str
    hashes: bytes
    signature: bytes

    def covers(self, op: Operation, happened_ms: int) -> bool:
        """Whether it proves an operation of the run."""
        return self.certificate.covers(op, happened_ms)


def proofs_of(
    known: Certificates, device: str, install_epoch: str, runs: Iterable[Run], operations: Sequence[tuple[bytes, Any]]
) -> list[Proof | None]:
    """Return for each operation what proves its run, None where nothing does.

    The runs must tell of as many operations as there are.
    """
    proofs: list[Proof | None] = []
    for run in runs:
        some = operations[len(proofs) : len(proofs) + run.operations]
        proofs += [_proof(known, device, install_epoch, run, hashes_of(raw for raw, _ in some))] * run.operations
    return proofs


def _proof(known: Certificates, device: str, install_epoch: str, run: Run, hashes: bytes) -> Proof | None:
    certificate = known.known(run.certificate) if run.certificate else None
    if certificate is None:
        return None
    try:
        signature = from_text(run.signature)
    except ValueError:
        return None
    signed = is_authors(certificate.public, signature, run_message(device, install_epoch, hashes))
    return Proof(certificate, run.certificate, known.key_id, hashes, signature) if signed else None


def hashes_of(operations: Iterable[bytes]) -> bytes:
    """Return the SHA-256 of each operation's bytes, joined."""
    return b"".join(hashlib.sha256(raw).digest() for raw in operations)


class Kept:
    """Collects what proves the rows that one batch appends, and keeps it with them."""

    def __init__(self, device: str, install_epoch: str) -> None:
        self._stream = (device, install_epoch)
        self._runs: list[tuple[Proof, int, int]] = []
        self._vouched: list[tuple[int, bytes]] = []

    def add(self, number: int, proof: Proof) -> None:
        """Note that a row is proved by a run."""
        if self._runs and self._runs[-1][0] is proof:
            self._runs[-1] = (proof, self._runs[-1][1], number)
        else:
            self._runs.append((proof, number, number))

    def vouch(self, number: int, raw: bytes) -> None:
        """Note that the server itself vouches for a row, which it made for a person signed in on a page."""
        self._vouched.append((number, raw))

    def write(self, conn: sqlite3.Connection, key: ReleaseKey) -> None:
        """Keep the runs with the rows."""
        for proof, first, last in self._runs:
            conn.execute(_KEEP, (first, last, proof.text, proof.key_id, proof.hashes, proof.signature))
        if self._vouched:
            hashes = hashes_of(raw for _, raw in self._vouched)
            signature = key.sign_bytes(run_message(*self._stream, hashes))
            conn.execute(_KEEP, (self._vouched[0][0], self._vouched[-1][0], "", key.key_id, hashes, signature))
