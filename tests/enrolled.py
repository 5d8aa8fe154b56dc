"""A phone enrolled beside a running server, as the console does it."""

from pathlib import Path

from qc.store.folder.plant_folder import folder_clock
from qc.store.people.enrolment import Enrolment, Given
from qc.store.people.telling import Beside


def offered(folder: Path) -> str:
    """Return the letters of an offer to one phone."""
    with Beside(folder, folder_clock(folder)) as record:
        return Enrolment(record, record.certificates).offer().letters


def enrolled(folder: Path) -> Given:
    """Return the code and the secret of a phone that has just been enrolled."""
    with Beside(folder, folder_clock(folder)) as record:
        enrolment = Enrolment(record, record.certificates)
        return enrolment.take(enrolment.offer().letters, None, "")
