"""Photos: content-addressed files that arrive in pieces and count only once hashed and decoded whole."""

import errno
import hashlib
import io
import os
import re
import shutil
import sqlite3
import sys
import threading
import time
import warnings
from collections import OrderedDict
from collections.abc import Callable, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from itertools import groupby
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from qc.domain.plant.plant import Plant
from qc.store.record.connection import RECORD, open_reader

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_BYTES = 8_000_000
MOST_PIXELS = 24_000_000
READ_AS = ("JPEG", "PNG", "WEBP")
# A JPEG that holds further pictures behind its first, as some cameras of two lenses make, is read as JPEG and told MPO.
MEDIA_TYPES = {"JPEG": "image/jpeg", "MPO": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
RESERVE_BYTES = 200_000_000  # of the disk that photos leave to what is recorded, of a small disk a twentieth
UNFINISHED_DAYS = 14  # after which nothing more of a photo came: its pieces go, as long as phones keep what was taken
SWEPT_MS = 6 * 3_600_000  # how often what is unfinished is looked through
EDGES = (160, 320, 640, 1280)  # thumbnails are made in these sizes only, so that nobody can fill the disk with others
_SHA = re.compile(r"[0-9a-f]{64}\Z")

_KEEP = """
INSERT INTO photo (sha256, bytes, media_type, width, height, received_ms) VALUES (?, ?, ?, ?, ?, ?)
ON CONFLICT (sha256) DO NOTHING
"""
_ONE = "SELECT bytes, media_type, width, height FROM photo WHERE sha256 = ?"

Write = Callable[[Callable[[sqlite3.Connection], Any]], Any]


class PhotoBroken(Exception):
    """What arrived is not the picture that was announced: other bytes, a damaged file, or none that may be kept."""


class WrongOffset(Exception):
    """A piece does not begin where the last one ended; offset tells where it should."""

    def __init__(self, offset: int) -> None:
        super().__init__(f"the photo stands at {offset} bytes; go on from there")
        self.offset = offset


class Upload(NamedTuple):
    """How far a photo has come: offset bytes of the announced total are here."""

    offset: int
    total: int


@dataclass(frozen=True, slots=True)
class Photo:
    """A kept photo. media_type is ours, read from the bytes; sizes in pixels."""

    sha256: str
    path: Path
    bytes: int
    media_type: str
    width: int
    height: int


class PhotoStore:
    """The photos of one data folder. Thread-safe; ``write`` runs a function in the record's writer transaction."""

    def __init__(self, folder: Path, write: Write | None = None, clock: Callable[[], int] | None = None) -> None:
        """write: usually ``journal.write``; without it photos can be read and not taken."""
        self._folder = folder / "photos"
        self._record = folder / RECORD
        self._write = write
        self._clock = clock
        self._locks: OrderedDict[str, threading.Lock] = OrderedDict()
        self._guard = threading.Lock()
        # One picture at a time is decoded: eight of 24 megapixels at once took 2.1 GB.
        self._making = threading.Lock()
        self._swept_ms: int | None = None

    def use(self, write: Write, clock: Callable[[], int]) -> None:
        """Let the store take photos, once the record is open for writing."""
        self._write, self._clock = write, clock

    def offset(self, sha256: str) -> Upload | None:
        """Return how far a photo has come, None where nothing of it is here. Raises PhotoBroken for no hash.

        Whole only where it is kept: pieces that are all here, whose keeping failed before, are kept now. A phone may
        let go of a photo on that word alone.
        """
        kept = self.photo(sha256)
        if kept is not None:
            return Upload(kept.bytes, kept.bytes)
        with self._alone(sha256):
            here = self._here(sha256)
            if here is None or here.offset < here.total:
                return here
            try:
                self._finish(sha256, self._part(sha256))
            except PhotoBroken:
                return None  # its pieces are forgotten: the phone begins anew and is told why at the last one
        return here

    def _here(self, sha256: str) -> Upload | None:
        """Return what of a photo lies among the arriving pieces. What no total can be read of is forgotten."""
        part = self._part(sha256)
        try:
            total = part.with_suffix(".total").read_text()
            offset = part.stat().st_size
        except FileNotFoundError:
            return None
        if not total.isdigit() or offset > int(total):  # written half, as by a full disk
            self._forget(sha256)
            return None
        return Upload(offset, int(total))

    def append(self, sha256: str, offset: int, total: int, data: bytes) -> int:
        """Add a piece that begins at ``offset``; the last piece has the photo checked and kept.

        Returns how many bytes are here. Raises WrongOffset with the right one, PhotoBroken where the whole is not the
        announced picture or may not be kept (then its pieces are forgotten), OSError ENOSPC where the disk has no more
        room than the record needs.
        """
        _require_hash(sha256)
        if not 0 < total <= MOST_BYTES:
            raise PhotoBroken(f"a photo may have 1 to {MOST_BYTES} bytes, this is announced with {total}")
        self._sweep()
        with self._alone(sha256):
            return self._append(sha256, offset, total, data)

    def unfinished(self) -> tuple[int, int]:
        """Return how many photos have come in part and how many bytes of them are here."""
        sizes = []
        for path in self._arriving():
            if path.suffix == ".part":
                with suppress(FileNotFoundError):  # whole meanwhile
                    sizes.append(path.stat().st_size)
        return len(sizes), sum(sizes)

    def _sweep(self) -> None:
        """Let go of pieces to which none was added for `UNFINISHED_DAYS`, now and then.

        Nothing of them was acknowledged: a photo counts once it is whole and kept elsewhere. The phone that holds it is
        told that nothing of it is here and begins anew.
        """
        now = int(time.time() * 1000)  # the files' own clock
        with self._guard:
            if self._swept_ms is not None and 0 <= now - self._swept_ms < SWEPT_MS:
                return
            self._swept_ms = now
        oldest = now - UNFINISHED_DAYS * 24 * 3_600_000
        # Listed once, however many there are: a lost phone may have begun thousands.
        for sha256, pieces in groupby(self._arriving(), lambda path: path.name[:64]):
            of_one = list(pieces)
            if _last_added(of_one) < oldest:
                with self._alone(sha256):
                    if _last_added(of_one) < oldest:  # nothing came meanwhile
                        _let_go(of_one)

    def _pieces(self, sha256: str) -> list[Path]:
        return sorted((self._folder / "arriving").glob(f"{sha256}.*"))  # what a process that ended left of them too

    def _arriving(self) -> list[Path]:
        folder = self._folder / "arriving"
        return sorted(folder.iterdir()) if folder.is_dir() else []

    def keep(self, data: bytes) -> Photo:
        """Keep a picture that was made here, named by its bytes, and return it; one that is kept stays as it is."""
        sha256 = name_of(data)
        with self._alone(sha256):
            if self.photo(sha256) is None:
                self._demand_room(len(data))
                part = self._part(sha256)
                part.parent.mkdir(parents=True, exist_ok=True)
                _replace(part, data)
                self._finish(sha256, part)
        kept = self.photo(sha256)
        assert kept is not None, "its row was written"
        return kept

    def photo(self, sha256: str) -> Photo | None:
        """Return a kept photo, None where it is not here whole."""
        _require_hash(sha256)
        with closing(open_reader(self._record)) as conn:
            row = conn.execute(_ONE, (sha256,)).fetchone()
        return None if row is None else Photo(sha256, self._place(sha256), *row)

    def path(self, sha256: str) -> Path | None:
        """Return the file of a kept photo, None where it is not here whole."""
        kept = self.photo(sha256)
        return None if kept is None else kept.path

    def _place(self, sha256: str) -> Path:
        return self._folder / sha256[:2] / sha256

    def thumbnail(self, sha256: str, edge: int) -> tuple[Path, str]:
        """Return a smaller copy, its long edge at most the next size up from ``edge``, and its media type.

        Made anew from the pixels, so that it holds no position or other data. Raises FileNotFoundError without one.
        """
        size = next((one for one in EDGES if one >= edge), EDGES[-1])
        target = self._folder / "small" / f"{sha256}-{size}.jpg"
        if not target.is_file():
            if self.photo(sha256) is None:
                raise FileNotFoundError(f"photo {sha256} is not here")
            target.parent.mkdir(parents=True, exist_ok=True)
            with self._making:
                if not target.is_file():
                    _replace(target, _smaller(self._place(sha256), size))
        return target, "image/jpeg"

    def _append(self, sha256: str, offset: int, total: int, data: bytes) -> int:
        if self.photo(sha256) is not None:
            return total
        here = self._arrived(sha256, total)
        if offset != here:
            raise WrongOffset(here)
        if offset + len(data) > total:
            raise PhotoBroken(f"the piece goes past the announced {total} bytes")
        self._demand_room(len(data))
        part = self._part(sha256)
        part.parent.mkdir(parents=True, exist_ok=True)
        _replace(part.with_suffix(".total"), str(total).encode())
        with part.open("ab" if offset else "wb") as file:  # one of which no total was left is none
            file.write(data)
        if offset + len(data) == total:
            self._finish(sha256, part)
        return offset + len(data)

    def _arrived(self, sha256: str, total: int) -> int:
        """Return how many bytes are here of a photo announced with this total; pieces of another total are dropped."""
        here = self._here(sha256)
        if here is not None and (here.total != total or here.offset == total):
            self._forget(sha256)  # whole and not kept: its keeping failed, and what failed it may be in the bytes
            here = None
        return 0 if here is None else here.offset

    def _finish(self, sha256: str, part: Path) -> None:
        if self._write is None or self._clock is None:
            raise RuntimeError("this photo store was opened for reading; give it the journal's write")
        data = part.read_bytes()
        try:
            with self._making:
                media_type, width, height = checked(sha256, data)
        except PhotoBroken:
            self._forget(sha256)
            raise
        _keep(part, self._place(sha256))
        part.with_suffix(".total").unlink(missing_ok=True)
        values = (sha256, len(data), media_type, width, height, self._clock())
        self._write(lambda conn: conn.execute(_KEEP, values).rowcount)

    def _demand_room(self, more: int) -> None:
        """Refuse bytes that would take of the disk what is left to the record: a photo waits on its phone, and what is
        recorded is still taken. Raises OSError ENOSPC.
        """
        disk = shutil.disk_usage(self._record.parent)
        if disk.free - more < reserve_of(disk.total):
            raise OSError(errno.ENOSPC, "the rest of the disk is left to the record", str(self._folder))

    def _part(self, sha256: str) -> Path:
        return self._folder / "arriving" / f"{sha256}.part"

    def _forget(self, sha256: str) -> None:
        _let_go(self._pieces(sha256))

    @contextmanager
    def _alone(self, sha256: str) -> "Iterator[None]":
        with self._guard:
            lock = self._locks.setdefault(sha256, threading.Lock())
            self._locks.move_to_end(sha256)
            while len(self._locks) > 1000 and not next(iter(self._locks.values())).locked():
                self._locks.popitem(last=False)
        with lock:
            yield


def _last_added(pieces: Sequence[Path]) -> float:
    """Return when the latest of a photo's pieces was added, ms by the files' own clock; infinite where none is left."""
    added = [-inf]
    for path in pieces:
        with suppress(FileNotFoundError):  # whole meanwhile
            added.append(path.stat().st_mtime * 1000)
    return max(added) if len(added) > 1 else inf


def _let_go(pieces: Sequence[Path]) -> None:
    """Take a photo's pieces away; in their order the bytes go before their total, without which they would stay."""
    for path in pieces:
        path.unlink(missing_ok=True)


def reserve_of(total: int) -> int:
    """Return how many bytes photos leave free on a disk of so many."""
    return min(RESERVE_BYTES, total // 20)


def name_of(data: bytes) -> str:
    """Return the name under which a picture's bytes are kept: their SHA-256 (hex)."""
    return hashlib.sha256(data).hexdigest()


def pictures_missing(conn: sqlite3.Connection, plant: Plant) -> list[tuple[str, str]]:
    """Return model and view of each picture that a plant's tables name and that is not kept in the size they say."""
    missing = []
    for place, one in plant.pictures.items():
        row = conn.execute(_ONE, (one.sha256,)).fetchone()
        if row is None or row[2:] != (one.width, one.height):
            missing.append(place)
    return missing


def shape_of(data: bytes) -> tuple[str, int, int] | None:
    """Return media type, width and height that a picture's head tells, None where it is none that is kept."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(data), formats=READ_AS) as image:
            return MEDIA_TYPES[image.format or ""], *image.size
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, KeyError):
        return None


def checked(sha256: str, data: bytes) -> tuple[str, int, int]:
    """Return media type, width and height of a photo's bytes. Raises PhotoBroken where they are not to be kept.

    Decoded in full: a check of the headers lets half a picture pass.
    """
    from PIL import Image, UnidentifiedImageError

    if name_of(data) != sha256:
        raise PhotoBroken("the bytes do not match the announced hash; send the photo again")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # the library warns of a picture too large and decodes it all the same
            with Image.open(io.BytesIO(data), formats=READ_AS) as image:
                width, height = image.size
                if width * height > MOST_PIXELS:
                    raise PhotoBroken(f"a photo may have {MOST_PIXELS} pixels, this has {width} × {height}")
                image.load()
                return MEDIA_TYPES[image.format or ""], width, height
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, Warning, Image.DecompressionBombError) as error:
        raise PhotoBroken("the photo is damaged or no JPEG, PNG or WebP; take it again") from error


def _smaller(path: Path, edge: int) -> bytes:
    from PIL import Image, ImageOps

    with Image.open(path, formats=READ_AS) as image:
        image.draft("RGB", (edge, edge))
        small = image if image.mode in ("RGB", "L") else image.convert("RGB")
        small.thumbnail((edge, edge))  # before it is turned, so that no second copy of full size is made
        upright = ImageOps.exif_transpose(small).convert("RGB")
        bare = Image.new("RGB", upright.size)
        bare.paste(upright)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=85)
    return out.getvalue()


def _keep(part: Path, target: Path) -> None:
    """Move finished bytes to their place so that a power cut leaves the whole photo or none."""
    target.parent.mkdir(parents=True, exist_ok=True)
    _sync(part)
    os.replace(part, target)
    _sync(target.parent)
    _sync(target.parent.parent)


def _replace(target: Path, data: bytes) -> None:
    made = target.with_name(f"{target.name}.{threading.get_ident()}")
    made.write_bytes(data)
    os.replace(made, target)


def _sync(path: Path) -> None:
    if sys.platform == "win32" and path.is_dir():
        return  # Windows opens no folder to sync; its file system journals the new name itself
    handle = os.open(path, os.O_RDWR if sys.platform == "win32" else os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _require_hash(sha256: str) -> None:
    if not _SHA.match(sha256):
        raise PhotoBroken("a photo is named by its SHA-256 in lower-case hexadecimal")
