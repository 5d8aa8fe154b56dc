"""Several lines that build one model: a unit's build is its line's, and what cannot be of lines is refused."""

from datetime import date
from pathlib import Path

import pytest

from qc.domain.acts.kinds import KINDS, body_fault
from qc.domain.facts.rule_set import LINES_TOLD
from qc.domain.handed.build_plan import PlannedUnit, columns_of, plan_lines
from qc.domain.handed.unit_range import RangeUnit, UnusableRange, range_lines
from qc.domain.plant.graph import BuildGraph
from qc.domain.plant.line_map import line_map
from qc.domain.plant.references import reference_fault
from qc.domain.plant_json import phone_plant
from qc.domain.tables.plant_changes import plant_changes
from qc.domain.tables.plant_tables import PlantFaults, checked_plant, plant_from_tables, tables_of
from qc.domain.tables.plant_words import in_words

OTHER = Path(__file__).parents[1] / "plants" / "other"
TABLES = tables_of(OTHER)
PLANT = checked_plant(TABLES)
TODAY = date(2026, 3, 1)


def tables(*swaps, file="stations.csv"):
    """The plant's tables with words of one file swapped, each of them there."""
    text = TABLES[file]
    for old, new in swaps:
        assert old in text, old
        text = text.replace(old, new)
    return {**TABLES, file: text}


def test_a_unit_goes_by_the_line_told_by_its_models_only_one_or_by_the_first():
    assert [PLANT.line_of(*one) for one in (("A21", "Süd"), ("A21", "N"), ("A21", ""))] == ["Süd", "N", "N"]
    assert [PLANT.line_of(*one) for one in (("BRG34", ""), ("BRG34", "Süd"), ("X", "N"))] == ["N", "N", ""]
    graph = BuildGraph(PLANT)

    assert graph.stations_in("A21", "Süd") == ("RAH", "C10", "C20", "TOR", "PST", "ABN", "VSD")
    assert graph.stations_in("A21", "N") == graph.stations_in("A21") == graph.stations_in("BRG34", "Süd")
    assert not {"B10", "B20"} & set(graph.possible_origins("ABN", "A21", "Süd"))
    assert {"RAH", "C10", "ZUL", "NAR"} <= set(graph.possible_origins("ABN", "A21", "Süd"))
    assert {"B10", "C10"} <= set(graph.possible_origins("ABN", "A21", None))


def test_end_points_and_tests_of_another_line_are_not_asked():
    own = "PST,Prüfstand,test,,0,M5,yes,,all,yes,,tag"
    second = "PSS,Prüfstand Süd,test,Süd,0,M5,yes,,all,yes,,tag"
    changed = tables((own, f"{own.replace('test,,', 'test,N,')}\n{second}"))
    toml = changed["plant.toml"].replace('["C20", "TOR"]', '["C20", "PSS"], ["PSS", "ABN"]')
    plant = checked_plant({**changed, "plant.toml": toml})

    assert [one.id for one in plant.presenting("A21", "N")] == ["PST", "ABN"]
    assert [one.id for one in plant.presenting("A21", "Süd")] == ["PSS", "ABN"]
    of_north = {one.id for one in plant.tests_of("A21", line="N")}
    assert of_north == {one.id for one in plant.tests_of("A21")}
    assert of_north - {one.id for one in plant.tests_of("A21", line="Süd")} == {
        one.id for one in plant.tests_of("A21", "PST")
    }


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        (tables(("main,Süd,2", "main,Sud,2")), "Sud"),
        (tables(("ZUL,Zulieferer,external,,", "ZUL,Zulieferer,external,N,")), "stands at none; leave it empty"),
        (tables(("rework,,0,M6,no,,all", "rework,Süd,0,M6,no,,BRG34")), "no unit comes by"),
        (tables(("main,N,2,M2,no,,all", "main,N,2,M2,no,,A21"), ("main,N,1,M3,no,,all", "main,N,1,M3,no,,A21")),
         "no line builds BRG34"),
        (tables(("ABN,Abnahme im Hof,inspection,,", "ABN,Abnahme im Hof,inspection,N,")),
         "has no final inspection in the build of A21"),
        (tables(('["C20", "TOR"]', '["C20", "B20"]'), file="plant.toml"), "a unit stays on its line"),
        (tables(('code = "Süd"\nname = "Südband"', 'code = "Süd"\nname = "nordband"'), file="plant.toml"),
         "the name of two lines"),
        (tables(('[[line]]\ncode = "N"', '[[line]]\ncode = "West"\nname = "Westband"\n\n[[line]]\ncode = "N"'),
                file="plant.toml"), "has no station of its own"),
        (tables(('code = "Süd"\nname = "Südband"', 'code = "Süd; West"\nname = "Südband"'), file="plant.toml"),
         "Süd; West"),
    ],
)  # fmt: skip
def test_what_cannot_be_of_several_lines_is_refused_with_its_remedy(changed, told):
    with pytest.raises(PlantFaults) as refused:
        checked_plant(changed)

    assert told in str(refused.value)


