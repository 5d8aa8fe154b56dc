"""Whether each frozen release bears the signature of one of the record's keys, and each key the word of the last."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

from qc.store.signing import id_of, is_signed, key_id_in, message_of, voucher_of

_SIGNED = """
SELECT r.id, r.unit, r.story_digest, s.signature, k.public
  FROM release_record AS r
  LEFT JOIN release_signature AS s ON s.release = r.id
  LEFT JOIN release_key AS k ON k.key_id = s.key_id
 ORDER BY r.number
"""
_ORPHANS = "SELECT release FROM release_signature WHERE release NOT IN (SELECT id FROM release_record)"
_KEYS = "SELECT key_id, public, vouched_by, voucher FROM release_key ORDER BY since_number, rowid"


def signature_faults(conn: sqlite3.Connection) -> Iterator[str | None]:
    """Yield for each release None, or what is wrong with its signature."""
    for id_, unit, digest, signature, public in conn.execute(_SIGNED):
        if signature is None or public is None:
            yield f"the release of {unit} bears no signature of a known key"
        else:
            signed = is_signed(public, signature, message_of(id_, unit, digest))
            yield None if signed else f"the signature on the release of {unit} is not its key's"
    for (release,) in conn.execute(_ORPHANS):
        yield f"there is a signature of release {release}, and no such release"


def key_faults(conn: sqlite3.Connection) -> Iterator[str | None]:
    """Yield for each key None, or what is wrong with it."""
    publics: dict[str, bytes] = {}
    for key_id, public, vouched_by, voucher in conn.execute(_KEYS):
        publics[key_id] = public
        if id_of(public) != key_id:
            yield f"release key {key_id} is not the key that its id names"
        elif vouched_by is not None and not is_signed(publics.get(vouched_by, b""), voucher, voucher_of(key_id)):
            yield f"release key {key_id} is not vouched for by {vouched_by}"
        else:
            yield None


def own_key_faults(conn: sqlite3.Connection, keys: Path) -> Iterator[str | None]:
    """Yield whether the key that a folder signs with is one of the record's; nothing where the folder has none."""
    kept = [row[0] for row in conn.execute(_KEYS)]
    try:
        here = key_id_in(keys)
    except (OSError, ValueError) as error:
        yield f"the folder's own release key cannot be read: {error}"
        return
    if here is not None and kept:
        told = f"the folder signs with key {here}, and the record knows {', '.join(kept)}: it was signed with another"
        yield None if here in kept else told


def key_notes(conn: sqlite3.Connection) -> list[str]:
    """Return which keys signed, for comparison with what was noted elsewhere, and which came without a voucher."""
    keys = conn.execute(_KEYS).fetchall()
    told = [f"release keys, to compare with what was noted elsewhere: {', '.join(key[0] for key in keys)}"]
    alone = [key_id for key_id, _, vouched_by, _ in keys[1:] if vouched_by is None]
    told += [f"release key {key_id} came without the word of the one before it" for key_id in alone]
    return told if keys else []
