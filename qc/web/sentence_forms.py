"""What the record keeps in English, for a reader of another language: a sentence is known again by its form.

Refusals, alarms and what stands in a release's way are made where nobody knows who will read them, and are kept as they
were made. A catalogue has each form once, its values as {0}, {1}; it is the one by which the app words what the server
tells it (`told` in pwa/lib/language.js), and what stands at a value's place is worded in the same way. A reason that
somebody wrote is {2!}: it stays as it was written.
"""

import re
from collections.abc import Mapping, Sequence
from functools import cached_property, partial

_PLACE = re.compile(r"\{(\d)(!?)\}")
_READING = re.compile(r"([<>]?)(-?\d+)\.(\d+)( .*)?\Z", re.DOTALL)
_MARKS = ("; ", ": ")  # of a list, or of what it is about and what is said of it


class Forms:
    """The sentences of one language. said: by their English, each as it begins within a sentence, without its stop."""

    def __init__(self, said: Mapping[str, str], decimal: str) -> None:
        self._said, self._decimal = said, decimal

    def told(self, text: str) -> str:
        """Return a text in the language, line by line; what is not known stays as it is."""
        return "\n".join(self._one(line) for line in text.split("\n"))

    def _one(self, text: str) -> str:
        plain = text.removesuffix(".")
        ways = tuple(dict.fromkeys((text, plain, plain[:1].lower() + plain[1:])))
        # One that is known whole before one whose form it has, which may be any words with an "or" between
        for each in [one for one in ways if one in self._said] or ways:
            if (known := self._sentence(each)) is not None:
                begun = known if each in (text, plain) else known[:1].upper() + known[1:]
                return begun if each == text or plain == text else f"{begun}."
        if reading := _READING.match(text):
            sign, whole, decimals, unit = reading.groups("")
            return f"{sign}{whole}{self._decimal}{decimals}{unit}"
        for mark in _MARKS:
            first, found, rest = text.partition(mark)
            if found and (worded := (self._one(first), self._one(rest))) != (first, rest):
                return mark.join(worded)
        field, blank, rest = text.partition(" ")
        return f"{field}{blank}{self._one(rest)}" if field.startswith("body.") else text

    def _sentence(self, text: str) -> str | None:
        if text in self._said:
            return self._said[text]
        for form, part, said in self._forms:
            # A long reason full of blanks would be tried at each of them by a form that cannot be it
            if part in text and (found := form.fullmatch(text)):
                return _PLACE.sub(partial(self._value, found.groups()), said)
        return None

    def _value(self, values: Sequence[str], place: re.Match[str]) -> str:
        value = values[int(place[1])]
        return value if place[2] else self._one(value)

    @cached_property
    def _forms(self) -> list[tuple[re.Pattern[str], str, str]]:
        """Those with values, each with its longest own words; the one that says most comes first, so that it is met."""
        longest = sorted((key for key in self._said if _PLACE.search(key)), key=len, reverse=True)
        return [(*_form(key), self._said[key]) for key in longest]


def _form(key: str) -> tuple[re.Pattern[str], str]:
    pieces = re.split(r"\{\d!?\}", key)
    return re.compile("(.+?)".join(map(re.escape, pieces)), re.DOTALL), max(pieces, key=len)
