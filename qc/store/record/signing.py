"""The server's key: Ed25519 (RFC 8032), outside the record. It signs releases, certificates, and the server's own word.

Who can write the record but not read the key cannot make a release that verifies. Public keys are kept in the record
so that a signature can be checked years later; a new key is vouched for by the one before it.
"""

import hashlib
import os
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from qc.store.record.key_file import sync_folder, write_key

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

KEY = "release.key"

_KEYS = "SELECT key_id FROM release_key ORDER BY since_number DESC, rowid DESC"
_NEWEST = "SELECT key_id, public, vouched_by FROM release_key WHERE key_id = ?"
_KNOWN_KEY = "SELECT 1 FROM release_key WHERE key_id = ?"
_KEEP_KEY = """
INSERT INTO release_key (key_id, public, since_number, vouched_by, voucher)
VALUES (?, ?, (SELECT coalesce(max(number), 0) + 1 FROM journal), ?, ?)
"""
_FROZEN = "SELECT unit, story_digest FROM release_record WHERE id = ?"
_SIGN = "INSERT INTO release_signature (release, key_id, signature) VALUES (?, ?, ?)"


def message_of(release: str, unit: str, story_digest: str) -> bytes:
    """Return the bytes that a release's signature is over."""
    return f"release record\n{release}\n{unit}\n{story_digest}\n".encode()


def voucher_of(key_id: str) -> bytes:
    """Return the bytes with which a key vouches for the next."""
    return f"next release key\n{key_id}\n".encode()


class KeyLost(Exception):
    """The keys folder lacks the key that the record's releases and certificates were signed with, or has another's."""


class ReleaseKey:
    """The private key of a data folder, made with its record: ``keys/release.key``, readable by its owner alone."""

    def __init__(self, keys: Path) -> None:
        self._path = keys / KEY
        self._key: Ed25519PrivateKey | None = None
        self._named: tuple[Ed25519PrivateKey, str] | None = None  # the key whose id was asked for last, with its id

    def load(self, conn: sqlite3.Connection) -> str:
        """Read the key, or make it for a record that never had one; return its id, its public half kept in the record.

        A change of the key that was cut short is undone: the folder has the record's own beside the new one then.
        Raises KeyLost where the record knows keys and the folder has none of them: with another's key the record would
        never be whole again.
        """
        known = [key_id for (key_id,) in conn.execute(_KEYS)]
        if not known:
            self._drop_half()
        elif (here := _id_in(self._path)) not in known and not self._put_back(known[0], here):
            raise KeyLost(self._lost_words(known, here))
        return _kept(conn, self._loaded())

    def replace_lost(self, conn: sqlite3.Connection) -> str:
        """Make a new key in the place of one that is lost, without the word of that one; return the new one's id.

        A key that is none of the record's is kept beside it, under its id.
        """
        here = _id_in(self._path)
        if here in [key_id for (key_id,) in conn.execute(_KEYS)]:
            raise FileExistsError(f"{self._path} is there; to change it: qc new-release-key FOLDER")
        self._lay_aside(here)
        return _kept(conn, self._loaded())

    def _put_back(self, newest: str, here: str | None) -> bool:
        """Put the record's newest key back where a change laid it aside and was cut short; return whether it was so."""
        aside = self._path.with_name(f"{KEY}.{newest}")
        if _id_in(aside) != newest:
            return False
        self._lay_aside(here)
        os.replace(aside, self._path)
        sync_folder(self._path.parent)
        self._key = None
        return True

    def _lay_aside(self, here: str | None) -> None:
        """Keep the present key's file under its id; what can be read as none keeps its bytes too."""
        if self._path.exists():
            named = here or f"unreadable-{hashlib.sha256(self._path.read_bytes()).hexdigest()[:16]}"
            os.replace(self._path, self._path.with_name(f"{KEY}.{named}"))
            sync_folder(self._path.parent)

    def _drop_half(self) -> None:
        """Take away half a key that an earlier program left as the disk was full: the record never knew it."""
        if self._path.exists() and _id_in(self._path) is None:
            self._path.unlink()

    def _lost_words(self, known: list[str], here: str | None) -> str:
        if here is not None:
            return (
                f"{self._path} is the key {here}, which is none of this record's ({', '.join(known)}): it is another "
                "folder's, or newer than a restored backup. Nothing was changed; put the record's own keys folder "
                "back, or, where its key is lost for good, go on with new keys: qc new-keys FOLDER"
            )
        state = "cannot be read as" if self._path.exists() else "is missing,"
        return (
            f"{self._path} {state} the key {known[0]} that releases were signed with; put it back from where the keys "
            "are kept, or, where it is lost for good, go on with new keys: qc new-keys FOLDER"
        )

    @property
    def key_id(self) -> str:
        """The id of the key that signs now."""
        key = self._loaded()
        if self._named is None or self._named[0] is not key:
            self._named = key, id_of(public_bytes(key))
        return self._named[1]

    def sign_bytes(self, message: bytes) -> bytes:
        """Return the server's signature over a message that says what it is for."""
        return self._loaded().sign(message)

    def signed(self, signature: bytes, message: bytes) -> bool:
        """Return whether the key that signs now signed a message."""
        return is_signed(public_bytes(self._loaded()), signature, message)

    def sign(self, conn: sqlite3.Connection, releases: Iterable[str]) -> None:
        """Sign releases that were frozen in this transaction, and no others: a row made by hand gets no signature."""
        key = self._loaded()
        key_id = _kept(conn, key)
        for release in releases:
            unit, digest = conn.execute(_FROZEN, (release,)).fetchone()
            conn.execute(_SIGN, (release, key_id, key.sign(message_of(release, unit, digest))))

    def told(self, conn: sqlite3.Connection, reason: str) -> dict[str, str]:
        """Return what the journal says of the present key: id, public half, who vouches for it, and why it came."""
        key_id, public, vouched_by = conn.execute(_NEWEST, (self.key_id,)).fetchone()
        word = {"key_id": key_id, "public": bytes(public).hex(), "reason": reason}
        return word if vouched_by is None else {**word, "vouched_by": vouched_by}

    def change(self, conn: sqlite3.Connection) -> str:
        """Replace the key by a new one that the old one vouches for; return the new one's id."""
        old, new = self._loaded(), _made()
        old_id, new_id = _kept(conn, old), id_of(public_bytes(new))
        conn.execute(_KEEP_KEY, (new_id, public_bytes(new), old_id, old.sign(voucher_of(new_id))))
        self._lay_aside(old_id)  # `load` puts it back where this transaction comes to nothing
        write_key(self._path, new.private_bytes_raw())
        self._key = new
        return new_id

    def _loaded(self) -> "Ed25519PrivateKey":
        if self._key is None:
            from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

            if not self._path.exists():
                write_key(self._path, _made().private_bytes_raw())
            self._key = Ed25519PrivateKey.from_private_bytes(self._path.read_bytes())
        return self._key


