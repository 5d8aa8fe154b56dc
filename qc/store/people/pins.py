"""PINs and passphrases: which are strong enough, how they are kept, how long a wrong one takes.

Hashed with argon2id (RFC 9106) over an HMAC with a pepper that stands outside the database, so that a copied database
alone cannot be tried out. At most two hashes run at once: each takes tens of megabytes. They run in threads of their
own that give way to everything else, so that a shift's sign-ins do not slow what phones push.
"""

import base64
import hashlib
import hmac
import itertools
import os
import secrets
import sys
import threading
import unicodedata
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

from qc.domain.facts.people import InRoles
from qc.store.record.key_file import write_key

PIN_LEAST = 6
PIN_MOST = 12
PASSPHRASE_LEAST = 15
PASSPHRASE_MOST = 128
PEPPER = "pepper"  # its file's name in the keys folder
PEPPER_BYTES = 32
WAIT_SECONDS = 3.0  # for one of the two places; longer and the sign-ins of a shift change would hold up the pushes

HASHES = 2  # at once
GIVE_WAY = 5  # the niceness of the threads that hash

_PIN = PasswordHasher(time_cost=1, memory_cost=46 * 1024, parallelism=1)
_PASSPHRASE = PasswordHasher(time_cost=3, memory_cost=64 * 1024, parallelism=1)
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is read for another


class SignInBusy(Exception):
    """Both places for hashing are taken; the same sign-in can be tried again in a few seconds."""


class PepperMissing(Exception):
    """The keys folder lacks the pepper that the kept PINs were made with, or has no whole one."""


def secret_fault(roles: InRoles, code: str, secret: str) -> str | None:
    """Return what is wrong with a PIN or passphrase chosen for a person, None when it will do.

    Quality managers and administrators need a passphrase; everybody else may have either. The secret is not echoed.
    """
    if PASSPHRASE_LEAST <= len(secret) <= PASSPHRASE_MOST and not secret.isdigit():
        few = len(set(secret)) < 5 or secret.lower() == code.lower()
        return "the passphrase repeats itself; take several words" if few else None
    if roles.asks_passphrase:
        return f"this role signs in with a passphrase of {PASSPHRASE_LEAST} to {PASSPHRASE_MOST} characters"
    if not (secret.isascii() and secret.isdigit() and PIN_LEAST <= len(secret) <= PIN_MOST):
        return f"a PIN has {PIN_LEAST} to {PIN_MOST} figures, a passphrase {PASSPHRASE_LEAST} characters or more"
    return "the PIN is one that many take: a run, a repeat or a mirror; take another" if _weak(secret) else None


