"""The drop folder: a planning system leaves build plans there, and the running server takes each of them once.

It is looked at every few seconds, since a share on the network tells nobody of a new file. A file is taken when its
size and its time have stood still; what became of it is kept in the transaction that enters it, so that a server that
ends between that and the moving only moves it when it is there again.
"""

import contextlib
import errno
import hashlib
import logging
import os
import secrets
import sqlite3
import stat
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from qc.domain.handed.build_plan import UnusablePlan
from qc.domain.plant.drop_plan import SESSION, DropPlan
from qc.reports.units.build_plan import ORDER, PlanReport, build_plan_report
from qc.store.drops import DropOutcome, Dropped, keep_drop, known_drop, note_trouble
from qc.store.folder.sheets import MOST_BYTES, UnreadableSheet
from qc.store.intake.writer import StorageFailed, StorageFull, WriterClosed
from qc.store.people.machines import NotItsScope, planner_here
from qc.store.plan_intake import PlanOvertaken, take_plan
from qc.web.house import House

LOOK_SECONDS = 5.0
STOP_SECONDS = 20.0  # a share that answers no more holds up no end of the server
STILL_SECONDS = 15.0  # a copy over a slow network pauses; a half file would be taken for a whole one
ALIVE_SECONDS = 60.0  # a server whose mark stands still for so long watches no more
MARK = ".watched"
ROOMS = ("taken", "refused")
HALF = (".part", ".partial", ".tmp", ".temp", ".crdownload", "~")  # what programs call a file that they still write
# What is opened is the file itself and no link's end; a pipe keeps nobody waiting. Windows has the last alone.
_ITSELF = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
TOLD_ROWS = 2_000  # of one outcome in a report; the wrong ones are told all
_log = logging.getLogger("qc.web")


@dataclass(slots=True)
class _Lying:
    """A file as it was last seen. since: when it was first seen so, in seconds of an even clock."""

    size: int
    mtime_ns: int
    since: float


class _NotAFile(Exception):
    """A link, a pipe or the like lies where a file was looked for."""


