"""Whether the secrets that are kept are those that the journal proves, and what it cannot prove of its people."""

import sqlite3
from collections.abc import Iterator

from qc.domain.facts.proof import from_text, sign_in_message
from qc.store.record.signing import is_signed
from qc.store.tables.adoption import digest_of, is_told

_SECRETS = """
SELECT p.code, p.secret, s.kept
  FROM person AS p
  LEFT JOIN person_secret AS s ON s.person = p.code
 ORDER BY p.code
"""
_NOBODYS = "SELECT person FROM person_secret WHERE person NOT IN (SELECT code FROM person) ORDER BY person"
_PUBLICS = "SELECT key_id, public FROM release_key"
_SIGN_INS = "SELECT session, person, device, purpose, token_hash, begun_ms, ends_ms, seal FROM sign_in ORDER BY rowid"
_STOOD = "SELECT kind, count(*) FROM journal WHERE kind IN ('person_stood', 'device_stood') GROUP BY kind ORDER BY kind"
_WHOLE = "SELECT count(*) FROM person"


def secret_faults(conn: sqlite3.Connection) -> Iterator[str | None]:
    """Yield for each person None, or what is wrong with the form in which their secret is kept."""
    for code, told, kept in conn.execute(_SECRETS):
        if told and kept is None:
            yield f"the kept PIN or passphrase of {code} is missing"
        elif kept is not None and digest_of(kept) != told:
            yield f"the kept PIN or passphrase of {code} is not the one that was set"
        else:
            yield None
    for (code,) in conn.execute(_NOBODYS):
        yield f"a PIN or passphrase is kept for {code}, whom no operation tells of"


def sign_in_faults(conn: sqlite3.Connection) -> Iterator[str | None]:
    """Yield for each sign-in that is kept None, or what is wrong with its seal."""
    publics = {key_id: bytes(public) for key_id, public in conn.execute(_PUBLICS)}
    for *what, seal in conn.execute(_SIGN_INS):
        key_id, _, signature = seal.partition(".")
        try:
            sealed = is_signed(publics.get(key_id, b""), from_text(signature), sign_in_message(*what))
        except ValueError:
            sealed = False
        yield None if sealed else f"the sign-in of {what[1]} on {what[2]} was changed, or is not the server's"


def people_notes(conn: sqlite3.Connection) -> list[str]:
    """Return whose coming is in no chain: they stood there when operations began to tell of people and phones."""
    if not is_told(conn):
        (people,) = conn.execute(_WHOLE).fetchone()
        return ["people and phones are in no chain yet: the server tells them when it opens the record"] * bool(people)
    stood = dict(conn.execute(_STOOD).fetchall())
    words = f"{stood.get('person_stood', 0)} people and {stood.get('device_stood', 0)} phones stood in the record"
    return [f"{words} when operations began to tell of them: who added them is not told"] if stood else []
