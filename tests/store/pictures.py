"""Pictures as people hand them in, whole and broken, made here: nothing of them is a photo of anybody's plant."""

import io
import struct
import zlib

import numpy as np
from PIL import Image


def encoded(image, form, **more):
    """An image as the bytes of a file."""
    out = io.BytesIO()
    image.save(out, form, **more)
    return out.getvalue()


def noise(width=640, height=400, seed=1):
    """A picture that is hard to make small."""
    return Image.fromarray(np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8))


def sides(width=300, height=200):
    """A picture whose left half is red and whose right half is blue."""
    image = Image.new("RGB", (width, height), (200, 0, 0))
    image.paste((0, 0, 200), (width // 2, 0, width, height))
    return image


def headed_png(width, height):
    """A small file whose head tells of a picture of any size; there are no pixels behind it."""

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(b"\0" * 10_000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


MOVING = {"save_all": True, "append_images": [Image.new("RGB", (300, 200), "red")]}
BROKEN = {
    "nothing": (b"", "is empty (0 bytes)"),
    "SVG": (b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>', "is an SVG"),
    "GIF": (encoded(sides(), "GIF"), "is a GIF"),
    "PDF": (b"%PDF-1.7\n", "is a PDF"),
    "HTML called PNG": (b"<!doctype html><script>alert(1)</script>", "is a page or other text"),
    "30 000 x 30 000": (headed_png(30_000, 30_000), "has 900000000 pixels, and 32 million at most are read"),
    "8 000 x 8 000": (headed_png(8_000, 8_000), "has 8000 × 8000 pixels, and 32 million at most are read"),
    "a head without pixels": (headed_png(900, 900), "is damaged or not whole"),
    "half a JPEG": (encoded(noise(), "JPEG")[:9_000], "is damaged or not whole"),
    "half a PNG": (encoded(noise(), "PNG")[:9_000], "is damaged or not whole"),
    "half a WebP": (encoded(noise(), "WEBP")[:9_000], "is damaged or not whole"),
    "a moving WebP": (encoded(sides(), "WEBP", **MOVING), "is a moving picture of 2 frames"),
    "a moving PNG": (encoded(sides(), "PNG", **MOVING), "is a moving picture of 2 frames"),
    "a line": (encoded(sides(900, 3), "PNG"), "has 900 × 3 pixels; each side needs 32"),
    "text": (b"hello", "is no picture that is read here"),
    "a phone's HEIC": (b"\0\0\0\x18ftypheic\0\0", "is a HEIC or AVIF"),
}
