"""A plant's server without a network, its cast, and a phone that speaks to it; every name and value is invented."""

import hashlib
import io
import json
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket

from qc.assets import folder
from qc.domain.facts.people import Person
from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.folder.photos import PhotoStore
from qc.store.intake.journal import Journal
from qc.store.people import pins
from qc.store.record.connection import RECORD
from qc.web.app import create_app
from qc.web.assets_site import the_site
from qc.web.desk import uuid7
from qc.web.house import House
from tests.authors import Author, runs_of
from tests.empty_record import laid_in
from tests.kept_folder import Files, lay, taken_up
from tests.web.kept_rules import KeptRule

NOW = 1_770_000_000_000
UNIT = "0PC7T3600TW030001"
OWN_PAGE = {"Sec-Fetch-Site": "same-origin", "Origin": "http://localhost"}  # what a browser says of our own form
PIN, PHRASE = "284915", "seven blue tyres"

# One person of each role; the lead answers for one station.
CAST = {
    "inspector": Person("IV1", "Ivo", "inspector"),
    "tester": Person("TE1", "Tess", "tester"),
    "repairer": Person("RO1", "Rob", "repairer"),
    "station_lead": Person("L-S05", "Leo", "station_lead", ("S05",)),
    "quality_manager": Person("MI1", "Mia", "quality_manager"),
    "dispatch": Person("DI1", "Dina", "dispatch"),
    "planner": Person("PL1", "Pia", "planner"),
    "administrator": Person("AD1", "Ada", "administrator"),
}


@cache
def invented_plant() -> tuple[dict[str, str], Plant]:
    tables = tables_of(folder("demo_data") / "plant")
    return tables, plant_from_tables(tables)


site = cache(the_site)


@contextmanager
def cheap_hashes() -> Iterator[None]:
    """Hash PINs cheaply for a while, which the tests of the hashing itself must not.

    A fixture of a session leaves it again once its people are added: a hash is verified at the cost it was made at.
    """
    with pytest.MonkeyPatch.context() as patched:
        cheap = pins.PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
        patched.setattr(pins, "_PIN", cheap)
        patched.setattr(pins, "_PASSPHRASE", cheap)
        yield


def secret_of(role: str) -> str:
    return PHRASE if role in ("quality_manager", "administrator") else PIN


