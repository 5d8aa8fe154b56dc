"""The play itself: every push of the simulation taken in by the journal, photos by the photo store."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from qc.demo.acts import Act
from qc.demo.authors import Authors
from qc.demo.odd_phones import odd_pushes
from qc.demo.phones import Phones
from qc.demo.pictures import Picture
from qc.demo.simulate import Simulation
from qc.domain.unit.release import digest_of_open
from qc.store.folder.photos import PhotoStore
from qc.store.intake.journal import Journal, PushAnswer, PushBatch
from qc.store.reading.reads import Reads


@dataclass
class Played:
    """What came of a play: operations sent and the verdicts on them, by (verdict, code); photos kept."""

    operations: int = 0
    pushes: int = 0
    photos: int = 0
    verdicts: Counter[tuple[str, str]] = field(default_factory=Counter)
    refused: list[tuple[str, str, str]] = field(default_factory=list)


class Player:
    """Sends a simulation's acts into a record."""

    def __init__(self, simulation: Simulation, journal: Journal, photos: PhotoStore | None = None) -> None:
        self._simulation = simulation
        self._journal = journal
        self._photos = photos
        self._reads = Reads(journal.folder, simulation.plant)
        zone = ZoneInfo(simulation.plant.time_zone)
        self._authors = Authors(journal.certificates)
        self._phones = Phones(simulation.network, simulation.hours, zone, self._authors)
        self._size = 0
        self._uploaded: set[str] = set()
        self.now_ms = 0  # the play's own clock: when the last push was received
        self.played = Played()

    def play(self, say: Callable[[str], None] = lambda line: None) -> Played:
        """Play everything; ``say`` is told once a week of the story how far it is."""
        acts = self._simulation.acts(say)
        odd = odd_pushes(
            self._authors,
            self._simulation.units[0].chassis,
            self._simulation.hours.end_of_week(1),
            self._simulation.seed,
        )
        week = 0
        for portion in self._phones.pushes(acts):
            while odd and odd[0].received_ms is not None and odd[0].received_ms < portion[0].known:
                self._push(odd.pop(0))
            self._send(portion)
            now = self._simulation.hours.at(portion[0].known).week
            if week < now <= self._simulation.weeks:
                week = now
                say(f"week {week} of {self._simulation.weeks}: {self.played.operations} operations so far")
        self._reads.close()
        return self.played

    def _send(self, portion: list[Act]) -> None:
        device, known = portion[0].device, portion[0].known
        phone = self._phones.of(device)
        for act in portion:
            if act.digest:
                act.body["open_digest"] = self._digest(act)
        raws = [self._phones.envelope(act, self._seen(act, phone.seen_through)) for act in portion]
        batch = self._phones.batch(device, known, raws)
        answer = self._push(batch)
        if any(act.twice for act in portion):
            self._push(batch)
        phone.seen_through = answer.chain_size
        self._upload([act.body["sha256"] for act in portion if act.kind == "photo_attached"])

    def _seen(self, act: Act, pulled: int) -> int:
        if act.kind != "unit_released":
            return pulled
        return self._size if act.seen == "now" else 1

    def _digest(self, act: Act) -> str:
        return digest_of_open(self._reads.open_defects(act.unit or ""))

    def _push(self, batch: PushBatch) -> PushAnswer:
        answer = self._journal.push(batch)
        assert batch.received_ms is not None
        self.now_ms = batch.received_ms
        self._size = answer.chain_size
        self.played.pushes += 1
        self.played.operations += len(batch.operations)
        kinds = [raw["kind"] for _, raw in batch.operations]
        for kind, verdict in zip(kinds, answer.verdicts, strict=True):
            self.played.verdicts[verdict.verdict, verdict.code] += 1
            if verdict.verdict == "refused":
                self.played.refused.append((kind, verdict.code, verdict.reason))
        return answer

    def _upload(self, hashes: list[str]) -> None:
        if self._photos is None:
            return
        for sha256 in hashes:
            if sha256 not in self._uploaded:
                picture: Picture = self._simulation.pictures.drawn[sha256]
                self._photos.append(sha256, 0, len(picture.data), picture.data)
                self._uploaded.add(sha256)
                self.played.photos += 1