def _weak(pin: str) -> bool:
    steps = {(int(b) - int(a)) % 10 for a, b in itertools.pairwise(pin)}
    repeats = any(pin == (pin[:size] * len(pin))[: len(pin)] for size in range(1, len(pin) // 2 + 1))
    return len(steps) == 1 or repeats or len(set(pin)) < 3 or pin == pin[::-1]


def new_secret(roles: InRoles, code: str = "") -> str:
    """Return a fresh secret that suits the roles: eight figures, or a passphrase of four groups of four characters."""
    while True:
        if roles.asks_passphrase:
            secret = "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(4))
        else:
            secret = "".join(secrets.choice("0123456789") for _ in range(8))
        if secret_fault(roles, code, secret) is None:
            return secret


class Pins:
    """Makes and checks the kept form of secrets with one folder's pepper."""

    def __init__(self, keys: Path, expected: bool) -> None:
        """Read the pepper in ``keys``, or make it where no secret was ``expected`` to be kept yet.

        Raises PepperMissing where it is gone but secrets are kept: a fresh one would make every PIN wrong.
        """
        self._pepper = _pepper(keys / PEPPER, expected)
        self._places = threading.BoundedSemaphore(HASHES)
        self._hashing = ThreadPoolExecutor(HASHES, thread_name_prefix="hash", initializer=_give_way)

    def kept(self, secret: str) -> str:
        """Return the form in which a secret is kept; a passphrase costs more than a PIN."""
        hasher = _PIN if secret.isdigit() else _PASSPHRASE
        with self._place():
            return self._hashing.submit(hasher.hash, self._peppered(secret)).result()

    def matches(self, kept: str | None, secret: str) -> bool:
        """Tell whether a secret is the kept one; nobody's (None or "") is False.

        What it costs depends on what was typed alone, figures or a passphrase, never on whose code it was typed for.
        """
        hasher, other = (_PIN, _PASSPHRASE) if secret.isdigit() else (_PASSPHRASE, _PIN)
        if kept and _cost(kept) != _cost(_nobodys(hasher)) and _cost(kept) == _cost(_nobodys(other)):
            kept = None  # kept of the other form, so it cannot be this one
        with self._place():
            try:
                verified = self._hashing.submit(hasher.verify, kept or _nobodys(hasher), self._peppered(secret))
                return verified.result() and bool(kept)
            except VerificationError:
                return False

    def new_mark(self, code: str) -> str:
        """Return a mark for a browser in which a person has signed in; only this server can have made it."""
        browser = f"{code}.{secrets.token_urlsafe(12)}"
        return f"{browser}.{self._mark(browser)}"

    def browser_of(self, mark: str) -> str:
        """Return which browser a mark stands for, as the code of who signed in and a name; "" for no mark of ours."""
        browser, _, told = mark[:200].rpartition(".")
        return browser if browser and hmac.compare_digest(told.encode(), self._mark(browser).encode()) else ""

    def _mark(self, browser: str) -> str:
        return hmac.digest(self._pepper, b"browser " + browser.encode("utf-8", "surrogatepass"), hashlib.sha256).hex()

    def _peppered(self, secret: str) -> str:
        plain = unicodedata.normalize("NFC", secret).encode("utf-8", "surrogatepass")
        return hmac.digest(self._pepper, plain, hashlib.sha256).hex()

    @contextmanager
    def _place(self) -> Iterator[None]:
        if not self._places.acquire(timeout=WAIT_SECONDS):
            raise SignInBusy("many people are signing in just now; try again in a few seconds")
        try:
            yield
        finally:
            self._places.release()


def _give_way() -> None:
    """Let the calling thread run where nothing else wants to; elsewhere than on Linux niceness is a whole process's."""
    if sys.platform == "linux":
        os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), os.getpriority(os.PRIO_PROCESS, 0) + GIVE_WAY)


def _nobodys(hasher: PasswordHasher) -> str:
    """Return a kept form that is no secret's, of the same cost as a hasher's own."""
    lengths = (hasher.salt_len, hasher.hash_len)
    salt, told = (base64.b64encode(os.urandom(many)).decode().rstrip("=") for many in lengths)
    cost = f"m={hasher.memory_cost},t={hasher.time_cost},p={hasher.parallelism}"
    return f"$argon2id$v=19${cost}${salt}${told}"


def _cost(kept: str) -> list[str]:
    return kept.split("$")[1:4]


def pepper_is_whole(keys: Path) -> bool:
    """Return whether a keys folder has a pepper that PINs can be checked with."""
    try:
        return len((keys / PEPPER).read_bytes()) == PEPPER_BYTES
    except FileNotFoundError:
        return False


def _pepper(path: Path, expected: bool) -> bytes:
    if pepper_is_whole(path.parent):
        return path.read_bytes()
    if expected:
        state = f"is not whole, it should have {PEPPER_BYTES} bytes" if path.exists() else "is missing"
        raise PepperMissing(
            f"{path} {state}, and without it no PIN can be checked; put it back from where the keys are kept, or, "
            "where it is lost for good, go on with new keys and new PINs: qc new-keys FOLDER"
        )
    path.unlink(missing_ok=True)  # half of one, as a full disk left it, with which nothing was made yet
    with suppress(FileExistsError):  # another process made it meanwhile
        write_key(path, secrets.token_bytes(PEPPER_BYTES))
    return path.read_bytes()
