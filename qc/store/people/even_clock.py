"""A clock that only goes on: for how long tokens hold and lock-outs last, whatever is done to the machine's clock."""

import time
from collections.abc import Callable


def _passed_ms() -> int:
    """Return milliseconds that a machine has been up, its sleep counted where the system can tell."""
    boot = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic_ns() // 1_000_000 if boot is None else time.clock_gettime_ns(boot) // 1_000_000


def even_clock(clock: Callable[[], int], passed_ms: Callable[[], int] = _passed_ms) -> Callable[[], int]:
    """Return a clock that stands now where ``clock`` does (milliseconds since 1970 UTC) and from here on only passes.

    Setting the machine's clock moves it neither way. After a restart it stands again where the machine's clock does.
    """
    begun, started = clock(), passed_ms()
    return lambda: begun + passed_ms() - started
