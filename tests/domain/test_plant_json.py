"""What a phone gets of the plant: everything it needs without signal, as plain JSON."""

import json
from dataclasses import replace

from qc.assets import folder
from qc.domain.plant_json import phone_plant
from qc.domain.tables.plant_tables import read_plant

PLANT = read_plant(folder("demo_data") / "plant")


def test_the_phone_plant_is_json_and_small_enough_to_keep():
    text = json.dumps(phone_plant(PLANT))

    assert json.loads(text)["revision"] == PLANT.revision
    assert len(text) < 165_000  # 13 500 of it are names in a second language


def test_every_type_can_be_put_on_a_zone_of_each_of_its_models():
    plant = phone_plant(PLANT)
    kinds = {(zone["model"], zone["kind"]) for zone in plant["zones"]}
    models = [model["code"] for model in plant["models"]]

    for one in plant["types"]:
        for model in one["models"] or models:
            assert any((model, kind) in kinds for kind in one["zone_kinds"]), (one["code"], model)


def test_zones_come_in_walk_round_order_with_their_caution():
    zones = [zone for zone in phone_plant(PLANT)["zones"] if zone["model"] == "T36"]

    assert [zone["view"] for zone in zones] == sorted((z["view"] for z in zones), key=list(PLANT.views).index)
    assert {zone["caution"] for zone in zones if zone["key"] == "front.gas"} == {"GAS"}


def test_origins_are_offered_for_each_point_where_something_can_be_upstream():
    origins = phone_plant(PLANT)["origins"]

    assert {"T01", "T02", "D01", "X01"} <= set(origins)
    assert origins["D01"]["M50"][-5:] == ["SUP", "HND", "R01", "DSN", "UNK"]


def test_a_retired_type_is_told_as_ended():
    retired = replace(PLANT.types["PAN-02"], retired=True)
    plant = phone_plant(replace(PLANT, types={**PLANT.types, "PAN-02": retired}))

    assert [one["code"] for one in plant["types"] if one["ended"]] == ["PAN-02"]
    assert len(plant["types"]) == len(PLANT.types)
