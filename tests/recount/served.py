"""A played plant and its pages as each person gets them; the only module here that touches the project's own code."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, time, timedelta
from html import unescape
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

from qc.demo.folder import make_demo
from qc.web.app import create_app
from qc.web.house import House, open_house
from tests.recount.plant import PlantTables, monday_of
from tests.recount.presented import Counted
from tests.recount.printed import Chart, Page, printed
from tests.recount.record import Record

FORM = {"Sec-Fetch-Site": "same-origin", "Origin": "http://localhost"}
SECRETS = {"QM1": "seven blue tyres"}
PIN = "284915"
RECORD = "record.sqlite"


class Served:
    """One played plant: its tables and record as bytes, and a client for each person who reads pages."""

    def __init__(self, folder: Path, house: House, now_ms: int) -> None:
        self.folder, self.now_ms = folder, now_ms
        self._house, self._app = house, create_app(house)
        self._clients: dict[str, FlaskClient] = {}

    def recounted(self, left_out: str = "") -> Counted:
        """Return the record counted from its bytes; left_out plants the loss of one defect."""
        return Counted(Record(self.folder / RECORD, PlantTables(self.folder / "plant"), left_out))

    def page(self, person: str, address: str) -> Page:
        """Return what a page prints to a person. Raises AssertionError for any answer but 200."""
        answer: Any = self._client(person).get(address)
        assert answer.status_code == 200, f"{address} answers {answer.status_code}"
        page = printed(address, answer)
        if 'data-figures="' in answer.text:  # the charts' data at an address of its own
            figures: Any = self._client(person).get(unescape(answer.text.split('data-figures="')[1].split('"')[0]))
            assert figures.status_code == 200, f"the figures of {address} answer {figures.status_code}"
            page.charts += [Chart(name, data) for name, data in figures.get_json().items()]
        return page

    def _client(self, person: str) -> FlaskClient:
        if person not in self._clients:
            secret = SECRETS.get(person, PIN)
            self._house.people.change_secret(person, secret)
            client = self._app.test_client()
            token = client.get("/sign-in").text.split('name="csrf_token" value="')[1].split('"')[0]
            form = {"csrf_token": token, "person": person, "secret": secret, "next": "/"}
            assert client.post("/sign-in", data=form, headers=FORM).status_code == 303
            self._clients[person] = client
        return self._clients[person]


@contextmanager
def served(folder: Path, last_week: str) -> Iterator[Served]:
    """Serve a played folder as of ten o'clock on the Monday after its last week, a holiday or not."""
    tables = PlantTables(folder / "plant")
    day = monday_of(last_week) + timedelta(weeks=1)
    now_ms = int(datetime.combine(day, time(10), tables.zone).timestamp() * 1000)
    house = open_house(folder, lambda: now_ms)
    try:
        yield Served(folder, house, now_ms)
    finally:
        house.close()


def play(folder: Path, seed: int, weeks: int) -> Path:
    """Play the invented plant into a new folder."""
    make_demo(folder, seed, weeks, lambda _: None)
    return folder
