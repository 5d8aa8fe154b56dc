"""One round with a server: what phones and browsers send and are told, and the invariants that must hold after it.

Only what stands outside is asked: the HTTP interface, the folder's files, and `qc verify`.
"""

import hashlib
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

from qc.store.checking.verify import verify
from qc.store.record.connection import RecordInUse, WriterLock
from tests.web.plant_server import CAST, OWN_PAGE, PIN, UNIT, PlantServer, picture, secret_of, sha

HOSTILE = "<img src=x onerror=alert(1)>"
DEFECT = {"point": "D01", "zone": "front.gas", "type": "EXT-01", "severity": "major"}


def broken(folder: Path) -> dict[str, str]:
    """Play a round in a new folder; return the invariants that did not hold, with what was seen."""
    server = PlantServer(folder)
    try:
        found = {name: seen for name, look in LOOKS.items() if (seen := _told(look, server, folder))}
    finally:
        server.house.close()
    report = verify(folder)
    if not report.is_whole:
        found["verify finds the record whole"] = str([check.told for check in report.checks if check.faults])
    return found


def _told(look: Callable[[PlantServer, Path], Iterator[str]], server: PlantServer, folder: Path) -> str:
    try:
        return "; ".join(look(server, folder))
    except Exception as error:  # a server that answers what nobody expects has broken the invariant too
        return f"{type(error).__name__}: {error}"[:300]


def stored(folder: Path) -> list[str]:
    """Return the ids that would be found if the process ended now: read from a copy of the files as they are."""
    copy = folder.parent / f"{folder.name}-seen"
    shutil.copytree(folder, copy)
    try:
        with closing(sqlite3.connect(copy / "record.sqlite")) as conn:
            return [id_ for (id_,) in conn.execute("SELECT id FROM journal")]
    finally:
        shutil.rmtree(copy)


def acknowledged_is_stored(server, folder):
    planner, inspector = server.phone("planner"), server.phone("inspector")
    planner.push(planner.plan())
    server.unit = inspector
    for _ in range(3):
        made = inspector.operation("defect_recorded", UNIT, {**DEFECT, "note": HOSTILE})
        (verdict,) = inspector.push(made)
        if verdict["verdict"] == "applied" and made["id"] not in stored(folder):
            yield f"{made['id']} was acknowledged and is not there"


def sent_again_is_a_duplicate(server, folder):
    phone = server.phone("inspector")
    made = phone.operation("defect_recorded", UNIT, DEFECT)
    first, again = phone.push(made)[0], phone.push(made)[0]
    if (again["verdict"], again["number"]) != ("duplicate", first["number"]):
        yield f"{first} and then {again}"


def nothing_out_of_turn(server, folder):
    phone = server.phone("inspector")
    phone.seq += 4
    (verdict,) = phone.push(phone.operation("defect_recorded", UNIT, DEFECT))
    if verdict["verdict"] != "gap":
        yield str(verdict)


def only_who_may_mute(server, folder):
    phone = server.phone("repairer")
    body = {"station": "S05", "type": "PAN-05", "direction": "up", "reason": "known", "until": "2026-02-09"}
    (verdict,) = phone.push(phone.operation("signal_muted", None, body))
    if verdict["code"] != "not_your_role":
        yield str(verdict)


def pages_for_their_roles(server, folder):
    for address in ("/review", "/backlog", "/signals"):
        status = server.page("inspector").get(address).status_code
        if status != 403:
            yield f"{address} answered {status}"


def nobody_signs_for_another(server, folder):
    phone = server.phone("inspector")
    made = phone.operation("defect_recorded", UNIT, DEFECT, author=CAST["quality_manager"].code)
    (verdict,) = phone.push(made)
    if verdict["verdict"] != "quarantined":
        yield str(verdict)


def an_ended_sign_in_opens_nothing(server, folder):
    page = server.page("quality_manager")
    kept = {cookie.key: cookie.value for cookie in page.client._cookies.values()}
    token = page.client.get("/units").text.split('name="csrf_token" value="')[1].split('"')[0]
    page.client.post("/sign-out", data={"csrf_token": token}, headers=OWN_PAGE)
    for name, value in kept.items():
        page.client.set_cookie(name, value)
    status = page.get("/review").status_code
    if status != 303:
        yield f"the old cookie opened the review: {status}"


