"""Photos count only when every byte is here, hashes to its name and decodes in full."""

import hashlib
import io
import os
import time

import pytest
from PIL import Image

from qc.store.folder.photos import UNFINISHED_DAYS, PhotoBroken, PhotoStore, Upload, WrongOffset, checked
from tests.store.record_kit import open_journal


def bytes_of(image, kind, **options):
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def picture(size=(640, 480), kind="JPEG", **options):
    return bytes_of(Image.effect_noise(size, 60).convert("RGB"), kind, **options)


def named(data):
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def photos(tmp_path):
    with open_journal(tmp_path) as journal:
        yield PhotoStore(tmp_path, journal.write, journal.clock)


def test_a_photo_in_pieces_goes_on_where_it_stopped(photos):
    data = picture()
    sha, half = named(data), len(data) // 2

    assert photos.offset(sha) is None
    assert photos.append(sha, 0, len(data), data[:half]) == half
    assert photos.offset(sha) == Upload(half, len(data))
    assert photos.path(sha) is None
    with pytest.raises(WrongOffset) as wrong:
        photos.append(sha, half + 1, len(data), data[half + 1 :])
    assert wrong.value.offset == half
    assert photos.append(sha, half, len(data), data[half:]) == len(data)
    assert photos.offset(sha) == (len(data), len(data))
    kept = photos.photo(sha)
    assert (kept.media_type, kept.width, kept.height) == ("image/jpeg", 640, 480)
    assert photos.path(sha).read_bytes() == data


def test_a_photo_sent_again_changes_nothing(photos):
    data = picture()
    photos.append(named(data), 0, len(data), data)

    assert photos.append(named(data), 0, len(data), data) == len(data)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_three_kinds_of_picture_are_kept(photos, kind):
    data = picture(kind=kind)

    assert photos.append(named(data), 0, len(data), data) == len(data)


def test_a_jpeg_with_further_pictures_behind_its_first_is_kept_as_a_jpeg(photos):
    """As cameras of two lenses make them (CIPA DC-007, from memory)."""
    out = io.BytesIO()
    image = Image.new("RGB", (64, 48), (200, 30, 30))
    image.save(out, "MPO", save_all=True, append_images=[image])
    data = out.getvalue()

    assert checked(named(data), data) == ("image/jpeg", 64, 48)
    assert photos.append(named(data), 0, len(data), data) == len(data)
    assert photos.thumbnail(named(data), 160)[1] == "image/jpeg"


