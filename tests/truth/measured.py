"""One line of the truth table: what is planted, what is found, in how many of the seeds."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measured:
    """A check's result. hits of seeds; need: the share that the check asks for, least or most of it.

    is_most: the share must not be above ``need`` (a rate of false claims), beyond what chance in so many seeds allows.
    """

    check: str
    planted: str
    found: str
    hits: int
    seeds: int
    need: float
    is_most: bool = False

    @property
    def share(self) -> float:
        """Return the share of seeds."""
        return self.hits / self.seeds

    @property
    def is_reached(self) -> bool:
        """Return whether the share is what the check asks for, one sampling error in a thousand aside."""
        from scipy.stats import binom

        if self.is_most:
            return bool(binom.sf(self.hits - 1, self.seeds, self.need) > 0.001)
        return self.share >= self.need

    def line(self) -> str:
        """Return the row of the table."""
        asked = f"{'≤' if self.is_most else '≥'} {self.need:.2f}"
        state = "reached" if self.is_reached else "NOT reached"
        return (
            f"| {self.check} | {self.planted} | {self.found} | {self.hits}/{self.seeds} = {self.share:.2f} | {asked} |"
            f" {state} |"
        )


HEAD = "| check | planted | found | share of seeds | asked | |\n|---|---|---|---|---|---|"
