"""The statistics' commands: complete, light, and exact about what is wrong with a file."""

import ast
import json
import math
import subprocess
import sys
import warnings
from dataclasses import fields, is_dataclass
from datetime import date
from importlib import import_module
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.cli.stat import STATISTICS, stat
from qc.cli.stat.asking import Statistic, column_weight
from qc.cli.stat.command import command_for
from qc.cli.stat.plain import PRINTED, plain
from tests.stats.test_scale import watched

ROOT = Path(__file__).parents[2]

# Public functions of qc.stats that are no statistic by themselves, and why.
HELPERS = {
    "refusals": "refuses impossible input",
    "series": "makes the values that the commands' columns become",
    "chart_points": "draws the points of every chart",
    "segments": "divides series for change-points",
    "cost_bounds": "spares poisson-changes the search of most simulated series",
    "pairs_in_time": "counts the pairs of mann-kendall and finds its slope",
    "likelihood_climb": "finds the top of a regression's likelihood",
    "first_passage": "solves the chains of the run lengths",
    "tail_sums": "which counts of a long law are summed",
    "funnel_limits": "limits and tails inside the funnel commands",
    "watch_chain": "solves the chains of watch-design",
    "stated_chances": "keeps a chance from being told as 0",
}
PARTS = {
    "demand_baseline": "refuses impossible input",
    "baseline_cautions": "sentences on every chart",
    "demand_tail": "refuses impossible input",
    "limits_on_tails": "finds the limits of the commands on counts",
    "revised_baseline": "--exclude makes the revised baseline from the same rows",
    "predictive_gap_limits": "the limits of predictive-g",
    "spread_between": "the spread of p-prime and u-prime",
    "times_of": "turns one value of t-chart back; exact-t charts the times themselves",
    "share_dispersion": "the test inside share-dispersion",
    "rate_dispersion": "the test inside rate-dispersion",
    "date_chances": "the chances inside change-point",
    "mean_date_chances": "the chances inside mean-change-point",
    "likely_range": "the range inside change-point",
    "prior_mean": "the first step of attribution",
    "suspicion_weights": "the last step of attribution",
    "claim": "the words inside mix-adjust",
    "chance_of_one_side": "whether the review tells a run of weeks: asked of a chart's points, which no file holds",
    "against_own_past": "the funnel of stations that expect what their own past made; funnel-rates is given it",
    "zone_edges": "the edges inside run-length",
    "signal_probability": "operating-characteristic gives its complement",
    "is_beyond": "one comparison inside run-rules",
    "completes": "one point's rule inside simulated-run-length",
    "code_letter": "the letter inside sampling-plan",
    "limits_without_error": "the interval of cohen and ac1 where all agree",
    "between": "refuses a reference value outside its two rates",
    "wilson_of_size": "wilson asks it with the units themselves as size",
    "least_count": "searches the limits of the commands on counts",
}


