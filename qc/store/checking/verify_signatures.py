"""Whether each frozen release bears the signature of one of the record's keys, and each key the word of the last."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import orjson

from qc.domain.facts.rule_set import AUTHORS_PROVED
from qc.store.record.signing import id_of, is_signed, key_id_in, message_of, voucher_of

_SIGNED = """
SELECT r.id, r.unit, r.story_digest, s.signature, k.public
  FROM release_record AS r
  LEFT JOIN release_signature AS s ON s.release = r.id
  LEFT JOIN release_key AS k ON k.key_id = s.key_id
 ORDER BY r.number
"""
_ORPHANS = "SELECT release FROM release_signature WHERE release NOT IN (SELECT id FROM release_record)"
_KEYS = "SELECT key_id, public, vouched_by, voucher, since_number FROM release_key ORDER BY since_number, rowid"
_TOLD = """
SELECT j.bytes
  FROM journal AS j
  JOIN verdict AS v ON v.number = j.number
 WHERE j.kind = 'key_changed' AND v.verdict = 'applied'
"""
_FIRST_TOLD = f"SELECT min(number) FROM journal WHERE rules >= {AUTHORS_PROVED}"


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
    """Yield for each key None, or what is wrong with it; each but the first is told in the journal."""
    publics: dict[str, bytes] = {}
    told = {orjson.loads(data)["body"].get("public") for (data,) in conn.execute(_TOLD)}
    (first,) = conn.execute(_FIRST_TOLD).fetchone()
    for key_id, public, vouched_by, voucher, since in conn.execute(_KEYS):
        is_first = not publics
        publics[key_id] = public
        if not is_first and first is not None and since >= first and bytes(public).hex() not in told:
            yield f"release key {key_id} is not told in the journal: it was put into the file by hand"
            continue
        if id_of(public) != key_id:
            yield f"release key {key_id} is not the key that its id names"
        elif vouched_by is not None and not is_signed(publics.get(vouched_by, b""), voucher, voucher_of(key_id)):
            yield f"release key {key_id} is not vouched for by {vouched_by}"
        else:
            yield None


def own_key_faults(conn: sqlite3.Connection, keys: Path) -> Iterator[str | None]:
    """Yield whether the key that a folder signs with is one of the record's; nothing where the folder has none.

    Raises PermissionError where it may not be read, which says nothing of it.
    """
    kept = [row[0] for row in conn.execute(_KEYS)]
    try:
        here = key_id_in(keys)
    except PermissionError:
        raise
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
    alone = [key_id for key_id, _, vouched_by, _, _ in keys[1:] if vouched_by is None]
    told += [f"release key {key_id} came without the word of the one before it" for key_id in alone]
    return told if keys else []
