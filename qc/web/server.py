"""Serving: one process that owns the record, with threads, TLS and an orderly stop.

The server program has a parent that holds the signals and one worker; the worker alone opens the record, so there is
one writer. If the parent dies, the worker stops too; if the worker fails, the parent ends with it and starts no other.
"""

import contextlib
import logging
import multiprocessing
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Callable, Sequence
from functools import partial
from multiprocessing import parent_process
from multiprocessing.synchronize import Event
from multiprocessing.util import Finalize
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from qc.store.intake.writer import StorageFailed, StorageFull, WriterClosed
from qc.web.own_names import LOOPBACK_NAMES

if TYPE_CHECKING:
    from datetime import datetime

    from qc.store.intake.journal import Journal

# Two hashes at once are all that a sign-in storm may take. More pages at once end no sooner, and keep the interpreter
# from the writer.
THREADS = {"push": 8, "photo": 4, "page": 3, "sign_in": 2, "machine": 1}
SWITCH_SECONDS = 0.0005  # between threads that want the interpreter
CONNECTIONS = 2048  # held at once; a stalled one costs memory for HEAD_SECONDS and no thread
HEAD_SECONDS = 15  # until a request's head is whole, and between two requests of one connection
LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
WATCH_SECONDS = 5
AWAY_SECONDS = 120  # without a record to write to; then the process ends
LISTEN_TRIES, LISTEN_SECONDS = 200, 0.05  # for the server program to listen once its application is there
STOP_SECONDS = 4  # for requests in flight; what is not answered by then was not acknowledged and is sent again


_log = logging.getLogger("qc.web")


class CannotServe(Exception):
    """The server cannot begin; the message says why and what would do."""


def serve(
    folder: Path,
    host: str = "127.0.0.1",
    port: int = 8443,
    cert: Path | None = None,
    key: Path | None = None,
    names: Sequence[str] = (),
    ready: Callable[[str], None] = print,
    collectors: Sequence[str] = (),
) -> None:
    """Serve a data folder until SIGTERM or Ctrl-C; returns once what is in flight is answered, or after STOP_SECONDS.

    names: further host names under which it is asked for, beside the certificate's. ready is called with the address
    once the record is open. collectors: addresses besides this machine's that may ask for /metrics. Raises CannotServe.
    """
    from granian import Granian
    from granian.constants import HTTPModes, Interfaces
    from granian.http import HTTP1Settings
    from granian.log import LogLevels

    known_as = hosts_for(host, cert, key, names)
    _demand_free(host, port)
    server = Granian(
        "qc.web.server",
        host,
        port,
        interface=Interfaces.RSGI,
        workers=1,
        backlog=CONNECTIONS,
        backpressure=CONNECTIONS,
        # Under "auto" a connection that sends nothing, or HTTP/2's first words and no more, is held for ever.
        http=HTTPModes.http1,
        http1_settings=HTTP1Settings(header_read_timeout=HEAD_SECONDS * 1000),
        websockets=False,
        ssl_cert=cert,
        ssl_key=key,
        log_level=LogLevels.critical,
        respawn_failed_workers=False,
        workers_kill_timeout=STOP_SECONDS,
    )
    scheme = "https" if cert else "http"
    address = f"{scheme}://{known_as[0] if cert else host}:{port}"
    server.main_loop_interrupt = _Patient()
    opened = multiprocessing.Event()
    threading.Thread(target=_tell, args=(opened, ready, address, host, port), name="ready", daemon=True).start()
    server.serve(target_loader=partial(_load, folder, known_as, opened.set, tuple(collectors), cert), wrap_loader=False)


def hosts_for(host: str, cert: Path | None, key: Path | None, names: Sequence[str]) -> list[str]:
    """Return the names that requests may ask for. Raises CannotServe for plain HTTP beyond this machine."""
    if (cert is None) != (key is None):
        raise CannotServe("give both --cert and --key, or neither")
    if cert is None:
        if host not in LOOPBACK:
            raise CannotServe(
                f"plain HTTP on {host} is refused: PINs could be read on the network, and without HTTPS phones have "
                "no offline app. Make a certificate with: qc certificate FOLDER NAME, then give --cert and --key"
            )
        return [*LOOPBACK_NAMES, *names]
    from qc.web.certificate import days_left, key_fault, names_in

    for path in (cert, key):
        if path is not None and not path.is_file():
            raise CannotServe(f"{path} is not there; make one with: qc certificate FOLDER NAME")
    try:
        known = names_in(cert)
        left = days_left(cert)
        misfit = key_fault(cert, key) if key is not None else ""
    except (OSError, ValueError) as wrong:
        raise CannotServe(f"{cert} cannot be used: {wrong}") from wrong
    if left < 0:
        raise CannotServe(
            f"{cert} ended {-left} days ago; phones refuse it. Make another with: qc certificate FOLDER NAME"
        )
    if misfit:
        raise CannotServe(misfit)
    return list(dict.fromkeys([*known, *names, *(LOOPBACK_NAMES if host in LOOPBACK else ())]))


