"""When a plant's own server copies its record, where to, and how many copies stay."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class BackupPlan:
    """folder: an absolute path, on another disk. at: the time of day, of the plant. keep: how many copies stay, 1.."""

    folder: str
    at: time
    keep: int

    def latest_due_ms(self, zone: ZoneInfo, now_ms: int) -> int:
        """Return the last instant at or before ``now_ms`` at which a copy was to be made (ms since 1970 UTC).

        A time of day that the clocks leap over is due when they have; one that comes twice is due the first time.
        """
        local = datetime.fromtimestamp(now_ms / 1000, zone)
        today = datetime.combine(local.date(), self.at, zone)
        due = (
            today
            if today.timestamp() * 1000 <= now_ms
            else datetime.combine(local.date() - timedelta(days=1), self.at, zone)
        )
        return round(due.timestamp() * 1000)