class DropFolder:
    """Takes what is dropped. trouble: what keeps it from doing so, "" for nothing; it is noted in the data folder."""

    def __init__(self, house: House, plan: DropPlan, passed: Callable[[], float] = time.monotonic) -> None:
        """passed: an even clock in seconds."""
        self._house, self._plan, self._passed = house, plan, passed
        self._folder = Path(plan.folder)
        self._lying: dict[str, _Lying] = {}
        self._me = secrets.token_hex(8)
        self._marks = 0
        self._other: tuple[str, float, bool] | None = None  # another's mark, since when it stands so, whether it moved
        self._noted: str | None = None

    def start(self) -> Callable[[], None]:
        """Look every few seconds; return what ends that: it waits for the file in hand and takes the mark away."""
        stopping = threading.Event()

        def run() -> None:
            while not stopping.wait(LOOK_SECONDS):
                self.look()
            self.leave()

        watching = threading.Thread(target=run, name="drop-folder", daemon=True)
        watching.start()

        def stop() -> None:
            stopping.set()
            watching.join(STOP_SECONDS)

        return stop

    def look(self) -> str:
        """Take what is ready to be taken; return what is wrong with the folder, "" for nothing."""
        try:
            trouble = self._looked()
        except OSError as error:
            trouble = f"{self._folder} cannot be used ({error.strerror or type(error).__name__}); {_remedy(error)}"
        except NotItsScope as why:
            trouble = f"{why}. Name another planner under in_name_of in plant.toml; the files stay where they are"
        except (StorageFull, StorageFailed, WriterClosed) as why:
            trouble = f"nothing could be taken ({why}); the files stay where they are"
        except Exception as error:  # the watch goes on
            _log.exception("the drop folder met a fault")
            trouble = f"the server met a fault of its own ({type(error).__name__}); its log tells more"
        self._note(trouble)
        return trouble

    def leave(self) -> None:
        """Take the mark away, so that the next server begins at once."""
        try:
            if self._is_mine(self._read_mark()):
                (self._folder / MARK).unlink(missing_ok=True)
        except OSError:
            _log.warning("the mark in the drop folder stays; the next server waits a minute for it")

    def _looked(self) -> str:
        if whose := self._is_of_the_record():
            return f"{self._folder} lies among {whose}, which would be taken for plans; name a folder of its own"
        is_alive = self._is_anothers()
        if is_alive is None:
            return ""
        if is_alive:
            return f"another server watches {self._folder}; give each its own folder, or stop one"
        self._mark()
        for room in ROOMS:
            (self._folder / room).mkdir(exist_ok=True)
            if why := self._leads_elsewhere(room):
                return why
        troubles = [self._told_of(name) for name in self._ready()]
        return "; ".join(one for one in troubles if one)

    def _told_of(self, name: str) -> str:
        """Take or refuse a file; one that the server trips over keeps none of the others from being taken."""
        try:
            return self._met(name)
        except (NotItsScope, StorageFull, StorageFailed, WriterClosed, OSError):
            raise
        except Exception as error:
            _log.exception("the server tripped over a dropped file")
            return f"the server met a fault of its own at {_shown(name)} ({type(error).__name__}); its log tells more"

    # where it may be

    def _is_of_the_record(self) -> str:
        """Return whose files would be taken for dropped ones and put away: the record's, or its backups'."""
        here, backup = self._folder.resolve(), self._house.plant.backup
        if here.is_relative_to(self._house.folder.resolve()):
            return "the record's own files"
        if backup is not None and here.is_relative_to(Path(backup.folder).resolve()):
            return "the record's backups"
        return ""

    def _leads_elsewhere(self, room: str) -> str:
        """Return what is wrong with a room that is a link: files of any name would be laid into another folder."""
        here = self._folder.resolve() / room
        if here.resolve() == here:
            return ""
        return f"{self._folder / room} is a link to {here.resolve()}, where nothing is put; take it away"

    # who watches

    def _is_anothers(self) -> bool | None:
        """Return whether another server watches; None where its mark may be what one that was killed left behind."""
        mark = self._read_mark()
        if not mark or self._is_mine(mark):
            self._other = None
            return False
        now = self._passed()
        if self._other is None or self._other[0] != mark:
            self._other = (mark, now, self._other is not None)
        _, since, is_moving = self._other
        if now - since >= ALIVE_SECONDS:
            return False
        return True if is_moving else None

    def _is_mine(self, mark: str) -> bool:
        return mark.partition(" ")[0] == self._me

    def _read_mark(self) -> str:
        try:
            return _read(self._folder / MARK, 100)[1].decode("utf-8", "replace")
        except (FileNotFoundError, _NotAFile):
            return ""

    def _mark(self) -> None:
        self._marks += 1
        _write_mark(self._folder / MARK, f"{self._me} {self._marks}\n")

    # what is ready

    def _ready(self) -> Iterator[str]:
        """Yield the names of files that have stood still, oldest first: a later plan goes over an earlier one."""
        now, found = self._passed(), {}
        for name, told in _files_in(self._folder):
            before = self._lying.get(name)
            if before is None or (before.size, before.mtime_ns) != (told.st_size, told.st_mtime_ns):
                before = _Lying(told.st_size, told.st_mtime_ns, now)
            found[name] = before
        self._lying = found
        still = [(one.mtime_ns, name) for name, one in found.items() if now - one.since >= STILL_SECONDS]
        return (name for _, name in sorted(still))

    def _met(self, name: str) -> str:
        """Take or refuse a file and put it away; return what kept that from being done, "" for nothing."""
        path = self._folder / name
        if name != _shown(name) or not name.isprintable():
            return f"the name {_shown(name)} has signs that cannot be kept; rename the file"
        try:
            lay = path.lstat()
            if stat.S_ISLNK(lay.st_mode):
                return f"{name} is a link, which is not followed; put the file itself here"
            opened, data = _read(path, MOST_BYTES + 1)
        except (FileNotFoundError, _NotAFile):  # taken away meanwhile, or something else put in its place
            return ""
        except PermissionError:
            return f"{name} may not be read by the server's account"
        now = path.lstat()
        if not _is_same(opened, lay) or (now.st_size, now.st_mtime_ns) != (lay.st_size, lay.st_mtime_ns):
            return ""  # it is still being written, or another than was looked at
        file = Dropped(name, lay.st_size, lay.st_mtime_ns, hashlib.sha256(data).hexdigest())
        before = known_drop(self._house.reads.connection(), file)
        if before is not None:
            outcome, words = before
            return self._put_away(path, lay, outcome, f"{words}\nIt was only moved now: the server ended in between.\n")
        try:
            outcome, told = self._settled(file, data)
        except PlanOvertaken:  # looked through anew at the next look
            return ""
        _log.info("a dropped file was %s", outcome)
        return self._put_away(path, lay, outcome, told)

    def _settled(self, file: Dropped, data: bytes) -> tuple[DropOutcome, str]:
        """Enter a file or refuse it, and keep that; return what became of it and its report."""
        house, now = self._house, self._house.clock()
        person = planner_here(house.reads.connection(), self._plan.in_name_of)

        def keep(outcome: DropOutcome, words: str) -> Callable[[sqlite3.Connection], None]:
            return lambda conn: keep_drop(conn, file, outcome, words, now)

        try:
            house.follow_tables()
            report = build_plan_report(data, house.reads, house.plant, now)
        except (UnreadableSheet, UnusablePlan) as why:
            words = f"Refused, nothing was taken: {why}."
            house.journal.write(keep("refused", words))
            return "refused", f"{words}\n"
        wrong = len(report.of("wrong"))
        if (wrong and not self._plan.leave_wrong) or wrong == len(report.lines):
            words = f"Refused, nothing was taken. {report.summary}."
            house.journal.write(keep("refused", words))
            return "refused", self._told(words, report, now)
        left = f", {wrong} wrong left out" if wrong else ""
        words = f"Taken under the name of {person.code}{left}. {report.summary}."
        take_plan(house.journal, report.lines, person.code, SESSION, house.clock, keep("taken", words))
        return "taken", self._told(words, report, now)

    def _told(self, words: str, report: PlanReport, now: int) -> str:
        zone = ZoneInfo(self._house.plant.time_zone)
        lines = [words, datetime.fromtimestamp(now / 1000, zone).isoformat(" ", "seconds"), *report.notes]
        for outcome in ORDER:
            rows = report.of(outcome)
            shown = rows if outcome == "wrong" else rows[:TOLD_ROWS]
            lines += [f"{outcome}: row {line.row}, {line.unit or 'no unit'}: {line.words}" for line in shown]
            lines += [f"{outcome}: {len(rows) - len(shown)} rows more"] if len(rows) > len(shown) else []
        return "\n".join(lines) + "\n"

    # putting away

    def _put_away(self, path: Path, lay: os.stat_result, outcome: DropOutcome, told: str) -> str:
        room = self._folder / outcome
        if why := self._leads_elsewhere(outcome):
            return f"{path.name} was {outcome} and stays where it is: {why}"
        try:
            target = _free(room, path.name, datetime.now(ZoneInfo(self._house.plant.time_zone)))
            report = target.with_name(f"{target.name}.report.txt")
            _write_whole(report, told)
            os.rename(path, target)
            self._lying.pop(path.name, None)
            if target.stat().st_size != lay.st_size:  # somebody wrote on while it was taken
                os.rename(target, path)
                report.unlink()
                return f"{path.name} was written on while it was taken; it is taken anew once it stands still"
        except OSError as error:
            why = error.strerror or type(error).__name__
            return f"{path.name} was {outcome} and cannot be moved to {room} ({why}); {_remedy(error)}"
        return ""

    def _note(self, trouble: str) -> None:
        if trouble == self._noted:
            return
        if trouble:
            _log.error("the drop folder: %s", trouble)
        try:
            note_trouble(self._house.folder, trouble)
            self._noted = trouble
        except OSError:
            _log.exception("what is wrong with the drop folder could not be noted")


