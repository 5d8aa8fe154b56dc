"""Copies of a data folder that can be relied on: made while the server goes on, verified before they count.

A backup is a folder with the plant's tables, the record and the photos. The keys are not in it: whoever takes a
backup home must not be able to try PINs or sign. Keep ``keys`` apart, and put it back after a restore.
"""

import json
import os
import shutil
import sqlite3
import tempfile
import time
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from qc.store.checking.verify import CannotVerify, VerifyReport, verify
from qc.store.intake.door import new_server_epoch
from qc.store.record.connection import RECORD, no_room_beside, open_reader, open_writer

PLANT, PHOTOS = "plant", "photos"
NOTED = "last-backup.json"
OLD_DAYS = 2.0
HOURS = 24 * 3600.0

_PHOTOS = "SELECT sha256 FROM photo ORDER BY sha256"
_CHAIN = "SELECT number, hash FROM journal ORDER BY number DESC LIMIT 1"


class NotABackup(Exception):
    """There is nothing to copy from, or the copy is not what was written; what was there before is untouched."""


class PlaceTaken(Exception):
    """Something is where a backup or a restored folder should go; it is never written over."""


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy that was verified: how many operations and photos it holds, and the hash of its last row (hex)."""

    folder: Path
    operations: int
    photos: int
    head: str


@dataclass(frozen=True, slots=True)
class LastBackup:
    """The last backup of a folder that was whole: when, where to; failed: why a later one was not, "" if none.

    at_ms 0 and target "": none was whole so far.
    """

    at_ms: int
    target: str
    operations: int
    head: str
    failed: str = ""


def last_backup(folder: Path) -> LastBackup | None:
    """Return what a data folder notes of its last whole backup, None where it notes none that can be read."""
    try:
        return LastBackup(**json.loads((folder / NOTED).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def backup_trouble(folder: Path, now_ms: int) -> str:
    """Return what is wrong with the backups of a folder that makes its own, "" while the last is whole and young."""
    last = last_backup(folder)
    if last is None:
        return "No backup was made yet; the first is made within minutes of the server's start."
    if not last.at_ms:
        return f"No backup was whole so far. The last try failed: {last.failed}"
    if lies_within(folder, last.target):
        return f"The last backup, at {last.target}, lies in the data folder itself: what destroys one destroys both."
    days = (now_ms - last.at_ms) / 86_400_000
    if not last.failed and days <= OLD_DAYS:
        return ""
    why = f" The last try failed: {last.failed}" if last.failed else ""
    return f"The last whole backup is {days:.1f} days old, at {last.target}.{why}"


def lies_within(folder: Path, target: str) -> bool:
    """Return whether a backup lies in the data folder that it is of: then what destroys one destroys both."""
    return Path(target).resolve().is_relative_to(folder.resolve())


def note_backup(folder: Path, copied: Copied | None, failed: str = "") -> None:
    """Note in a data folder that it was backed up, or why the last try was not one. Raises OSError."""
    if copied is not None:
        at_ms = time.time_ns() // 1_000_000
        noted = LastBackup(at_ms, str(copied.folder.absolute()), copied.operations, copied.head)
    else:
        noted = replace(last_backup(folder) or LastBackup(0, "", 0, ""), failed=failed[:300])
    half = folder / f"{NOTED}.making"
    half.write_text(json.dumps(asdict(noted)) + "\n", encoding="utf-8")
    os.replace(half, folder / NOTED)


def back_up(folder: Path, target: Path) -> Copied:
    """Copy a data folder, served or not, to the new folder ``target``, verify the copy and let it count.

    Raises PlaceTaken where ``target`` is there already, NotABackup where the folder has no record or the copy does
    not verify (its report in words; nothing is left at ``target``).
    """
    return _copied(folder, target, new_epoch=False)


def restore(backup: Path, folder: Path) -> Copied:
    """Copy a backup to the new or empty data folder ``folder``, verify it, and give it a new epoch.

    Phones then offer again what they kept since. Raises PlaceTaken, NotABackup.
    """
    return _copied(backup, folder, new_epoch=True)


def drill(folder: Path) -> Copied:
    """Back a folder up, restore the backup, verify both, throw both away; return what would have been restored."""
    with tempfile.TemporaryDirectory(prefix="drill-") as room:
        back_up(folder, Path(room) / "backup")
        return restore(Path(room) / "backup", Path(room) / "restored")


def _copied(source: Path, target: Path, *, new_epoch: bool) -> Copied:
    if not (source / RECORD).is_file():
        wanted = "a folder that a backup made" if new_epoch else "the data folder that the server uses"
        raise NotABackup(f"there is no record in {source}; give {wanted}")
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise PlaceTaken(f"{target} is there already; give a folder that is new or empty")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        # A name of its own, so that what a copy that was broken off left behind is in nobody's way.
        making = Path(tempfile.mkdtemp(prefix=f"{target.name}.", suffix=".making", dir=target.parent))
    except OSError as error:
        raise NotABackup(f"no copy can be made in {target.parent}: {error}") from error
    try:
        copied = _fill(source, making, new_epoch=new_epoch)
    except (OSError, CannotVerify) as error:
        shutil.rmtree(making)
        raise NotABackup(f"the copy could not be made and was thrown away: {error}") from error
    except BaseException:
        shutil.rmtree(making)
        raise
    if target.exists():
        target.rmdir()
    os.replace(making, target)
    _sync(target.parent)
    return Copied(target, *copied)


def _fill(source: Path, making: Path, *, new_epoch: bool) -> tuple[int, int, str]:
    # The record first: whatever photo its rows name was on the disk before the row was.
    _copy_record(source / RECORD, making / RECORD)
    if (source / PLANT).is_dir():
        shutil.copytree(source / PLANT, making / PLANT)
    photos = _copy_photos(source / PHOTOS, making)
    _require_whole(verify(making))
    with closing(open_reader(making / RECORD)) as conn:
        row = conn.execute(_CHAIN).fetchone()
    if new_epoch:
        with closing(open_writer(making / RECORD)) as conn:
            new_server_epoch(conn)
    for path in making.rglob("*"):
        path.chmod(0o700 if path.is_dir() else 0o600)  # names, notes and pictures: the server account's alone
        _sync(path)
    return (0, photos, "") if row is None else (row[0], photos, row[1].hex())


def _copy_record(source: Path, target: Path) -> None:
    try:
        with closing(open_reader(source, HOURS)) as conn, closing(sqlite3.connect(target)) as copy:
            conn.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, readable from a medium that cannot be written
    except sqlite3.DatabaseError as error:
        if getattr(error, "sqlite_errorcode", 0) != sqlite3.SQLITE_FULL and (
            why := no_room_beside(error, source.parent)
        ):
            raise NotABackup(why) from error
        raise NotABackup(
            f"{source} could not be copied to {target.parent.parent} ({error}): see that the disk there has room for "
            "the record and its photos, and that qc verify can read the record"
        ) from error


def _copy_photos(source: Path, making: Path) -> int:
    with closing(open_reader(making / RECORD)) as conn:
        names = [name for (name,) in conn.execute(_PHOTOS)]
    for name in names:
        target = making / PHOTOS / name[:2] / name
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            shutil.copyfile(source / name[:2] / name, target)
        except FileNotFoundError as error:
            raise NotABackup(f"photo {name} is named by the record and missing from {source}") from error
    return len(names)


def _require_whole(report: VerifyReport) -> None:
    if not report.is_whole:
        told = "; ".join(words for check in report.checks for words in check.told)
        raise NotABackup(f"the copy does not verify and was thrown away: {told}")


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
