"""A picture for under the zones: refused by its head, else made anew, small, upright, without a camera's words."""

import io
import tracemalloc

import numpy as np
import pytest
from PIL import Image

from qc.store.folder.view_pictures import EDGES, MOST_BYTES, NotAPicture, made_anew
from tests.store.pictures import BROKEN, encoded, headed_png, noise, sides


def opened(made):
    image = Image.open(io.BytesIO(made.data))
    image.load()
    return image


def is_red(pixel):
    return pixel[0] > 150 and pixel[2] < 60


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_each_form_that_is_taken_becomes_a_small_webp(form):
    made = made_anew(encoded(sides(), form))

    assert (made.width, made.height) == (300, 200)
    assert opened(made).format == "WEBP"
    assert is_red(opened(made).getpixel((20, 100)))
    assert not is_red(opened(made).getpixel((280, 100)))


def test_even_noise_as_large_as_a_phones_photo_comes_below_the_limit():
    made = made_anew(encoded(noise(4000, 3000), "JPEG", quality=60))

    assert len(made.data) <= MOST_BYTES
    assert max(made.width, made.height) in EDGES
    assert made.width * 3 == made.height * 4


def test_it_is_turned_as_its_camera_was_held_and_what_the_camera_wrote_is_left_out():
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned a quarter clockwise (Exif 2.3, tag Orientation; from memory)
    exif[0x010F] = "Some Maker"
    exif.get_ifd(0x8825)[1] = "N"  # where it was taken

    made = made_anew(encoded(sides(), "JPEG", exif=exif.tobytes()))

    assert (made.width, made.height) == (200, 300)
    assert is_red(opened(made).getpixel((100, 20)))
    assert not is_red(opened(made).getpixel((100, 280)))
    assert not opened(made).getexif()
    assert b"Some Maker" not in made.data


def test_what_lets_the_ground_through_stands_on_white():
    clear = Image.new("RGBA", (300, 200), (0, 0, 0, 0))

    assert min(opened(made_anew(encoded(clear, "PNG"))).getpixel((100, 100))) > 250


def test_a_picture_of_sixteen_bits_keeps_its_greys():
    ramp = np.tile(np.linspace(0, 65_535, 300).astype("uint16"), (200, 1))

    made = opened(made_anew(encoded(Image.fromarray(ramp), "PNG")))

    assert [round(made.getpixel((x, 100))[0] / 10) for x in (2, 150, 297)] == [0, 13, 25]


def test_a_phones_jpeg_that_holds_a_second_picture_is_its_first():
    two = encoded(sides(), "MPO", save_all=True, append_images=[Image.new("RGB", (300, 200), "green")])

    assert is_red(opened(made_anew(two)).getpixel((20, 100)))


@pytest.mark.parametrize("what", BROKEN)
def test_what_is_no_picture_to_keep_is_refused_in_words(what):
    data, words = BROKEN[what]

    with pytest.raises(NotAPicture) as told:
        made_anew(data)

    assert words in str(told.value)
    assert ";" in str(told.value), "what would do is said"


def test_a_picture_of_30_000_by_30_000_takes_no_memory():
    tracemalloc.start()
    with pytest.raises(NotAPicture):
        made_anew(headed_png(30_000, 30_000))
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()

    assert most < 5_000_000
