"""Photos leave the last of the disk to what is recorded, and who keeps the server is told before it is full."""

import shutil

import pytest

from qc.store.folder.photos import RESERVE_BYTES, reserve_of
from tests.web.plant_server import picture, sha

TOLD = "<strong>Disk.</strong>"
LARGE = 100_000_000_000
PHOTO = picture(64, 48)


@pytest.fixture
def disk(monkeypatch):
    """Let a disk have so many bytes left, of so many in all."""

    def of(free: int, total: int = LARGE) -> None:
        usage = shutil.disk_usage(".")._replace(total=total, free=free)
        monkeypatch.setattr(shutil, "disk_usage", lambda _: usage)

    return of


@pytest.mark.parametrize(("free", "total"), [(RESERVE_BYTES, LARGE), (5_000_000, 100_000_000), (0, LARGE)])
def test_a_photo_waits_on_the_phone_where_only_the_records_room_is_left_and_work_goes_on(server, disk, free, total):
    phone = server.phone("planner")
    disk(free, total)

    refused = phone.upload(PHOTO)
    assert (refused.status_code, refused.json["error"]["code"]) == (507, "disk_full")
    assert phone.client.head(f"/api/v1/photos/{sha(PHOTO)}", headers=phone.headers).headers["Upload-Offset"] == "0"
    assert [one["verdict"] for one in phone.push(phone.plan())] == ["applied"]

    disk(free + reserve_of(total) + len(PHOTO), total)
    assert phone.upload(PHOTO).status_code in (200, 204)


def test_a_photo_may_take_all_but_the_records_room(server, disk):
    phone = server.phone("inspector")
    disk(RESERVE_BYTES + len(PHOTO) - 1)
    assert phone.upload(PHOTO).status_code == 507

    disk(RESERVE_BYTES + len(PHOTO))
    assert phone.upload(PHOTO).status_code in (200, 204)


@pytest.mark.parametrize(
    ("free", "words"),
    [
        (500_000_000, ""),
        (499_000_000, "has 499 MB left. Below 200 MB photos wait on the phones, so that what is recorded still finds"),
        (RESERVE_BYTES, "has 200 MB left. Photos wait on the phones; what is recorded is taken while any is left"),
        (0, "has 0 MB left. Photos wait on the phones"),
    ],
)
def test_who_keeps_the_server_is_told_before_it_is_full(server, disk, free, words):
    disk(free)

    for role in ("administrator", "quality_manager"):
        told = server.page(role).get("/units").text
        assert (TOLD in told) == bool(words)
        assert words in told.replace("&#39;", "'")
    assert TOLD not in server.page("inspector").get("/units").text
