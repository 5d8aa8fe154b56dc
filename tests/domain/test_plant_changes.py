"""Two sets of tables in words: what is added, ended and changed, and what may not follow."""

from pathlib import Path

import pytest

from qc.assets import folder as asset_folder
from qc.domain.tables.plant_changes import plant_changes
from qc.domain.tables.plant_tables import PlantFaults, plant_from_tables, tables_of

OTHER = Path(__file__).parents[1] / "plants" / "other"
TABLES = tables_of(asset_folder("demo_data") / "plant")
PLANT = plant_from_tables(TABLES)
NEW_TYPE = "PAN-77,PAN,Panels and bonding,Blister under the film,minor,no,asked,20,D01,RP1,panel,all,no,none,blister"


def changed(file, old, new, tables=TABLES):
    assert old in tables[file], old
    return {**tables, file: tables[file].replace(old, new, 1)}


def line_of(file, begins):
    return next(line for line in TABLES[file].split("\n") if line.startswith(begins))


def with_column(file, column, said, tables=TABLES):
    """Add an optional column; said: what it says in the rows that begin so, nothing in the others."""
    heading, *lines = tables[file].rstrip("\n").split("\n")
    told = [f"{line},{next((value for begin, value in said.items() if line.startswith(begin)), '')}" for line in lines]
    return {**tables, file: "\n".join([f"{heading},{column}", *told]) + "\n"}


def words(after, before=TABLES):
    return [f"{one.table}: {one.words}" for one in plant_changes(before, after).changes]


class TestInWords:
    def test_the_same_tables_differ_in_nothing(self):
        same = plant_changes(TABLES, TABLES)

        assert (same.changes, same.refused, same.criteria, same.types) == ((), (), (), frozenset())

    def test_another_form_of_the_same_rows_is_no_change(self):
        quoted = changed("stations.csv", "\nS07,", '\n"S07",')

        assert plant_from_tables(quoted).revision != PLANT.revision
        assert words(quoted) == []

    def test_what_is_added_is_told_with_its_name(self):
        after = {**TABLES, "defect_types.csv": f"{TABLES['defect_types.csv']}{NEW_TYPE}\n"}

        assert words(after) == ["defect_types.csv: PAN-77 Blister under the film: added"]

    def test_a_cell_that_changed_is_told_with_both_values(self):
        row = line_of("defect_types.csv", "PAN-02,")
        after = changed("defect_types.csv", row, row.replace(",minor,", ",major,"))

        assert words(after) == ["defect_types.csv: PAN-02: default_severity minor → major"]

    def test_what_is_ended_and_taken_up_again_is_told_so(self):
        row = line_of("defect_types.csv", "PAN-02,")
        ended = changed("defect_types.csv", row, row.replace(",all,no,", ",all,yes,"))

        (one,) = plant_changes(TABLES, ended).changes
        assert (one.what, one.words) == ("ended", "PAN-02: retired nothing → yes")
        (back,) = plant_changes(ended, TABLES).changes
        assert back.what == "taken up again"

    def test_a_new_column_that_says_nothing_is_no_change(self):
        assert words(with_column("zones.csv", "ended", {})) == []
        assert words(with_column("tests.csv", "ended", {"G1,": "no"})) == []

    def test_rows_in_another_order_are_told_once(self):
        first, second = (line_of("defect_types.csv", code) for code in ("PAN-01,", "PAN-02,"))
        after = changed("defect_types.csv", f"{first}\n{second}", f"{second}\n{first}")

        assert words(after) == ["defect_types.csv: order of rows as before → another"]

    def test_a_drawing_is_told_by_its_lines(self):
        last = TABLES["outlines.csv"].rstrip("\n").split("\n")[-1]
        after = {**TABLES, "outlines.csv": TABLES["outlines.csv"].replace(f"{last}\n", "")}

        (told,) = words(after)
        assert told.startswith("outlines.csv: ")
        assert "lines →" in told

    def test_the_sections_are_told_by_their_keys(self):
        after = changed("plant.toml", f'maker = "{PLANT.maker}"', 'maker = "Another maker"')

        assert words(after) == [f"plant.toml: plant.maker {PLANT.maker} → Another maker"]

    def test_what_a_shift_and_a_shutdown_say_is_told_with_their_days(self):
        shut = 'name = "Rebuild"\nfirst = 2026-08-03\nlast = 2026-08-21\nstations = ["S06", "S07"]'
        shorter = changed("plant.toml", 'id = "early"', 'id = "early"\nother_hours = { fri = ["06:00", "12:00"] }')
        closed = changed("plant.toml", "[calendar]", f"[[shutdown]]\n{shut}\n\n[calendar]")
        longer = {**closed, "plant.toml": closed["plant.toml"].replace("2026-08-21", "2026-08-28")}

        assert words(shorter) == ["shift: early: other_hours nothing → fri 06:00; 12:00"]
        assert words(closed) == ["shutdown: Rebuild: added"]
        assert words(longer, closed) == ["shutdown: Rebuild: last 2026-08-21 → 2026-08-28"]
        assert plant_changes(closed, TABLES).refused == ()

    def test_a_long_cell_is_cut(self):
        row = line_of("cautions.csv", "GAS,")
        after = changed("cautions.csv", row, row.replace('"', '"New words. ', 1))

        (told,) = [one for one in words(after) if ": short " in one]
        assert len(told) < 220

    def test_tables_with_faults_are_told_as_check_plant_does(self):
        with pytest.raises(PlantFaults) as told:
            plant_changes(TABLES, changed("stations.csv", "lead_days", "lead days"))

        assert "lead_days" in str(told.value)


