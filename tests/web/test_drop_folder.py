"""The drop folder: each file taken once and put away with its report, whatever happens in between."""

import os
import sqlite3
import threading
import time
import zipfile
from contextlib import closing
from dataclasses import replace
from datetime import time as clock_time
from pathlib import Path

import pytest

from qc.domain.plant.backup_plan import BackupPlan
from qc.domain.plant.drop_plan import DropPlan
from qc.store.checking.verify import verify
from qc.store.drops import drop_trouble
from qc.store.intake.writer import StorageFull
from qc.store.keeping.needs import needs_of
from qc.web import drop_folder
from qc.web.drop_folder import ALIVE_SECONDS, STILL_SECONDS, DropFolder
from tests.web.plant_server import UNIT, PlantServer, cheap_hashes, invented_plant

HEADING = "chassis,planned day\n"
SECOND, THIRD = "0PC7M5000TW030002", "0PC7T3600TW030003"
TWO = f"{HEADING}{UNIT},2026-03-02\n{SECOND},2026-03-03\n"
FOREIGN = "9XX7M5000TW030004"  # a chassis number of another plant


class Plant:
    """A server, a folder to drop into and a clock of seconds; `look` lets a file stand still first."""

    def __init__(self, tmp_path, leave_wrong=False, in_name_of="PL1"):
        self.folder = tmp_path / "drop"
        self.folder.mkdir(exist_ok=True)
        self.seconds = 0.0
        plan = DropPlan(str(self.folder), in_name_of, leave_wrong)
        tables, plant = invented_plant()
        self.server = PlantServer(tmp_path / "plant", (tables, replace(plant, drop=plan)))
        self.house = self.server.house
        self.watch = self.another()

    def another(self):
        return DropFolder(self.house, self.house.plant.drop, lambda: self.seconds)

    def drop(self, text, name="plan.csv"):
        path = self.folder / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    def look(self, watch=None):
        watch = watch or self.watch
        watch.look()
        self.seconds += STILL_SECONDS
        return watch.look()

    def units(self):
        return {line.chassis: line.planned_day for line in self.house.reads.unit_list("planned", 100)}

    def files(self):
        return sorted(str(path.relative_to(self.folder)) for path in self.folder.rglob("*") if path.is_file())

    def entered(self):
        rows = "SELECT count(*) FROM journal WHERE unit IS NOT NULL"
        return self.house.reads.connection().execute(rows).fetchone()[0]


@pytest.fixture
def plant(tmp_path):
    with cheap_hashes():
        plant = Plant(tmp_path)
        yield plant
        plant.house.close()


@pytest.mark.parametrize("place", [".", "plant", "photos", "by-link", "kept", "kept/inner"])
def test_the_records_own_files_and_its_backups_are_never_taken_for_plans(plant, tmp_path, place):
    kept = tmp_path / "kept"
    (kept / "inner").mkdir(parents=True)
    (tmp_path / "by-link").symlink_to(plant.house.folder)
    own = tmp_path if place in ("by-link", "kept", "kept/inner") else plant.house.folder
    plan = replace(plant.house.plant.drop, folder=str(own / place))
    plant.house.plant = replace(plant.house.plant, backup=BackupPlan(str(kept), clock_time(2), 7))
    (own / place).mkdir(exist_ok=True)
    (own / place / "a-file").write_text("of the record")
    before = sorted(path.name for path in (own / place).iterdir())

    trouble = plant.look(DropFolder(plant.house, plan, lambda: plant.seconds))

    assert "name a folder of its own" in trouble
    assert set(before) <= {path.name for path in (own / place).iterdir()}
    assert not (own / place / "refused").exists()
    assert trouble in drop_trouble(plant.house.folder)


