"""What the server logs: JSON, a line each, and nothing of what somebody typed or is called."""

import json
import logging

from qc.web.log_lines import JsonLines


def line_of(fault=None, words="fault %s", given=("7f",)):
    info = (type(fault), fault, fault.__traceback__) if fault else None
    record = logging.LogRecord("qc.web", logging.ERROR, __file__, 1, words, given, info)
    text = JsonLines().format(record)
    assert "\n" not in text
    return json.loads(text)


def raised():
    try:
        try:
            raise KeyError("Mia Malone saw a gap")
        except KeyError as before:
            raise ValueError("the note 'Mia Malone\nsaw a gap' is too long") from before
    except ValueError as fault:
        return fault


def test_a_line_is_json_with_when_how_grave_and_what():
    line = line_of()

    assert set(line) == {"at", "level", "what"}
    assert (line["level"], line["what"]) == ("error", "fault 7f")
    assert line["at"].endswith("+00:00")


def test_a_fault_tells_its_types_and_places_and_quotes_nothing():
    line = line_of(raised())

    assert "Mia" not in json.dumps(line)
    places = line["trace"].splitlines()
    assert [place for place in places if not place.startswith("  ")] == ["KeyError", "ValueError"]
    assert all(
        "test_log_lines.py:" in place and place.endswith(" raised") for place in places if place.startswith("  ")
    )
