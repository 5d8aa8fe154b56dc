"""A real server over HTTPS for the browser tests: the invented plant, its people, a few units, one data folder each."""

import io
import json
import multiprocessing
import os
import secrets
import shutil
import ssl
import subprocess
import sys
import time
import urllib.request
from collections.abc import Sequence
from dataclasses import dataclass, field
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from qc.assets import folder as bundled
from qc.domain.facts.people import Person
from qc.domain.plant.chassis import full_number, shop_number
from qc.domain.tables.plant_tables import tables_of
from qc.store.folder.plant_folder import make_plant_folder
from qc.store.record.verdicts import PushBatch
from qc.web.certificate import Files
from qc.web.house import House, open_house
from qc.web.warm import LIBRARIES
from tests.kept_templates import keep, templates_folder
from tests.ports import free_port

PIN = "402917"
PASSPHRASE = "four lamps over a wet bench"
PEOPLE = (
    Person("I1", "Inspector One", "inspector"),
    Person("I2", "Inspector Two", "inspector"),
    Person("TB1", "Tester One", "tester"),
    Person("RW1", "Repairer One", "repairer"),
    Person("PL1", "Planner One", "planner"),
    Person("QM1", "Manager One", "quality_manager"),
)
UNITS = (("T36", 30001), ("M50", 30002), ("H62", 30003), ("T36", 30014))
START_S = 90  # on a slow machine whose cores others use too
PASSED = ("S01", "S07", "S12", "T01")


def fill(
    folder: Path,
    tables: Path | None = None,
    units: Sequence[tuple[str, int]] = UNITS,
    passed: Sequence[str] = PASSED,
) -> None:
    """Make a data folder with a plant, the demo's or of other tables, the cast and units that passed some stations."""
    make_plant_folder(folder, tables_of(tables or bundled("demo_data") / "plant"))
    house = open_house(folder)
    try:
        for person in PEOPLE:
            house.people.add(person, PASSPHRASE if person.role == "quality_manager" else PIN)
        for model, sequence in units:
            plan(house, model, sequence, passed)
    finally:
        house.close()


def plan(house: House, model: str, sequence: int, passed: Sequence[str] = PASSED, **more: object) -> str:
    """Plan a unit, let it pass the line, and return its chassis number."""
    planner = next(person for person in PEOPLE if person.role == "planner")
    chassis = full_number(house.plant, model, sequence)
    body = {
        "model": model,
        "shop_number": shop_number(house.plant, model, sequence),
        "sequence": sequence,
        "planned_day": "2026-03-02",
        "options": ["awning"],
        **more,
    }
    acts = [("unit_planned", body), *(("station_passed", {"station": station}) for station in passed)]
    record(house, planner, chassis, acts)
    return chassis


def record(house: House, person: Person, chassis: str, acts: Sequence[tuple[str, dict[str, Any]]]) -> list[str]:
    """Record operations of a person by the journal's own door, as one installation; all must come into effect."""
    epoch, now = f"filled-{secrets.token_hex(6)}", house.clock()
    envelopes = [
        {
            "id": uuid7(now),
            "device": "DESK",
            "install_epoch": epoch,
            "seq": seq,
            "kind": kind,
            "schema": 1,
            "unit": chassis,
            "body": body,
            "author": person.code,
            "deps": [],
            "seen_through": 0,
            "wall_ms": now,
            "tz_min": 0,
            "session": "filled",
            "mono_ms": 0,
        }
        for seq, (kind, body) in enumerate(acts, start=1)
    ]
    operations = [(json.dumps(envelope).encode(), envelope) for envelope in envelopes]
    verdicts = house.journal.push(PushBatch("DESK", epoch, now, operations, None, now)).verdicts
    assert {verdict.verdict for verdict in verdicts} == {"applied"}, verdicts
    return [envelope["id"] for envelope in envelopes]


def uuid7(ms: int) -> str:
    value = (ms << 80 | secrets.randbits(80)) & ~(0xF << 76) & ~(0x3 << 62) | 7 << 76 | 2 << 62
    digits = f"{value:032x}"
    return "-".join((digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:]))


@dataclass(frozen=True)
class OpenedOnce:
    """A data folder that knows one phone, the phone's profile, and the port at which the two met."""

    folder: Path
    profile: Path
    port: int

    def again(self, place: Path, certificate: Files) -> "PlantServer":
        """Return a server, not yet started, of copies made in place; what a phone keeps belongs to its port."""
        served = PlantServer(copy_of(self.folder, place / "data"), certificate, self.port)
        served.knows = copy_of(self.profile, place / "phone-opened-once")
        return served


