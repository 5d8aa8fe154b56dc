"""Yields and escapes give the hand counts of constructed cases and the printed numbers of textbooks."""

from math import exp

import pytest

from qc.stats.by_command.sampling.presentations import Presentation, gate_counts, through_count
from qc.stats.causes.pareto import pareto, vital_few
from qc.stats.looks.yields import (
    clustered_yield,
    defects_per_million,
    defects_per_unit,
    first_pass,
    rolled_shares,
)
from qc.stats.origins.escapes import Found, downstream_in_line, escape_matrix
from qc.stats.series import counts_of


def test_the_vital_few_of_ten_departments_are_as_printed():
    """Groover, Automation, Production Systems, and Computer-Integrated Manufacturing, problem on Pareto charts.

    Its numbers as printed in a solved copy; the book's chapter from memory. Two departments of ten make 56.4 %.
    """
    problems = {
        "assembly": 16, "final packaging": 9, "finishing": 37, "forging": 73, "foundry": 362, "machine shop": 294,
        "plastic molding": 120, "receiving inspection": 124, "sheet metalworking": 86, "tool-making": 42,
    }  # fmt: skip
    ranked = pareto(
        counts_of(list(problems.values()), list(problems)), list(problems.values()), "problems", other="Other"
    )

    two = vital_few(ranked, 0.56)
    assert two.labels == ("foundry", "machine shop")
    assert round(two.reached, 3) == 0.564
    # By hand: 362 + 294 + 124 + 120 = 900 of 1163 are 77.4 %, with sheet metalworking's 86 they are 84.8 %.
    most = vital_few(ranked, 0.8)
    assert most.labels == ("foundry", "machine shop", "receiving inspection", "plastic molding", "sheet metalworking")
    assert most.reached == 986 / 1163


def test_escapes_are_counted_against_their_origin(case):
    facts = case("floor-escapes")
    records = [Found(*record) for record in facts.given["records"]]
    matrix = escape_matrix(records, downstream_in_line(facts.given["line"]), no_station=(), level=0.95)

    told = {
        one.station: {
            "originated": one.originated,
            "contained": one.contained,
            "escaped": one.escaped,
            "containment": pytest.approx(one.containment.share, abs=1e-12),
        }
        for one in matrix.origins
    }
    assert told == facts.answer["stations"]
    assert matrix.inconsistent_count == facts.answer["inconsistent"]
    assert matrix.inconsistent == (Found("roof", "wall", 1),)
    assert list(matrix.worst) == facts.answer["rank"]
    assert [one.by_construction for one in matrix.origins] == [False, False, False, True]


def test_the_escape_rate_of_a_point_counts_what_reached_it(case):
    facts = case("floor-escapes")
    records = [Found(*record) for record in facts.given["records"]]
    matrix = escape_matrix(records, downstream_in_line(facts.given["line"]), no_station=(), level=0.95)

    # Counted by hand from the same table: wall saw 3 of the frame's 8 escapes and 10 of its own 12.
    wall = matrix.points[1]
    assert (wall.found, wall.passed, wall.reached) == (13, 7, 20)
    assert wall.escape_rate.share == 0.35


@pytest.mark.parametrize("name", ["floor-fpy-first-presentation", "floor-out-of-order-events"])
def test_only_first_presentations_count(case, name):
    facts = case(name)
    events = [Presentation(*event) for event in facts.given["events"]]
    (final,) = gate_counts(events, facts.given["gates"])
    answer = first_pass(final.defectives, final.inspected, "any", 0.95)

    assert final.inspected == facts.answer["units"]["final"]
    assert answer.share == pytest.approx(facts.answer["fpy"]["final"], abs=1e-12)
    if "units_with_defect" in facts.answer:
        assert final.defectives == facts.answer["units_with_defect"]["final"]
        rate = defects_per_unit(final.defects, final.inspected)
        assert rate.per_unit == pytest.approx(facts.answer["dpu_first"]["final"], abs=1e-12)
    assert through_count(events, ["final"]).inspected == final.inspected


def test_rolled_yield_is_the_product_over_gates(case):
    facts = case("yield-rty-product")
    shares = facts.given["step_yields"]
    rolled = rolled_shares([str(gate) for gate in range(4)], shares)

    facts.agrees("rty", rolled.share)
    facts.agrees("normalised", rolled.per_gate)
    facts.agrees("tdpu", rolled.defects_per_unit)
    assert rolled.share != pytest.approx(facts.answer["wrong_mean"], abs=0.01)


@pytest.mark.parametrize("name", ["yield-hundred-parts", "yield-meal"])
def test_many_good_steps_make_a_poor_whole(case, name):
    facts = case(name)
    share, steps = facts.given["repeat"]

    facts.agrees("power", rolled_shares([str(step) for step in range(steps)], [share] * steps).share)


def test_defects_per_unit_and_per_million(case):
    facts = case("yield-dpu-poisson")
    defects, units = facts.given["defects"], facts.given["units"]
    rate = defects_per_unit(defects, units)

    facts.agrees("dpu", rate.per_unit)
    facts.agrees("yield_poisson", rate.clean_if_independent)
    facts.agrees("dpmo", defects_per_million(defects, units, facts.given["opportunities"]))


def test_clustered_yield_tends_to_the_poisson_yield():
    # The limit of (1 + d/a)^-a for large a is exp(-d): a textbook limit.
    assert clustered_yield(0.7, 1e9) == pytest.approx(exp(-0.7), rel=1e-6)
