"""What the fault rig plays with: the served folder, begun, killed and paused; and the history of what happened."""

import contextlib
import http.client
import json
import os
import signal
import struct
import subprocess
import sys
import threading
import time
from contextlib import closing
from pathlib import Path

from qc.assets import folder as asset_folder
from qc.domain.facts.people import Person
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.folder.plant_folder import make_plant_folder
from qc.store.intake.journal import Journal
from qc.store.people.persons import People
from qc.store.record.connection import open_reader
from tests.kept_templates import serving

QC = [sys.executable, "-c", "from qc.cli import main; main()"]
# The same program, which reads the clock with what a file says added: the clock of this machine alone is left as it is.
JUMPING = "from tests.faults.jumping import follow; follow(sys.argv.pop()); "
PIN = "284915"
BEGIN_SECONDS = 60.0


class Broken(Exception):
    """An invariant did not hold after a round."""


class History:
    """The events, one JSON line each, with seconds since the rig began."""

    def __init__(self, path: Path) -> None:
        self.path, self._begun, self._lock = path, time.monotonic(), threading.Lock()
        self.refused = 0  # pushes that were told that nothing can be kept now
        path.write_text("", encoding="utf-8")

    def note(self, what: str, **more) -> None:
        line = json.dumps({"at": round(time.monotonic() - self._begun, 4), "what": what, **more})
        with self._lock, self.path.open("a", encoding="utf-8") as file:
            file.write(line + "\n")
            self.refused += more.get("status") in (503, 507)


def make_folder(folder: Path) -> None:
    """Make a data folder with the invented plant, an inspector and a planner."""
    tables = tables_of(asset_folder("demo_data") / "plant")
    make_plant_folder(folder, tables)
    record = folder / "record.sqlite"
    with Journal(folder, plant_from_tables(tables), tables) as journal, closing(open_reader(record)) as read:
        people = People(folder / "keys", journal, lambda: read)
        people.add(Person("IV1", "Ivo", "inspector"), PIN)


class Server:
    """The served folder: begun, killed, paused."""

    def __init__(self, folder: Path, port: int, history: History) -> None:
        self.folder, self.port, self.history = folder, port, history
        self.process: subprocess.Popen | None = None
        self._clock = folder.parent / f"{folder.name}.clock"
        self._words = history.path.with_suffix(".words")  # not beside the folder: its disk may be full
        self.jump(0)

    def jump(self, seconds: int) -> None:
        """Let the server's clock stand so many seconds ahead of this machine's, from now on."""
        with self._clock.open("r+b" if self._clock.exists() else "wb") as file:
            file.write(struct.pack("<q", seconds * 1_000_000_000))
        self.history.note("clock", ahead=seconds)

    def begin(self) -> None:
        """Serve the folder; return once it answers. Raises Broken."""
        command = [*serving(JUMPING), "serve", str(self.folder), "--port", str(self.port), str(self._clock)]
        with self._words.open("w") as words:
            self.process = subprocess.Popen(command, start_new_session=True, stdout=subprocess.DEVNULL, stderr=words)
        until = time.monotonic() + BEGIN_SECONDS
        while time.monotonic() < until:
            if self.process.poll() is not None:
                told = self._words.read_text()[-600:]
                raise Broken(f"the server ended with {self.process.returncode} at its beginning: {told}")
            with contextlib.suppress(OSError, http.client.HTTPException):
                if self.ask("GET", "/api/v1/openapi.json")[0] == 200:
                    self.history.note("served", pid=self.process.pid)
                    return
            time.sleep(0.05)
        raise Broken(f"the server did not begin within {BEGIN_SECONDS:g} s")

    def comes_back(self) -> None:
        """Return once the server can write again, of itself. Raises Broken."""
        until = time.monotonic() + BEGIN_SECONDS
        while time.monotonic() < until:
            with contextlib.suppress(OSError, http.client.HTTPException):
                if self.ask("GET", "/health")[0] == 200:
                    return
            time.sleep(0.1)
        raise Broken(f"the server could not write {BEGIN_SECONDS:g} s after a fault had gone")

    def worker(self) -> int:
        """Return the number of the process that holds the record."""
        return int((self.folder / "writer.lock").read_text())

    def workers(self) -> list[int]:
        """Return the numbers of this server's own processes, its children first."""
        assert self.process is not None
        asked = subprocess.run(["ps", "-o", "pid=", "--ppid", str(self.process.pid)], capture_output=True, text=True)
        return [*(int(word) for word in asked.stdout.split()), self.process.pid]

    def signal(self, which: signal.Signals) -> None:
        for pid in self.workers():
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, which)
        self.history.note("signalled", signal=which.name)

    def kill(self) -> None:
        self.signal(signal.SIGKILL)
        assert self.process is not None
        self.process.wait(20)

    def stop(self) -> None:
        self.signal(signal.SIGTERM)
        assert self.process is not None
        self.process.wait(40)

    def ask(self, method, path, body=None, headers=None, cut=False, timeout=20.0):
        """Send a request and return status and body; cut: the connection ends before the answer is read."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            connection.request(method, path, body, headers or {})
            if cut:
                return 0, b""
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()