# A server of the installed program is forked from a process that has imported it: to import it anew for each test is
# most of what a server costs.
FORKING = multiprocessing.get_context("forkserver")
FORKING.set_forkserver_preload(
    ["qc.cli", "granian", "qc.web.server", "qc.web.app", "qc.web.front", "qc.web.own_backups", *LIBRARIES]
)


def run_command(arguments: list[str], log: Path, templates: str) -> None:
    """Be the command `qc` with these arguments, beside the log, to which goes what it says."""
    from qc.cli import main

    keep(templates)
    with log.open("ab") as out:
        os.dup2(out.fileno(), 1)
        os.dup2(out.fileno(), 2)
    assert isinstance(sys.stdout, io.TextIOWrapper)
    sys.stdout.reconfigure(line_buffering=True)
    os.chdir(log.parent)
    multiprocessing.set_start_method("fork", force=True)  # what a command has here; a forked process keeps its maker's
    main(arguments, prog_name="qc")


class OtherProgram:
    """The command `qc` of another version of the program, which starts as any program does."""

    def __init__(self, arguments: list[str], log: Path, program: Path) -> None:
        with log.open("ab") as out:
            self._running = subprocess.Popen(
                [sys.executable, "-c", "from qc.cli import main; main()", *arguments],
                stdout=out,
                stderr=out,
                cwd=program,  # python looks there first
                env={**os.environ, "PYTHONUNBUFFERED": "1", "PYTHONPATH": str(program)},
            )
        self.terminate, self.kill = self._running.terminate, self._running.kill

    def is_alive(self) -> bool:
        return self._running.poll() is None

    def join(self, timeout: float) -> None:
        self._running.wait(timeout)


@dataclass
class PlantServer:
    """One served data folder. The port stays the same over a stop and a start: what phones keep belongs to it."""

    folder: Path
    certificate: Files
    port: int = field(default_factory=free_port)
    process: BaseProcess | OtherProgram | None = None
    program: Path | None = None  # a folder with another version of the program, None for the installed one
    shows: str = "PC7"  # how the shop numbers of its units begin
    knows: Path | None = None  # the profile of a phone that opened the app of this folder at this port before

    @property
    def address(self) -> str:
        return f"https://localhost:{self.port}"

    @property
    def log(self) -> Path:
        return self.folder / "server.log"

    def start(self) -> None:
        arguments = ["serve", str(self.folder), "--port", str(self.port)]
        arguments += ["--cert", str(self.certificate.leaf), "--key", str(self.certificate.leaf_key)]
        if self.program is not None:
            self.process = OtherProgram(arguments, self.log, self.program)
        else:
            self.process = FORKING.Process(target=run_command, args=(arguments, self.log, templates_folder()))
            self.process.start()
        try:
            self._wait(self.process)
        except BaseException:
            self.stop(at_once=True)
            raise

    def _wait(self, process: BaseProcess | OtherProgram) -> None:
        trust = ssl.create_default_context(cafile=str(self.certificate.root))
        deadline = time.monotonic() + START_S
        while time.monotonic() < deadline:
            assert process.is_alive(), self.log.read_text()
            try:
                urllib.request.urlopen(f"{self.address}/api/v1/openapi.json", context=trust, timeout=5).close()
            except OSError:
                time.sleep(0.1)
            else:
                return
        raise AssertionError("the server did not start: " + self.log.read_text())

    def stop(self, *, at_once: bool = False) -> None:
        """Stop in order, or at_once as a power cut does."""
        if self.process is None:
            return
        if at_once:
            self.process.kill()
        else:
            self.process.terminate()
        self.process.join(40)
        assert not self.process.is_alive(), "the server did not stop: " + self.log.read_text()
        self.process = None


def another_version(folder: Path) -> Path:
    """Return a folder with a copy of the program whose app differs by a comment in a style."""
    import qc

    package = Path(qc.__file__).parent
    shutil.copytree(package, folder / "qc", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("static", "pwa", "demo_data"):
        files = bundled(name)
        if package not in files.parents:
            shutil.copytree(files, folder / name)
    (folder / "pyproject.toml").touch()
    (tokens,) = folder.rglob("pwa/css/tokens.css")
    tokens.write_text(tokens.read_text() + "\n/* the next version */\n")
    return folder


def copy_of(template: Path, folder: Path) -> Path:
    """Return a fresh data folder with what the template holds."""
    shutil.copytree(template, folder)
    return folder
