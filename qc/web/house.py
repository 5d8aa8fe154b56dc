"""Everything that an application serves from, opened once and handed around as one."""

from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import cast

from flask import current_app

from qc.domain.plant.plant import Plant
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.domain.tables.plant_words import in_words
from qc.domain.words.speaking import tongue
from qc.store.folder.photos import PhotoStore
from qc.store.folder.plant_folder import folder_clock, tables_folder
from qc.store.intake.door import server_epoch
from qc.store.intake.journal import Journal, wall_ms
from qc.store.intake.revising import lay_owed
from qc.store.people.devices import Devices
from qc.store.people.enrolment import Enrolment
from qc.store.people.even_clock import even_clock
from qc.store.people.machines import Machines
from qc.store.people.persons import People
from qc.store.people.sign_ins import SignIns
from qc.store.reading.reads import Reads
from qc.store.record.connection import RECORD, open_reader
from qc.store.record.tables_kept import owed_tables
from qc.web.photo_allowance import PhotoAllowance

_KEY = "qc.house"


@dataclass
class House:
    """One plant's data folder, open. clock: milliseconds since 1970 UTC; demo: the plant is invented.

    even: the clock that tokens and lock-outs are counted by, None for ``clock`` itself.
    """

    folder: Path
    journal: Journal
    plant: Plant
    photos: PhotoStore
    clock: Callable[[], int]
    demo: bool
    even: Callable[[], int] | None = None
    reads: Reads = field(init=False)
    people: People = field(init=False)
    devices: Devices = field(init=False)
    machines: Machines = field(init=False)
    sign_ins: SignIns = field(init=False)
    enrolment: Enrolment = field(init=False)
    photo_allowance: PhotoAllowance = field(init=False)
    server_epoch: str = field(init=False)
    _shown: dict[str, tuple[Plant, Plant]] = field(init=False, default_factory=dict)  # by language: of which plant

    def __post_init__(self) -> None:
        self.reads = Reads(self.folder, self.plant)
        read = self.reads.connection
        self.server_epoch = server_epoch(read()) or ""  # given anew by a restore only, which needs the server stopped
        self.people = People(self.folder / "keys", self.journal, read)
        self.devices = Devices(self.journal, read)
        self.machines = Machines(self.journal, read, self.even or self.clock)
        self.enrolment = Enrolment(self.journal, self.journal.certificates)
        self.photo_allowance = PhotoAllowance(self.even or self.clock)
        self.sign_ins = SignIns(self.people, self.journal, read, self.even or self.clock, self.journal.certificates)

    def follow_tables(self) -> None:
        """Serve by the tables that are in force now: a page or a command beside this server may have changed them."""
        if (plant := self.reads.follow()) is not None:
            self.plant = self.journal.plant = plant

    @property
    def shown(self) -> Plant:
        """The plant with its names in the language spoken: for what pages show, not for what is recorded."""
        tag, plant = tongue().tag, self.plant  # once: another thread may follow the tables meanwhile
        of, worded = self._shown.get(tag, (None, plant))
        if of is not plant:
            worded = in_words(plant, tag)
            self._shown[tag] = (plant, worded)
        return worded

    def by_clock(self, even_ms: int) -> int:
        """Return when the server's clock will show what the even clock shows at ``even_ms``, if nobody sets it."""
        return even_ms if self.even is None else even_ms - self.even() + self.clock()

    def close(self) -> None:
        """Finish what is queued and give the record back."""
        self.journal.close()


def open_house(folder: Path, clock: Callable[[], int] | None = None) -> House:
    """Open a data folder: read its plant's tables and take its record.

    clock None: this machine's, or for an invented plant the one that its folder lives by.

    Raises PlantFaults for wrong tables, RecordInUse where another server has the record.
    """
    tables = _owed(folder) or tables_of(tables_folder(folder))
    plant = plant_from_tables(tables)
    even = None
    if clock is None:
        clock = folder_clock(folder) if plant.demo else wall_ms
        even = even_clock(clock)
    journal = Journal(folder, plant, tables, clock)
    with suppress(OSError):  # a folder that cannot be written: the record has the tables, and they are laid some day
        lay_owed(journal, folder)
    return House(folder, journal, plant, PhotoStore(folder, journal.write, clock), clock, plant.demo, even)


def _owed(folder: Path) -> dict[str, str] | None:
    """Return the tables in force where a revision was taken and the folder's files are not these yet, else None."""
    if not (folder / RECORD).exists():
        return None
    with closing(open_reader(folder / RECORD)) as conn:
        owed = owed_tables(conn)
    return None if owed is None else owed[1]


def the_house() -> House:
    """Return the house of the application that answers the present request."""
    return cast(House, current_app.extensions[_KEY])


def keep_house(extensions: dict[str, object], house: House) -> None:
    """Put the house where `the_house` finds it."""
    extensions[_KEY] = house
