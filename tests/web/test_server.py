"""The served record: TLS, one writer, an orderly stop. Each test runs the real command in a process of its own.

The first of them compiles the templates, the others load what it compiled.
"""

import json
import os
import signal
import sqlite3
import ssl
import subprocess
import sys
import time
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from http.client import HTTPConnection, HTTPSConnection

import pytest
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    PrivateFormat,
    load_pem_private_key,
)

from qc.assets import folder
from qc.domain.facts.people import Person
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.folder.plant_folder import make_plant_folder
from qc.store.intake.journal import Journal, wall_ms
from qc.store.people.persons import People
from qc.web import certificate
from qc.web.desk import uuid7
from qc.web.server import CannotServe, hosts_for
from tests.authors import Author
from tests.enrolled import enrolled
from tests.kept_templates import serving
from tests.ports import free_port

PIN = "284915"
BEGIN_SECONDS = 90  # on a slow machine whose cores others use too
QC = [sys.executable, "-c", "from qc.cli import main; main()"]


@pytest.fixture(scope="module")
def data(tmp_path_factory):
    data = tmp_path_factory.mktemp("served") / "plant"
    tables = tables_of(folder("demo_data") / "plant")
    make_plant_folder(data, tables)
    with Journal(data, plant_from_tables(tables), tables) as journal:
        read = sqlite3.connect(data / "record.sqlite", check_same_thread=False)
        people = People(data / "keys", journal, lambda: read)
        people.add(Person("IV1", "Ivo", "inspector"), PIN)
        read.close()
    return data


@pytest.fixture(scope="module")
def tls(tmp_path_factory):
    return certificate.make(tmp_path_factory.mktemp("tls"), ("localhost",))


