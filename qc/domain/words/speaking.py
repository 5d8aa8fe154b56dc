"""Sentences in the language of who reads them: written in English where they are made, looked up whole.

Which language is spoken is a matter of the request that is answered, so reports and charts do not ask for it: they
say, and the page that asked for them speaks. Where nobody speaks another language, as in the journal, the programmes'
own answers, mails and commands, what is said stays English.
"""

import string
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Tongue:
    """A language that pages speak: its tag of BCP 47, its words for a sentence, and its sign before decimals.

    words: another sentence for an English one, itself where there is none; counted: the same for one, several, number;
    told: the same for what the record keeps in English, whose values stand in it already.
    """

    tag: str
    words: Callable[[str], str]
    counted: Callable[[str, str, int], str]
    decimal: str = "."
    told: Callable[[str], str] = lambda text: text


ENGLISH = Tongue(tag="en", words=lambda text: text, counted=lambda one, many, number: one if number == 1 else many)
_spoken: ContextVar[Tongue] = ContextVar("spoken", default=ENGLISH)


class _Writer(string.Formatter):
    """Numbers with a point, written with the language's own sign."""

    def format_field(self, value: Any, format_spec: str) -> str:
        written: str = super().format_field(value, format_spec)
        return written.replace(".", _spoken.get().decimal) if isinstance(value, float) else written


_WRITER = _Writer()


def tongue() -> Tongue:
    """Return the language that is spoken now."""
    return _spoken.get()


def speak(chosen: Tongue) -> None:
    """Speak a language from now on, in this thread or task; the next request says its own."""
    _spoken.set(chosen)


@contextmanager
def spoken(chosen: Tongue) -> Iterator[None]:
    """Speak a language within the block."""
    before = _spoken.set(chosen)
    try:
        yield
    finally:
        _spoken.reset(before)


def say(text: str, /, **values: object) -> str:
    """Return a sentence in the language spoken, with its values at their places.

    text: English, a literal where it stands (that is how the catalogue knows it), with places as ``{name}`` or
    ``{name:.1f}``; a brace of its own is doubled. Without values nothing is replaced.
    """
    told = _spoken.get().words(text) if text else ""  # a catalogue has words about itself under none
    return _WRITER.vformat(told, (), values) if values else told


def say_many(one: str, many: str, number: int, /, **values: object) -> str:
    """Return a sentence for one, or for several (0 as well), with ``{number}`` and its other values at their places."""
    return _WRITER.vformat(_spoken.get().counted(one, many, number), (), {"number": number, **values})


def marked(text: str) -> str:
    """Return the text as it is: words of a table or a constant, which `say` says where they are shown."""
    return text


def told(text: str) -> str:
    """Return what the record or a refusal says in English, in the language spoken; as it is where it is not known."""
    return _spoken.get().told(text)


def figure(value: float, spec: str) -> str:
    """Return a number as ``format`` writes it, with the language's own sign before its decimals."""
    return _WRITER.format_field(value, spec)
