"""Harder turns of the story, off unless asked for."""

from collections.abc import Callable, Iterable
from dataclasses import replace

from qc.demo.story import Change, Event, Story

SCRATCHED_AT = ("S07", "RP2", "S10", "HND")


def _criteria(story: Story) -> Story:
    """From week 20 the limit for scratches is tighter: a quarter more are called, no station works otherwise."""
    events = [
        Event(
            id=f"criteria-{station}",
            what="tighter scratch limit",
            station=station,
            types={"PAN-03": 1.25},
            shape="step",
            from_week=20,
            to_week=26,
        )
        for station in SCRATCHED_AT
    ]
    change = Change("D01", 20, "criteria", "Limit sample for scratches tightened", ("PAN-03",))
    return replace(story, events=(*story.events, *events), changes=(*story.changes, change))


def _trailers(story: Story) -> Story:
    """In week 7 three trailers of panels rub on the road: handling, though it shows where panels are bonded."""
    event = Event(
        id="trailers",
        what="panels rubbed on the road",
        station="HND",
        types={"PAN-03": 8.0},
        shape="step",
        from_week=7,
        to_week=7,
    )
    return replace(story, events=(*story.events, event))


def _coding(story: Story) -> Story:
    """From week 16 one inspector codes one in five broken seam beads as untidy sealant."""
    habit = {"inspector": "I1", "type": "SEA-02", "as": "EXT-02", "share": 0.2, "from_week": 16}
    return replace(story, noise={**story.noise, "habit": habit})


VARIANTS: dict[str, Callable[[Story], Story]] = {"criteria": _criteria, "trailers": _trailers, "coding": _coding}


def varied(story: Story, names: Iterable[str]) -> Story:
    """Return the story with the named variants. Raises KeyError for a name that is none."""
    for name in names:
        story = VARIANTS[name](story)
    return story
