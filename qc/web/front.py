"""The front: each request is taken in whole, with patience for slow lines and none for stalled ones, then answered.

A thread is given to a request only once its body is here, so that a phone which walks out of range in the middle of
an upload, or a client that never sends the rest, holds memory for a while and no thread. Pushes, photos, pages
and sign-ins have threads of their own: none of them waits for the others' work.
"""

import asyncio
import contextlib
import io
import logging
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote_to_bytes

import orjson
from markupsafe import escape

from qc.domain.words.problems import Problem
from qc.web.errors import is_api

Answer = tuple[int, list[tuple[str, str]], bytes]
App = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]

_BODILESS = frozenset({"GET", "HEAD", "OPTIONS", "DELETE"})

_log = logging.getLogger("qc.web")


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """What a request may take of the server before it has arrived.

    body_bytes: the largest body. quiet_seconds: nothing of the body comes for so long. grace_seconds, least_rate:
    after the grace the body must have come at so many bytes a second. waiting_bytes: of announced bodies that are on
    their way, from one address and in all; requests: on their way from one address. after_pushes_seconds: a piece of a
    photo waits so long at most while more pushes are here than have a thread.
    """

    body_bytes: int = 8_100_000
    quiet_seconds: float = 15.0
    grace_seconds: float = 20.0
    least_rate: float = 8_000.0
    address_bytes: int = 128_000_000
    all_bytes: int = 384_000_000
    address_requests: int = 256
    after_pushes_seconds: float = 3.0


class _Turned(Exception):
    """A request that is not taken in: its HTTP status and what is told."""

    def __init__(self, status: int, code: str, message: str) -> None:
        super().__init__(message)
        self.status, self.problem = status, Problem(code, message)


class Front:
    """Answers requests of the server program with an application. Made in the process that serves."""

    def __init__(self, app: App, threads: dict[str, int], patience: Patience | None = None) -> None:
        """threads: how many for "push" (the sync interface), "photo" (its photos), "sign_in", "machine" (plans that
        machines bring, tables that they read) and "page" (all else).
        """
        self._app = app
        self._patience = patience or Patience()
        self._pools = {name: ThreadPoolExecutor(many, thread_name_prefix=name) for name, many in threads.items()}
        self._bytes: Counter[str] = Counter()
        self._requests: Counter[str] = Counter()
        self._all_bytes = 0
        # What was recorded goes before its pictures: unpacking one takes a core from sixty phones that push at once.
        self._push_threads, self._in_hand = threads["push"], dict.fromkeys(threads, 0)
        self._calm = asyncio.Event()
        self._calm.set()

    async def __rsgi__(self, scope: Any, protocol: Any) -> None:
        address = scope.client.rpartition(":")[0]
        announced = 0
        try:
            announced = self._announced(scope)
            self._admit(address, announced)
            try:
                body = await self._body(protocol, announced) if announced else b""
                environ = environ_of(scope, body)
                status, headers, data = await self._in_turn(_pool_of(environ), environ)
            finally:
                self._dismiss(address, announced)
        except _Turned as turned:
            status, headers, data = _told(turned, scope.path)
        if data:
            protocol.response_bytes(status, headers, data)
        else:
            protocol.response_empty(status, headers)

    async def _in_turn(self, name: str, environ: dict[str, Any]) -> Answer:
        """Answer in a thread of its kind: at once, but a picture comes after the pushes that already wait."""
        if name == "photo" and environ["REQUEST_METHOD"] == "PATCH":
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._calm.wait(), self._patience.after_pushes_seconds)
        self._count(name, 1)
        try:
            return await asyncio.get_running_loop().run_in_executor(self._pools[name], self._answer, environ)
        finally:
            self._count(name, -1)

    def in_hand(self) -> dict[str, int]:
        """Return how many requests of each kind are answered or wait for a thread."""
        return dict(self._in_hand)

    def _count(self, name: str, more: int) -> None:
        self._in_hand[name] += more
        if name == "push":
            if self._in_hand[name] > self._push_threads:
                self._calm.clear()
            else:
                self._calm.set()

    def _announced(self, scope: Any) -> int:
        """Return how many bytes of body are to come; nothing is taken whose length nobody announced."""
        told = scope.headers.get("content-length", "")
        if not told:
            if scope.headers.get("transfer-encoding") or scope.method not in _BODILESS:
                raise _Turned(411, "malformed", "Announce the length of the body (Content-Length); nothing was taken.")
            return 0
        if not (told.isascii() and told.isdigit()):
            raise _Turned(400, "malformed", "Content-Length must be a whole number of bytes.")
        if len(told) > 12 or int(told) > self._patience.body_bytes:
            raise _Turned(413, "too_large", "The body is larger than any address takes; send it in smaller parts.")
        return int(told)

    def _admit(self, address: str, announced: int) -> None:
        limits = self._patience
        if (
            self._requests[address] >= limits.address_requests
            or self._bytes[address] + announced > limits.address_bytes
            or self._all_bytes + announced > limits.all_bytes
        ):
            words = "Too much is on its way to the server at once; nothing of this was taken. Send it again in a while."
            raise _Turned(503, "busy", words)
        self._requests[address] += 1
        self._bytes[address] += announced
        self._all_bytes += announced

    def _dismiss(self, address: str, announced: int) -> None:
        self._requests[address] -= 1
        self._bytes[address] -= announced
        self._all_bytes -= announced
        if not self._requests[address]:
            del self._requests[address], self._bytes[address]

    async def _body(self, protocol: Any, announced: int) -> bytes:
        limits = self._patience
        loop = asyncio.get_running_loop()
        began, parts, here = loop.time(), [], 0
        try:
            async with asyncio.timeout(limits.quiet_seconds) as patience:  # one timer for all pieces: they are small
                async for chunk in protocol:
                    parts.append(chunk)
                    here += len(chunk)
                    now = loop.time()
                    late = now - began - limits.grace_seconds
                    if late > 0 and here < late * limits.least_rate:
                        raise _stalled(f"it came at less than {limits.least_rate:g} bytes a second")
                    if here >= announced:
                        break
                    patience.reschedule(now + limits.quiet_seconds)
        except TimeoutError:
            raise _stalled(f"nothing came for {limits.quiet_seconds:g} s") from None
        if here != announced:
            raise _Turned(400, "malformed", "The body ended before its announced length.")
        return b"".join(parts)

    def _answer(self, environ: dict[str, Any]) -> Answer:
        begun: list[Any] = []

        def start(status: str, headers: list[tuple[str, str]], error: Any = None) -> Callable[[bytes], object]:
            begun[:] = [int(status.split(" ", 1)[0]), headers]
            return written.append

        written: list[bytes] = []
        given = self._app(environ, start)
        try:
            written.extend(given)
        finally:
            if hasattr(given, "close"):
                given.close()
        status, headers = begun
        return status, [(name.lower(), value) for name, value in headers], b"".join(written)