def guessing_is_stopped(server, folder):
    client = server.client()
    honest = server.phone("tester")
    asked = {"person": CAST["tester"].code, "pin": "111222", "device": honest.signed["device"]}
    asked["device_secret"] = server.secrets[honest.signed["device"]]
    asked |= {"install_epoch": "first", "public_key": honest.author.public}
    statuses = [client.post("/api/v1/sign-in", json=asked).status_code for _ in range(8)]
    if 429 not in statuses:
        yield f"eight wrong PINs: {statuses}"
    if client.post("/api/v1/sign-in", json={**asked, "pin": PIN}).status_code == 200:
        yield "and then the right one"


def strangers_hold_up_strangers_alone(server, folder):
    code, known, stranger = CAST["dispatch"].code, server.page("dispatch"), server.page()
    known.post("/sign-out", csrf_token=known.form_token("/units"))
    statuses = [stranger.sign_in(code, "111222").status_code for _ in range(8)]
    if 429 not in statuses:
        yield f"eight wrong PINs of a stranger: {statuses}"
    if (status := known.sign_in(code, secret_of("dispatch")).status_code) != 303:
        yield f"and then the person in their own browser: {status}"


def a_foreign_form_does_nothing(server, folder):
    page = server.page("quality_manager")
    token = page.client.get("/units").text.split('name="csrf_token" value="')[1].split('"')[0]
    foreign = {"Sec-Fetch-Site": "cross-site", "Origin": "https://elsewhere.example"}
    status = page.client.post("/sign-out", data={"csrf_token": token}, headers=foreign).status_code
    if status != 403:
        yield f"it was answered {status}"


def half_a_picture_is_not_kept(server, folder):
    half = picture()[:-2000]
    status = server.phone("inspector").upload(half).status_code
    if status != 422:
        yield f"it was answered {status}"


def a_held_photo_is_there(server, folder):
    whole = picture()
    status = server.phone("inspector").upload(whole).status_code
    path = folder / "photos" / sha(whole)[:2] / sha(whole)
    if status == 204 and not (path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() == sha(whole)):
        yield "the phone was told that it is held"


def one_process_writes(server, folder):
    try:
        WriterLock(folder).release()
    except RecordInUse:
        return
    yield "a second writer was let in"


def another_history_is_told(server, folder):
    answer = server.phone("inspector").send(
        [], chain={"size": 1, "head": "a" * 64}, server_epoch=server.house.server_epoch
    )
    if answer.json.get("history_differs") is not True:
        yield str(answer.json)


def a_hostile_text_is_only_a_text(server, folder):
    text = server.page("quality_manager").get(f"/units/{UNIT}").text
    if HOSTILE in text:
        yield "it stands in the page as it was sent"
    if "&lt;img" not in text:
        yield "it does not stand in the page at all"


def a_full_disk_acknowledges_nothing(server, folder):
    phone = server.phone("inspector")

    def limit(more):
        def work(conn):
            (now,) = conn.execute("PRAGMA page_count").fetchone()
            conn.execute(f"PRAGMA max_page_count = {now + more}")

        server.house.journal.write(work)

    limit(2)
    try:
        for _ in range(40):
            made = [phone.operation("defect_recorded", UNIT, {**DEFECT, "note": "n" * 900}) for _ in range(10)]
            answer = phone.send(made)
            if answer.status_code == 507:
                break
            if answer.status_code != 200:
                yield f"it was answered {answer.status_code}"
                return
        else:
            yield "the disk was never full"
    finally:
        server.house.journal.write(lambda conn: conn.execute("PRAGMA max_page_count = 1000000").fetchone())
    told = [verdict["verdict"] for verdict in phone.push(*made)]
    if set(told) != {"applied"}:
        yield f"sent again: {told}"


LOOKS: dict[str, Callable[[PlantServer, Path], Iterator[str]]] = {
    "what was acknowledged is stored": acknowledged_is_stored,
    "what is sent again is a duplicate": sent_again_is_a_duplicate,
    "nothing is taken out of turn": nothing_out_of_turn,
    "only who may mutes a signal": only_who_may_mute,
    "pages are for their roles": pages_for_their_roles,
    "nobody signs for another": nobody_signs_for_another,
    "an ended sign-in opens nothing": an_ended_sign_in_opens_nothing,
    "guessing is stopped": guessing_is_stopped,
    "strangers hold up strangers alone": strangers_hold_up_strangers_alone,
    "a foreign form does nothing": a_foreign_form_does_nothing,
    "half a picture is not kept": half_a_picture_is_not_kept,
    "a held photo is there": a_held_photo_is_there,
    "one process writes": one_process_writes,
    "another history is told": another_history_is_told,
    "a hostile text is only a text": a_hostile_text_is_only_a_text,
    "a full disk acknowledges nothing": a_full_disk_acknowledges_nothing,
}
