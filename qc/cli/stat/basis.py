"""What the limits of a chart rest on, as the command line says it: a range of rows, all of them, or a given centre."""

from collections.abc import Callable, Sequence
from datetime import date

import click

from qc.cli.stat.asking import NUMBER, Plain
from qc.cli.stat.sheet import Refused
from qc.stats.answers import TooLittle
from qc.stats.charts.baselines import Baseline, BaselineKind, Standard, given_standard

STANDARD = Plain(
    argument="standard", type=NUMBER, help="A centre line that is given instead of a baseline.", may_lack=True
)
BASELINE = Plain(
    argument="baseline", type=click.STRING,
    help='Rows that the limits rest on: FIRST:LAST, both included, by the rows\' names or places (1:20), or "all".',
    may_lack=True,
)  # fmt: skip
EXCLUDE = Plain(
    argument="exclude", type=click.STRING,
    help="NAME=REASON: a row that is drawn and judged but does not enter the limits. Give it once for each row.",
    may_lack=True, many=True,
)  # fmt: skip
PARTIAL = Plain(
    argument="partial_last", type=click.BOOL, help="The last period is not over: shown, not judged.", is_flag=True
)
WIDTH = Plain(argument="width", type=NUMBER, help="Limits in standard deviations.", default=3.0)
TAIL = Plain(argument="tail", type=NUMBER, help="Chance of a false alarm on each side.", default=0.00135)
FROZEN = date.min  # limits from a command line are frozen nowhere; the day is not printed

Freeze = Callable[[str, slice, dict[str, str]], Baseline | TooLittle]


def basis(
    kind: BaselineKind,
    labels: Sequence[str],
    baseline: str | None,
    standard: float | None,
    exclude: Sequence[str],
    freeze: Freeze,
) -> Baseline | Standard | TooLittle:
    """Return the baseline of the named rows, or the given centre; Refused unless exactly one of the two is said.

    freeze(name, rows, excluded) makes the baseline from the rows' counts.
    """
    if (baseline is None) == (standard is None):
        raise Refused(
            "say what the limits rest on: --baseline FIRST:LAST (or all) for rows of the file, "
            "or --standard for a centre line that is given"
        )
    if standard is not None:
        return given_standard("standard given", FROZEN, kind, standard, "command line")
    rows = rows_named(str(baseline), labels)
    name = f"rows {labels[rows.start]} to {labels[rows.stop - 1]}"
    return freeze(name, rows, _reasons(exclude))


def rows_named(asked: str, labels: Sequence[str]) -> slice:
    """Return the rows that "1:20", "2026-W01:2026-W20" or "all" names; names of rows go before places."""
    if asked == "all":
        return slice(0, len(labels))
    for cut in (place for place, sign in enumerate(asked) if sign == ":"):
        first, last = _place(asked[:cut].strip(), labels), _place(asked[cut + 1 :].strip(), labels)
        if first is not None and last is not None and first <= last:
            return slice(first, last + 1)
    raise Refused(
        f"--baseline {asked!r} names no rows: FIRST:LAST with FIRST not after LAST would do, from {labels[0]!r} to "
        f"{labels[-1]!r} or from 1 to {len(labels)}"
    )


def _place(named: str, labels: Sequence[str]) -> int | None:
    if named in labels:
        return labels.index(named)
    if named.isascii() and named.isdigit() and len(named) < 9 and 1 <= int(named) <= len(labels):
        return int(named) - 1
    return None


def _reasons(exclude: Sequence[str]) -> dict[str, str]:
    reasons: dict[str, str] = {}
    for said in exclude:
        label, equals, reason = said.partition("=")
        if not equals:
            raise Refused(f"--exclude {said!r} gives no reason: NAME=REASON would do; one without is tampering")
        reasons[label.strip()] = reason.strip()
    return reasons
