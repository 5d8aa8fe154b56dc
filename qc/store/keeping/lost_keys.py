"""Going on where the keys folder is lost: a new key, told in the journal, and a new pepper.

The record keeps the public half of each key, so nothing that was signed before becomes unreadable. What cannot come
back is the pepper: no PIN can be checked without it, so each person is given a new one.
"""

from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from qc.domain.plant.plant import Plant
from qc.store.intake.journal import KEYS, Journal
from qc.store.people.persons import void_secrets
from qc.store.people.pins import Pins, pepper_is_whole
from qc.store.record.connection import RECORD, open_reader
from qc.store.record.signing import is_lost


class NothingLost(Exception):
    """Both keys are there: nothing was changed."""


@dataclass(frozen=True, slots=True)
class NewKeys:
    """What was made anew: the key's id, "" where it was there, and how many people need a new PIN or passphrase."""

    key_id: str
    people: int


def replace_lost_keys(folder: Path, plant: Plant, tables: dict[str, str]) -> NewKeys:
    """Make what the keys folder lacks; who is ended in it does it again. Raises NothingLost, RecordInUse."""
    keys = folder / KEYS
    with closing(open_reader(folder / RECORD)) as conn:
        key_lost = is_lost(conn, keys)
    pepper_lost = not pepper_is_whole(keys)
    if not key_lost and not pepper_lost:
        raise NothingLost(f"{keys} has its key and its pepper; nothing was changed")
    with Journal(folder, plant, tables, lost_key=key_lost) as journal:
        key_id = journal.certificates.key_id if key_lost else ""
        if not pepper_lost:
            return NewKeys(key_id, 0)
        people = void_secrets(journal)  # before the pepper is there: with it nobody would know that they are void
        Pins(keys, expected=False)
        return NewKeys(key_id, people)