def _kept(conn: sqlite3.Connection, key: "Ed25519PrivateKey") -> str:
    """Return the key's id, its public half kept in the record."""
    public = public_bytes(key)
    if conn.execute(_KNOWN_KEY, (id_of(public),)).fetchone() is None:
        conn.execute(_KEEP_KEY, (id_of(public), public, None, None))
    return id_of(public)


def key_id_in(keys: Path) -> str | None:
    """Return the id of the key that stands in a keys folder, None where none does. Raises OSError, ValueError."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    path = keys / KEY
    if not path.exists():
        return None
    return id_of(public_bytes(Ed25519PrivateKey.from_private_bytes(path.read_bytes())))


def is_lost(conn: sqlite3.Connection, keys: Path) -> bool:
    """Return whether a keys folder lacks the key that the record was signed with, its file or what can be put back."""
    known = [key_id for (key_id,) in conn.execute(_KEYS)]
    if not known:
        return False
    return _id_in(keys / KEY) not in known and _id_in(keys / f"{KEY}.{known[0]}") != known[0]


def _id_in(path: Path) -> str | None:
    """Return the id of the key that a file holds, None where it holds none."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    try:
        return id_of(public_bytes(Ed25519PrivateKey.from_private_bytes(path.read_bytes())))
    except (FileNotFoundError, ValueError):
        return None


def id_of(public: bytes) -> str:
    """Return a key's id: the first 16 hexadecimal digits of its SHA-256."""
    return hashlib.sha256(public).hexdigest()[:16]


def public_bytes(key: "Ed25519PrivateKey") -> bytes:
    """Return the 32 bytes of a key's public half."""
    return key.public_key().public_bytes_raw()


def is_signed(public: bytes, signature: bytes, message: bytes) -> bool:
    """Return whether the signature over the message is this public key's."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


def _made() -> "Ed25519PrivateKey":
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    return Ed25519PrivateKey.generate()
