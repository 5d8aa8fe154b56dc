"""How reports say counts and shares in sentences."""

from collections.abc import Sequence

from qc.domain.words.speaking import figure, marked, say

_SEVERAL = {"critical": marked("criticals"), "major": marked("majors"), "minor": marked("minors")}


def counted(number: int, one: str, many: str = "") -> str:
    """Return "1 defect", "2 defects", "no defect": of mails and commands, which are English; pages `say_many`."""
    if number == 0:
        return f"no {one}"
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def percent(share: float) -> str:
    """Return a share (0-1) as whole per cent, with one figure after the point below 10 %."""
    return f"{figure(share * 100, '.1f' if 0 < share < 0.0995 else '.0f')} %"


def severities_words(severities: Sequence[str]) -> str:
    """Return counted severities as nouns: "majors and minors", "majors"."""
    if tuple(severities) == ("major", "minor"):
        return say("majors and minors")
    return listed([say(_SEVERAL[one]) for one in severities])


def listed(words: Sequence[str], most: int = 5) -> str:
    """Return "a, b and c"; beyond most, "a, b and 7 more"."""
    if len(words) > most:
        return say("{named} and {number} more", named=", ".join(words[:most]), number=len(words) - most)
    return say("{named} and {last}", named=", ".join(words[:-1]), last=words[-1]) if len(words) > 1 else "".join(words)
