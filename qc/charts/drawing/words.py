"""How numbers are written for people: with their unit, never with more figures than they carry."""

from collections.abc import Callable, Sequence

from qc.domain.words.said_weeks import period_tick
from qc.domain.words.speaking import figure, say, tongue

NO_BREAK = "\u00a0"
DASH = "–"
LONGEST_TICK = 8  # characters of a period on an axis


def percent(share: float | None) -> str:
    """Return a share (0–1) as per cent with one figure after the point; "none" words are the caller's."""
    return say("no units") if share is None else f"{figure(share * 100, '.1f')}{NO_BREAK}%"


def rate(value: float | None) -> str:
    """Return a rate per unit with two figures after the point."""
    return say("no units") if value is None else figure(value, ".2f")


def whole(value: float) -> str:
    """Return a count with a thin gap between thousands."""
    return f"{value:,.0f}".replace(",", NO_BREAK)


def decimal(value: float) -> str:
    """Return a number without trailing zeros, at most three figures after the point."""
    return figure(float(value), ".3f").rstrip("0").rstrip(tongue().decimal) or "0"


def between(low: float | None, high: float | None, written: Callable[[float], str] = decimal) -> str:
    """Return a range in words; an open end is said, not left out."""
    if low is None:
        return say("no limit") if high is None else say("up to {high}", high=written(high))
    if high is None:
        return say("from {low}", low=written(low))
    return f"{written(low)}{NO_BREAK}{DASH}{NO_BREAK}{written(high)}"


def of(part: float, whole_count: float) -> str:
    """Return "12 of 54": a share's own counts."""
    return say("{part} of {whole}", part=whole(part), whole=whole(whole_count))


def figures(value: float) -> str:
    """Return a measured or counted number with three figures, whole ones in full: 0.00214, 3.25, 1 540."""
    if value == int(value) or abs(value) >= 100:
        return whole(value)
    return figure(float(value), ".3g" if abs(value) >= 0.0001 else ".1e")


def week(label: str) -> str:
    """Return a period for an axis: an ISO week or day without its year ("2026-W10" gives "W10"), others shortened."""
    short = period_tick(label)
    if short != label:
        return short
    return label if len(label) <= LONGEST_TICK else f"{label[: LONGEST_TICK - 1]}…"


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return "1 defect", "2 defects": a count with its noun, of commands, which are English; pages `say_many`."""
    return f"{whole(number)} {one if number == 1 else many or one + 's'}"


def listed(words: Sequence[str]) -> str:
    """Return "a", "a and b", "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return say("{named} and {last}", named=", ".join(words[:-1]), last=words[-1])


def sentence(text: str) -> str:
    """Return words as a sentence: a capital first, one full stop at the end."""
    plain = text.strip().rstrip(".")
    return f"{plain[:1].upper()}{plain[1:]}." if plain else ""
