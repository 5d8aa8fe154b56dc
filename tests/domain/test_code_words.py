"""Every kind of operation has its words, and they are its code's in English."""

from qc.domain.acts.kinds import KINDS
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import Tongue, spoken


def test_every_kind_is_looked_up_by_words_that_are_its_code():
    asked = []
    listening = Tongue(tag="xx", words=lambda text: asked.append(text) or text, counted=lambda one, many, n: many)

    with spoken(listening):
        told = [code_words(kind) for kind in KINDS]

    assert told == asked == [kind.replace("_", " ") for kind in KINDS]
    assert code_words("of_a_later_version") == "of a later version"
