"""The demo's data folder: made once by playing the story, afterwards used as it is."""

import json
import shutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from qc.assets import folder as asset_folder
from qc.demo.cast import PHONES, TEST_TABLETS, people
from qc.demo.play import Player
from qc.demo.simulate import Simulation
from qc.demo.story import read_story
from qc.demo.variants import varied
from qc.domain.facts.people import Person
from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.store.folder.photos import PhotoStore
from qc.store.folder.plant_folder import make_plant_folder, set_clock_ahead
from qc.store.intake.journal import Journal
from qc.store.people.devices import Devices
from qc.store.people.persons import People
from qc.store.people.pins import new_secret
from qc.store.record.connection import RECORD, open_reader

ABOUT = "demo.json"  # stands in a folder whose play came to its end
DAY_MS = 24 * 60 * 60 * 1000


class NotADemo(Exception):
    """A folder is there that no play made; nothing in it was touched."""


@dataclass(frozen=True, slots=True)
class SignIn:
    """A person of the demo and the PIN or passphrase, which is kept nowhere else."""

    person: Person
    secret: str


def is_played(folder: Path) -> bool:
    """Return whether a play made this folder and came to its end. Raises NotADemo for a folder of another kind."""
    if (folder / ABOUT).is_file():
        return True
    if folder.exists() and any(folder.iterdir()):
        raise NotADemo(f"{folder} is there and no demo made it; choose another with --folder. Nothing was changed.")
    return False


def make_demo(
    folder: Path, seed: int, weeks: int, say: Callable[[str], None], variants: Sequence[str] = ()
) -> list[SignIn]:
    """Play the story, with its named variants, into a new folder and return the people's sign-ins.

    It is made beside its place and moved there at the end, so that a play broken off leaves no half of one.
    """
    making = folder.with_name(folder.name + ".making")
    if making.exists():
        _clear(making)
    tables = tables_of(asset_folder("demo_data") / "plant")
    make_plant_folder(making, tables)
    plant = plant_from_tables(tables)
    story = varied(read_story(asset_folder("demo_data") / "story"), variants)
    simulation = Simulation(story, plant, seed, weeks)
    sign_ins = _played(making, plant, tables, simulation, say)
    set_clock_ahead(making, _ahead_ms(plant, simulation.story.monday(weeks + 1)))
    about = {"seed": seed, "weeks": weeks, "variants": list(variants), "revision": plant.revision}
    (making / ABOUT).write_text(json.dumps(about) + "\n", encoding="utf-8")
    if folder.exists():
        folder.rmdir()  # is_played saw that it is empty
    making.rename(folder)
    return sign_ins


def _clear(making: Path) -> None:
    """Remove what a play that was broken off left. Raises NotADemo for anything else."""
    if not (making / "plant").is_dir() or (making / ABOUT).exists():
        raise NotADemo(f"{making} is in the way and is no broken-off play; move it. Nothing was changed.")
    shutil.rmtree(making)


def _played(
    folder: Path, plant: Plant, tables: dict[str, str], simulation: Simulation, say: Callable[[str], None]
) -> list[SignIn]:
    begins = simulation.hours.stretches[0].begins
    player: Player | None = None

    def clock() -> int:
        return max(begins, player.now_ms if player else 0)

    with Journal(folder, plant, tables, clock) as journal:
        sign_ins = _people(folder, plant, journal)
        reader = open_reader(folder / RECORD)
        phones = Devices(journal, lambda: reader)
        for one in (*PHONES, *TEST_TABLETS):
            phones.enrol(one)
        reader.close()
        player = Player(simulation, journal, PhotoStore(folder, journal.write, clock))
        played = player.play(say)
    say(f"{played.operations} operations in {played.pushes} pushes, {played.photos} pictures")
    return sign_ins


def _people(folder: Path, plant: Plant, journal: Journal) -> list[SignIn]:
    reader = open_reader(folder / RECORD)
    try:
        register = People(folder / "keys", journal, lambda: reader)
        sign_ins = [SignIn(person, new_secret(person, person.code)) for person in people(plant)]
        for one in sign_ins:
            register.add(one.person, one.secret)
    finally:
        reader.close()
    return sign_ins


def _ahead_ms(plant: Plant, today: date) -> int:
    """Return whole days from this machine's day to the demo's, so that the time of day stays the clock's own."""
    here = datetime.now(ZoneInfo(plant.time_zone)).date()
    return (today - here) // timedelta(days=1) * DAY_MS