def test_a_plant_that_names_no_lines_reads_the_column_as_no_line():
    """The invented plant of the demo has words in the column, each a part of its only line."""
    from qc.assets import folder

    plant = checked_plant(tables_of(folder("demo_data") / "plant"))

    assert {one.line for one in plant.stations.values()} > {"main", "end"}
    assert {plant.line_at(one) for one in plant.stations} == {""}
    assert plant.builds() == tuple((model, "") for model in plant.models)


def test_a_line_may_be_named_in_any_letters_and_there_may_be_forty():
    north = "Північ"
    changed = tables(("main,N,", f"main,{north},"))
    toml = changed["plant.toml"].replace('code = "N"', f'code = "{north}"')
    assert checked_plant({**changed, "plant.toml": toml}).line_of("BRG34") == north

    rows, blocks, flow = "", "", ""
    for n in range(40):
        rows += f"L{n},Band {n},main,L{n},1,M9,no,,A21,,,tag\n"
        blocks += f'[[line]]\ncode = "L{n}"\nname = "Band {n}"\n\n'
        flow += f'["L{n}", "TOR"], '
    text = (
        TABLES["plant.toml"].replace("[[severity]]", f"{blocks}[[severity]]", 1).replace("flow = [", f"flow = [{flow}")
    )
    many = checked_plant({**TABLES, "plant.toml": text, "stations.csv": TABLES["stations.csv"] + rows})

    assert len(many.lines_of("A21")) == 42
    assert BuildGraph(many).stations_in("A21", "L39") == ("RAH", "TOR", "PST", "ABN", "VSD", "L39")


def plan(rows, heading=("model", "sequence", "day", "line"), planned=(), plant=PLANT):
    known = {one.chassis: one for one in planned}
    return plan_lines(enumerate(rows, start=2), columns_of(list(heading), plant), plant, known, TODAY)


def test_a_build_plan_says_the_line_by_its_code_or_name_and_is_asked_where_there_are_several():
    lines = plan(
        [
            ["A21", "50001", "2026-03-02", "Süd"],
            ["A21", "50002", "2026-03-02", "nordband"],
            ["A21", "50003", "2026-03-02", ""],
            ["BRG34", "50004", "2026-03-02", ""],
            ["BRG34", "50005", "2026-03-02", "Süd"],
            ["A21", "50006", "2026-03-02", "West"],
        ]
    )

    assert [one.outcome for one in lines] == ["new", "new", "wrong", "new", "wrong", "wrong"]
    assert [one.body.get("line") for one in lines[:4]] == ["Süd", "N", None, None]
    assert lines[2].words == "A21 is built on N Nordband, Süd Südband; say on which in the column line"
    assert lines[4].words == "Süd Südband builds no BRG34; that is built on N Nordband"
    assert lines[5].words == "'West' is no line of this plant; it has N Nordband, Süd Südband"


def test_a_later_plan_corrects_the_line_and_one_that_does_not_say_it_leaves_it():
    unit = PlannedUnit(
        chassis="OWA21T5000188", shop_number="W650001K", options=(), build_sheet=None, planned_day="2026-03-02",
        is_released=False, line="N",
    )  # fmt: skip
    (moved,) = plan([["A21", "50001", "2026-03-02", "Südband"]], planned=[unit])
    (same,) = plan([["A21", "50001", "2026-03-02", ""]], planned=[unit])

    assert (moved.outcome, moved.body, moved.words) == (
        "changed",
        {"changes": {"line": "Süd"}},
        "line N Nordband → Süd Südband",
    )
    assert same.outcome == "same"


def test_no_unit_is_planned_on_a_line_that_is_ended_and_the_only_one_left_needs_no_saying():
    ended = tables(('name = "Nordband"', 'name = "Nordband"\nended = true'), file="plant.toml")
    plant = checked_plant(ended)
    told, left = plan([["A21", "50001", "2026-03-02", "N"], ["A21", "50002", "2026-03-02", ""]], plant=plant)

    assert (told.outcome, told.words[:24]) == ("wrong", "line N Nordband is ended")
    assert (left.outcome, left.body["line"]) == ("new", "Süd")
    assert not plant_changes(TABLES, ended).refused


