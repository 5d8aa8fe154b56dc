"""Harder turns of the story change what they say and nothing else."""

from dataclasses import replace

import pytest

from qc.assets import folder
from qc.demo.simulate import Simulation
from qc.demo.story import read_story
from qc.demo.truth import expected
from qc.demo.variants import VARIANTS, varied
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")
STORY = read_story(folder("demo_data") / "story")


def changed_cells(name):
    plain, turned = expected(STORY, PLANT), expected(varied(STORY, [name]), PLANT)
    return {key for key in plain if abs(plain[key].made - turned[key].made) > 1e-9}


def test_without_a_variant_the_story_is_as_it_is():
    assert varied(STORY, []) == STORY


def test_tighter_scratch_criteria_raise_four_origins_from_week_20():
    assert changed_cells("criteria") == {(w, s) for w in range(20, 27) for s in ("S07", "RP2", "S10", "HND")} - {
        (26, "RP2")  # its work in week 26 would come to daylight after the story
    }


def test_the_trailers_are_handlings_alone_and_in_week_7():
    assert changed_cells("trailers") == {(7, "HND")}


def test_a_coding_habit_moves_records_and_makes_nothing():
    assert changed_cells("coding") == set()

    story = varied(STORY, ["coding"])
    early = replace(story, noise={**story.noise, "habit": {**story.noise["habit"], "from_week": 1, "share": 1.0}})
    acts = Simulation(early, PLANT, 2, 2).acts()
    own = [act.body["type"] for act in acts if act.kind == "defect_recorded" and act.author == "I1"]

    assert "SEA-02" not in own
    assert "EXT-02" in own


def test_an_unknown_variant_is_an_error_by_name():
    with pytest.raises(KeyError, match="storm"):
        varied(STORY, ["storm"])
    assert list(VARIANTS) == ["criteria", "trailers", "coding"]
