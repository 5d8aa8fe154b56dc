"""Numbers of a plant's own form: the words of a pattern, what is read and made by it, and its check signs."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.acts.kinds import KINDS, body_fault
from qc.domain.facts.operations import envelope_fault
from qc.domain.facts.rule_set import LOTS_TOLD, OWN_NUMBERS, OWN_SEVERITIES
from qc.domain.handed.build_plan import PlannedUnit, columns_of, plan_lines
from qc.domain.numbers.check_signs import mod_97_10, weighted_mod_11
from qc.domain.plant.chassis import chassis_fault, full_number, number_fault, numbers_of, readable, shop_number
from qc.domain.plant_json import phone_plant
from qc.domain.tables.plant_changes import plant_changes
from qc.domain.tables.plant_tables import PlantFaults, checked_plant, tables_of

OTHER, BARE = (Path(__file__).parents[1] / "plants" / name for name in ("other", "bare"))
ID = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
SECTION = """[chassis]
world_code = "8KF"
series = "2"
works = "B"
model_year = 2026
sequence_start = 101
"""


def bare(section):
    tables = tables_of(BARE)
    assert SECTION in tables["plant.toml"]
    return {
        **tables,
        "plant.toml": tables["plant.toml"].replace(SECTION, f"[chassis]\n{section}\nsequence_start = 1\n"),
    }


def plant_with(section):
    return checked_plant(bare(section))


def faults(section):
    with pytest.raises(PlantFaults) as raised:
        plant_with(section)
    return [(fault.column, fault.remedy) for fault in raised.value.faults]


# Two numbers that are printed as examples of the rule of 49 CFR 565.15 (both from memory): the second with X.
@pytest.mark.parametrize("number", ["11111111111111111", "1M8GDM9AXKP042788"])
def test_the_ninth_of_seventeen_checks_the_others(number):
    assert weighted_mod_11(number[:8], number[9:]) == number[8]


# ISO/IEC 7064 gives 794 with the check 44; then the example account of ISO 13616, as it is checked (both from memory).
@pytest.mark.parametrize("number", ["79444", "WEST12345698765432GB82"])
def test_two_figures_at_the_end_make_the_whole_leave_one(number):
    assert mod_97_10(number[:-2], "") == number[-2:]


@given(st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=22), st.data())
def test_one_sign_wrong_or_two_neighbours_swapped_never_checks(number, data):
    """Both are what MOD 97-10 promises to find (ISO/IEC 7064, from memory)."""
    whole = number + mod_97_10(number, "")
    place = data.draw(st.integers(0, len(number) - 1))
    other = data.draw(st.sampled_from("0123456789"))
    wrong = number[:place] + other + number[place + 1 :]
    swapped = number[:place] + number[place : place + 2][::-1] + number[place + 2 :]

    for told in (wrong, swapped):
        if told != number and all(sign.isdigit() for sign in told + number):
            assert mod_97_10(told, "") != whole[-2:]


def test_a_number_of_its_own_is_made_read_and_checked():
    plant = checked_plant(tables_of(OTHER))

    assert full_number(plant, "A21", 50001) == "OWA21T5000188"
    assert full_number(plant, "BRG34", 50002) == "OWBRG34T5000207"
    assert shop_number(plant, "BRG34", 50002) == "W750002K"
    assert numbers_of(plant, "OWBRG34T5000207", "BRG34") == (50002, "W750002K")
    assert number_fault(plant, "OWA21T5000188", "A21", 50001, "W650001K") is None
    assert "does not check" in number_fault(plant, "OWA21T5000187", "A21", 50001, "W650001K")
    assert "make OWA21T5000188" in number_fault(plant, "XWA21T5000188", "A21", 50001, "W650001K")
    with pytest.raises(ValueError, match="does not check"):
        numbers_of(plant, "OWA21T5000189", "A21")
    with pytest.raises(ValueError, match="is no number of a BRG34"):
        numbers_of(plant, "OWA21T500018800", "BRG34")
    with pytest.raises(ValueError, match="13 or 15 characters, this has 4"):
        numbers_of(plant, "OWA2", "A21")


def test_a_letter_that_the_plant_uses_is_not_read_as_a_figure():
    own, iso = checked_plant(tables_of(OTHER)), checked_plant(tables_of(BARE))

    assert chassis_fault(own, "OWA21T5000188") is None
    assert readable(own, "owa21") == "OWA21"
    assert readable(iso, "o1q") == "010"
    assert "never holds O" in chassis_fault(iso, "OWA21T5000188")


def test_a_check_of_seventeen_signs_stands_at_its_place():
    plant = plant_with(
        'pattern = "8KF2{model}0{check}{year}B0{sequence:5}"\nshop = "K{sequence:5}"\ncheck = "weighted-mod-11"\n'
        "model_year = 2026"
    )
    number = full_number(plant, "HUT", 101)

    assert len(number) == 17
    assert numbers_of(plant, number, "HUT") == (101, "K00101")
    other = "0" if number[8] != "0" else "1"
    assert "does not check" in number_fault(plant, number[:8] + other + number[9:], "HUT", 101, "K00101")


def test_signs_that_nobody_can_tell_are_given_by_the_plan():
    plant = plant_with('pattern = "{any:6}{sequence:3}"\nshop = "{sequence:3}"\nletters = ""\nfind = 3')
    columns = columns_of(["chassis", "planned_day"], plant)
    rows = [(2, ["123456007", "2026-03-02"]), (3, ["12345600", "2026-03-02"]), (4, ["12345600A", "2026-03-02"])]
    taken, short, letter = plan_lines(rows, columns, plant, {}, date(2026, 3, 1))

    assert (taken.outcome, taken.body["sequence"], taken.body["shop_number"]) == ("new", 7, "007")
    assert "has 9 characters, this has 8; to look it up enter the last 4" in short.words
    assert "figures only" in letter.words
    told = plan_lines(
        [(2, ["HUT", "7", "2026-03-02"])], columns_of(["model", "sequence", "day"], plant), plant, {}, date(2026, 3, 1)
    )
    assert "give the number itself" in told[0].words


def test_a_plan_of_another_plants_numbers_is_told_row_by_row():
    plant = checked_plant(tables_of(OTHER))
    rows = [(2, ["0PC7T3600TW030001", "2026-03-02"]), (3, ["OWA21T5000188", "2026-03-02", "N"])]
    foreign, own = plan_lines(rows, columns_of(["chassis", "planned_day", "line"], plant), plant, {}, date(2026, 3, 1))

    assert foreign.outcome == "wrong"
    assert "13 or 15 characters, this has 17" in foreign.words
    assert (own.outcome, own.body["model"]) == ("new", "A21")


def test_options_hold_any_letters_and_one_spelling_of_each():
    plant = checked_plant(tables_of(BARE))
    columns = columns_of(["model", "sequence", "planned_day", "options"], plant)
    spelt = "Ku\u0308che; Ofen ä"  # an umlaut as two characters
    (line,) = plan_lines([(2, ["HUT", "101", "2026-03-02", spelt])], columns, plant, {}, date(2026, 3, 1))

    assert line.body["options"] == ["Küche", "Ofen ä"]


def test_an_option_that_the_plant_does_not_name_is_told_and_one_told_by_its_name_is_its_code():
    """A slip would leave out what the option asks for without a word."""
    plant = checked_plant(tables_of(OTHER))
    columns = columns_of(["chassis", "planned_day", "options", "line"], plant)
    rows = [
        (2, ["OWA21T5000188", "2026-03-02", "küchenzeile; TÜRÖFFNER", "nordband"]),
        (3, ["OWBRG34T5000207", "2026-03-02", "Kuche"]),
    ]
    named, slip = plan_lines(rows, columns, plant, {}, date(2026, 3, 1))

    assert named.body["options"] == ["Küche", "Türöffner"]
    assert slip.outcome == "wrong"
    assert slip.words == "'Kuche' is no option of this plant; it has Küchenzeile, Elektrischer Türöffner"
    held = PlannedUnit(
        chassis="OWA21T5000188",
        shop_number="W650001K",
        options=("Küche", "Bad"),
        build_sheet=None,
        planned_day="2026-03-02",
        is_released=False,
        line="N",
    )
    (changed,) = plan_lines(rows[:1], columns, plant, {"OWA21T5000188": held}, date(2026, 3, 1))
    assert changed.words == "options Küchenzeile, Bad → Küchenzeile, Elektrischer Türöffner"


PATTERNS = [
    ('pattern = "K{model}"\nshop = "{sequence:4}"', "chassis.pattern", "holds no {sequence:5}"),
    ('pattern = "K{sequence:4}{sequence:4}"\nshop = "{sequence:4}"', "chassis.pattern", "holds {sequence} twice"),
    ('pattern = "K{sequence:4}{wheel}"\nshop = "{sequence:4}"', "chassis.pattern", "holds {wheel}, which is no word"),
    ('pattern = "K{sequence}"\nshop = "{sequence:4}"', "chassis.pattern", "holds {sequence}, which is no word"),
    ('pattern = "K-{sequence:4}"\nshop = "{sequence:4}"', "chassis.pattern", "holds '-'"),
    ('pattern = "I{sequence:4}"\nshop = "{sequence:4}"', "chassis.pattern", "holds 'I'"),
    ('pattern = "K{sequence:4"\nshop = "{sequence:4}"', "chassis.pattern", "belongs to no word"),
    ('pattern = "K{sequence:4}{check}"\nshop = "{sequence:4}"', "chassis.pattern", "no check is named"),
    ('pattern = "K{sequence:4}"\nshop = "{sequence:4}"\ncheck = "mod-97-10"', "chassis.check", "has no {check}"),
    ('pattern = "{check}{sequence:4}"\nshop = "{sequence:4}"\ncheck = "mod-97-10"', "chassis.check", "{check} last"),
    ('pattern = "K{check}{sequence:4}"\nshop = "{sequence:4}"\ncheck = "luck"', "chassis.check", "is not one of"),
    ('pattern = "{check}{sequence:4}"\nshop = "{sequence:4}"\ncheck = "weighted-mod-11"', "chassis.check", "needs 17"),
    ('pattern = "{sequence:3}"\nshop = "{sequence:4}"', "chassis.pattern", "4 to 24"),
    ('pattern = "{any:9}{any:9}{sequence:9}"\nshop = "{sequence:4}"', "chassis.pattern", "4 to 24"),
    ('pattern = "{sequence:9}"\nshop = "{any:4}{sequence:4}"', "chassis.shop", "a shop number is made of"),
    ('pattern = "{sequence:9}"\nshop = "{sequence:4}"\nletters = "abc"', "chassis.letters", "capital letters"),
    ('pattern = "{sequence:9}"\nshop = "{sequence:4}"\nfind = 1', "chassis.find", "from 3 to 8"),
    ('pattern = "{year}{sequence:9}"\nshop = "{sequence:4}"', "chassis.model_year", "write the model year"),
    ('pattern = "{model}{sequence:5}"\nshop = "{sequence:4}"\nletters = "ABC"', "model.code", "stands in the plant's"),
    ('pattern = "{sequence:9}"\nshop = "{sequence:4}"\nworks = "K"', "chassis.works", "is no key"),
]  # fmt: skip


@pytest.mark.parametrize(("section", "column", "words"), PATTERNS)
def test_a_pattern_that_will_not_do_is_told_with_what_would(section, column, words):
    told = faults(section)

    assert any(name == column and words in remedy for name, remedy in told), told
    assert len(told) == 1, told


def test_a_text_of_a_million_signs_is_refused_by_its_length():
    """Reading is cutting at known places: there is nothing to search for, and so nothing that takes long."""
    plant = plant_with('pattern = "{any:9}{any:9}{sequence:5}"\nshop = "{sequence:5}"')
    assert "characters, this has" in chassis_fault(plant, "A" * 1_000_000)


def test_the_form_never_changes_under_units_on_record():
    before = tables_of(OTHER)
    after = {**before, "plant.toml": before["plant.toml"].replace('"OW{model}', '"QW{model}')}

    assert any("chassis.pattern" in why for why in plant_changes(before, after).refused)


def test_a_phone_is_told_how_numbers_are_read_and_which_letters_end_them():
    numbers = phone_plant(checked_plant(tables_of(OTHER)))["numbers"]

    assert (numbers["ends"], numbers["find"], numbers["check"]) == ("K", 5, "mod-97-10")
    assert [part["kind"] for part in numbers["chassis"]] == ["text", "model", "any", "sequence", "check"]
    assert phone_plant(checked_plant(tables_of(BARE)))["numbers"]["ends"] == ""


def test_what_an_earlier_program_refused_for_its_form_stays_refused():
    long, short = {"unit": "K" * 18}, {"unit": "K" * 17}
    planned = {"model": "A21", "shop_number": "W1", "sequence": 1, "planned_day": "2026-03-02", "options": ["Küche"]}
    changed = {"changes": {"options": ["Küche"]}}

    for told, own, faulty in ((long, True, False), (long, False, True), (short, False, False)):
        assert (unit_fault(told, own) is not None) is faulty
    for kind, body in (("unit_planned", planned), ("plan_changed", changed)):
        assert body_fault(KINDS[kind], "K1", body, OWN_NUMBERS) is None
        assert body_fault(KINDS[kind], "K1", body, OWN_NUMBERS - 1) is not None


def unit_fault(told, own):
    """Return the fault of the unit alone in an envelope that is right otherwise."""
    right = {
        "id": ID, "device": "P1", "install_epoch": "e", "seq": 1, "kind": "unit_met", "schema": 1, "body": {},
        "author": "I1", "deps": [], "seen_through": 0, "wall_ms": 0, "tz_min": 0, "session": "s", "mono_ms": 0,
    }  # fmt: skip
    return envelope_fault({**right, "unit": told["unit"]}, own_numbers=own)


@pytest.mark.parametrize("option", ["a;b", "a,b", "a|b", " a", "a\nb", "", "x" * 41, "Ku\u0308che", "a\x00b"])
def test_an_option_that_a_plan_could_not_write_is_refused(option):
    body = {"changes": {"options": [option]}}

    assert body_fault(KINDS["plan_changed"], "K1", body) is not None


@pytest.mark.parametrize("kind", ["defect_recorded", "field_finding", "defect_corrected"])
def test_a_lot_and_a_severity_of_its_own_are_unknown_to_the_programs_before_them(kind):
    told = {"zone": "z", "type": "T", "severity": "minor"}
    for name, value, since in (("grade", "C1", OWN_SEVERITIES), ("lot", "L 7", LOTS_TOLD)):
        body = {
            "defect_recorded": {**told, "point": "P", name: value},
            "field_finding": {**told, "found_day": "2026-03-02", name: value},
            "defect_corrected": {"defect": ID, "changes": {name: value}, "reason": "read again"},
        }[kind]

        assert body_fault(KINDS[kind], "K1", body, since) is None
        assert body_fault(KINDS[kind], "K1", body, since - 1) is not None
