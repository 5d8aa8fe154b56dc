"""Acts: what somebody taps at an instant, as it will go out in an operation's envelope."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from qc.demo.network import Network
from qc.domain.facts.uuids import uuid7_of


@dataclass(slots=True)
class Act:
    """One operation before its sequence number. ms is true time; known when the server will have it.

    twice: its push is sent again as it was, as after a lost answer. digest: an open list's digest has to be filled
    in when it is sent, as the phone does from what it shows. seen: "now", or "long ago" for a signer with an old list.
    """

    id: str
    ms: int
    known: int
    device: str
    author: str
    kind: str
    unit: str | None
    body: dict[str, Any]
    deps: tuple[str, ...] = ()
    twice: bool = False
    digest: bool = False
    seen: str = "now"


@dataclass(slots=True)
class Log:
    """The acts of one unit, or of one subject, in the order in which they are made up."""

    network: Network
    rng: np.random.Generator
    acts: list[Act] = field(default_factory=list)

    def add(
        self,
        ms: int,
        device: str,
        author: str,
        kind: str,
        unit: str | None,
        body: dict[str, Any],
        deps: tuple[str, ...] = (),
    ) -> Act:
        """Note an act and return it; its id is made where it happens, by that device's clock."""
        id_ = uuid7_of(self.network.clock(device, ms), self.rng.bytes(10))
        act = Act(id_, ms, self.network.known(device, ms), device, author, kind, unit, body, deps)
        self.acts.append(act)
        return act

    def beside(self) -> "Log":
        """Return an empty log that draws from the same chance, for what goes on at the same time."""
        return Log(self.network, self.rng)

    def known(self) -> int:
        """Return when the server has everything noted so far."""
        return max(act.known for act in self.acts)

    def chance(self, share: float) -> bool:
        """Return true with a chance of ``share``."""
        return bool(self.rng.random() < share)

    def minutes(self, usual: float) -> float:
        """Return a positive number of minutes about ``usual`` (lognormal, sigma 0.6)."""
        return float(usual * np.exp(self.rng.normal(0, 0.6)))

    def pick(self, choices: Any) -> Any:
        """Return one of a sequence, each as likely."""
        return choices[int(self.rng.integers(len(choices)))]
