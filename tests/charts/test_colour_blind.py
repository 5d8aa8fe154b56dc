"""Marks stay apart for colour-blind readers, and no hue speaks alone.

Simulation: Machado, Oliveira & Fernandes (2009), IEEE Transactions on Visualization and Computer Graphics 15,
1291-1298, matrices at severity 1 on linear RGB (from memory; that each row sums to 1 is checked, so that grey stays
grey). Difference: CIE 1976 L*a*b*, white D65 (ISO/CIE 11664-4); a difference of 20 is plain to see for large marks
(common practice, no source).
"""

from math import dist

import pytest

from qc.charts.drawing.as_plotly import SHAPES
from qc.charts.drawing.scene import Marks
from qc.charts.kinds.run_chart import run_scene
from qc.charts.kinds.week_lines import LOOKS
from qc.charts.pages.level import chart_points, per_unit_picture
from tests.charts import made_reports as made
from tests.charts.conftest import trace_of
from tests.charts.test_look import tokens
from tests.charts.test_run_chart import SHARES

SIMULATED = {
    "usual sight": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "no red cones": (
        (0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998),
    ),
    "no green cones": (
        (0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881),
    ),
    "no blue cones": (
        (1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900),
    ),
}  # fmt: skip
XYZ = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
WHITE = (0.9505, 1.0, 1.089)
PLAIN_TO_SEE = 20


def times(matrix, vector):
    return tuple(sum(a * b for a, b in zip(row, vector, strict=True)) for row in matrix)


def linear(colour):
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    return tuple(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)


def lab(colour, sight):
    seen = tuple(min(1.0, max(0.0, part)) for part in times(SIMULATED[sight], linear(colour)))
    roots = [
        ratio ** (1 / 3) if ratio > (6 / 29) ** 3 else ratio / (3 * (6 / 29) ** 2) + 4 / 29
        for ratio in (part / white for part, white in zip(times(XYZ, seen), WHITE, strict=True))
    ]
    return 116 * roots[1] - 16, 500 * (roots[0] - roots[1]), 200 * (roots[1] - roots[2])


@pytest.mark.parametrize("sight", SIMULATED)
def test_the_simulation_leaves_grey_grey(sight):
    assert [sum(row) for row in SIMULATED[sight]] == pytest.approx([1, 1, 1], abs=2e-6)


def test_the_formula_gives_the_ends_that_the_standard_states():
    assert lab("#ffffff", "usual sight") == pytest.approx((100, 0, 0), abs=0.02)
    assert lab("#000000", "usual sight") == pytest.approx((0, 0, 0), abs=0.02)


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("sight", SIMULATED)
@pytest.mark.parametrize("other", ["--mark-second", "--mark-signal"])
def test_marks_stay_apart_for_every_sight(theme, sight, other):
    own = tokens(theme)

    assert dist(lab(own["--mark"], sight), lab(own[other], sight)) > PLAIN_TO_SEE


def test_each_kind_of_point_has_a_shape_of_its_own():
    """Whole weeks, signals and the running week, told apart without any colour."""
    points = chart_points(made.level().units_with_defect[0].chart)
    looks = [part.look for part in run_scene(points, SHARES).parts if isinstance(part, Marks) and part.marks]

    assert {"point", "signal", "hollow"} <= set(looks)
    assert len({SHAPES[look][1] for look in looks}) == len(looks)


def test_the_second_line_differs_in_mark_and_dash_too():
    first, second = LOOKS

    assert all(one != two for one, two in zip(first, second, strict=True))
    picture = per_unit_picture(made.per_unit())
    lines, marks = (
        [trace_of(picture, look) for look in looks] for looks in (("line", "line-second"), ("point", "point-second"))
    )
    assert marks[0]["marker"]["symbol"] != marks[1]["marker"]["symbol"]
    assert lines[0]["line"]["dash"] != lines[1]["line"]["dash"]