class TestRefused:
    @pytest.mark.parametrize(
        ("file", "begins", "remedy"),
        [
            ("defect_types.csv", "PAN-02,", "set retired to yes"),
            ("tests.csv", "G1,", "set ended to yes"),
        ],
    )
    def test_a_code_that_is_gone_is_to_be_ended(self, file, begins, remedy):
        after = changed(file, f"{line_of(file, begins)}\n", "")

        (told,) = plant_changes(TABLES, after).refused
        assert begins.rstrip(",") in told
        assert told.endswith(remedy)

    def test_a_zone_that_is_gone_is_to_be_ended(self):
        row = next(line for line in TABLES["zones.csv"].split("\n") if ",nearside.door," in line and ",T36," in line)

        (told,) = plant_changes(TABLES, changed("zones.csv", f"{row}\n", "")).refused
        assert "T36 nearside.door" in told
        assert told.endswith("set ended to yes")

    def test_a_station_that_is_gone_is_to_be_ended(self):
        """Of a plant whose flow no longer names it, so that nothing else is wrong with it."""
        before = {**TABLES, "stations.csv": TABLES["stations.csv"] + station_line("S99")}

        (told,) = plant_changes(before, TABLES).refused
        assert "S99" in told
        assert told.endswith("set end_day to the day on which it ended")

    @pytest.mark.parametrize(
        ("file", "begins", "old", "new", "column"),
        [
            ("defect_types.csv", "PAN-02,", "PAN-02,PAN,Panels and bonding,", "PAN-02,FUR,Furniture,", "group"),
            ("tests.csv", "G1,", ",measure,mbar,", ",measure,Pa,", "unit"),
        ],
    )
    def test_a_code_used_again_for_another_thing_is_refused(self, file, begins, old, new, column):
        row = line_of(file, begins)

        (told,) = plant_changes(TABLES, changed(file, row, row.replace(old, new))).refused
        assert f"{begins.rstrip(',')}, {column}" in told
        assert "a code of its own" in told

    @pytest.mark.parametrize(
        ("old", "new"),
        [
            (f'world_code = "{PLANT.world_code}"', 'world_code = "XZZ"'),
            (f'time_zone = "{PLANT.time_zone}"', 'time_zone = "Asia/Tokyo"'),
            ("demo = true", "demo = false"),
        ],
    )
    def test_what_the_record_rests_on_stays(self, old, new):
        (told,) = plant_changes(TABLES, changed("plant.toml", old, new)).refused

        assert old.split(" = ")[0] in told

    def test_another_figure_of_a_model_would_orphan_its_shop_numbers(self):
        digits = {model.digit for model in PLANT.models.values()}
        free = next(figure for figure in "0123456789" if figure not in digits)
        model = next(iter(PLANT.models.values()))
        after = changed("plant.toml", f'digit = "{model.digit}"', f'digit = "{free}"')

        (told,) = plant_changes(TABLES, after).refused
        assert f"{model.code}, digit" in told

    def test_another_model_year_is_no_fault(self):
        after = changed("plant.toml", f"model_year = {PLANT.model_year}", f"model_year = {PLANT.model_year + 1}")

        assert plant_changes(TABLES, after).refused == ()


def station_line(code, **changed):
    heading = TABLES["stations.csv"].split("\n")[0].split(",")
    row = dict.fromkeys(heading, "")
    row |= {"id": code, "name": "Another place", "kind": "main", "line": "main", "lead_days": "0", "can_detect": "no"}
    row |= changed
    row |= {"models": "all"} if "models" in heading else {}
    return ",".join(row[name] for name in heading) + "\n"