def public_functions() -> dict[str, str]:
    """Return the public functions of qc.stats with their module."""
    found = {}
    for path in sorted((ROOT / "qc" / "stats").rglob("[!_]*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                found[node.name] = path.stem
    return found


def asked_functions() -> set[str]:
    """Return the functions of qc.stats that the statistics' commands import (ruff refuses an unused import)."""
    asked = set()
    for path in (ROOT / "qc" / "cli" / "stat").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("qc.stats."):
                asked |= {alias.name for alias in node.names}
    return asked


def without_command(functions: dict[str, str]) -> list[str]:
    """Return the functions that neither a command asks nor an exemption names."""
    asked = asked_functions()
    return [name for name, module in functions.items() if name not in asked | PARTS.keys() and module not in HELPERS]


def test_every_public_statistic_has_a_command():
    functions = public_functions()

    assert len(functions) > 120
    assert without_command(functions) == []


def test_a_new_statistic_without_a_command_is_seen():
    assert without_command({"weibull_life": "lifetimes"}) == ["weibull_life"]


def test_every_exemption_is_still_needed():
    functions, asked = public_functions(), asked_functions()

    assert [name for name in PARTS if name not in functions or name in asked] == []
    assert [module for module in HELPERS if module not in functions.values()] == []


def test_the_table_of_names_and_the_families_hold_the_same():
    families = {family for family, _ in STATISTICS.values()}
    there = {(family, name) for family in families for name in import_module(f"qc.cli.stat.{family}").STATISTICS}

    assert there == {(family, name) for name, (family, _) in STATISTICS.items()}


def test_the_list_of_statistics_imports_nothing_heavy():
    code = (
        "import sys\nfrom click.testing import CliRunner\nfrom qc.cli import main\n"
        "answer = CliRunner().invoke(main, ['stat', '--help'])\nassert answer.exit_code == 0, answer.output\n"
        "assert 'p-chart' in answer.output\n"
        "print([name for name in ('numpy', 'scipy', 'statsmodels', 'pandas') if name in sys.modules])\n"
        "print([name for name in sys.modules if name.startswith('qc.stats') or name.startswith('qc.cli.stat.')])"
    )

    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert told.stdout.split("\n")[:2] == ["[]", "[]"]


@pytest.mark.parametrize("name", STATISTICS)
def test_every_statistic_has_help(name):
    told = CliRunner().invoke(stat, [name, "--help"])

    assert told.exit_code == 0
    assert STATISTICS[name][1].split()[0] in told.output


def p_chart(tmp_path: Path, content: str | bytes, *more: str):
    """Ask for a p chart of a file with this content."""
    path = tmp_path / "counts.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    options = ["--defectives", "bad", "--inspected", "n", "--baseline", "all"]
    return CliRunner().invoke(stat, ["p-chart", str(path), *options, *more])


GOOD = "week,bad,n\nW1,3,50\nW2,5,50\nW3,2,50\n"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("week,bad,n\nW1,3,50\nW2,5,40x\n", ["row 3", "'n'", "'40x'", "whole number"]),
        ("week,bad,n\nW1,,50\n", ["row 2", "'bad'", "write 0"]),
        ("week,bad,n\nW1,3.5,50\n", ["row 2", "'3.5'"]),
        ("week,bad,n\nW1,-3,50\n", ["row 2", "'-3'"]),
        ("week,bad,n\nW1,٣,50\n", ["row 2", "'٣'"]),
        ("week,bad,n\nW1,99999999999,50\n", ["row 2", "10000000"]),
        ("week,bad,n\n\nW1,3,50\nW2,60,50\n", ["row 4", "at least defectives (60)", "column 'bad'"]),
        ("week,bad,n\nW1,3\n", ["row 2", "2 cells", "3"]),
        ("week,defects,n\nW1,3,50\n", ["no column 'bad'", "'defects'"]),
        ("week;bad;n\nW1;3;50\n", ["no column 'bad'", "--separator ';'"]),
        ("week;bad;n\nW1;3;50\nW2;5,5;50\n", ["row 3", "--separator ';'"]),
        ("week\tbad\tn\nW1\t3\t50\n", ["no column 'bad'", "--separator tab"]),
        ("week,bad,bad,n\nW1,3,3,50\n", ["row 1", "'bad'", "twice"]),
        ("week,bad,n\n", ["no row"]),
        ("", ["row 1", "header"]),
        (b"week,bad,n\nW\xe91,3,50\n", ["line 2", "0xe9", "UTF-8"]),
        ('week,bad,n\nW1,"3"x,50\n', ["row 2", "quotation"]),
    ],
)
def test_a_fault_is_told_with_row_column_and_what_would_do(tmp_path, content, said):
    told = p_chart(tmp_path, content)

    assert told.exit_code == 2
    assert isinstance(told.exception, SystemExit)
    for words in said:
        assert words in told.output


def test_a_name_that_stands_twice_is_told_with_both_rows(tmp_path):
    told = p_chart(tmp_path, GOOD.replace("W3", "W1"), "--label", "week")

    assert told.exit_code == 2
    assert "row 4, column 'week': 'W1' stands in row 2 too" in told.output


def test_a_refusal_of_the_statistic_names_the_row_of_its_label(tmp_path):
    told = p_chart(tmp_path, "week,bad,n\nW1,3,50\nW2,5,4\n", "--label", "week")

    assert told.exit_code == 2
    assert "row 3" in told.output


COUNTED = "week,found,made\nW1,3,5\nW2,2,0\nW3,4,6\n"