def test_a_file_is_taken_once_and_put_away_with_its_report(plant):
    plant.drop(TWO)

    assert plant.look() == ""
    assert plant.units() == {UNIT: "2026-03-02", SECOND: "2026-03-03"}
    assert plant.files() == [".watched", "taken/plan.csv", "taken/plan.csv.report.txt"]
    report = (plant.folder / "taken" / "plan.csv.report.txt").read_text()
    assert report.startswith("Taken under the name of PL1. 2 rows: 2 new.\n")
    assert f"new: row 2, {UNIT}: planned for 2026-03-02\n" in report
    assert (plant.folder / "taken" / "plan.csv").read_text() == TWO
    assert ", handed in by the drop folder" in plant.server.page("quality_manager").get(f"/units/{UNIT}").text
    shown = plant.server.page("planner").get("/plan").text
    assert "plan.csv</strong>" in shown
    assert "Taken under the name of PL1. 2 rows: 2 new." in shown
    plant.look()
    assert plant.entered() == 2
    assert verify(plant.house.folder).is_whole


def test_a_file_with_a_wrong_row_is_refused_whole_with_the_row_told(plant):
    plant.drop(f"{TWO}{FOREIGN},2026-03-04\n")

    assert plant.look() == ""
    assert plant.units() == {}
    assert plant.files() == [".watched", "refused/plan.csv", "refused/plan.csv.report.txt"]
    report = (plant.folder / "refused" / "plan.csv.report.txt").read_text()
    assert "Refused, nothing was taken. 3 rows: 2 new and 1 wrong.\n" in report
    assert f"wrong: row 4, {FOREIGN}: " in report


def test_wrong_rows_are_left_out_where_the_plant_says_so(tmp_path):
    with cheap_hashes():
        plant = Plant(tmp_path, leave_wrong=True)
    plant.drop(f"{TWO}{FOREIGN},2026-03-04\n")
    plant.drop(f"{HEADING}{FOREIGN},2026-03-04\n", "all-wrong.csv")
    plant.look()
    plant.house.close()

    assert set(plant.units()) == {UNIT, SECOND}
    assert "1 wrong left out" in (plant.folder / "taken" / "plan.csv.report.txt").read_text()
    assert "refused/all-wrong.csv" in plant.files()


def zip_of_a_gigabyte():
    import io

    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 250_000_000)
    return held.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("empty.csv", b"", "the file is empty"),
        ("half.xlsx", b"PK\x03\x04half", "damaged workbook"),
        ("no-plan.csv", b"a,b\n1,2\n", "no column tells"),
        ("twice.csv", (HEADING + TWO).encode(), "chassis"),
        ("large.csv", HEADING.encode() + b"x" * 9_000_000, "bytes"),
        ("many.csv", HEADING.encode() + b"x,y\n" * 100_000, "rows"),
        ("inflates.xlsx", None, "unpacked the file is too large"),
    ],
)
def test_what_is_no_plan_is_refused_in_words(plant, name, data, words):
    plant.drop(zip_of_a_gigabyte() if data is None else data, name)

    assert plant.look() == ""
    assert plant.units() == {}
    assert words in (plant.folder / "refused" / f"{name}.report.txt").read_text()


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
@pytest.mark.parametrize("divider", [",", ";"])
def test_other_encodings_and_dividers_are_taken(plant, encoding, divider):
    plant.drop(TWO.replace(",", divider).encode(encoding))
    plant.look()

    assert set(plant.units()) == {UNIT, SECOND}


def test_a_file_that_is_still_written_is_left_until_it_stands_still(plant):
    path = plant.drop(TWO[:-8])
    for _ in range(5):
        plant.watch.look()
        plant.seconds += STILL_SECONDS - 1
        with path.open("a") as writing:
            writing.write(" ")
    assert plant.files() == [".watched", "plan.csv"]
    path.write_text(TWO)
    plant.look()

    assert set(plant.units()) == {UNIT, SECOND}


def test_a_file_that_grows_as_it_is_taken_is_put_back_and_taken_anew(plant, monkeypatch):
    path = plant.drop(f"{HEADING}{UNIT},2026-03-02\n")
    settled = DropFolder._settled

    def grows(self, file, data):
        answer = settled(self, file, data)
        with path.open("a") as writing:
            writing.write(f"{SECOND},2026-03-03\n")
        return answer

    monkeypatch.setattr(DropFolder, "_settled", grows)
    assert "written on while it was taken" in plant.look()
    monkeypatch.setattr(DropFolder, "_settled", settled)
    plant.look()

    assert set(plant.units()) == {UNIT, SECOND}
    assert plant.files() == [".watched", "taken/plan.csv", "taken/plan.csv.report.txt"]