class TestCriteria:
    def test_names_and_words_change_no_criteria(self):
        row = line_of("defect_types.csv", "PAN-02,")
        after = changed("defect_types.csv", row, row.replace("Panel ripple or print-through", "Panel ripples"))

        assert plant_changes(TABLES, after).criteria == ()

    def test_a_severity_and_a_new_type_concern_their_types_alone(self):
        row = line_of("defect_types.csv", "PAN-02,")
        graver = changed("defect_types.csv", row, row.replace(",minor,", ",major,"))
        after = {**graver, "defect_types.csv": f"{graver['defect_types.csv']}{NEW_TYPE}\n"}

        told = plant_changes(TABLES, after)
        assert told.types == {"PAN-02", "PAN-77"}
        assert told.criteria == ("types and their severities: PAN-02, PAN-77",)

    def test_a_limit_concerns_the_type_that_its_failure_becomes(self):
        row = line_of("tests.csv", "G1,")
        told = plant_changes(TABLES, changed("tests.csv", row, row.replace(",mbar,,10,", ",mbar,,8,")))

        assert (told.types, told.criteria) == ({"GAS-01"}, ("tests and their limits: G1",))

    def test_an_ended_zone_concerns_every_type(self):
        row = next(line for line in TABLES["zones.csv"].split("\n") if ",nearside.door," in line and ",T36," in line)
        told = plant_changes(TABLES, with_column("zones.csv", "ended", {row.split(",")[0] + ",": "yes"}))

        assert told.types == set(PLANT.types)
        assert told.criteria == ("zones looked at: T36 nearside.door",)

    def test_an_end_point_more_concerns_every_type(self):
        after = {**TABLES, "stations.csv": TABLES["stations.csv"] + station_line("T99", kind="test", final="yes")}
        told = plant_changes(TABLES, after)

        assert told.criteria == ("end points: T99",)
        assert told.types == set(PLANT.types)


class TestEnded:
    def test_an_ended_zone_test_and_model_are_offered_nowhere_and_still_named(self):
        zones = with_column("zones.csv", "ended", {"T36-nearside.door,": "yes", "T36 nearside.door,": "yes"})
        tests = with_column("tests.csv", "ended", {"G1,": "yes"})
        plant = plant_from_tables({**TABLES, "zones.csv": zones["zones.csv"], "tests.csv": tests["tests.csv"]})

        assert plant.tests["G1"].ended
        assert "G1" not in {one.id for one in plant.tests_of("T36")}
        gone = {key for key, zone in plant.zones.items() if zone.ended}
        assert not gone & {(zone.model, zone.key) for zone in plant.zones_of("T36")}
        assert gone <= {(zone.model, zone.key) for zone in plant.zones_of("T36", ended=True)}

    def test_a_type_that_has_only_ended_zones_is_a_fault(self):
        kinds = {zone.kind for zone in PLANT.zones.values()}
        kind = next(one for one in sorted(kinds) if any(set(t.zone_kinds) == {one} for t in PLANT.types.values()))
        own = {zone.id + ",": "yes" for zone in PLANT.zones.values() if zone.kind == kind}

        with pytest.raises(PlantFaults) as told:
            plant_from_tables(with_column("zones.csv", "ended", own))
        assert "so nobody could record" in str(told.value)

    @pytest.mark.parametrize("wrong", ["ja", "1", "true"])
    def test_a_word_that_is_no_answer_is_a_fault(self, wrong):
        with pytest.raises(PlantFaults) as told:
            plant_from_tables(with_column("tests.csv", "ended", {"G1,": wrong}))
        assert "ended" in str(told.value)

    def test_a_model_is_ended_by_its_key(self):
        model = next(iter(PLANT.models.values()))
        text = f'digit = "{model.digit}"'
        assert plant_from_tables(changed("plant.toml", text, f"{text}\nended = true")).models[model.code].ended
        with pytest.raises(PlantFaults):
            plant_from_tables(changed("plant.toml", text, f'{text}\nended = "yes"'))


def test_a_zone_or_test_that_is_asked_of_an_option_alone_is_another_criterion():
    before = tables_of(OTHER)
    door = '"0,1200 2100,1200 2100,2200 0,2200",5,,,'
    assert door in before["zones.csv"]
    zones = before["zones.csv"].replace(door, door + "Küche")
    tests = before["tests.csv"].replace(",no,Türöffner", ",no,Küche")
    changed = plant_changes(before, {**before, "zones.csv": zones, "tests.csv": tests})

    assert changed.criteria == ("tests and their limits: TOF", "zones looked at: A21 seite.tuer")
    gone = before["plant.toml"].replace('[[option]]\ncode = "Türöffner"\nname = "Elektrischer Türöffner"\n', "")
    with pytest.raises(PlantFaults, match="is no option of this plant"):
        plant_changes(before, {**before, "plant.toml": gone})
