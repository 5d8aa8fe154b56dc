"""One line of the truth table: what is planted, what is found, in how many of the seeds, what was asked and why."""

from dataclasses import dataclass

BY_CHANCE = 0.01  # chance at which a line may be missed though its method does what it says


@dataclass(frozen=True, slots=True)
class Measured:
    """A check's result. hits of seeds; need: the share that the check asks for, least or most of it.

    is_most: the share must not be above ``need``, the stated rate of false claims, beyond what chance in so many seeds
    allows. is_stated: ``need`` is a method's stated coverage, so the share must not be below it beyond chance; without
    either, the share itself must be ``need`` at least. reason: where ``need`` is from.
    """

    check: str
    planted: str
    found: str
    hits: int
    seeds: int
    need: float
    is_most: bool = False
    is_stated: bool = False
    reason: str = ""

    @property
    def share(self) -> float:
        """Return the share of seeds."""
        return self.hits / self.seeds

    @property
    def chance(self) -> float:
        """Return the chance of so many hits, or of more extreme, where the true share is the stated one."""
        from scipy.stats import binom

        law = binom(self.seeds, self.need)
        return float(law.sf(self.hits - 1) if self.is_most else law.cdf(self.hits))

    @property
    def is_reached(self) -> bool:
        """Return whether the share is what the check asks for."""
        if self.is_most or self.is_stated:
            return self.chance > BY_CHANCE
        return self.share >= self.need

    def line(self) -> str:
        """Return the row of the table."""
        sign = "≤" if self.is_most else "stated" if self.is_stated else "≥"
        chance = f" (chance {self.chance:.2f})" if self.is_most or self.is_stated else ""
        state = "reached" if self.is_reached else "NOT reached"
        return (
            f"| {self.check} | {self.planted} | {self.found} | {self.hits}/{self.seeds} = {self.share:.2f} |"
            f" {sign} {self.need:.2f}{chance} | {self.reason} | {state} |"
        )


HEAD = "| check | planted | found | share of seeds | asked | why so much | |\n|---|---|---|---|---|---|---|"