def test_names_of_files_that_are_still_written_links_and_folders_are_left(plant):
    for name in ("plan.csv.part", ".hidden.csv", "~$plan.xlsx", "plan.TMP"):
        plant.drop(TWO, name)
    (plant.folder / "inner").mkdir()
    (plant.folder / "link.csv").symlink_to("/etc/hostname")

    assert "link.csv is a link, which is not followed" in plant.look()
    assert plant.units() == {}
    assert not [name for name in plant.files() if name.startswith(("taken", "refused"))]


@pytest.mark.parametrize("kind", [os.symlink, os.link])
@pytest.mark.parametrize("victim", ["record.sqlite", "keys/release.key", "plant/plant.toml"])
def test_a_link_in_the_place_of_the_mark_is_replaced_and_what_it_led_to_stays(plant, victim, kind):
    target = plant.house.folder / victim
    target.parent.mkdir(exist_ok=True)
    if not target.exists():
        target.write_text("of the record")
    before = target.read_bytes()
    kind(target, plant.folder / ".watched")

    plant.drop(TWO)
    plant.look()
    plant.seconds += ALIVE_SECONDS
    plant.look()
    plant.look()

    assert target.read_bytes().startswith(before[:4_096])
    assert not (plant.folder / ".watched").is_symlink()
    assert len(plant.units()) == 2
    assert verify(plant.house.folder).is_whole


def test_a_pipe_in_the_place_of_the_mark_keeps_nobody_waiting(plant):
    os.mkfifo(plant.folder / ".watched")
    plant.drop(TWO)

    assert plant.look() == ""
    assert len(plant.units()) == 2


@pytest.mark.parametrize("room", ["taken", "refused"])
def test_a_room_that_is_a_link_puts_nothing_into_another_folder(plant, room):
    """A file named as a table of the plant would be read as one at the next start."""
    elsewhere = plant.house.folder / "plant"
    elsewhere.mkdir(exist_ok=True)
    before = sorted(elsewhere.iterdir())
    (plant.folder / room).symlink_to(elsewhere)
    plant.drop(TWO if room == "taken" else "no plan", "pictures.csv")

    assert "is a link to" in plant.look()
    assert sorted(elsewhere.iterdir()) == before
    assert (plant.folder / "pictures.csv").exists()
    assert plant.entered() == 0

    (plant.folder / room).unlink()
    assert plant.look() == ""
    assert (plant.folder / room / "pictures.csv").exists()


@pytest.mark.parametrize("put", ["link", "pipe", "another file"])
def test_what_is_exchanged_as_it_is_opened_is_not_read(plant, monkeypatch, put):
    secret = plant.house.folder / "secret"
    secret.write_text("a password\n")
    path, whole = plant.drop("no plan"), drop_folder.stat.S_ISLNK

    def exchanged(mode):
        if path.exists() and not whole(path.lstat().st_mode):
            path.unlink()
            if put == "link":
                path.symlink_to(secret)
            elif put == "pipe":
                os.mkfifo(path)
            else:
                path.write_text("a password\n")
        return whole(mode)

    with monkeypatch.context() as patched:
        patched.setattr(drop_folder.stat, "S_ISLNK", exchanged)
        plant.look()

    assert plant.files() in ([".watched"], [".watched", "plan.csv"])  # nothing was told of it


