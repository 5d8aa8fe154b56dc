"""Photos count only when every byte is here, hashes to its name and decodes in full."""

import hashlib
import io

import pytest
from PIL import Image

from qc.store.photos import PhotoBroken, PhotoStore, Upload, WrongOffset
from tests.store.record_kit import open_journal


def picture(size=(640, 480), kind="JPEG", **options):
    out = io.BytesIO()
    Image.effect_noise(size, 60).convert("RGB").save(out, kind, **options)
    return out.getvalue()


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


def broken_pictures():
    whole = picture()
    damaged = bytearray(picture(kind="PNG"))
    damaged[len(damaged) // 2] ^= 0xFF
    yield pytest.param(whole[: len(whole) // 2], id="half a JPEG, which a look at its headers lets pass")
    yield pytest.param(bytes(damaged), id="one byte of a PNG changed")
    yield pytest.param(picture(kind="GIF"), id="a kind that is not kept")
    yield pytest.param(b"<svg onload='x'/>", id="markup")
    yield pytest.param(picture((5001, 5000), "WEBP", quality=1), id="more than 24 megapixels")


@pytest.mark.parametrize("data", list(broken_pictures()))
def test_what_is_no_whole_picture_is_refused_and_forgotten(photos, data):
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