def _demand_free(host: str, port: int) -> None:
    # The server program lets several processes share a port; a second server must be told instead.
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        if sys.platform != "win32":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise CannotServe(
                f"port {port} on {host} cannot be taken ({error.strerror}); choose another with --port"
            ) from error


def _tell(opened: Event, ready: Callable[[str], None], address: str, host: str, port: int) -> None:
    """Tell the address once the record is open and a connection is taken: the worker listens a moment after."""
    opened.wait()
    own = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)
    for _ in range(LISTEN_TRIES):
        try:
            socket.create_connection((own, port), timeout=1).close()
        except OSError:
            time.sleep(LISTEN_SECONDS)
        else:
            break
    ready(address)


class _Patient(threading.Event):
    """An event whose wait lets signals in: on Windows an endless wait is not broken by Ctrl-C."""

    def wait(self, timeout: float | None = None) -> bool:
        if timeout is not None:
            return super().wait(timeout)
        while not super().wait(0.5):
            pass
        return True


def _load(
    folder: Path,
    hosts: list[str],
    ready: Callable[[], None],
    collectors: Sequence[str] = (),
    cert: Path | None = None,
) -> Any:
    """Open the record in the worker and return what answers; the record is closed when the worker ends."""
    from qc.store.intake.journal import wall_ms
    from qc.store.record.connection import is_read_only, no_room_beside
    from qc.web.app import create_app
    from qc.web.drop_folder import DropFolder
    from qc.web.front import Front
    from qc.web.house import open_house
    from qc.web.log_lines import log_lines
    from qc.web.mailing.letters import mailing
    from qc.web.metrics import metrics_of
    from qc.web.own_backups import OwnBackups, copying
    from qc.web.warm import leave_out_of_collections, warm

    # The writer lets the interpreter go at each statement; with the usual 5 ms every page being drawn could keep it so
    # long each time, hundreds of times a push.
    sys.setswitchinterval(SWITCH_SECONDS)
    os.umask(0o077)  # the record holds names and what was found: it is the server account's alone
    log_lines()
    _end_with_parent()
    try:
        house = open_house(folder)
    except Exception as error:
        why = f"{error}"
        if isinstance(error, PermissionError) or is_read_only(error):
            what = getattr(error, "filename", None) or folder
            why = f"{what} is kept from this account ({error}); give the folder and all in it to the one that serves"
        why = no_room_beside(error, folder) or why
        print(f"The record in {folder} cannot be opened: {why}", file=sys.stderr, flush=True)
        sys.exit(1)
    Finalize(None, house.close, exitpriority=10)
    threading.Thread(target=_watch, args=(house.journal,), name="writer-watch", daemon=True).start()
    if house.plant.backup is not None:
        stopping = threading.Event()
        Finalize(None, stopping.set, exitpriority=20)
        zone = ZoneInfo(house.plant.time_zone)
        OwnBackups(folder, house.plant.backup, zone, wall_ms, copying(folder)).start(stopping)
    if house.plant.drop is not None:
        Finalize(None, DropFolder(house, house.plant.drop).start(), exitpriority=20)
    if house.plant.mail is not None:
        ending = threading.Event()
        Finalize(None, ending.set, exitpriority=20)
        mailing(house, house.plant.mail).start(ending)
    app = create_app(house, hosts, collectors=collectors, certificate_ends=_ends_at(cert))
    warm(app)
    front = Front(app.wsgi_app, THREADS)
    metrics_of(app).queued = front.in_hand
    leave_out_of_collections()
    ready()
    return front


def _ends_at(cert: Path | None) -> "datetime | None":
    from qc.web.certificate import ends_at

    return None if cert is None else ends_at(cert)


def _watch(journal: "Journal") -> None:
    """End this process where the record stays closed, so that what keeps the service starts it again."""
    while True:
        time.sleep(WATCH_SECONDS)
        if not journal.away_seconds():
            continue
        with contextlib.suppress(StorageFailed, StorageFull, WriterClosed):
            journal.write(lambda conn: None)  # nobody may be sending, and a request is what opens it again
        if journal.away_seconds() > AWAY_SECONDS:
            _log.critical("the record could not be opened for %d s: the server ends", journal.away_seconds())
            os.kill(os.getpid(), signal.SIGTERM)
            return


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()