def test_a_server_that_ends_between_entering_and_moving_only_moves_it_then(plant, monkeypatch):
    """The planner changes a day meanwhile: entered twice, the file would change it back."""
    plant.drop(TWO)
    with monkeypatch.context() as killed:
        killed.setattr(DropFolder, "_put_away", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            plant.look()
    assert plant.files() == [".watched", "plan.csv"]
    mended = plant.server.phone("planner")
    mended.push(mended.operation("plan_changed", UNIT, {"changes": {"planned_day": "2026-04-01"}}))
    other = plant.another()
    plant.look(other)
    assert plant.files() == [".watched", "plan.csv"]  # the mark of who was killed has to stand still first
    plant.seconds += ALIVE_SECONDS
    assert plant.look(other) == ""

    assert plant.units() == {UNIT: "2026-04-01", SECOND: "2026-03-03"}
    assert plant.files() == [".watched", "taken/plan.csv", "taken/plan.csv.report.txt"]
    assert "It was only moved now" in (plant.folder / "taken" / "plan.csv.report.txt").read_text()


def test_the_same_content_dropped_again_on_purpose_is_looked_at_anew(plant):
    plant.drop(TWO)
    plant.look()
    planner = plant.server.phone("planner")
    planner.push(planner.operation("plan_changed", UNIT, {"changes": {"planned_day": "2026-04-01"}}))
    os.utime(plant.drop(TWO), ns=(0, 1_800_000_000_000_000_000))
    plant.look()

    assert plant.units()[UNIT] == "2026-03-02"
    kept = [name for name in plant.files() if name.startswith("taken/")]
    assert len(kept) == 4  # the first is not written over


def test_where_the_record_is_full_nothing_is_moved_and_the_next_look_takes_it(plant, monkeypatch):
    plant.drop(TWO)
    with monkeypatch.context() as full:
        full.setattr(drop_folder, "take_plan", lambda *_: (_ for _ in ()).throw(StorageFull("the disk is full")))
        assert "nothing could be taken" in plant.look()
    assert plant.files() == [".watched", "plan.csv"]
    assert plant.look() == ""
    assert set(plant.units()) == {UNIT, SECOND}


def test_where_it_cannot_be_moved_that_is_told_and_it_is_not_entered_again(plant, monkeypatch):
    plant.drop(TWO)
    with monkeypatch.context() as full:
        full.setattr(os, "rename", lambda *_: (_ for _ in ()).throw(PermissionError(13, "Permission denied")))
        for _ in range(3):
            told = plant.look()
            assert "plan.csv was taken and cannot be moved to" in told
            assert told.endswith("(Permission denied); let the server's account read and write in it")
    assert plant.entered() == 2
    assert plant.look() == ""
    assert plant.entered() == 2
    assert "taken/plan.csv" in plant.files()


def test_on_a_full_disk_no_half_reports_gather_and_it_is_moved_once_there_is_room(plant, monkeypatch):
    plant.drop(TWO)
    written = Path.write_text

    def full(path, text, *more, **named):
        if path.name.endswith(".making") and path.parent != plant.house.folder:
            path.write_bytes(text[:10].encode())
            raise OSError(28, "No space left on device")
        return written(path, text, *more, **named)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "write_text", full)
        for _ in range(3):
            assert plant.look().endswith("(No space left on device); make room on its disk")
    assert plant.files() == [".watched", "plan.csv"]
    assert plant.look() == ""
    assert plant.entered() == 2
    assert plant.files() == [".watched", "taken/plan.csv", "taken/plan.csv.report.txt"]


@pytest.mark.skipif(os.name == "nt", reason="names are Unicode there")
def test_a_name_that_cannot_be_kept_keeps_no_other_file_out(plant):
    with open(os.fsencode(plant.folder) + b"/bad\xff.csv", "wb") as bad:
        bad.write(TWO.encode())
    plant.drop(f"{HEADING}{UNIT},2026-03-02\n", "good.csv")

    assert "rename the file" in plant.look()
    assert set(plant.units()) == {UNIT}


def test_markup_in_the_name_of_a_file_is_text(plant):
    plant.drop(TWO, "<b>&plan.csv")
    plant.look()

    assert "&lt;b&gt;&amp;plan.csv" in plant.server.page("planner").get("/plan").text
    assert "taken/<b>&plan.csv" in plant.files()


def test_a_file_that_the_server_trips_over_keeps_no_other_out(plant, monkeypatch):
    looked = drop_folder.build_plan_report

    def trips(data, *more):
        if data == b"trip":
            raise ZeroDivisionError
        return looked(data, *more)

    monkeypatch.setattr(drop_folder, "build_plan_report", trips)
    plant.drop("trip", "a.csv")
    plant.drop(TWO, "b.csv")

    assert "a fault of its own at a.csv (ZeroDivisionError)" in plant.look()
    assert set(plant.units()) == {UNIT, SECOND}


