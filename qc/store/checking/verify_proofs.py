"""Whether each operation in effect was proved to be its author's, and the proofs are what was kept with it."""

import hashlib
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from qc.domain.facts.proof import Certificate, certificate_from, certified_message, run_message
from qc.domain.facts.rule_set import AUTHORS_PROVED
from qc.store.record.arrivals import json_of, read_envelope
from qc.store.record.certificates import is_authors, parts_of
from qc.store.record.signing import is_signed

_PUBLICS = "SELECT key_id, public FROM release_key"
_RUNS = """
SELECT r.first, r.last, r.certificate, r.key_id, r.hashes, r.signature, j.device, j.install_epoch, j.bytes, k.bytes
  FROM author_run AS r
  LEFT JOIN journal AS j ON j.number = r.first
  LEFT JOIN journal AS k ON k.number = r.last
 ORDER BY r.first
"""
_ROWS = f"""
SELECT j.number, j.device, j.author, j.happened_ms, j.bytes
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.rules >= {AUTHORS_PROVED} AND j.admission = '' AND v.verdict IN ('applied', 'parked')
 ORDER BY j.number
"""
_UNPROVED = f"SELECT count(*) FROM journal WHERE rules < {AUTHORS_PROVED}"
_FIRST_PROVED = f"SELECT min(number) FROM journal WHERE rules >= {AUTHORS_PROVED}"
_OLD_AFTER = f"SELECT number FROM journal WHERE rules < {AUTHORS_PROVED} AND number > ?"


@dataclass(frozen=True, slots=True)
class _Run:
    """A run whose signatures hold. certificate None: the server vouches."""

    first: int
    last: int
    certificate: Certificate | None
    hashes: frozenset[bytes]


def proof_faults(conn: sqlite3.Connection) -> Iterator[str | None]:
    """Yield for each run, and for each operation in effect that needs a proof, None or what is wrong with it."""
    runs: list[_Run] = []
    publics = {key_id: bytes(public) for key_id, public in conn.execute(_PUBLICS)}
    for first, last, text, key_id, hashes, signature, device, epoch, *ends in conn.execute(_RUNS):
        pieces = frozenset(hashes[at : at + 32] for at in range(0, len(hashes), 32))
        why, certificate = _run_fault(text, publics.get(key_id, b""), hashes, signature, device, epoch)
        if not all(end is not None and hashlib.sha256(end).digest() in pieces for end in ends):
            why = "does not begin and end with operations that it proves"
        if why:
            yield f"the proof of rows {first} to {last} {why}"
        else:
            yield None
            runs.append(_Run(first, last, certificate, pieces))
    yield from _row_faults(conn, runs)
    yield from _order_faults(conn)


def proof_notes(conn: sqlite3.Connection) -> list[str]:
    """Return how many operations came before authors were proved: who held the file then could write a name in."""
    (count,) = conn.execute(_UNPROVED).fetchone()
    words = f"{count} operations are older than proofs of authorship: their authors are those of the sign-ins of then"
    return [words] if count else []


def _run_fault(
    text: str, server: bytes, hashes: bytes, signature: bytes, device: str | None, epoch: str | None
) -> tuple[str, Certificate | None]:
    if device is None or epoch is None:
        return "stands beside no operation", None
    message = run_message(device, epoch, hashes)
    if not text:
        return ("" if is_signed(server, signature, message) else "is not the server's word"), None
    parts = parts_of(text)
    if parts is None or not is_signed(server, parts[1], certified_message(parts[0])):
        return "rests on a certificate that no key of this record signed", None
    certificate = certificate_from(parts[0])
    if certificate is None or not is_authors(certificate.public, signature, message):
        return "bears a signature that is not its author's", None
    return "", certificate


def _row_faults(conn: sqlite3.Connection, runs: list[_Run]) -> Iterator[str | None]:
    waiting = iter(runs)
    run = next(waiting, None)
    for number, device, author, happened_ms, data in conn.execute(_ROWS):
        while run is not None and run.last < number:
            run = next(waiting, None)
        if run is None or number < run.first or hashlib.sha256(data).digest() not in run.hashes:
            yield f"row {number}: nothing proves that {author} made it on {device}"
            continue
        op, _ = read_envelope(json_of(data))
        covered = op is None or (
            op.author == author and (run.certificate is None or run.certificate.covers(op, happened_ms))
        )
        yield None if covered else f"row {number}: its proof is another's than {author}'s on {device}"


def _order_faults(conn: sqlite3.Connection) -> Iterator[str | None]:
    """Yield a fault for a row that claims to be older than proofs and stands behind one that is not."""
    (first,) = conn.execute(_FIRST_PROVED).fetchone()
    if first is not None:
        for (number,) in conn.execute(_OLD_AFTER, (first,)):
            yield f"row {number} claims to be older than proofs of authorship, and row {first} before it is not"
