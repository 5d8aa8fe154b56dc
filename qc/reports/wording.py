"""How reports say counts and shares in sentences."""

from collections.abc import Sequence


def counted(number: int, one: str, many: str = "") -> str:
    """Return "1 defect", "2 defects", "no defect"."""
    if number == 0:
        return f"no {one}"
    return f"{number} {noun(number, one, many)}"


def noun(number: int, one: str, many: str = "") -> str:
    """Return the noun that stands behind a number: "defect" for 1, else "defects"."""
    return one if number == 1 else many or f"{one}s"


def percent(share: float) -> str:
    """Return a share (0-1) as whole per cent, with one figure after the point below 10 %."""
    return f"{share * 100:.1f} %" if 0 < share < 0.0995 else f"{share * 100:.0f} %"


def severities_words(severities: Sequence[str]) -> str:
    """Return counted severities as nouns: "majors and minors", "majors"."""
    return listed([f"{one}s" for one in severities])


def listed(words: Sequence[str], most: int = 5) -> str:
    """Return "a, b and c"; beyond most, "a, b and 7 more"."""
    if len(words) > most:
        return f"{', '.join(words[:most])} and {len(words) - most} more"
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