def test_it_looks_by_itself_and_leaves_no_mark_when_it_ends(plant, monkeypatch):
    monkeypatch.setattr(drop_folder, "LOOK_SECONDS", 0.01)
    monkeypatch.setattr(drop_folder, "STILL_SECONDS", 0.0)
    plant.drop(TWO)
    stop = plant.watch.start()
    for _ in range(1000):
        if "taken/plan.csv" in plant.files():
            break
        time.sleep(0.01)
    stop()

    assert plant.files() == ["taken/plan.csv", "taken/plan.csv.report.txt"]
    assert "drop-folder" not in {one.name for one in threading.enumerate()}


def test_two_servers_on_one_folder_only_the_first_takes_and_it_is_told(plant):
    other = plant.another()
    assert plant.watch.look() == ""
    plant.drop(TWO)
    assert other.look() == ""  # it may be what one that was killed left behind
    for _ in range(5):
        plant.watch.look()
        assert "another server watches" in other.look()
        plant.seconds += STILL_SECONDS
    assert plant.entered() == 2
    plant.seconds += ALIVE_SECONDS  # the first is gone without a word
    assert other.look() == ""
    plant.watch.look()
    other.look()
    assert "another server watches" in plant.watch.look()


def test_later_files_go_over_earlier_ones_in_the_order_of_their_times(plant):
    early, late = plant.drop(TWO, "z.csv"), plant.drop(TWO.replace("03-02", "03-20"), "a.csv")
    os.utime(early, ns=(0, 1_000_000_000))
    os.utime(late, ns=(0, 2_000_000_000))
    plant.look()

    assert plant.units()[UNIT] == "2026-03-20"


def test_what_is_wrong_with_it_is_told_to_who_keeps_it_and_by_the_doctor_and_ends(plant):
    plant.look()
    assert drop_trouble(plant.house.folder) == ""
    for path in (plant.folder / "taken", plant.folder / "refused"):
        path.rmdir()
    (plant.folder / ".watched").unlink()
    plant.folder.rmdir()

    assert "make the folder, or mount the share again" in plant.look()
    for role, told in (("administrator", True), ("planner", True), ("quality_manager", True), ("inspector", False)):
        assert ("mount the share again" in plant.server.page(role).get("/units").text) is told
    plant.folder.mkdir()
    assert plant.look() == ""
    assert "mount the share again" not in plant.server.page("administrator").get("/units").text


def test_a_planner_who_left_leaves_the_files_where_they_are(plant):
    plant.drop(TWO)
    plant.house.people.end("PL1")

    assert "PL1 has left" in plant.look()
    assert plant.files() == [".watched", "plan.csv"]
    plant.house.people.take_back("PL1")
    plant.look()
    assert set(plant.units()) == {UNIT, SECOND}


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may read and write everywhere")
def test_a_folder_without_rights_is_told(plant):
    plant.drop(TWO)
    plant.folder.chmod(0o500)
    try:
        assert "let the server's account" in plant.look()
    finally:
        plant.folder.chmod(0o700)


def test_the_doctor_tells_of_it(plant, monkeypatch):
    plant.look()
    monkeypatch.setattr("qc.store.keeping.needs.read_plant", lambda _: plant.house.plant)

    def told():
        return {need.name: need for need in needs_of(plant.house.folder)}["drop folder"]

    assert told().state == "met"
    plant.house.people.end("PL1")
    plant.drop(TWO)
    plant.look()
    assert (told().state, "PL1 has left" in told().words) == ("missing", True)


def test_what_is_kept_of_files_is_bounded(plant, monkeypatch):
    monkeypatch.setattr("qc.store.drops.KEPT", 3)
    for number in range(5):
        plant.drop(f"a,b\n{number},1\n", f"{number}.csv")
    plant.look()

    with closing(sqlite3.connect(plant.house.folder / "record.sqlite")) as conn:
        assert conn.execute("SELECT count(*) FROM drop_file").fetchone() == (3,)