@pytest.mark.parametrize(
    ("command", "said"),
    [
        (
            "u-chart --defects found --exposure made --label week --baseline all",
            "row 3: exposure must be above 0 where there are defects (2), got 0 for 'W2' (defects is column",
        ),
        (
            "compare-rates --counts found --exposures made --label week",
            "row 3: exposures[1] must be more than 0 where counts[1] is 2, got 0.0 (counts is column",
        ),
        (
            "share-pairs --defectives found --inspected made --label week",
            "row 3: inspected[1] must be at least defectives[1] (2), got 0 (defectives is column",
        ),
        (
            "garwood --count found --exposure made --label week",
            "row 3: exposure must be above 0 where there are defects (2), got 0 (exposure is column 'made')",
        ),
        (
            "first-pass --units made --with-defect found --label week",
            "row 3: units must be at least with_defect (2), got 0 (units is column 'made', with_defect is",
        ),
    ],
)
def test_a_refusal_speaks_of_the_command_s_own_options(tmp_path, command, said):
    """The statistics have one vocabulary; a command keeps the words that its options and its users have."""
    path = tmp_path / "counts.csv"
    path.write_text(COUNTED)
    name, *options = command.split()

    told = CliRunner().invoke(stat, [name, str(path), *options])

    assert told.exit_code == 2
    assert said in told.output


@pytest.mark.parametrize("statistic", ["kappa", "linear-kappa", "quadratic-kappa", "ac1-of-two"])
def test_a_column_of_units_taken_for_one_of_judgements_is_told_and_not_worked_out(statistic):
    """Of 6,000 units it was a table of 6,000 by 6,000: 80 s and 4 GB."""
    content = "unit,said\n" + "".join(f"u{unit},good\n" for unit in range(6_000))
    with watched(5):
        told = CliRunner().invoke(stat, [statistic, "-", "--first", "unit", "--second", "said"], input=content)

    assert told.exit_code == 2
    assert "--first and --second must hold at most 100 categories together, got 6001" in told.output


def test_a_title_that_stands_twice_among_very_many_is_found_at_once():
    titles = [f"c{place}" for place in range(60_000)]
    with watched(5):
        told, wide = (
            CliRunner().invoke(
                stat, ["wilson", "-", "--defectives", "c0", "--inspected", "c1"], input=",".join(named) + "\n"
            )
            for named in ([*titles, "c59999"], titles)
        )

    assert "column 'c59999' stands there twice" in told.output
    assert "has a header and no row under it" in wide.output


def test_a_shift_is_refused_in_the_words_of_its_options():
    told = CliRunner().invoke(stat, ["poisson-allowance", "--rate", "2", "--shifted", "2"])
    kept = CliRunner().invoke(stat, ["poisson-allowance", "--rate", "0.3", "--shifted", "0.7", "--json"])

    assert "shifted must differ from rate (2.0), got 2.0" in told.output
    assert json.loads(kept.output)["allowance"] == pytest.approx(0.4 / math.log(7 / 3))


def test_what_is_printed_under_another_name_is_a_field_of_its_record():
    records = {
        name: {field.name for field in fields(record)}
        for path in (ROOT / "qc" / "stats").rglob("[!_]*.py")
        for name, record in vars(import_module(".".join(path.relative_to(ROOT).with_suffix("").parts))).items()
        if isinstance(record, type) and is_dataclass(record)
    }

    for name, words in PRINTED.items():
        assert words.keys() <= records[name]
        assert not {*words.values()} & (records[name] - words.keys())


def test_leading_zeros_stay_in_a_name_and_count_as_a_number_in_a_count(tmp_path):
    told = p_chart(tmp_path, "week,bad,n\n0012,0003,050\n0013,5,50\n", "--label", "week", "--json")

    points = json.loads(told.output)["points"]
    assert [(one["label"], one["events"], one["size"]) for one in points] == [("0012", 3, 50), ("0013", 5, 50)]


def test_a_file_may_come_from_standard_input_with_a_byte_order_mark():
    content = ("\ufeff" + GOOD).encode()
    command = ["p-chart", "-", "--defectives", "bad", "--inspected", "n", "--baseline", "1:2", "--json"]

    told = CliRunner().invoke(stat, command, input=content)

    assert told.exit_code == 0
    assert json.loads(told.output)["baseline"]["total_events"] == 8


def test_the_limits_must_be_said(tmp_path):
    path = tmp_path / "counts.csv"
    path.write_text(GOOD)

    told = CliRunner().invoke(stat, ["p-chart", str(path), "--defectives", "bad", "--inspected", "n"])

    assert told.exit_code == 2
    assert "--baseline" in told.output
    assert "--standard" in told.output