def damaged():
    data = bytearray(picture(kind="PNG"))
    data[len(data) // 2] ^= 0xFF
    return bytes(data)


def halved():
    return picture()[: len(picture()) // 2]


BROKEN = {  # made by its test, not as the tests are gathered, which each worker does
    "half a JPEG, which a look at its headers lets pass": halved,
    "one byte of a PNG changed": damaged,
    "a kind that is not kept": lambda: picture(kind="GIF"),
    "markup": lambda: b"<svg onload='x'/>",
    "more than 24 megapixels": lambda: bytes_of(Image.new("RGB", (5001, 5000)), "WEBP", quality=1, method=0),
}


@pytest.mark.parametrize("made", BROKEN.values(), ids=BROKEN.keys())
def test_what_is_no_whole_picture_is_refused_and_forgotten(photos, made):
    data = made()

    with pytest.raises(PhotoBroken):
        photos.append(named(data), 0, len(data), data)

    assert photos.offset(named(data)) is None


def test_bytes_of_another_photo_are_refused(photos):
    data = picture()

    with pytest.raises(PhotoBroken, match="do not match"):
        photos.append("0" * 64, 0, len(data), data)


def test_too_many_bytes_are_refused_before_they_are_written(photos):
    with pytest.raises(PhotoBroken, match="8000000"):
        photos.append("0" * 64, 0, 8_000_001, b"x")


def test_a_name_that_is_no_hash_reaches_no_file(photos):
    with pytest.raises(PhotoBroken):
        photos.path("../../record.sqlite")


def test_a_thumbnail_holds_no_position(photos):
    exif = Image.Exif()
    exif[0x8825] = {1: "N", 2: (51.0, 0.0, 0.0)}  # GPS tags: Exif 2.3, 4.6.6 (from memory)
    data = picture((1200, 900), exif=exif)
    photos.append(named(data), 0, len(data), data)

    path, media_type = photos.thumbnail(named(data), 320)

    with Image.open(path) as small:
        assert (small.size, media_type) == ((320, 240), "image/jpeg")
        assert not small.getexif()


def test_there_is_no_thumbnail_of_what_has_not_arrived(photos):
    with pytest.raises(FileNotFoundError):
        photos.thumbnail("0" * 64, 320)


def test_pieces_whose_keeping_failed_are_not_told_as_whole(photos, monkeypatch):
    """The last piece was written and the row was not: told as held, a phone let go of its photo (38 of 2,360 lost)."""
    data = picture()
    sha = named(data)
    keep, photos._write = photos._write, failing
    with pytest.raises(OSError, match="disk"):
        photos.append(sha, 0, len(data), data)

    assert photos.photo(sha) is None
    assert photos.offset(sha) is None
    photos._write = keep
    assert photos.append(sha, 0, len(data), data) == len(data)
    assert photos.path(sha).read_bytes() == data


def failing(work):
    raise OSError("the disk failed")


@pytest.mark.parametrize("later", ["offset", "append"])
def test_pieces_that_were_never_kept_are_kept_when_asked_for(photos, later):
    data = picture()
    sha, half = named(data), len(data) // 2
    photos.append(sha, 0, len(data), data[:half])
    with photos._part(sha).open("ab") as arriving:  # as a process that ended between the piece and its keeping
        arriving.write(data[half:])

    if later == "offset":
        assert photos.offset(sha) == (len(data), len(data))
    else:
        with pytest.raises(WrongOffset):
            photos.append(sha, half, len(data), data[half:])
        assert photos.append(sha, 0, len(data), data) == len(data)
    assert photos.path(sha).read_bytes() == data


def test_whole_pieces_of_a_broken_picture_are_forgotten_when_asked_for(photos):
    data = picture()
    sha, half = named(data), len(data) // 2
    photos.append(sha, 0, len(data), data[:half])
    with photos._part(sha).open("ab") as arriving:
        arriving.write(b"\0" * (len(data) - half))

    assert photos.offset(sha) is None
    assert photos.path(sha) is None


@pytest.mark.parametrize("total", ["", "12x", "-5", "3"])
def test_a_total_that_was_written_half_is_no_fault_for_ever(photos, total):
    """An empty one once answered every later question with a fault."""
    data = picture()
    sha, half = named(data), len(data) // 2
    photos.append(sha, 0, len(data), data[:half])
    photos._part(sha).with_suffix(".total").write_text(total)

    assert photos.offset(sha) is None
    assert photos.append(sha, 0, len(data), data) == len(data)


def test_thumbnails_are_made_one_at_a_time(photos, monkeypatch):
    """Eight of 24 megapixels at once took 2.1 GB."""
    import threading
    from concurrent.futures import ThreadPoolExecutor

    from qc.store.folder import photos as module

    shas = []
    for place in range(4):
        data = picture((64 + place, 64))
        shas.append(named(data))
        photos.append(shas[-1], 0, len(data), data)
    running, most, lock = 0, 0, threading.Lock()
    smaller = module._smaller

    def watched(path, edge):
        nonlocal running, most
        with lock:
            running += 1
            most = max(most, running)
        threading.Event().wait(0.05)
        made = smaller(path, edge)
        with lock:
            running -= 1
        return made

    monkeypatch.setattr(module, "_smaller", watched)
    with ThreadPoolExecutor(8) as pool:
        made = list(pool.map(lambda sha: photos.thumbnail(sha, 160)[0].is_file(), shas * 2))

    assert made == [True] * 8
    assert most == 1


LONG_AGO = UNFINISHED_DAYS * 24 * 3_600 + 60


def left_alone_for(photos, seconds):
    """Let all that has come in part be so old, and the store look at it at the next piece."""
    for path in photos._arriving():
        os.utime(path, (time.time() - seconds, time.time() - seconds))
    photos._swept_ms = None


def test_pieces_to_which_nothing_came_for_long_go_and_the_photo_begins_anew(photos):
    data, other = picture(), picture((320, 240))
    sha, half = named(data), len(data) // 2
    photos.append(named(other), 0, len(other), other)
    photos.append(sha, 0, len(data), data[:half])
    (photos._part(sha).parent / f"{'a' * 64}.total").write_text("9")  # as a process leaves that ended between the two
    left_alone_for(photos, LONG_AGO)
    assert photos.unfinished() == (1, half)

    third = picture((160, 120))
    photos.append(named(third), 0, len(third), third[:10])

    assert [path.name for path in photos._arriving()] == [f"{named(third)}.part", f"{named(third)}.total"]
    assert photos.offset(sha) is None
    with pytest.raises(WrongOffset) as told:  # by which the phone that goes on in the middle begins anew
        photos.append(sha, half, len(data), data[half:])
    assert told.value.offset == 0
    assert photos.append(sha, 0, len(data), data) == len(data)
    assert photos.path(sha).read_bytes() == data
    assert photos.path(named(other)).read_bytes() == other  # what was acknowledged is no piece, however old


def test_pieces_of_a_phone_that_was_away_for_less_stay(photos):
    data = picture()
    photos.append(named(data), 0, len(data), data[:10])
    left_alone_for(photos, LONG_AGO - 3_600)

    photos._sweep()

    assert photos.offset(named(data)) == (10, len(data))


def test_pieces_are_looked_through_now_and_then_not_at_each_piece(photos):
    data = picture()
    photos.append(named(data), 0, len(data), data[:10])
    swept = photos._swept_ms
    left_alone_for(photos, LONG_AGO)
    photos._swept_ms = swept

    photos._sweep()

    assert photos.offset(named(data)) == (10, len(data))


def test_bytes_without_their_total_are_no_beginning(photos):
    """Pieces were added behind them: the whole then had another hash and was refused."""
    data = picture()
    photos._part(named(data)).parent.mkdir(parents=True, exist_ok=True)
    photos._part(named(data)).write_bytes(b"left of another day")

    assert photos.append(named(data), 0, len(data), data) == len(data)
    assert photos.path(named(data)).read_bytes() == data
