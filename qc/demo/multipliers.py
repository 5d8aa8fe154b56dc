"""How many times the usual rate a station makes a type on a day of work."""

from datetime import date, timedelta

from qc.demo.story import Event, Story


def multiplier(story: Story, type_: str, origin: str, work_day: date) -> float:
    """Return the product of the events that act on a type at its origin on the day of the work; 1 where none does."""
    result = 1.0
    for event in story.events:
        if event.station == origin and type_ in event.types:
            result *= _of_event(story, event, event.types[type_], work_day)
    return result


def _of_event(story: Story, event: Event, full: float, work_day: date) -> float:
    first, last = story.monday(event.from_week), story.monday(event.to_week) + timedelta(days=6)
    if not first <= work_day <= last:
        return 1.0
    if event.shape == "step":
        return full
    length = (story.monday(event.full_week + 1) - first).days
    return 1.0 + (full - 1.0) * min(1.0, (work_day - first).days / length)
