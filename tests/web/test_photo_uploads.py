"""Photos arrive in pieces and count only whole; nothing half, foreign or hostile is ever served."""

import io
import struct
import zlib

import pytest
from PIL import Image

from qc.store.folder import photos
from qc.web.photo_allowance import BEGUN_BYTES, PhotoAllowance
from tests.web.plant_server import picture, sha


def held(phone, photo):
    return phone.client.head(f"/api/v1/photos/{sha(photo)}", headers=phone.headers)


def test_a_photo_in_three_pieces_is_served_as_it_was(server):
    ivo, photo = server.phone(), picture()
    assert (held(ivo, photo).status_code, held(ivo, photo).headers["Upload-Offset"]) == (404, "0")

    for first, end in ((0, 1000), (1000, 2500), (2500, None)):
        answer = ivo.upload(photo, first, end)
        assert (answer.status_code, answer.headers["Upload-Offset"]) == (204, str(end or len(photo)))

    assert held(ivo, photo).headers["Upload-Length"] == str(len(photo))
    got = ivo.get(f"photos/{sha(photo)}")
    assert (got.data, got.content_type) == (photo, "image/jpeg")


def test_half_a_photo_is_not_served_and_goes_on_where_it_left_off(server):
    ivo, photo = server.phone(), picture()
    ivo.upload(photo, 0, 2000)

    assert ivo.get(f"photos/{sha(photo)}").status_code == 404
    assert held(ivo, photo).headers["Upload-Offset"] == "2000"
    assert server.phone("tester").upload(photo, 2000).status_code == 204


def test_a_piece_at_the_wrong_offset_is_told_the_right_one(server):
    ivo, photo = server.phone(), picture()
    ivo.upload(photo, 0, 2000)

    for offset in (0, 1999, 2500):
        answer = ivo.upload(photo, offset, offset + 10)
        assert (answer.status_code, answer.headers["Upload-Offset"]) == (409, "2000")
        assert answer.json["error"]["code"] == "wrong_offset"


def test_a_photo_sent_again_is_taken_as_there(server):
    ivo, photo = server.phone(), picture()

    assert [ivo.upload(photo).status_code for _ in range(2)] == [204, 204]


def test_bytes_of_another_hash_are_refused_and_forgotten(server):
    ivo, photo, other = server.phone(), picture(), picture(320, 240)
    headers = {**ivo.headers, "Upload-Offset": "0", "Upload-Length": str(len(other))}

    answer = ivo.client.patch(
        f"/api/v1/photos/{sha(photo)}", data=other, headers=headers, content_type="application/offset+octet-stream"
    )

    assert (answer.status_code, answer.json["error"]["code"]) == (422, "photo_broken")
    assert held(ivo, photo).status_code == 404
    assert ivo.upload(photo).status_code == 204


def png_of(width: int, height: int) -> bytes:
    """Return a PNG whose header claims a size and whose pixels are a few zero bytes (PNG specification, IHDR)."""

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(100))) + chunk(b"IEND", b"")
    )


def animated_gif() -> bytes:
    out = io.BytesIO()
    Image.new("P", (8, 8)).save(out, "GIF")
    return out.getvalue()