def _files_in(folder: Path) -> Iterator[tuple[str, os.stat_result]]:
    with os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith((".", "~$")) or entry.name.casefold().endswith(HALF):
                continue
            if entry.is_symlink() or entry.is_file(follow_symlinks=False):
                yield entry.name, entry.stat(follow_symlinks=False)


def _read(path: Path, most: int) -> tuple[os.stat_result, bytes]:
    """Return what a file is and its first bytes: never what a link leads to, never waiting at a pipe.

    Whoever drops files may be nobody of the record: what lies here must lead to nothing else that this account reads.
    Raises _NotAFile, OSError.
    """
    try:
        handle = os.open(path, os.O_RDONLY | _ITSELF)
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise _NotAFile(path) from None
        raise
    with open(handle, "rb") as opened:
        told = os.fstat(handle)
        if not stat.S_ISREG(told.st_mode):
            raise _NotAFile(path)
        return told, opened.read(most)


def _write_mark(path: Path, told: str) -> None:
    """Write the mark in its place, never through a link: what that leads to would be written over. Raises OSError."""
    with contextlib.suppress(FileNotFoundError):
        lay = path.lstat()
        if not stat.S_ISREG(lay.st_mode) or lay.st_nlink != 1:
            path.unlink()
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | _ITSELF, 0o666), "wb") as mark:
        mark.write(told.encode())


def _is_same(one: os.stat_result, other: os.stat_result) -> bool:
    return (one.st_dev, one.st_ino) == (other.st_dev, other.st_ino)


def _shown(name: str) -> str:
    """Return a file's name with what is no Unicode in it told as such."""
    return name.encode("utf-8", "backslashreplace").decode()


def _free(room: Path, name: str, now: datetime) -> Path:
    """Return where a file is put: under its own name, or where another lies there with the day and time in it."""
    stem, dot, ending = name.rpartition(".")
    stem, ending = (stem, dot + ending) if stem else (name, "")
    tries = [name, f"{stem}.{now:%Y-%m-%d-%H%M%S}{ending}"]
    tries += [f"{stem}.{now:%Y-%m-%d-%H%M%S}-{secrets.token_hex(4)}{ending}"]
    return next(path for path in (room / one for one in tries) if not path.exists())


def _write_whole(report: Path, told: str) -> None:
    """Write a report in whole or not at all: on a full disk no half of it stays. Raises OSError."""
    half = report.with_name(f".{secrets.token_hex(6)}.making")
    try:
        half.write_text(told, encoding="utf-8")
        os.replace(half, report)
    except OSError:
        half.unlink(missing_ok=True)
        raise


def _remedy(error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return "make the folder, or mount the share again"
    if isinstance(error, PermissionError):
        return "let the server's account read and write in it"
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "make room on its disk"
    return "look at its disk or share"
