"""`qc picture`: what laying a picture under zones would change is told, and with --take it is in force."""

import pytest

from qc.domain.tables.plant_tables import plant_from_tables
from qc.store.checking.verify import verify
from qc.store.people.telling import latest_tables
from qc.web.house import open_house
from tests.cli.revising import PHRASE, run
from tests.store.pictures import BROKEN, encoded, sides


@pytest.fixture
def front(tmp_path):
    path = tmp_path / "front.jpg"
    path.write_bytes(encoded(sides(), "JPEG"))
    return path


def pictures(folder):
    return dict(plant_from_tables(latest_tables(folder)).pictures)


def test_it_tells_what_would_change_and_keeps_nothing(folder, front):
    told = run("picture", folder, front, "--model", "T36", "--view", "front")

    assert told.exit_code == 0
    assert "T36 front: added" in told.output
    assert "Nothing was changed." in told.output
    assert pictures(folder) == {}
    assert not list((folder / "photos").glob("??/*"))


def test_taken_it_is_in_force_also_beside_a_server(folder, front, today):
    words = ("--model", "T36", "--view", "front", "--corners", "0,0 2300,1533")
    house = open_house(folder)
    try:
        told = run("picture", folder, front, *words, "--reason", "photo", "--from", today, "--take", "console")
        house.follow_tables()
        (one,) = house.plant.pictures.values()
        assert house.photos.photo(one.sha256) is not None
    finally:
        house.close()

    assert told.exit_code == 0, told.output
    assert (one.left, one.bottom, one.right, one.top) == (0, 0, 2300, 1533)
    assert verify(folder).is_whole

    again = run("picture", folder, front, *words, "--reason", "photo", "--from", today, "--take", "AD1", typed=PHRASE)
    assert "say what those in force say" in again.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--model", "T3", "--view", "front"), "is no model of this plant"),
        (("--model", "T36", "--view", "top"), "is no view of this plant"),
        (("--model", "T36", "--view", "front", "--corners", "0,0"), "no two corners"),
        (("--model", "T36", "--view", "front", "--corners", "5,5 0,0"), "must be two corners"),
    ],
)
def test_nonsense_is_told(folder, front, words, said):
    told = run("picture", folder, front, *words)

    assert told.exit_code == 1
    assert said in told.output
    assert pictures(folder) == {}


@pytest.mark.parametrize("what", ["nothing", "SVG", "30 000 x 30 000", "half a JPEG"])
def test_what_is_no_picture_is_told(folder, tmp_path, what):
    data, said = BROKEN[what]
    path = tmp_path / "some.png"
    path.write_bytes(data)

    told = run("picture", folder, path, "--model", "T36", "--view", "front")

    assert told.exit_code == 1
    assert said in told.output
