"""A letter: plain text in lines of at most 76 characters, built section by section."""

import textwrap
from dataclasses import dataclass

WIDTH = 76  # RFC 5322, 2.1.1 asks for 78 at most; two are left for the mark of an answer
MOST_SUBJECT = 120


@dataclass(frozen=True, slots=True)
class Letter:
    """What is mailed. subject: one line; text: lines of at most WIDTH, an address that is longer stands alone."""

    subject: str
    text: str


class Lines:
    """Builds a letter's text: heads, sentences, entries, addresses."""

    def __init__(self) -> None:
        self._lines: list[str] = []

    def head(self, words: str) -> None:
        """Begin a section."""
        self._lines += ["", words.upper()] if self._lines else [words.upper()]

    def say(self, words: str) -> None:
        """Write sentences."""
        self._lines += _wrapped(words, "", "")

    def entry(self, words: str) -> None:
        """Write one entry of a list."""
        self._lines += _wrapped(words, "- ", "  ")

    def link(self, address: str) -> None:
        """Write an address on a line of its own, never broken."""
        self._lines.append(f"  {address}")

    def text(self) -> str:
        """Return the whole."""
        return "\n".join(self._lines) + "\n"


def letter(subject: str, lines: Lines) -> Letter:
    """Return a letter; its subject is one line whatever stands in it."""
    plain = " ".join(subject.split())
    return Letter(plain if len(plain) <= MOST_SUBJECT else f"{plain[: MOST_SUBJECT - 1]}…", lines.text())


def _wrapped(words: str, first: str, rest: str) -> list[str]:
    one_line = " ".join(words.split())  # what a plant's tables name may hold breaks
    return textwrap.wrap(one_line, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
