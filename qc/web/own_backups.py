"""The server's own backups: once a day, in a process of its own, so that no phone and no page waits for it."""

import logging
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from qc.domain.plant.backup_plan import BackupPlan
from qc.store.keeping.backup import last_backup
from qc.store.keeping.backup_rotation import drop_broken_off, drop_old, next_copy

LOOK_SECONDS = 30
AGAIN_MS = 3_600_000  # after a failure
_NICE = 10  # phones and pages come first
_log = logging.getLogger("qc.web")


class OwnBackups:
    """Makes a copy whenever one is due and none has been made since; after a failure it tries again in an hour.

    What came of it is noted in the data folder, where `qc doctor` and the administrator's page read it.
    """

    def __init__(
        self, folder: Path, plan: BackupPlan, zone: ZoneInfo, clock: Callable[[], int], copy: Callable[[Path], bool]
    ) -> None:
        """clock: this machine's, ms since 1970 UTC. copy: makes and verifies a copy at a place, True where it did."""
        self._folder, self._plan, self._zone, self._clock, self._copy = folder, plan, zone, clock, copy
        self._failed_ms: int | None = None

    def start(self, stopping: threading.Event) -> None:
        """Look every half a minute until told to stop."""

        def run() -> None:
            while not stopping.wait(LOOK_SECONDS):
                try:
                    self.look()
                except OSError as error:  # the disk of the copies: tried again, and the note tells how old the last is
                    self._failed_ms = self._clock()
                    _log.error("the backup folder cannot be used: %s", error)

        threading.Thread(target=run, name="own-backups", daemon=True).start()

    def is_due(self) -> bool:
        """Return whether a copy is to be made now."""
        now = self._clock()
        if self._failed_ms is not None and now - self._failed_ms < AGAIN_MS:
            return False
        last = last_backup(self._folder)
        if last is None or last.at_ms > now:  # made under a clock that was ahead: nobody knows how long ago
            return True
        return last.at_ms < self._plan.latest_due_ms(self._zone, now)

    def look(self) -> bool:
        """Make a copy if one is due, take old ones away once it is whole; return whether one was made."""
        if not self.is_due():
            return False
        place = Path(self._plan.folder)
        copy = next_copy(place, self._zone, self._clock())
        made = self._copy(copy)
        self._failed_ms = None if made else self._clock()
        if made:
            drop_old(copy, self._plan.keep)
            drop_broken_off(place, self._clock())
        _log.info("backup %s", "made" if made else "failed; tried again in an hour")
        return made


def copying(folder: Path) -> Callable[[Path], bool]:
    """Return what copies a data folder to a place with the program's own command, gently, in another process."""

    def copy(target: Path) -> bool:
        command = [sys.executable, "-c", "from qc.cli import main; main()", "backup", str(folder), str(target)]
        with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) as making:
            if hasattr(os, "setpriority"):
                os.setpriority(os.PRIO_PROCESS, making.pid, _NICE)
            _, told = making.communicate()
        if making.returncode:
            _log.error("the backup failed: %s", told.strip()[-300:])
        return making.returncode == 0

    return copy
