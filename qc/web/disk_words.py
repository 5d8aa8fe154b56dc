"""What is told of the server's disk to who keeps it or answers for the record, before it is full."""

import shutil

from qc.domain.words.speaking import say
from qc.store.folder.photos import reserve_of
from qc.store.keeping.needs import LEAST_FREE
from qc.web.house import House

_MB = 1_000_000


def disk_words(house: House) -> str:
    """Return how little room is left and what becomes of photos then, "" while there is enough."""
    disk = shutil.disk_usage(house.folder)
    if disk.free >= LEAST_FREE:
        return ""
    free, reserve = disk.free // _MB, max(1, reserve_of(disk.total) // _MB)
    if disk.free > reserve_of(disk.total):
        return say(
            "The server's disk has {free} MB left. Below {reserve} MB photos wait on the phones, so that what is "
            "recorded still finds room: make room.",
            free=free,
            reserve=reserve,
        )
    return say(
        "The server's disk has {free} MB left. Photos wait on the phones; what is recorded is taken while any is left: "
        "make room.",
        free=free,
    )