@pytest.mark.parametrize("rows", ["3:1", "W1", "W1:W9", "0:2", "1:4", ":"])
def test_a_baseline_that_names_no_rows_is_refused(tmp_path, rows):
    told = p_chart(tmp_path, GOOD, "--label", "week", "--baseline", rows)

    assert told.exit_code == 2
    assert rows in told.output


@pytest.mark.parametrize(("rows", "events"), [("1:2", 8), ("W2:W3", 7), ("all", 10)])
def test_a_baseline_is_named_by_places_or_names(tmp_path, rows, events):
    told = p_chart(tmp_path, GOOD, "--label", "week", "--baseline", rows, "--json")

    assert json.loads(told.output)["baseline"]["total_events"] == events


def test_an_excluded_row_is_drawn_and_needs_a_reason(tmp_path):
    told = p_chart(tmp_path, GOOD, "--label", "week", "--exclude", "W2=new jig", "--json")
    refused = p_chart(tmp_path, GOOD, "--label", "week", "--exclude", "W2")

    answer = json.loads(told.output)
    assert answer["baseline"]["total_events"] == 5
    assert answer["points"][1]["excluded"] == "new jig"
    assert refused.exit_code == 2


def test_too_little_data_is_an_answer_with_its_reason(tmp_path):
    told = p_chart(tmp_path, "week,bad,n\nW1,0,0\n")

    assert told.exit_code == 0
    assert "too little data" in told.output
    assert "nothing was inspected" in told.output


def test_a_missing_file_is_told_without_a_traceback():
    told = CliRunner().invoke(stat, ["wilson", "nowhere.csv", "--defectives", "a", "--inspected", "b"])

    assert told.exit_code == 2
    assert "nowhere.csv" in told.output


@pytest.mark.parametrize("level", ["0", "1", "1.5", "nan", "inf", "half", "95 %"])
def test_an_option_that_cannot_be_is_refused(tmp_path, level):
    path = tmp_path / "counts.csv"
    path.write_text(GOOD)

    told = CliRunner().invoke(stat, ["wilson", str(path), "--defectives", "bad", "--inspected", "n", "--level", level])

    assert told.exit_code == 2
    assert isinstance(told.exception, SystemExit)


def test_a_number_reached_through_an_overflow_is_refused():
    def overflowing() -> object:
        warnings.warn("overflow encountered in exp", RuntimeWarning, stacklevel=1)
        return {"rate": 1.0}

    told = CliRunner().invoke(
        command_for("overflowing", "An answer that nobody should act on.", Statistic(overflowing))
    )

    assert told.exit_code == 2
    assert "overflow" in told.output
    assert "less far apart" in told.output


def test_an_answer_that_is_no_number_is_never_printed():
    with pytest.raises(ArithmeticError):
        plain({"rate": [0.1, float("nan")]})


def test_no_upper_limit_is_said_in_json_as_text():
    assert plain((float("inf"), -float("inf"), None, date(2026, 3, 2))) == ["inf", "-inf", None, "2026-03-02"]


def test_run_rules_may_be_read_on_any_chart(tmp_path):
    told = p_chart(tmp_path, GOOD, "--rules", "nelson", "--json")

    answer = json.loads(told.output)
    assert answer["run_rules"]["judged"] == 3
    assert len(answer["chart"]["points"]) == 3


