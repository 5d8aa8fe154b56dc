"""Where each interval of a page is worked out, and the lines of ``coverage`` that judge it, or why none does.

Found by reading the modules that make reports and pages: a call of a statistic that takes a level, or that answers
with two ends. ``test_coverage`` fails for one that stands here nowhere.
"""

import ast
import dataclasses
import importlib
import inspect
import typing
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import qc

ROOT = Path(qc.__file__).parent
ROOMS = ("reports", "charts", "web")
ENDS = ({"low", "high"}, {"lower", "upper"}, {"earliest", "latest"}, {"limits"})
LEVELS = {"level", "inner", "tail", "chances"}

SHARE_LIMITS = ("review, limits of units with a defect", "review, limits of first-pass")
RATE_LIMITS = ("review, limits of defects per unit",)
NOT_PRINTED = "no interval is printed: "
MADE: dict[tuple[str, str], tuple[str, ...] | str] = {
    ("after_repair", "shares_by_unit"): ("what waits, repairs that came back",),
    ("chosen_chart", "exact_p_chart"): SHARE_LIMITS,
    ("chosen_chart", "exact_u_chart"): RATE_LIMITS,
    ("chosen_chart", "p_chart"): SHARE_LIMITS,
    ("chosen_chart", "p_prime_chart"): SHARE_LIMITS,
    ("chosen_chart", "predictive_p_chart"): SHARE_LIMITS,
    ("chosen_chart", "predictive_u_chart"): RATE_LIMITS,
    ("chosen_chart", "rate_chart_choice"): NOT_PRINTED + "it chooses a chart",
    ("chosen_chart", "share_chart_choice"): NOT_PRINTED + "it chooses a chart",
    ("chosen_chart", "u_chart"): RATE_LIMITS,
    ("chosen_chart", "u_prime_chart"): RATE_LIMITS,
    ("critical_gaps", "predictive_g_chart"): ("review, units between criticals",),
    ("data_quality", "shares_by_unit"): ("review, origin not known",),
    ("data_quality", "wilson_interval"): ("review, zones not looked at", "review, withdrawn as duplicates"),
    ("causes", "exact_rate_ratio"): ("signals, ratio since it began",),
    ("defects_per_unit", "fay_feuer_rate"): ("review, defects per unit in one mix",),
    ("defects_per_unit", "mantel_haenszel_ratio"): ("review, change against the baseline",),
    ("defects_per_unit", "mix_reading"): ("review, change against the baseline",),
    ("escape_follow_up", "shares_by_unit"): ("escapes, passed by a point",),
    ("escape_follow_up", "wilson_interval"): ("what waits, units with a finding after dispatch",),
    ("escaped", "wilson_interval"): ("what waits, units with a finding after dispatch",),
    ("first_pass", "first_pass"): ("review, first-pass of a week",),
    ("funnel", "chance_of_being_worst"): NOT_PRINTED + "a chance is",
    ("funnel", "exact_funnel"): NOT_PRINTED + "the wider limits are",
    ("funnel", "gamma_poisson_rates"): NOT_PRINTED + "the chances of being furthest above rest on it",
    ("funnel", "hierarchical_rates"): ("funnel, ratio drawn towards all",),
    ("funnel", "multiplicative_funnel"): ("funnel, usual", "funnel, outer limits"),
    ("inspector_share", "clopper_pearson_interval"): ("inspectors, share found", "inspectors, share of false calls"),
    ("inspector_share", "shares_found"): NOT_PRINTED + "it says who is below the others, check 6 of the truth table",
    ("inspectors", "missed_by_both"): ("inspectors, found by neither", "inspectors, found by neither, a pair"),
    ("origin_table", "escape_matrix"): NOT_PRINTED + "it is kept as the table's evidence",
    ("origin_table", "shares_by_unit"): (
        "review, share of an origin", "review, origin not known", "escapes, passed by a point",
    ),
    ("pareto_swaps", "clopper_pearson_interval"): NOT_PRINTED + "it says whether two rows could change places",
    ("pareto_swaps", "could_swap"): NOT_PRINTED + "it says whether two rows could change places",
    ("station_expected", "exact_expected_origins"): ("station, expected of the open ones",),
    ("station_upstream", "wilson_interval"): ("station, units with a defect from upstream",),
    ("usual", "usual_range"): ("station's week, usual range", "Pareto row, usual range", "station's type, usual range"),
    ("watching", "poisson_changes"): ("signals, since when", "signals, by the date of the work"),
}  # fmt: skip
# Of the command alone, or asked beside a line above: no page states it.
BESIDE = ("a change, before and after", "the same against what was planted")


def made() -> set[tuple[str, str]]:
    """Return (module, statistic) of every call that works out an interval for a page."""
    found = set()
    for room in ROOMS:
        for path in sorted((ROOT / room).rglob("*.py")):
            found |= {(path.stem, name) for name in made_in(path.read_text(encoding="utf-8"))}
    return found


def made_in(source: str) -> set[str]:
    """Return the statistics that a module calls and that take a level or answer with two ends."""
    tree = ast.parse(source)
    known: dict[str, object] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("qc.stats"):
            for alias in node.names:
                known[alias.asname or alias.name] = _imported(node.module or "", alias.name)
    return {name for node in ast.walk(tree) for name, call in _called(node, known) if states_an_interval(call)}


def _imported(module: str, name: str) -> object:
    own = importlib.import_module(module)
    return getattr(own, name) if hasattr(own, name) else importlib.import_module(f"{module}.{name}")


def _called(node: ast.AST, known: dict[str, object]) -> Iterator[tuple[str, object]]:
    """Yield the statistic that a node names: by itself, or as a part of its module."""
    if isinstance(node, ast.Name) and node.id in known:
        yield node.id, known[node.id]
    if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        module = known.get(node.value.id)
        if isinstance(module, ModuleType):
            yield node.attr, getattr(module, node.attr)


def states_an_interval(call: object) -> bool:
    """Return whether a function takes a level, or answers with a record that has two ends."""
    if not inspect.isfunction(call):
        return False
    if LEVELS & set(inspect.signature(call).parameters):
        return True
    answers = _records(typing.get_type_hints(call)["return"])
    fields = [{field.name for field in dataclasses.fields(one)} for one in answers]
    return any(ends <= own for own in fields for ends in ENDS)


def _records(hint: object, seen: tuple[object, ...] = ()) -> Iterator[typing.Any]:
    if isinstance(hint, type) and dataclasses.is_dataclass(hint) and hint not in seen:
        yield hint
        for inner in typing.get_type_hints(hint).values():
            yield from _records(inner, (*seen, hint))
    for part in typing.get_args(hint):
        yield from _records(part, seen)
