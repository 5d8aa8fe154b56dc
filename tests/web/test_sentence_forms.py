"""What the record keeps in English is known again by its form, as the app knows what the server tells it."""

import pytest

from qc.domain.speaking import told
from qc.web.languages import tongue_of
from qc.web.sentence_forms import Forms

FORMS = Forms(
    {
        "{0} failed ({1}), measured by {2}": "{0} n. i. O. ({1}), gemessen von {2}",
        "{0} failed": "{0} n. i. O.",
        "not tested": "nicht geprüft",
        "quality manager": "Qualitätsleitung",
        "There is nothing here.": "Hier ist nichts.",
        "only {0} may": "nur {0} darf",
        "{1} before {0}": "{0} nach {1}",
    },
    ",",
)
TOLD = [
    ("not tested", "nicht geprüft"),
    ("Not tested.", "Nicht geprüft."),
    ("There is nothing here.", "Hier ist nichts."),
    ("only quality manager may", "nur Qualitätsleitung darf"),
    ("Only quality manager may.", "Nur Qualitätsleitung darf."),
    ("GAS-1 Gas failed (>20.5 mbar), measured by T1", "GAS-1 Gas n. i. O. (>20,5 mbar), gemessen von T1"),
    ("A failed", "A n. i. O."),
    ("GAS-1 Gas: not tested", "GAS-1 Gas: nicht geprüft"),
    ("not tested; A failed", "nicht geprüft; A n. i. O."),
    ("not tested\nquality manager", "nicht geprüft\nQualitätsleitung"),
    ("what nobody knows: neither", "what nobody knows: neither"),
    ("7.25", "7,25"),
    ("body.reason not tested", "body.reason nicht geprüft"),
    ("(a+b) failed", "(a+b) n. i. O."),
    ("", ""),
]


@pytest.mark.parametrize(("english", "german"), TOLD)
def test_a_sentence_is_known_by_its_form_with_its_values_said_alike(english, german):
    assert FORMS.told(english) == german


def test_what_a_language_does_not_know_stays_and_english_is_told_as_it_is():
    assert told("no repair of this defect has arrived; it is still open") == (
        "no repair of this defect has arrived; it is still open"
    )
    german = tongue_of("de").told
    assert german("No repair of this defect has arrived; it is still open.").endswith("er ist noch offen.")
    assert german("the seal is torn") == "the seal is torn"
