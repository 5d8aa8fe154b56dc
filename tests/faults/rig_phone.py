"""A phone of the fault rig: it keeps what it made until it is acknowledged, and offers it again as the app does."""

import hashlib
import http.client
import io
import json
import random
import threading
import time

from qc.store.intake.journal import wall_ms
from qc.web.desk import uuid7
from tests.authors import Author
from tests.enrolled import enrolled
from tests.faults.rig_server import PIN, Broken, Server

UNIT = "0PC7T3600TW030001"
BATCH = 5
PHOTO_SHARE = 0.3
LEFT_UNSENT = 40  # from here on it makes nothing more until something is acknowledged


class Phone:
    """One phone and its inspector. acknowledged: number by id; held: hashes of photos that the server said it has."""

    def __init__(self, server: Server, name: int, chance: random.Random) -> None:
        self.server, self.name, self.chance = server, name, chance
        self.seq, self.made, self.unsent, self.acknowledged = 0, [], [], {}
        self.photos: dict[str, bytes] = {}
        self.held: set[str] = set()
        self.author = Author()
        self.token, self.signed, self.epoch = "", None, f"rig-{uuid7(wall_ms())[-12:]}"
        self.given = enrolled(server.folder)

    def sign_in(self) -> None:
        phone = {"device": self.given.device, "device_secret": self.given.secret, "install_epoch": self.epoch}
        asked = {"person": "IV1", "pin": PIN, **phone, "public_key": self.author.public}
        headers = {"Content-Type": "application/json"}
        status, body = self.server.ask("POST", "/api/v1/sign-in", json.dumps(asked), headers)
        if status == 200:
            told = json.loads(body)
            self.signed, self.token = self.signed or told, told["token"]
            self.author.certificate = told["certificate"]

    def make(self) -> None:
        for _ in range(BATCH):
            self.seq += 1
            now = wall_ms()
            body = {"point": "D01", "zone": "front.gas", "type": "EXT-01", "severity": "minor"}
            where = {"device": self.signed["device"], "install_epoch": self.epoch, "seq": self.seq}
            who = {"author": "IV1", "session": self.signed["session"], "deps": [], "seen_through": 0}
            what = {"id": uuid7(now), "kind": "defect_recorded", "schema": 1, "unit": UNIT, "body": body}
            self.unsent.append({**what, **where, **who, "wall_ms": now, "tz_min": 0, "mono_ms": 1})
            self.made.append(self.unsent[-1])
        if self.chance.random() < PHOTO_SHARE:
            picture = _picture(self.chance)
            self.photos[hashlib.sha256(picture).hexdigest()] = picture

    def offer_again(self) -> None:
        """Take all for unsent, as the app does when it meets a record that was restored."""
        self.unsent, self.acknowledged, self.held, self.token = list(self.made), {}, set(), ""

    def push(self) -> None:
        """Send what is unsent once; what was answered is acknowledged, all else stays."""
        cut = self.chance.random() < 0.15
        device, sent = self.signed["device"], self.unsent[:50]
        frame = {"protocol": 2, "device": device, "install_epoch": self.epoch, "sent_ms": wall_ms()}
        runs = [self.author.run(device, self.epoch, [json.dumps(one).encode() for one in sent])]
        body = json.dumps({**frame, "server_epoch": None, "chain": None, "runs": runs, "operations": sent})
        headers = {"Content-Type": "application/json", "Authorization": f"Bearer {self.token}"}
        status, answer = self.server.ask("POST", "/api/v1/push", body, headers, cut)
        self.server.history.note("pushed", phone=self.name, ids=[one["id"] for one in sent], status=status)
        self._heed(status, answer)
        if status != 200:
            return
        told = {one["id"]: one for one in json.loads(answer)["verdicts"]}
        for one in sent:
            verdict = told[one["id"]]
            if verdict["number"]:
                before = self.acknowledged.setdefault(one["id"], verdict["number"])
                if before != verdict["number"]:
                    raise Broken(f"{one['id']} was row {before} and is row {verdict['number']}")
        self.unsent = [one for one in self.unsent if one["id"] not in self.acknowledged]

    def send_photos(self) -> None:
        """Send each photo that the server has not said it holds, in two pieces."""
        for name, data in self.photos.items():
            if name in self.held:
                continue
            half = len(data) // 2
            for at, piece in ((0, data[:half]), (half, data[half:])):
                headers = {"Authorization": f"Bearer {self.token}", "Upload-Length": str(len(data))}
                headers |= {"Upload-Offset": str(at), "Content-Type": "application/offset+octet-stream"}
                status, answer = self.server.ask("PATCH", f"/api/v1/photos/{name}", piece, headers)
                self._heed(status, answer)
            if status == 204 or self._whole(name, len(data)):
                self.held.add(name)
                self.server.history.note("held", phone=self.name, photo=name)

    def _whole(self, name: str, total: int) -> bool:
        """Ask how much of a photo is here, as the app does after an answer that was lost."""
        connection = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=20)
        try:
            connection.request("HEAD", f"/api/v1/photos/{name}", headers={"Authorization": f"Bearer {self.token}"})
            answer = connection.getresponse()
            return answer.status == 200 and answer.headers["Upload-Offset"] == str(total)
        finally:
            connection.close()

    def _heed(self, status: int, answer: bytes) -> None:
        if status == 401:
            self.token = ""
        elif status >= 500 and status not in (503, 507):
            raise Broken(f"answered {status}: {answer[:200]!r}")

    def once(self) -> None:
        """Make, push and send once, whatever the server makes of it."""
        if not self.signed or not self.token:
            self.sign_in()
            if not self.token:
                time.sleep(0.1)
            return
        if self.unsent:
            self.push()
        if self.token:
            self.send_photos()

    def work(self, stop: threading.Event, broken: list[Broken]) -> None:
        while not stop.is_set():
            try:
                if self.signed and len(self.unsent) < LEFT_UNSENT:
                    self.make()
                self.once()
            except (OSError, http.client.HTTPException):
                time.sleep(0.05)  # no server: what is unsent waits
            except Broken as why:
                broken.append(why)
                return


def _picture(chance: random.Random) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.frombytes("RGB", (48, 32), chance.randbytes(48 * 32 * 3)).save(out, "JPEG", quality=90)
    return out.getvalue()
