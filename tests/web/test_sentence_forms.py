"""What the record keeps in English is known again by its form, as the app knows what the server tells it."""

import re
from datetime import date
from itertools import combinations

import pytest

from qc.domain.line.mutes import end_fault
from qc.domain.words.languages import LANGUAGES
from qc.domain.words.speaking import told
from qc.reports.wording import listed
from qc.store.record.history import HistoryAlarm
from qc.web.languages import forms_of, tongue_of
from qc.web.sentence_forms import Forms
from tests.js.test_words import ROOT, faults_of, said_in, stands_in

FORMS = Forms(
    {
        "{0} failed ({1}), measured by {2}": "{0} n. i. O. ({1}), gemessen von {2}",
        "{0} failed": "{0} n. i. O.",
        "not tested": "nicht geprüft",
        "quality manager": "Qualitätsleitung",
        "There is nothing here.": "Hier ist nichts.",
        "only {0} may": "nur {0} darf",
        "{1} before {0}": "{0} nach {1}",
        "{0} is stopped by {1} ({2!})": "{0} ist angehalten von {1} ({2!})",
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
    ("quality manager is stopped by I1 (7.5; not tested)", "Qualitätsleitung ist angehalten von I1 (7.5; not tested)"),
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


# Modules of the domain that refuse what is done at a desk; the others stand in tests/js/test_words.py.
NAMED = re.compile(r"\{[a-z]\w*\}")  # a place with a name
SAY_AT_DESKS = (
    *("line/line", "line/mutes", "line/roster", "line/revising", "line/machines"),
    *("facts/days", "facts/operations"),
)


@pytest.mark.parametrize("tag", [tag for tag in LANGUAGES if tag != "en"])
def test_a_language_says_why_a_desk_is_refused(tag):
    known = forms_of(tag)
    sentences = [text for name in SAY_AT_DESKS for text in said_in(ROOT / "qc" / "domain" / f"{name}.py")]

    assert len(sentences) > 60
    assert [text for text in sentences if not stands_in(NAMED.sub("{0}", text), known)] == []
    assert faults_of(known, dict.fromkeys(known), set()) == []


def test_a_mute_that_ends_too_early_or_too_late_is_told_with_its_days():
    day, german = date(2026, 5, 26), tongue_of("de").told

    assert german(end_fault(day, day)).startswith("eine Stummschaltung bis 2026-05-26 endet nicht nach dem Tag")
    assert "mehr als 26 Wochen" in german(end_fault(day, date(2027, 5, 26)))


TROUBLES = [
    (
        "Refused, nothing was taken. 17 rows: 3 as planned already, 12 new, 1 changed and 1 wrong.",
        "Abgelehnt, nichts wurde übernommen. 17 Zeilen: 3 schon so geplant, 12 neu, 1 geändert und 1 falsch.",
    ),
    (
        "Taken under the name of PL1, 1 wrong left out. 2 rows: 1 new and 1 wrong.",
        "Übernommen unter dem Namen von PL1, 1 falsche weggelassen. 2 Zeilen: 1 neu und 1 falsch.",
    ),
    (
        (
            "The last whole backup is 3.4 days old, at /b/2. The last try failed: there is no record in /r; give the "
            "data folder that the server uses"
        ),
        (
            "Die letzte ganze Sicherung ist 3,4 Tage alt, in /b/2. Der letzte Versuch misslang: in /r ist keine Akte; "
            "den Datenordner angeben, den der Server benutzt"
        ),
    ),
]


@pytest.mark.parametrize(("english", "german"), TROUBLES)
def test_what_became_of_dropped_files_and_backups_is_told(english, german):
    assert tongue_of("de").told(english) == german


def test_each_way_that_a_dropped_plan_can_come_out_is_told():
    german = tongue_of("de").told
    words = ("as planned already", "new", "changed", "wrong")
    for count in range(1, len(words) + 1):
        for some in combinations(words, count):
            summary = f"7 rows: {listed([f'1 {one}' for one in some])}"
            assert not any(one in german(summary) for one in (*words, "rows", " and ")), summary


def test_an_alarm_of_the_record_is_told():
    alarm = HistoryAlarm(device="P2", size=7, person="I1", first_ms=0, last_ms=0)

    assert tongue_of("de").told(alarm.words).startswith("Telefon P2 bekam Zeile 7 mit einem anderen Hash gemeldet")


OWN = ("not tested", "each 7.5 or dark; the unit: weather", "quality manager or planner", "50 % {0} {1!} {number}")
WRITTEN = [
    ("U1 is cancelled by PL1 ({own}); take it up again first", "U1 ist storniert von PL1 ({own}); zuerst wieder"),
    ("U1 is cancelled by PL1 ({own}) already", "U1 ist schon storniert von PL1 ({own})"),
    (
        (
            "not released, 2 open: the unit is cancelled by PL1 ({own}); a planner takes it up again first; "
            "Plate: the chassis number has not been read off the metal (Plate)"
        ),
        (
            "nicht freigegeben, 2 offen: die Einheit ist storniert von PL1 ({own}); zuerst nimmt die Planung sie "
            "wieder auf; Plate: die Fahrgestellnummer ist nicht am Metall abgelesen (Plate)"
        ),
    ),
    ("Q1 looked at it and left it without effect: {own}", "Q1 hat es angesehen und ohne Wirkung gelassen: {own}"),
    (
        (
            "A1 put other tables in force meanwhile (1f, from 2026-05-26: {own}); look at what yours would change now, "
            "and take them then"
        ),
        "A1 hat inzwischen andere Tabellen in Kraft gesetzt (1f, ab 2026-05-26: {own}); ansehen",
    ),
]


@pytest.mark.parametrize("own", OWN)
@pytest.mark.parametrize(("english", "german"), WRITTEN)
def test_what_a_person_wrote_stays_as_it_was_written(english, german, own):
    assert tongue_of("de").told(english.replace("{own}", own)).startswith(german.replace("{own}", own))


def test_the_final_inspections_of_a_zone_are_told_and_an_or_of_the_plants_own_is_not():
    told = tongue_of("de").told

    assert told("Bed: not marked as looked at at D01 Bay or D02 Road") == (
        "Bed: nicht als angesehen markiert an D01 Bay oder D02 Road"
    )
    assert told("not looked at (no safe access) at D01 Bay or D02 Road or D03 Yard") == (
        "nicht angesehen (kein sicherer Zugang) an D01 Bay oder D02 Road oder D03 Yard"
    )
    assert told("major T-1 Dent or scratch in Left or right side is open") == (
        "schwer T-1 Dent or scratch in Left or right side ist offen"
    )


def test_a_long_reason_is_tried_by_no_form_whose_words_it_has_not():
    class Never:
        def fullmatch(self, text):
            raise AssertionError(f"tried on {len(text)} characters")

    forms = Forms({"{0} {1} {2} does not tell": "{0} {1} {2} sagt es nicht", "{0} is open": "{0} ist offen"}, ",")
    forms._forms[0] = (Never(), *forms._forms[0][1:])

    assert forms.told(f"a{' ' * 500}b is open") == f"a{' ' * 500}b ist offen"
