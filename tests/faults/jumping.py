"""A clock that jumps: this process reads the machine's clock with what a file says added, at each reading anew."""

import mmap
import struct
import time
from pathlib import Path


def follow(path: str) -> None:
    """Add to the wall clock the nanoseconds that stand in the file, a whole number of eight bytes; for good."""
    with Path(path).open("rb") as file:
        ahead = mmap.mmap(file.fileno(), 8, access=mmap.ACCESS_READ)
    real_ns = time.time_ns

    def time_ns() -> int:
        return real_ns() + struct.unpack("<q", ahead[:8])[0]

    time.time_ns = time_ns
    time.time = lambda: time_ns() / 1e9