BROKEN = {
    "half a JPEG": lambda: picture()[: len(picture()) // 2],
    "text": lambda: b"<script>alert(1)</script>",
    "SVG": lambda: b'<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>',
    "GIF": animated_gif,
    "a PNG of 25 megapixels": lambda: png_of(5000, 5001),
    "a PNG of four gigapixels": lambda: png_of(65000, 65000),
    "a PNG without its pixels": lambda: png_of(100, 100),
    "one byte": lambda: b"x",
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_does_not_decode_in_full_is_refused(server, name):
    ivo, broken = server.phone(), BROKEN[name]()

    answer = ivo.upload(broken)

    assert (answer.status_code, answer.json["error"]["code"]) == (422, "photo_broken")
    assert ivo.get(f"photos/{sha(broken)}").status_code == 404


@pytest.mark.parametrize(
    ("offset", "length"), [("", "10"), ("x", "10"), ("-1", "10"), ("0", ""), ("0", "0"), ("0", "1e3"), ("٣", "9")]
)
def test_strange_figures_in_the_headers_are_refused(server, offset, length):
    ivo = server.phone()
    headers = {**ivo.headers, "Upload-Offset": offset.encode().decode("latin1"), "Upload-Length": length}

    answer = ivo.client.patch(
        f"/api/v1/photos/{'0' * 64}", data=b"x", headers=headers, content_type="application/offset+octet-stream"
    )

    assert (answer.status_code, answer.json["error"]["code"]) == (400, "malformed")


def test_a_photo_beyond_eight_megabytes_is_413_before_it_is_sent(server):
    ivo = server.phone()

    answer = ivo.upload(b"x", total=8_000_001)

    assert (answer.status_code, answer.json["error"]["field"]) == (413, "Upload-Length")


def test_a_hundred_megabytes_are_refused_unread(server):
    ivo = server.phone()

    class Unread(io.BytesIO):
        def read(self, *_):
            raise AssertionError("the body was read")

        readinto = readline = read

    for path, media_type in (
        ("push", "application/json"),
        ("sign-in", "application/json"),
        (f"photos/{'0' * 64}", "application/offset+octet-stream"),
    ):
        answer = ivo.client.open(
            f"/api/v1/{path}",
            method="PATCH" if path.startswith("photos") else "POST",
            headers={**ivo.headers, "Upload-Offset": "0", "Upload-Length": "1000"},
            content_type=media_type,
            environ_overrides={"wsgi.input": Unread(), "CONTENT_LENGTH": "100000000"},
        )
        assert (answer.status_code, answer.json["error"]["code"]) == (413, "too_large")


def test_each_address_has_its_own_limit(server):
    """A photo of two megabytes passes where a photo is meant; a ping of two kilobytes is too much of a ping."""
    ivo, photo = server.phone(), picture() + bytes(2_000_000)

    assert ivo.upload(photo).status_code == 204
    assert ivo.post("ping", b'{"nonce":"' + b"n" * 1_000 + b'"}').status_code == 413
    assert ivo.post("sign-in", b" " * 2_001).status_code == 413
    assert ivo.post("push", b" " * 256_000).status_code == 400
    assert ivo.post("push", b" " * 256_001).status_code == 413


@pytest.mark.parametrize("name", ["x", "0" * 63, "0" * 65, "A" * 64, "..%2f..%2fkeys%2fpepper", "%00" * 64])
def test_an_address_that_is_no_hash_is_404(server, name):
    ivo = server.phone()
    answers = [
        ivo.get(f"photos/{name}"),
        ivo.client.patch(
            f"/api/v1/photos/{name}", data=b"x", headers=ivo.headers, content_type="application/offset+octet-stream"
        ),
        server.page("inspector").get(f"/photos/{name}"),
    ]

    assert [answer.status_code for answer in answers] == [404, 404, 404]


def with_position(photo: bytes) -> bytes:
    out = io.BytesIO()
    image = Image.open(io.BytesIO(photo))
    exif = image.getexif()
    exif.get_ifd(0x8825)[1] = "N"  # the GPS block of Exif 2.3
    exif[0x010F] = "a maker of phones"
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


def test_a_small_picture_holds_no_position_and_is_of_an_offered_size(server):
    ivo, photo = server.phone(), with_position(picture(1600, 1200))
    assert b"a maker of phones" in photo
    ivo.upload(photo)

    small = ivo.get(f"photos/{sha(photo)}?edge=320")

    assert small.content_type == "image/jpeg"
    assert max(Image.open(io.BytesIO(small.data)).size) == 320
    assert b"a maker of phones" not in small.data
    for edge in ("0", "321", "-320", "x", "99999"):
        assert ivo.get(f"photos/{sha(photo)}?edge={edge}").status_code == 400


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_a_photo_is_served_under_the_type_that_its_bytes_have(server, kind):
    ivo, photo = server.phone(), picture(kind=kind)
    ivo.upload(photo)

    assert ivo.get(f"photos/{sha(photo)}").content_type == f"image/{kind.lower()}"


def test_a_photo_can_run_nothing_wherever_it_is_served(server):
    ivo, photo = server.phone(), picture()
    ivo.upload(photo)

    for answer in (ivo.get(f"photos/{sha(photo)}"), server.page("inspector").get(f"/photos/{sha(photo)}")):
        assert answer.data == photo
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Content-Security-Policy"].startswith("default-src 'none'")
        assert answer.headers["Content-Security-Policy"].endswith("; sandbox")
        assert answer.headers["Cache-Control"].startswith("private")


def test_what_is_taken_of_one_phone_in_a_day_has_a_bound_and_the_photo_waits_on_it(server):
    phone, other = server.phone(), server.phone("tester")
    taken = [picture(320, 240 + n) for n in range(3)]
    server.house.photo_allowance = PhotoAllowance(lambda: server.now, 2 * (BEGUN_BYTES + len(taken[0])) + 1_000)
    assert [phone.upload(one).status_code for one in taken[:2]] == [204, 204]

    answer = phone.upload(taken[2])

    assert (answer.status_code, answer.json["error"]["code"]) == (429, "photos_bounded")
    assert "The photo is kept on the phone and sent later by itself." in answer.json["error"]["message"]
    assert held(phone, taken[2]).status_code == 404
    assert held(phone, taken[0]).status_code == 200  # what was taken stays
    assert other.upload(taken[2], 0, 1000).status_code == 204  # another phone is not held up
    server.now += 25 * 3_600_000
    phone = server.phone()
    assert phone.upload(taken[2], 1000).status_code == 204


def test_photos_of_one_byte_are_bounded_too(server):
    phone = server.phone()
    server.house.photo_allowance = PhotoAllowance(lambda: server.now, 10 * BEGUN_BYTES + 9)
    pieces = [phone.upload(f"{n:064}".encode(), 0, 1).status_code for n in range(12)]

    assert pieces == [204] * 10 + [429] * 2


def test_what_the_server_could_not_take_is_not_counted(server, monkeypatch):
    """A disk that is full for a day has each phone send each photo again and again."""
    phone, photo = server.phone(), picture()
    server.house.photo_allowance = PhotoAllowance(lambda: server.now, BEGUN_BYTES + 2 * len(photo))
    with monkeypatch.context() as full:
        full.setattr(photos, "reserve_of", lambda total: 10**15)
        assert [phone.upload(photo).status_code for _ in range(5)] == [507] * 5

    assert phone.upload(photo).status_code == 204
