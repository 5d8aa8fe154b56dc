"""A picture that is to lie under the zones: looked at by its head, then made anew, small enough for a phone to keep.

WebP, since of the same bytes it came out nearer to the picture than JPEG each time that both were tried: photo-like
noise 26.9 against 26.4 dB, screens of this program 38 against 30 and 30 against 24 dB, at 60 kB and 1280 px.
"""

import io
import re
import threading
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qc.domain.words.speaking import marked, say

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_FILE = 20_000_000  # bytes of what is handed in
MOST_PIXELS = 32_000_000  # of what is decoded: told by the head, before any of it is
LEAST_EDGE = 32  # px: less shows nothing
MOST_BYTES = 60_000  # of what is made of it
EDGES = (1280, 1120, 960, 800, 640, 480, 320)
QUALITIES = (85, 76, 66, 56)
# What a file begins with that is handed in for a picture and is none that is read here, and its name.
_OTHERS = (
    (b"GIF8", marked("a GIF")),
    (b"%PDF", marked("a PDF")),
    (b"BM", marked("a bitmap (BMP)")),
    (b"II*\x00", marked("a TIFF or a camera's raw picture")),
    (b"MM\x00*", marked("a TIFF or a camera's raw picture")),
    (b"PK\x03\x04", marked("a packed file (ZIP, or an office document)")),
)
_FORMATS = ("JPEG", "PNG", "WEBP")

# One picture at a time is decoded, as of photos: several large ones at once would take all memory.
_making = threading.Lock()


class NotAPicture(Exception):
    """What was handed in is no picture that can lie under zones; its words say what it is and what would do."""


@dataclass(frozen=True, slots=True)
class Made:
    """A picture made anew: its bytes and its size in pixels."""

    data: bytes
    width: int
    height: int


def made_anew(data: bytes) -> Made:
    """Return a picture's pixels, upright and alone, as a WebP of at most ``MOST_BYTES``. Raises NotAPicture."""
    from PIL import Image, UnidentifiedImageError

    _refuse_others(data)
    broken = UnidentifiedImageError, OSError, SyntaxError, ValueError, Warning, Image.DecompressionBombError
    with _making, warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            with _opened(data) as image:
                _refuse_by_head(image)
                upright = _bare(image)
        except broken as error:
            raise NotAPicture(say("is damaged or not whole; save it again as a PNG, JPEG or WebP")) from error
        return _small(upright)


def _refuse_others(data: bytes) -> None:
    if not data:
        raise NotAPicture(say("is empty (0 bytes); choose a PNG, JPEG or WebP"))
    if len(data) > MOST_FILE:
        raise NotAPicture(
            say("has more than {most} MB; save it smaller, 2000 pixels wide are plenty", most=MOST_FILE // 1_000_000)
        )
    for begins, name in _OTHERS:
        if data.startswith(begins):
            raise NotAPicture(say("is {what}; save it as a PNG, JPEG or WebP", what=say(name)))
    head = data[:1024].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if b"<svg" in head:
        raise NotAPicture(
            say("is an SVG, which can hold more than a drawing and is not kept; save it as a PNG, JPEG or WebP")
        )
    if head.startswith(b"<"):
        raise NotAPicture(say("is a page or other text (HTML, XML) whatever its name says; choose a PNG, JPEG or WebP"))
    if data[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftypavif"):
        raise NotAPicture(say("is a HEIC or AVIF; save or share it as a PNG, JPEG or WebP"))


def _opened(data: bytes) -> "Image":
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # its size is looked at in our words
            return Image.open(io.BytesIO(data), formats=_FORMATS)
    except UnidentifiedImageError as error:
        raise NotAPicture(say("is no picture that is read here; choose a PNG, JPEG or WebP")) from error
    except Image.DecompressionBombError as error:  # of a size that the library does not even open
        pixels = re.search(r"\d+", str(error))
        raise NotAPicture(_too_large(pixels.group() if pixels else say("too many"))) from error


def _too_large(pixels: str) -> str:
    return say(
        "has {pixels} pixels, and {most} million at most are read; save it smaller, 2000 pixels wide are plenty",
        pixels=pixels,
        most=MOST_PIXELS // 1_000_000,
    )


def _refuse_by_head(image: "Image") -> None:
    """Refuse by what the head tells; nothing is decoded yet. A phone's JPEG may hold further pictures: the first."""
    width, height = image.size
    if width * height > MOST_PIXELS:
        raise NotAPicture(_too_large(f"{width} × {height}"))
    if min(width, height) < LEAST_EDGE:
        raise NotAPicture(
            say(
                "has {width} × {height} pixels; each side needs {least} at least",
                width=width,
                height=height,
                least=LEAST_EDGE,
            )
        )
    if image.format != "MPO" and getattr(image, "n_frames", 1) > 1:
        raise NotAPicture(
            say("is a moving picture of {frames} frames; choose a still one", frames=getattr(image, "n_frames", 1))
        )


def _bare(image: "Image") -> "Image":
    """Return the pixels alone, upright, on white, no larger than the largest that is kept."""
    from PIL import Image, ImageOps

    largest = (EDGES[0], EDGES[0])
    image.draft("RGB", largest)  # a JPEG is decoded no larger than it need be
    image.load()
    # A picture of 16 bits: its upper eight.
    deep = image.point(lambda value: value / 256).convert("L") if image.mode.startswith("I") else image
    has_alpha = "A" in deep.getbands() or "transparency" in deep.info
    small = deep.convert("RGBA" if has_alpha else "RGB")
    small.thumbnail(largest)  # before it is turned, so that no second copy of full size is made
    turned = ImageOps.exif_transpose(small)
    bare = Image.new("RGB", turned.size, "white")
    bare.paste(turned, mask=turned.getchannel("A") if has_alpha else None)
    return bare


def _small(image: "Image") -> Made:
    for edge in EDGES:
        fitted = image.copy()
        fitted.thumbnail((edge, edge))
        for quality in QUALITIES:
            out = io.BytesIO()
            fitted.save(out, "WEBP", quality=quality, method=4)
            if out.tell() <= MOST_BYTES:
                return Made(out.getvalue(), *fitted.size)
    raise NotAPicture(say("is too full of detail to be made small enough for a phone; save it 300 pixels wide"))
