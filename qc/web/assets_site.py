"""The files of the pages and of the app, read once at the start and served under their common hash.

An address that holds the hash never changes its content, so it may be kept for ever, and a page never mixes two
versions. What begins a page of the app (index.html, sw.js, the manifest) names the hash and is asked for each time.
"""

import gzip
import hashlib
import json
import re
import threading
from dataclasses import dataclass, field
from importlib.metadata import distribution
from pathlib import Path

from flask import Response, request

from qc.assets import folder

FOR_EVER = "public, max-age=31536000, immutable"
PLOTLY = "plotly.min.js"
PACK_FROM = 600

_TYPES = {
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".html": "text/html; charset=utf-8",
    ".svg": "image/svg+xml",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".woff2": "font/woff2",
    ".png": "image/png",
    ".webp": "image/webp",
}
_PACKED = frozenset({".js", ".css", ".html", ".svg", ".json", ".webmanifest"})
# What the app shares with the pages: the language of form, and the handbook.
SHARED = ("static/css/tokens.css", "static/handbook/")
# What starts the app is filled in and never kept; the rest of pwa/ is precached.
_STARTERS = frozenset({"index.html", "sw.js", "manifest.webmanifest"})


@dataclass
class File:
    """One file: its bytes, its media type and, made at the first request that takes it, its packed form."""

    body: bytes
    media_type: str
    packs: bool
    _small: bytes | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def small(self) -> bytes:
        """Return the bytes packed with gzip, made once: the charts' script takes a quarter of a second."""
        with self._lock:
            if self._small is None:
                self._small = gzip.compress(self.body, 6 if len(self.body) > 1_000_000 else 9, mtime=0)
            return self._small


class Site:
    """Every file by its address, and the addresses that carry the hash."""

    def __init__(self, static: Path, pwa: Path, charts_script: Path) -> None:
        """static and pwa are folders, charts_script the one file from plotly's own wheel."""
        self.files = {
            **_read(static, "static"),
            **_read(pwa, "pwa"),
            PLOTLY: File(charts_script.read_bytes(), _TYPES[".js"], True),
        }
        self.version = _hash(self.files)
        self._starters = {name: self._filled(name) for name in _STARTERS if f"pwa/{name}" in self.files}

    def address(self, path: str) -> str:
        """Return the address under the hash of a file such as ``static/css/base.css``. Raises KeyError naming it."""
        if path not in self.files:
            raise KeyError(f"no file {path!r} is served; known are static/…, pwa/… and {PLOTLY}")
        return f"/a/{self.version}/{path}"

    def precache(self) -> list[str]:
        """Return what the app keeps to start without signal: its page, its manifest, pwa/, what it shares."""
        kept = [
            self.address(path)
            for path in sorted(self.files)
            if path.startswith(SHARED) or (path.startswith("pwa/") and path.removeprefix("pwa/") not in _STARTERS)
        ]
        return ["/app/", "/app/manifest.webmanifest", *kept]

    def kept_for_ever(self, version: str, path: str) -> Response | None:
        """Return a file under its hash; None for another version's hash or for no file."""
        file = self.files.get(path)
        if version != self.version or file is None or path.removeprefix("pwa/") in _STARTERS:
            return None
        return _answer(file, FOR_EVER)

    def starter(self, name: str) -> Response | None:
        """Return the app's page, worker or manifest with this version's addresses filled in; None for another name."""
        file = self._starters.get(name)
        if file is None:
            return None
        response = _answer(file, "no-cache")
        response.set_etag(self.version)
        response.make_conditional(request)
        return response

    def _filled(self, name: str) -> File:
        file = self.files[f"pwa/{name}"]
        text = file.body.decode().replace("__ASSETS__", f"/a/{self.version}/pwa")
        text = text.replace("__SHARED__", f"/a/{self.version}/static")
        if name == "sw.js":
            text = _filled_in(text, '["__PRECACHE__"]', self.precache())
            text = _filled_in(text, '"__VERSION__"', self.version)
        return File(text.encode(), file.media_type, file.packs)


def _filled_in(text: str, place: str, value: object) -> str:
    """Return a script with a value at its one place; a worker that names no file would keep none for no signal."""
    if text.count(place) != 1:
        raise ValueError(f"the service worker must hold {place} once, it holds it {text.count(place)} times")
    return text.replace(place, json.dumps(value))


def the_site() -> Site:
    """Return the site made of the installed files."""
    return Site(folder("static"), folder("pwa"), charts_script())


def charts_script() -> Path:
    """Return where plotly's own wheel holds its script; plotly itself is not imported, which would take a second."""
    return Path(str(distribution("plotly").locate_file("plotly/package_data/plotly.min.js")))


def _read(root: Path, name: str) -> dict[str, File]:
    found = {}
    for path in sorted(root.rglob("*")):
        if path.is_file() and path.suffix in _TYPES:
            body = path.read_bytes()
            if path.suffix == ".js":
                body = without_comments(body.decode()).encode()
            packs = path.suffix in _PACKED and len(body) >= PACK_FROM
            found[f"{name}/{path.relative_to(root).as_posix()}"] = File(body, _TYPES[path.suffix], packs)
    return found


# A comment that ends a line of code: after a sign that ends a part of it, without a mark that ends a string.
_ENDS_LINE = re.compile(r"(?<=[;,{]) // [^\"'`\n]*$", re.MULTILINE)
# A comment that has its lines to itself: another that shares a line with code stays, since code may hold its signs.
_OWN_LINES = re.compile(r"^[ \t]*(?://.*|/\*(?:[^*]|\*(?!/))*\*/[ \t]*)$", re.MULTILINE)
# A type, which no string of ours begins like.
_TYPE = re.compile(r"/\*\* @type \{[^*\n]*\} \*/ ?")


def without_comments(script: str) -> str:
    """Return a script of ours as a phone needs it: a quarter of its packed size was comments and types.

    Every line keeps its number, so that a fault told by a phone is found in the source.
    """
    return _ENDS_LINE.sub("", _TYPE.sub("", _OWN_LINES.sub(lambda comment: "\n" * comment.group().count("\n"), script)))


def _hash(files: dict[str, File]) -> str:
    digest = hashlib.sha256()
    for path, file in sorted(files.items()):
        digest.update(f"{path}\0{len(file.body)}\0".encode())
        digest.update(file.body)
    return digest.hexdigest()[:16]


def _answer(file: File, keep: str) -> Response:
    response = Response(mimetype=None)
    response.headers["Content-Type"] = file.media_type
    response.headers["Cache-Control"] = keep
    if file.packs:
        response.headers["Vary"] = "Accept-Encoding"
    if file.packs and request.accept_encodings["gzip"] > 0:
        response.headers["Content-Encoding"] = "gzip"
        response.set_data(file.small())
    else:
        response.set_data(file.body)
    return response
