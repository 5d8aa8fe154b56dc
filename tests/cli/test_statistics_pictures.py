"""--picture draws what the command answers, and refuses what it cannot draw without losing the answer's own words."""

import json
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from qc.cli.stat import STATISTICS, stat

ROWS = "week,bad,seen\n1,2,50\n2,3,60\n3,1,40\n4,30,50\n5,0,0\n6,2,50\n"
ASKED = ["--label", "week", "--defectives", "bad", "--inspected", "seen", "--baseline", "all"]


@pytest.fixture
def rows(tmp_path, monkeypatch):
    (tmp_path / "rows.csv").write_text(ROWS, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*arguments):
    return CliRunner().invoke(stat, ["p-chart", "rows.csv", *ASKED, *arguments])


def test_the_drawing_is_written_and_the_answer_stays_the_same(rows):
    told = run("--json", "--picture", "chart.svg")

    assert told.exit_code == 0
    assert json.loads(told.stdout) == json.loads(run("--json").stdout)
    assert told.stderr == (
        "Drawn in chart.svg: 1 of 5 periods is outside the limits: 4 above. In 1 period nothing was inspected.\n"
    )
    root = ElementTree.parse(rows / "chart.svg").getroot()
    assert [part.get("class") for part in root.iter() if part.get("class") == "signal"] == ["signal"]


def test_a_page_has_the_table_and_the_run_rules(rows):
    told = run("--rules", "nelson", "--exclude", "4=new hand", "--picture", "chart.html")

    page = (rows / "chart.html").read_text(encoding="utf-8")
    assert told.exit_code == 0
    assert "Run rules (Nelson 1984)" in page
    assert "left out of the limits: new hand" in page
    assert page.count('<th scope="row"') == 6


@pytest.mark.parametrize(
    ("path", "why"),
    [("chart.png", "ends in .svg or .html"), ("nowhere/chart.svg", "cannot be written: No such file"),
     ("chart", "ends in .svg or .html")],
)  # fmt: skip
def test_a_path_that_cannot_be_is_refused_by_name(rows, path, why):
    told = run("--picture", path)

    assert told.exit_code == 2
    assert f"--picture {path!r}" in told.stderr
    assert why in told.stderr
    assert told.stdout == ""


def test_too_little_data_has_no_picture_and_says_why(rows):
    (rows / "rows.csv").write_text("week,bad,seen\n1,0,0\n", encoding="utf-8")
    told = run("--picture", "chart.svg")

    assert told.exit_code == 0
    assert told.stderr.startswith("No picture: nothing was inspected")
    assert not (rows / "chart.svg").exists()


def test_every_chart_but_one_of_far_values_can_be_drawn():
    drawn = {
        name for name in STATISTICS if "--picture" in CliRunner().invoke(stat, [name, "--help"]).output
    }  # fmt: skip

    assert drawn == {
        "p-chart", "np-chart", "c-chart", "u-chart", "p-prime", "u-prime", "exact-p", "exact-u", "predictive-p",
        "predictive-u", "predictive-g", "demerit", "g-chart", "exact-g", "t-chart", "exact-t", "ewma-p", "ewma-u",
        "cusum", "poisson-cusum", "bernoulli-cusum",
    }  # fmt: skip
