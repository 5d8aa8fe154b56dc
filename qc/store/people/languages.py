"""Which language each person has chosen: beside the accounts, since nothing that is recorded depends on it."""

import sqlite3

_OF = "SELECT language FROM person_language WHERE person = ?"
_KEEP = """
INSERT INTO person_language (person, language) VALUES (:person, :language)
    ON CONFLICT (person) DO UPDATE SET language = :language
"""


def language_of(conn: sqlite3.Connection, person: str) -> str:
    """Return the tag of the language that a person has chosen, "" for none."""
    row = conn.execute(_OF, (person,)).fetchone()
    return str(row[0]) if row else ""


def keep_language(conn: sqlite3.Connection, person: str, language: str) -> None:
    """Keep what a person has chosen, a tag of `qc.domain.words.languages`; the choice before it is forgotten."""
    conn.execute(_KEEP, {"person": person, "language": language})