class Served:
    """The command in its own process; ended by its own number, whatever happens."""

    def __init__(self, data, tls=None, *more):
        self.port = free_port()
        self.tls, self.data = tls, data
        asked = [*serving(), "serve", str(data), "--port", str(self.port), *more]
        if tls:
            asked += ["--cert", str(tls.leaf), "--key", str(tls.leaf_key)]
        self.process = subprocess.Popen(asked, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    def __enter__(self):
        until = time.monotonic() + BEGIN_SECONDS
        while time.monotonic() < until:
            if self.process.poll() is not None:
                raise AssertionError(self.process.communicate())
            try:
                self.get("/api/v1/openapi.json")
            except (ConnectionError, OSError):
                time.sleep(0.1)
            else:
                return self
        self.__exit__()  # nobody else ends it, and it would keep the folder from the tests after this one
        raise AssertionError(f"it did not begin within {BEGIN_SECONDS} s")

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate()

    def connection(self):
        if self.tls:
            context = ssl.create_default_context(cafile=self.tls.root)
            return HTTPSConnection("localhost", self.port, context=context, timeout=20)
        return HTTPConnection("127.0.0.1", self.port, timeout=20)

    def ask(self, method, path, body=None, headers=None):
        connection = self.connection()
        try:
            connection.request(method, path, body, headers or {})
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()

    def get(self, path):
        return self.ask("GET", path)

    def sign_in(self):
        author, phone = Author(), enrolled(self.data)
        asked = {"person": "IV1", "pin": PIN, "device": phone.device, "install_epoch": "e", "public_key": author.public}
        asked["device_secret"] = phone.secret
        headers = {"Content-Type": "application/json"}
        status, body = self.ask("POST", "/api/v1/sign-in", json.dumps(asked), headers)
        assert status == 200, body
        signed = json.loads(body)
        author.certificate = signed["certificate"]
        return {**signed, "author": author}

    def stop(self, with_signal=signal.SIGTERM):
        self.process.send_signal(with_signal)
        out, err = self.process.communicate(timeout=40)
        return self.process.returncode, out, err


def push_of(signed, seq, count=1):
    now = wall_ms()

    def operation(number):
        return {
            "id": uuid7(now),
            "device": signed["device"],
            "install_epoch": "e",
            "seq": number,
            "kind": "station_passed",
            "schema": 1,
            "unit": "0PC7T3600TW030001",
            "body": {"station": "S05"},
            "author": "IV1",
            "deps": [],
            "seen_through": 0,
            "wall_ms": now,
            "tz_min": 0,
            "session": signed["session"],
            "mono_ms": 0,
        }

    operations = [operation(seq + place) for place in range(count)]
    runs = [signed["author"].run(signed["device"], "e", [json.dumps(one).encode() for one in operations])]
    frame = {"protocol": 2, "device": signed["device"], "install_epoch": "e", "sent_ms": now, "runs": runs}
    return json.dumps({**frame, "operations": operations})


def headers_of(signed):
    return {"Content-Type": "application/json", "Authorization": f"Bearer {signed['token']}"}


@pytest.mark.parametrize("stop", [signal.SIGTERM, signal.SIGINT])
def test_it_serves_over_tls_and_stops_with_every_request_answered(data, tls, stop):
    with Served(data, tls) as served:
        phones = [served.sign_in() for _ in range(4)]
        assert served.get("/sign-in")[0] == 200

        with ThreadPoolExecutor(4) as pool:
            flying = [
                pool.submit(served.ask, "POST", "/api/v1/push", push_of(signed, 1, 100), headers_of(signed))
                for signed in phones
            ]
            wait(flying, timeout=60, return_when=FIRST_COMPLETED)  # taken up, however late
            code, out, err = served.stop(stop)
            answers = []
            for one in flying:
                try:
                    answers.append(one.result())
                except OSError:  # not taken any more: then nothing was acknowledged either
                    continue

    assert (code, err) == (0, "")
    assert f"https://localhost:{served.port}/" in out
    assert "Stopped" in out
    acknowledged = {told["id"] for status, body in answers for told in json.loads(body)["verdicts"]}
    with sqlite3.connect(data / "record.sqlite") as record:
        stored = {id_ for (id_,) in record.execute("SELECT id FROM journal")}
    record.close()
    assert acknowledged
    assert acknowledged <= stored


def test_killed_outright_it_lost_nothing_that_it_acknowledged(data):
    with Served(data) as served:
        signed = served.sign_in()
        status, body = served.ask("POST", "/api/v1/push", push_of(signed, 1, 50), headers_of(signed))
        assert status == 200
        acknowledged = {told["id"] for told in json.loads(body)["verdicts"]}
        worker = int((data / "writer.lock").read_text())
        assert worker != served.process.pid
        os.kill(worker, signal.SIGKILL)
        assert served.process.wait(20) == 1

    with Served(data):
        pass
    with sqlite3.connect(data / "record.sqlite") as record:
        stored = {id_ for (id_,) in record.execute("SELECT id FROM journal")}
    record.close()
    assert acknowledged <= stored


def test_when_the_parent_dies_the_worker_gives_the_record_back(data):
    with Served(data) as served:
        served.process.kill()
        served.process.wait()

    with Served(data) as again:
        assert again.get("/api/v1/openapi.json")[0] == 200


def test_a_second_server_on_the_same_folder_is_refused(data):
    with Served(data), pytest.raises(AssertionError, match="in use by process"), Served(data):
        pass


def test_a_second_server_on_the_same_port_is_refused(data, tmp_path):
    with Served(data) as served:
        asked = [*QC, "serve", str(data), "--port", str(served.port)]
        answer = subprocess.run(asked, capture_output=True, text=True, check=False, timeout=30)

    assert answer.returncode == 1
    assert "choose another with --port" in answer.stderr


def test_a_hundred_megabytes_are_refused_while_it_stays_small(data):
    """The body is announced and partly sent; the refusal comes without reading it all, and memory stays put."""
    with Served(data) as served:
        signed = served.sign_in()
        worker = int((data / "writer.lock").read_text())
        before = resident_kb(worker)
        for _ in range(5):
            status, body = refused_early(served, signed)
            assert (status, json.loads(body)["error"]["code"]) == (413, "too_large")

        assert resident_kb(worker) - before < 20_000


def refused_early(served, signed):
    connection = served.connection()
    try:
        connection.putrequest("POST", "/api/v1/push")
        for name, value in {**headers_of(signed), "Content-Length": "100000000"}.items():
            connection.putheader(name, value)
        connection.endheaders()
        connection.send(b" " * 65_536)
        answer = connection.getresponse()
        return answer.status, answer.read()
    finally:
        connection.close()


def resident_kb(process: int) -> int:
    with open(f"/proc/{process}/status") as lines:
        return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS"))


def test_a_body_of_unannounced_length_is_refused_unread(data):
    with Served(data) as served:
        signed = served.sign_in()
        connection = served.connection()
        try:
            connection.putrequest("POST", "/api/v1/push")
            for name, value in {**headers_of(signed), "Transfer-Encoding": "chunked"}.items():
                connection.putheader(name, value)
            connection.endheaders()  # the answer comes before a byte of the body, which is never sent
            assert connection.getresponse().status == 411
        finally:
            connection.close()


def test_plain_http_beyond_this_machine_is_refused_with_the_way_out(tmp_path):
    for host in ("0.0.0.0", "10.1.2.3", "record.plant.example", "::"):
        with pytest.raises(CannotServe, match="qc certificate"):
            hosts_for(host, None, None, ())


def test_the_names_of_the_certificate_are_those_that_it_is_asked_for_by(tls, tmp_path):
    assert hosts_for("0.0.0.0", tls.leaf, tls.leaf_key, ["record"]) == ["localhost", "record"]
    with pytest.raises(CannotServe, match="both"):
        hosts_for("0.0.0.0", tls.leaf, None, ())
    with pytest.raises(CannotServe, match="not there"):
        hosts_for("0.0.0.0", tmp_path / "no.crt", tls.leaf_key, ())
    with pytest.raises(CannotServe, match="cannot be used"):
        hosts_for("0.0.0.0", tls.leaf_key, tls.leaf_key, ())


def test_a_key_that_does_not_fit_its_certificate_is_told_before_anybody_is_served(tmp_path):
    one, other = (
        certificate.make(tmp_path / "one", ("localhost",)),
        certificate.make(tmp_path / "other", ("localhost",)),
    )

    assert hosts_for("0.0.0.0", one.leaf, one.leaf_key, ())
    with pytest.raises(CannotServe, match="is not the key of"):
        hosts_for("0.0.0.0", one.leaf, other.leaf_key, ())
    with pytest.raises(CannotServe, match="holds no private key"):
        hosts_for("0.0.0.0", one.leaf, one.leaf, ())
    one.leaf_key.write_text("garbage")
    with pytest.raises(CannotServe, match="holds no private key"):
        hosts_for("0.0.0.0", one.leaf, one.leaf_key, ())


def test_a_key_locked_with_a_passphrase_is_told(tmp_path):
    files = certificate.make(tmp_path / "one", ("localhost",))
    key = load_pem_private_key(files.leaf_key.read_bytes(), None)
    locked = BestAvailableEncryption(b"words")
    files.leaf_key.write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, locked))

    with pytest.raises(CannotServe, match="locked with a passphrase"):
        hosts_for("0.0.0.0", files.leaf, files.leaf_key, ())
