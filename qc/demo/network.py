"""Which phone has signal when, and what its clock says: spells without signal, and one phone's slow clock."""

import numpy as np

from qc.demo.cast import DESK, PHONES, TEST_TABLETS
from qc.demo.hours import MINUTE, SHIFT_MINUTES, Hours
from qc.demo.story import Story

PUSH_EVERY = 45 * MINUTE  # a phone with signal sends what it has this often: fewer and larger than in life
WIRED_EVERY = 60 * MINUTE  # tablets and desk, so that 26 weeks play in about a minute
LONGEST_CHANCE = 0.004  # share of phone-shifts in which the phone goes home in a pocket, unsent, for 11 hours


class Network:
    """Answers for each device: when what is recorded at an instant reaches the server, and what its clock shows."""

    def __init__(self, story: Story, hours: Hours, seed: int) -> None:
        self._story = story
        self._slow = story.phones["slow"]
        rng = np.random.default_rng([seed, 5])
        self._spells = {phone: self._drawn(rng, hours) for phone in PHONES}
        self._phase = {one: place * 3 * MINUTE for place, one in enumerate((*PHONES, *TEST_TABLETS, DESK))}
        slow = self._slow["weeks"]
        self._slow_from = hours.end_of_week(slow[0] - 1)
        self._slow_to = hours.end_of_week(slow[1])

    def _drawn(self, rng: np.random.Generator, hours: Hours) -> list[tuple[int, int]]:
        """Draw at most one spell a shift so that the share of the time without signal is the story's."""
        share = self._story.phones["offline_share"]
        longest = self._story.phones["longest_offline_hours"] * 60 * MINUTE
        spells: list[tuple[int, int]] = []
        for stretch in hours.stretches:
            # A spell of u·480 minutes, u uniform in (0.4, 1), put anywhere in the shift: mean 0.7 of it.
            if rng.random() < LONGEST_CHANCE:
                begins, length = stretch.begins + 20 * MINUTE, longest - 2 * PUSH_EVERY
            elif rng.random() < share / 0.66:
                length = int(rng.uniform(0.4, 1.0) * SHIFT_MINUTES) * MINUTE
                begins = stretch.begins + int(rng.random() * (SHIFT_MINUTES * MINUTE - length))
            else:
                continue
            # Between two spells the phone has signal long enough to send once.
            if spells and begins <= spells[-1][1] + 2 * PUSH_EVERY:
                continue
            spells.append((begins, begins + length))
        return spells

    def offline(self, device: str, ms: int) -> bool:
        """Return whether a device has no signal at an instant. Tablets and the desk are wired."""
        return self._spell_end(device, ms) > ms

    def _spell_end(self, device: str, ms: int) -> int:
        spells = self._spells.get(device, [])
        low, high = 0, len(spells)
        while low < high:
            middle = (low + high) // 2
            if spells[middle][1] <= ms:
                low = middle + 1
            else:
                high = middle
        inside = low < len(spells) and spells[low][0] <= ms
        return spells[low][1] if inside else ms

    def known(self, device: str, ms: int) -> int:
        """Return when the server has what was recorded on a device at an instant."""
        phase, every = self._phase[device], PUSH_EVERY if device in self._spells else WIRED_EVERY
        while True:
            ready = self._spell_end(device, ms)
            ms = -(-(ready - phase) // every) * every + phase
            if not self.offline(device, ms):
                return ms

    def clock(self, device: str, ms: int) -> int:
        """Return what a device's clock shows at an instant."""
        if device == self._slow["device"] and self._slow_from <= ms < self._slow_to:
            return ms - int(self._slow["minutes"]) * MINUTE
        return ms

    def full(self, device: str, week: int) -> bool:
        """Return whether a device has no room for photos in a week of the story."""
        full = self._story.phones["full"]
        return bool(device == full["device"] and full["weeks"][0] <= week <= full["weeks"][1])