CELLS = st.sampled_from(
    ["", " ", "0", "1", "2", "7", "50", "007", "0.5", "1e-300", "1e300", "-1", "nan", "inf", "x", "é", "0x10", "1_000",
     '"', "\x00", "=1+1", "yes", "no", "W1", "9999999", "99999999999999999999"]
)  # fmt: skip
WHOLE = st.sampled_from(["0", "1", "2", "3", "5", "12", "40"])
LARGE = st.sampled_from(["50", "300", "1000"])
# Cells that a column may hold, so that the statistics themselves are reached too.
FIT = {
    "share": st.sampled_from(["0", "0.001", "0.2", "0.5", "1"]),
    "positive": st.sampled_from(["0.1", "1", "3"]),
    "number": WHOLE | st.sampled_from(["-2.5", "0.001", "1e6"]),
    "number_or_gap": WHOLE | st.sampled_from(["", "-2.5", "1e6"]),
    "yes_or_no": st.sampled_from(["yes", "no"]),
    "size": WHOLE | st.sampled_from(["0.5", "1e6"]),
    "name": st.sampled_from(["a", "b", "c", "open", "settled"]),
    "text": st.sampled_from(["a", "b", "", "1", "2"]),
}
NUMBERS = ["0.05", "0.2", "0.5", "0.9", "0.95", "0.99", "1", "2", "3", "10", "100"]
TEXTS = ["a", "b", "c", "c0", "c1", "c0=2", "c1=1", "1=jig", "a,b,1", "1:2", "all", "all", "all"]
DAYS = ["2026-01-05", "2026-02-02", "2026-03-02", "2026-04-06"]
ODD = st.sampled_from(["", "0", "-1", "1e300", "nan", "x", "2:1", "=", "1e-9", "5000000"])


def an_option(option, draw) -> list[str]:
    """Return an option as typed, or nothing; mostly a value that it may have."""
    if option.is_flag:
        return [option.flag] if draw(st.booleans()) else []
    may_lack = option.default is not None or option.may_lack
    if may_lack and draw(st.integers(0, 3)) == (0 if option.argument == "baseline" else 1):
        return []
    if may_lack and option.argument != "baseline" and draw(st.booleans()):
        return []
    if option.argument in ("runs", "draws", "simulations"):
        return [option.flag, draw(st.sampled_from(["0", "99", "1000"]))]
    by_type = {click.IntRange: ["0", "1", "2", "3", "5", "12"], click.DateTime: DAYS, type(click.STRING): TEXTS}
    usual = list(getattr(option.type, "choices", ())) or by_type.get(type(option.type), NUMBERS)
    usual = TEXTS if option.type is column_weight else usual
    times = draw(st.integers(1, 3)) if option.many else 1
    value = st.sampled_from(usual) if draw(st.integers(0, 14)) else ODD
    return [word for _ in range(times) for word in (option.flag, draw(value))]


def nonsense_for(name: str, data: st.DataObject) -> tuple[str, list[str]]:
    """Return a file under the columns that a statistic wants, some of its cells odd, and a command line for it."""
    statistic = import_module(f"qc.cli.stat.{STATISTICS[name][0]}").STATISTICS[name]
    kinds, command, odd = [], [], data.draw(st.integers(0, 2)) == 0
    for column in statistic.columns:
        for _ in range(data.draw(st.integers(1, 3)) if column.many else 1):
            command += [column.flag, f"c{len(kinds)}"]
            whole = LARGE if column.argument.endswith(("inspected", "exposure", "exposures", "units")) else WHOLE
            kinds.append(whole if whole is LARGE else FIT.get(column.holds.__name__, whole))
    cells = st.tuples(*((kind | CELLS) if odd else kind for kind in kinds))
    rows = data.draw(st.lists(cells, min_size=0 if odd else 1, max_size=14))
    for option in statistic.options:
        command += an_option(option, data.draw)
    header = ",".join(f"c{place}" for place in range(len(kinds)))
    return "\n".join([header, *map(",".join, rows)]) + "\n", command


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(name=st.sampled_from(list(STATISTICS)), draw=st.data())
def test_nonsense_is_answered_or_refused_never_a_traceback(name, draw):
    content, command = nonsense_for(name, draw)
    file = ["-"] if import_module(f"qc.cli.stat.{STATISTICS[name][0]}").STATISTICS[name].columns else []

    told = CliRunner().invoke(stat, [name, *file, *command], input=content.encode())

    assert told.exit_code in (0, 2), (content, command, told.exception)
    assert told.exception is None or isinstance(told.exception, SystemExit)


@settings(max_examples=150, deadline=None)
@given(
    content=st.binary(max_size=80) | st.text(max_size=80).map(lambda text: f"bad,n\n{text}".encode("utf-8", "replace"))
)
def test_any_bytes_are_answered_or_refused_never_a_traceback(content):
    command = ["p-chart", "-", "--defectives", "bad", "--inspected", "n", "--baseline", "all", "--json"]

    told = CliRunner().invoke(stat, command, input=content)

    assert told.exit_code in (0, 2), told.exception
    assert told.exception is None or isinstance(told.exception, SystemExit)
