"""How a code of the plant's tables is written with its name, so that no screen shows a code that nobody knows.

The words of refusals and alarms stand in the record's tables: what an earlier program told by codes alone stays so.
"""

from collections.abc import Iterable, Mapping

from qc.domain.facts.rule_set import CODES_NAMED, RULES, SEVERITIES_NAMED
from qc.domain.plant.plant import DESIGN, FIELD, UNKNOWN, Plant
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import marked, say

# What is no station of the line, in words that need no code beside them.
NO_STATIONS: Mapping[str, str] = {
    UNKNOWN: marked("not known"),
    DESIGN: marked("as designed or as instructed"),
    FIELD: marked("after dispatch"),
}


def with_name(code: str, name: str) -> str:
    """Return a code with its name behind it, the name alone where it is or begins with the code."""
    doubled = name.casefold() == code.casefold() or name.casefold().startswith(f"{code.casefold()} ")
    return name if doubled else f"{code} {name}"


class Names:
    """Writes the codes of one plant with their names; what the plant has no longer is written as its code.

    rules: the rule set by whose words; one of before CODES_NAMED tells codes alone, one of before SEVERITIES_NAMED no
    severity of the plant's own.
    """

    def __init__(self, plant: Plant, rules: int = RULES) -> None:
        self._plant, self.are_told = plant, rules >= CODES_NAMED
        self._severities = plant.severities if rules >= SEVERITIES_NAMED else {}

    def place(self, code: str) -> str:
        """Return a station, an origin or a point: "S07 Wall panels bond"; "after dispatch" of what is none."""
        station = self._plant.stations.get(code)
        if not self.are_told:
            return code
        return NO_STATIONS[code] if code in NO_STATIONS else with_name(code, station.name) if station else code

    def line(self, code: str) -> str:
        """Return one of the plant's lines."""
        known = self._plant.lines.get(code)
        return with_name(code, known.name) if known else code

    def lines(self, codes: Iterable[str]) -> str:
        """Return several of the plant's lines."""
        return ", ".join(map(self.line, codes))

    def option(self, code: str) -> str:
        """Return the name of one of the plant's options, by which people know it."""
        known = self._plant.options.get(code)
        return known.name if known else code

    def found_at(self, code: str) -> str:
        """Return where something was found: "at D01 Daylight bay", "after dispatch"."""
        return self.place(code) if code == FIELD and self.are_told else f"at {self.place(code)}"

    def type(self, code: str) -> str:
        """Return a defect type."""
        known = self._plant.types.get(code)
        return with_name(code, known.name) if known and self.are_told else code

    def flaw(self, type_: str, grade: str) -> str:
        """Return a defect's type behind the plant's own severity: "Danger: GAS-01 Leak"; the type alone without one."""
        own = self._severities.get(grade)
        return f"{own.name}: {self.type(type_)}" if own else self.type(type_)

    def severity(self, severity: str, grade: str) -> str:
        """Return how grave a defect is: the plant's own severity where it says one, else one of the three."""
        own = self._severities.get(grade)
        return own.name if own else severity

    def test(self, code: str) -> str:
        """Return a test."""
        known = self._plant.tests.get(code)
        return with_name(code, known.name) if known and self.are_told else code

    def zone(self, model: str, key: str) -> str:
        """Return the name of a model's zone, by which people know it."""
        known = self._plant.zones.get((model, key))
        return known.name if known and self.are_told else key


class SaidNames(Names):
    """Writes them in the language spoken, for pages and reports; the rules write English, which the record keeps."""

    def place(self, code: str) -> str:
        """Return a station, an origin or a point, in words of the language what is none."""
        return say(NO_STATIONS[code]) if code in NO_STATIONS else super().place(code)

    def found_at(self, code: str) -> str:
        """Return where something was found, with the language's own word before the place."""
        return self.place(code) if code == FIELD else say("at {place}", place=self.place(code))

    def critical(self, type_: str, grade: str) -> str:
        """Return what a critical is where it stands among criticals alone: its type, with the plant's own severity."""
        own = self._plant.severities.get(grade)
        return f"{self.type(type_)}, {own.name}" if own else self.type(type_)

    def severity(self, severity: str, grade: str) -> str:
        """Return how grave a defect is, where it is one of the three in words of the language."""
        return super().severity(code_words(severity), grade)