_PAGE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Not taken</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<h1>Not taken</h1><p>{}</p><p>Go back and try again: what was sent is not kept here, and nothing was changed.</p></html>
"""


def _stalled(why: str) -> _Turned:
    return _Turned(408, "too_slow", f"The request was not taken: {why}. Nothing of it was kept here; send it again.")


def _told(turned: _Turned, path: str) -> Answer:
    """Return why a request was turned away: to a program as JSON, to a person on a page, which asks no thread."""
    _log.info("request turned away: %s", turned.problem.code)
    if is_api(path):
        kind, body = "application/json", orjson.dumps({"error": turned.problem.as_dict()})
    else:
        kind, body = "text/html; charset=utf-8", _PAGE.format(escape(turned.problem.message)).encode()
    headers = [
        ("content-type", kind),
        ("content-security-policy", "default-src 'none'"),
        ("content-length", str(len(body))),
        ("cache-control", "no-store"),
        ("x-content-type-options", "nosniff"),
    ]
    return turned.status, headers + ([("retry-after", "5")] if turned.status == 503 else []), body


def _pool_of(environ: dict[str, Any]) -> str:
    return lane_of(environ["PATH_INFO"], environ["REQUEST_METHOD"])


def lane_of(path: str, method: str) -> str:
    """Return which threads answer a request: "push", "photo", "page" or "sign_in"."""
    if path in ("/sign-in", "/own-secret", "/api/v1/sign-in", "/api/v1/signature", "/api/v1/secret"):
        return "sign_in" if method == "POST" else "page"
    if path == "/api/v1/plan" or path.startswith("/api/v1/tables"):
        return "machine"  # long, and one at a time: neither a phone nor a page waits for it
    if path.startswith("/api/v1/photos/"):
        return "photo"
    return "push" if path.startswith("/api/") else "page"


def environ_of(scope: Any, body: bytes) -> dict[str, Any]:
    """Return the WSGI environment (PEP 3333) of a request whose whole body is here."""
    host, _, port = scope.server.rpartition(":")
    client, _, client_port = scope.client.rpartition(":")
    environ: dict[str, Any] = {
        "REQUEST_METHOD": scope.method,
        "SCRIPT_NAME": "",
        "PATH_INFO": unquote_to_bytes(scope.path).decode("latin-1"),
        "QUERY_STRING": scope.query_string,
        "SERVER_NAME": host,
        "SERVER_PORT": port,
        "SERVER_PROTOCOL": f"HTTP/{scope.http_version}",
        "REMOTE_ADDR": client,
        "REMOTE_PORT": client_port,
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": scope.scheme,
        "wsgi.input": io.BytesIO(body),
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": False,
        "wsgi.run_once": False,
        "wsgi.input_terminated": True,
    }
    for name, value in scope.headers.items():
        key = name.upper().replace("-", "_")
        if key not in ("CONTENT_TYPE", "CONTENT_LENGTH"):
            key = f"HTTP_{key}"
        glue = "; " if key == "HTTP_COOKIE" else ","
        environ[key] = f"{environ[key]}{glue}{value}" if key in environ else value
    if scope.authority and "HTTP_HOST" not in environ:
        environ["HTTP_HOST"] = scope.authority
    return environ