class Compiled(BytecodeCache):
    """Templates compiled once for all servers of a process; each asks anew whether the source is still the same."""

    def __init__(self) -> None:
        self.kept: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self.kept:
            bucket.bytecode_from_string(self.kept[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self.kept[bucket.key] = bucket.bytecode_to_string()


COMPILED = Compiled()
Flask.url_rule_class = KeptRule


def house_in(folder: Path, tables: dict[str, str], plant: Plant, clock: Callable[[], int]) -> House:
    journal = Journal(laid_in(folder), plant, tables, clock)
    return House(folder, journal, plant, PhotoStore(folder, journal.write, clock), clock, plant.demo)


def add_cast(house: House) -> None:
    stations = house.plant.stations
    for role, person in CAST.items():
        led = [station if station in stations else next(iter(stations)) for station in person.stations]
        house.people.add(replace(person, stations=tuple(led)), secret_of(role))


@cache
def _with_cast(_cost: int) -> Files:
    """Return the folder of the demo's plant with its cast and no more; their PINs are hashed at the present cost."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "plant"
        house = house_in(folder, *invented_plant(), lambda: NOW)
        add_cast(house)
        house.close()
        return taken_up(folder)


class PlantServer:
    """An open house with an application and a clock that the test turns."""

    def __init__(self, data: Path, made: tuple[dict[str, str], Plant] | None = None):
        """made: the plant's tables and the plant that they tell, the demo's where none is given.

        A folder that has a record is opened as it is, its people included. Servers of the demo's plant have the keys
        of one another, as the folder that each begins with is made once; a test that stands for an earlier program
        from the first row on gives ``invented_plant()``, with which all of it is made.
        """
        self.now = NOW
        if made is None and not (data / RECORD).exists():
            lay(_with_cast(pins._PIN.memory_cost), data)
        has_people = (data / RECORD).exists()
        tables, plant = made or invented_plant()
        self.house = house_in(data, tables, plant, lambda: self.now)
        if not has_people:
            add_cast(self.house)
        self.secrets: dict[str, str] = {}  # of the phones that are enrolled
        self.app = create_app(self.house, site=site())
        self.app.jinja_env.bytecode_cache = COMPILED

    def enrolled(self, device: str | None = None) -> str:
        """Return the code of a phone that is enrolled: one more, or this one."""
        if device not in self.secrets:
            offer = self.house.enrolment.offer(device=device or "")
            given = self.house.enrolment.take(offer.letters, device, "")
            self.secrets[given.device], device = given.secret, given.device
        assert device is not None
        return device

    def client(self) -> FlaskClient:
        return self.app.test_client()

    def phone(self, role: str = "inspector", device: str | None = None) -> "Phone":
        return Phone(self, role, device)

    def page(self, role: str | None = None) -> "Page":
        return Page(self, role)


def written_as(value) -> bytes:
    """Return a value as phones write it; each operation of a frame is written as it is alone."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False).encode("utf-8", "surrogatepass")


class Phone:
    """A phone with one person signed in. It numbers its operations as the app does."""

    def __init__(self, server: PlantServer, role: str, device: str | None = None):
        self.server, self.role, self.client = server, role, server.client()
        self.author = Author()
        device = server.enrolled(device)
        asked = {
            "device_secret": server.secrets[device],
            "public_key": self.author.public,
            "person": CAST[role].code,
            "pin": secret_of(role),
            "device": device,
            "install_epoch": "first",
        }
        answer = self.client.post("/api/v1/sign-in", json=asked)
        assert answer.status_code == 200, answer.json
        self.signed = answer.json
        self.author.certificate = self.signed["certificate"]
        self.signed_for: dict[str, str] = {}  # id of a signature → its certificate
        self.headers = {"Authorization": f"Bearer {answer.json['token']}"}
        self.seq = 0

    def operation(self, kind: str, unit: str | None, body: dict, **changes) -> dict:
        self.seq += 1
        return {
            "id": uuid7(self.server.now),
            "device": self.signed["device"],
            "install_epoch": "first",
            "seq": self.seq,
            "kind": kind,
            "schema": 1,
            "unit": unit,
            "body": body,
            "author": CAST[self.role].code,
            "deps": [],
            "seen_through": 0,
            "wall_ms": self.server.now,
            "tz_min": 60,
            "session": self.signed["session"],
            "mono_ms": 5,
            **changes,
        }

    def frame(self, operations: list[dict], **changes) -> dict:
        frame = {
            "protocol": 2,
            "device": self.signed["device"],
            "install_epoch": "first",
            "sent_ms": self.server.now,
            "server_epoch": None,
            "chain": None,
            "runs": self.runs(operations),
        }
        return {**frame, **changes, "operations": operations}

    def runs(self, operations: list, written=None) -> list[dict]:
        """Return the runs of operations, every one signed by this phone's author; a signature with its certificate."""
        raws = written or [written_as(one) for one in operations]
        ids = [one.get("id") if isinstance(one, dict) else None for one in operations]
        certificates = [self.signed_for.get(id_, "") if isinstance(id_, str) else "" for id_ in ids]
        signers = [(self.author, certificate) for certificate in certificates]
        return runs_of(self.signed["device"], "first", raws, signers)

    def sign_anew(self, operation: dict, pin: str | None = None):
        """Give the PIN once more for an operation that is a signature; return the server's answer."""
        asked = {"pin": pin or secret_of(self.role), "operation": operation["id"], "public_key": self.author.public}
        answer = self.post("signature", json.dumps(asked).encode())
        if answer.status_code == 200:
            self.signed_for[operation["id"]] = answer.json["certificate"]
        return answer

    def post(self, path: str, data: bytes, media_type: str = "application/json"):
        return self.client.post(f"/api/v1/{path}", data=data, content_type=media_type, headers=self.headers)

    def send(self, operations: list[dict], **changes):
        return self.post("push", written_as(self.frame(operations, **changes)))

    def push(self, *operations: dict) -> list[dict]:
        answer = self.send(list(operations))
        assert answer.status_code == 200, answer.json
        return answer.json["verdicts"]

    def get(self, path: str, **headers):
        return self.client.get(f"/api/v1/{path}", headers={**self.headers, **headers})

    def upload(self, photo: bytes, offset: int = 0, end: int | None = None, total: int | None = None):
        headers = {**self.headers, "Upload-Offset": str(offset), "Upload-Length": str(total or len(photo))}
        return self.client.patch(
            f"/api/v1/photos/{sha(photo)}",
            data=photo[offset:end],
            headers=headers,
            content_type="application/offset+octet-stream",
        )

    def plan(self, unit: str = UNIT) -> dict:
        """Return the operation that plans a unit; only the planner and the manager may author it."""
        figures = unit[-5:]
        body = {"model": "T36", "shop_number": f"PC71{figures}", "sequence": int(figures), "planned_day": "2026-02-02"}
        return self.operation("unit_planned", unit, body)


class Page:
    """A browser on the desk: it keeps its cookie and sends what a browser sends with a form of our own page."""

    def __init__(self, server: PlantServer, role: str | None):
        self.client = server.client()
        if role is not None:
            answer = self.sign_in(CAST[role].code, secret_of(role))
            assert answer.status_code == 303, answer.text

    def form_token(self, address: str = "/sign-in") -> str:
        text = self.client.get(address).text
        return text.split('name="csrf_token" value="')[1].split('"')[0]

    def sign_in(self, code: str, secret: str, onward: str = "/"):
        return self.post("/sign-in", person=code, secret=secret, next=onward)

    def post(self, address: str, headers: dict | None = None, **form):
        form.setdefault("csrf_token", self.form_token() if self.client.get("/sign-in").status_code == 200 else "")
        return self.client.post(address, data=form, headers=OWN_PAGE if headers is None else headers)

    def get(self, address: str):
        return self.client.get(address)


def sha(photo: bytes) -> str:
    return hashlib.sha256(photo).hexdigest()


def picture(width: int = 640, height: int = 480, kind: str = "JPEG") -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.linear_gradient("L").resize((width, height)).convert("RGB").save(out, kind)
    return out.getvalue()
