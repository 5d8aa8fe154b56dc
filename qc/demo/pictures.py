"""Pictures drawn by the program in place of photos: the view, the zone and the spot, marked as a demo picture."""

import hashlib
import io
from collections.abc import Callable
from dataclasses import dataclass, field

from PIL import Image, ImageDraw, ImageFont

from qc.demo.acts import Act, Log
from qc.demo.network import Network
from qc.demo.schedule import Unit
from qc.domain.plant.plant import Plant, Zone

WIDTH, HEIGHT, MARGIN = 480, 360, 30
MOST = 360  # different pictures; after that one of the same type and zone kind is used again
ASKED = 0.15  # share of findings of types without a compulsory photo that get one


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn picture: the SHA-256 of its bytes and the bytes."""

    sha256: str
    data: bytes


@dataclass
class Pictures:
    """Draws pictures and keeps them by hash."""

    plant: Plant
    network: Network
    drawn: dict[str, Picture] = field(default_factory=dict)
    _kept: dict[tuple[str, ...], Picture] = field(default_factory=dict)

    def attach(self, log: Log, unit: Unit, act: Act, zone: Zone) -> None:
        """Attach a picture to a defect as recorded, where its type wants one and the phone has room."""
        type_, device = str(act.body["type"]), act.device
        wanted = self.plant.types[type_].photo_required or log.chance(ASKED)
        if not wanted or self.network.full(device, unit.week):
            return
        picture = self._of(type_, zone, act.body["mark"])
        body = {"defect": act.id, "sha256": picture.sha256, "bytes": len(picture.data), "view": "near"}
        body |= {"width": WIDTH, "height": HEIGHT}
        log.add(act.ms + 6_000, device, act.author, "photo_attached", unit.chassis, body)

    def _of(self, type_: str, zone: Zone, mark: list[int]) -> Picture:
        exact, alike = (type_, zone.model, zone.key), (type_, zone.view)
        found = self._kept.get(exact) or (self._kept.get(alike) if len(self.drawn) >= MOST else None)
        if found is None:
            found = self._draw(type_, zone, mark)
            self.drawn[found.sha256] = found
        self._kept[exact] = found
        self._kept.setdefault(alike, found)
        return found

    def _draw(self, type_: str, zone: Zone, mark: list[int]) -> Picture:
        image = Image.new("RGB", (WIDTH, HEIGHT), "#eef1f3")
        pen = ImageDraw.Draw(image)
        same = [one for one in self.plant.zones.values() if (one.model, one.view) == (zone.model, zone.view)]
        place = _scale([point for one in same for point in one.points])
        for one in sorted(same, key=lambda one: one.layer):
            fill = "#ffd54d" if one.key == zone.key else "#ffffff"
            pen.polygon([place(x, y) for x, y in one.points], fill=fill, outline="#20272c", width=2)
        x, y = place(mark[0], mark[1])
        pen.ellipse((x - 16, y - 16, x + 16, y + 16), outline="#b00020", width=4)
        _words(pen, f"{type_} {self.plant.types[type_].name}", f"{zone.model}, {zone.name}: demo picture, no photo")
        data = io.BytesIO()
        image.save(data, "JPEG", quality=80)
        return Picture(hashlib.sha256(data.getvalue()).hexdigest(), data.getvalue())


def _scale(points: list[tuple[int, int]]) -> Callable[[int, int], tuple[float, float]]:
    low_x, high_x = min(x for x, _ in points), max(x for x, _ in points)
    low_y, high_y = min(y for _, y in points), max(y for _, y in points)
    room = (WIDTH - 2 * MARGIN, HEIGHT - 3 * MARGIN - 20)
    scale = min(room[0] / (high_x - low_x), room[1] / (high_y - low_y))

    def place(x: int, y: int) -> tuple[float, float]:
        return MARGIN + (x - low_x) * scale, HEIGHT - MARGIN - 20 - (y - low_y) * scale

    return place


def _words(pen: ImageDraw.ImageDraw, above: str, below: str) -> None:
    font = ImageFont.load_default(size=15)
    pen.text((MARGIN, 8), above, fill="#111111", font=font)
    pen.text((MARGIN, HEIGHT - 32), below, fill="#111111", font=font)