def test_a_line_that_is_gone_from_the_tables_is_refused_and_one_added_is_told():
    gone = {**TABLES, "plant.toml": TABLES["plant.toml"].replace('[[line]]\ncode = "Süd"\nname = "Südband"\n\n', "")}
    gone["stations.csv"] = TABLES["stations.csv"].replace("main,Süd,", "main,,")
    changes = plant_changes(TABLES, gone)

    assert any("Süd (Südband) is gone; a code is never deleted" in one for one in changes.refused)
    assert [one.words for one in plant_changes(gone, TABLES).by_table()["line"]] == ["Süd Südband: added"]


def test_an_operation_names_a_line_that_builds_its_model_and_none_before_lines_were_told():
    planned = KINDS["unit_planned"]
    body = {"model": "A21", "shop_number": "W650001K", "sequence": 50001, "planned_day": "2026-03-02", "line": "Süd"}

    assert body_fault(planned, "OWA21T5000188", body) is None
    assert body_fault(planned, "OWA21T5000188", body, LINES_TOLD - 1).field == "body"
    assert reference_fault(planned.refers, body, PLANT, "") is None
    assert "Ost is no line" in reference_fault(planned.refers, {**body, "line": "Ost"}, PLANT, "").message
    assert "builds no BRG34" in reference_fault(planned.refers, {**body, "model": "BRG34"}, PLANT, "").message
    changed = {"changes": {"line": "Süd"}}
    assert body_fault(KINDS["plan_changed"], "OWA21T5000188", changed, LINES_TOLD - 1) is not None
    assert "builds no" in reference_fault(KINDS["plan_changed"].refers, changed, PLANT, "BRG34").message


def test_a_range_of_units_is_put_on_a_line_that_builds_them():
    def unit(shop, model="A21", line="N", **more):
        return RangeUnit(
            **{"chassis": shop, "shop_number": shop, "planned_day": "2026-03-02", "is_cancelled": False,
               "is_released": False, "released_by": "", "model": model, "line": line, "met_by": "", **more}
        )  # fmt: skip

    units = [unit("U1"), unit("U2", line="Süd"), unit("U3", "BRG34"), unit("U4", is_released=True), unit("U5", line="")]
    lines = range_lines(units, "line", "", "", "Süd", PLANT, TODAY)

    assert [one.outcome for one in lines] == ["changed", "same", "wrong", "wrong", "changed"]
    assert lines[0].body == {"changes": {"line": "Süd"}}
    assert "which Süd Südband does not build" in lines[2].words
    assert "line not told → Süd" in lines[4].words
    with pytest.raises(UnusableRange, match="no line of this plant; it has N Nordband, Süd Südband"):
        range_lines(units, "line", "", "", "West", PLANT, TODAY)
    with pytest.raises(UnusableRange, match="no line is chosen; the plant has N Nordband, Süd Südband"):
        range_lines(units, "line", "", "", "", PLANT, TODAY)


def test_phones_get_lines_and_the_origins_of_every_line_and_the_map_shows_a_feeder_on_each():
    told = phone_plant(PLANT)

    assert [one["code"] for one in told["lines"]] == ["N", "Süd"]
    assert {one["code"]: one["lines"] for one in told["models"]} == {"A21": ["N", "Süd"], "BRG34": ["N"]}
    assert {one["id"]: one["line"] for one in told["stations"] if one["line"]} == {
        "B10": "N", "B20": "N", "C10": "Süd", "C20": "Süd"
    }  # fmt: skip
    assert {"B10", "C10"} <= set(told["origins"]["ABN"]["A21"])
    assert not {"C10", "C20"} & set(told["origins"]["ABN"]["BRG34"])
    fed = {station.id: [one.id for one in feeders] for station, feeders in line_map(PLANT).line}
    assert fed["B10"] == fed["C10"] == ["RAH"]


def test_a_line_is_called_by_its_name_in_the_readers_language():
    names = "language,table,code,column,words\nen,line,Süd,name,South line\n"
    plant = checked_plant({**TABLES, "names.csv": names})

    assert in_words(plant, "en").lines["Süd"].name == "South line"
    assert in_words(plant, "de").lines["Süd"].name == "Südband"


def test_tables_of_before_open_as_they_did():
    plain = {name: text for name, text in TABLES.items() if name != "plant.toml"}
    before, _, rest = TABLES["plant.toml"].partition("[[line]]")
    assert plant_from_tables({**plain, "plant.toml": before + rest[rest.index("[[severity]]") :]}).lines == {}
