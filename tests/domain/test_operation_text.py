"""Free text in an operation is what every program reads alike (RFC 7493 section 2.1 on half characters)."""

import pytest

from qc.domain.facts.operations import text


@pytest.mark.parametrize(
    "note", ["tear\x00", "return\r", "bell\x07", "\x1b[2J", "\x7f", "\x85", "half \ud83d", "\udc00"]
)
def test_text_with_a_control_character_or_half_a_character_is_refused(note):
    assert text(40)(note) == "must not hold control characters or half a character"


@pytest.mark.parametrize("note", ["Spalt 4 mm × links", "two\nlines", "a\ttab", "gap \U0001f697", "a\u00a0b"])
def test_text_in_any_script_is_taken(note):
    assert text(40)(note) is None
