"""Files that a person hands in on a page: looked through first, and kept until they are taken as they were shown."""

import hashlib
import threading
from collections import OrderedDict
from contextlib import closing
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

from flask import request

from qc.domain.facts.people import Person
from qc.domain.words.speaking import marked, say, say_many
from qc.reports.units.looked_through import LookedThrough
from qc.web.house import House

FILE_BYTES = 5_000_000
KEPT_FILES = 8


@dataclass(frozen=True, slots=True)
class AskedFile:
    """What a page says where no file came, or one that is too large; both are said where they are shown."""

    none: str
    too_large: str


PLAN = AskedFile(
    marked("No file was chosen. Choose the plan's file, CSV or XLSX."),
    marked("The file has more than {most} MB. Save only the plan's sheet, or hand it in in parts."),
)
LIST = AskedFile(
    marked("No file was chosen. Choose the list's file, CSV or XLSX."),
    marked("The file has more than {most} MB. Save only the list's sheet, or hand it in in parts."),
)


class NotTaken(Exception):
    """No file came, one that is too large, or one that is not taken as it was shown: words for who handed it in.

    status: of the answer.
    """

    def __init__(self, words: str, status: int) -> None:
        super().__init__(words)
        self.words, self.status = words, status


class HandedFiles:
    """Files that were looked through and may be taken next, the latest few, by who handed them in and their digest.

    taking: held by who looks a file through once more and then takes it, so that the same form sent twice at once does
    not find twice that nothing of it is told yet.
    """

    def __init__(self) -> None:
        self.taking = threading.Lock()
        self._lock = threading.Lock()
        self._files: OrderedDict[tuple[str, str], tuple[str, bytes]] = OrderedDict()

    def keep(self, person: Person, name: str, data: bytes) -> str:
        """Keep a file and return its digest."""
        digest = hashlib.sha256(data).hexdigest()
        with self._lock:
            self._files[person.code, digest] = (name, data)
            self._files.move_to_end((person.code, digest))
            while len(self._files) > KEPT_FILES:
                self._files.popitem(last=False)
        return digest

    def get(self, person: Person, digest: str) -> tuple[str, bytes] | None:
        """Return the name and the bytes of a person's file, None where it is no longer here."""
        with self._lock:
            return self._files.get((person.code, digest))


class FilesOfPages:
    """The files of one page, apart for each record that this process serves."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: WeakKeyDictionary[object, HandedFiles] = WeakKeyDictionary()

    def of(self, house: House) -> HandedFiles:
        """Return the files that were handed in for a record."""
        with self._lock:
            return self._kept.setdefault(house.journal, HandedFiles())


def left_out(wrong: int) -> str:
    """Return in words how many wrong rows were left out of what was taken; "" for none."""
    return say_many("{number} wrong row was left out.", "{number} wrong rows were left out.", wrong) if wrong else ""


def handed_in(asked: AskedFile) -> tuple[str, bytes]:
    """Return the name and the bytes of the form's file; asked: its words. Raises NotTaken."""
    handed = request.files.get("file")
    if handed is None or not handed.filename:
        raise NotTaken(say(asked.none), 400)
    with closing(handed):
        data = handed.stream.read(FILE_BYTES + 1)
    if len(data) > FILE_BYTES:
        most = FILE_BYTES // 1_000_000
        words = say(asked.too_large, most=most)
        raise NotTaken(words, 413)
    return handed.filename[:80], data


def looked_through(files: HandedFiles, person: Person) -> tuple[str, bytes, str]:
    """Return name, bytes and digest of the file that the form takes. Raises NotTaken where it is no longer here."""
    digest = request.form.get("digest", "")
    found = files.get(person, digest)
    if found is None:
        words = say(
            "That file is no longer here: the server started again, or other files came after it. Choose it again."
        )
        raise NotTaken(words, 410)
    return *found, digest


def as_shown(report: LookedThrough[Any]) -> None:
    """Raise NotTaken where taking a file would do something else than the form showed, or wrong rows are left."""
    if report.mark != request.form.get("seen"):
        words = say(
            "The record changed since the file was looked through. Nothing was taken; this is what it would do now."
        )
        raise NotTaken(words, 409)
    if report.of("wrong") and request.form.get("leave_wrong") != "yes":
        words = say("Some rows are wrong. Mend them in the file and hand it in again, or tick that they are left out.")
        raise NotTaken(words, 409)
