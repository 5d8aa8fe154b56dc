"""The baseline that an address asks for: its first and last week, the weeks left out of it, and the reason."""

import re
from datetime import date, timedelta

from werkzeug.datastructures import MultiDict

from qc.domain.facts.days import is_countable
from qc.domain.plant.calendar import iso_week, week_start
from qc.domain.words.speaking import marked, say
from qc.reports.chosen_baseline import MOST_WEEKS, ChosenBaseline

LONGEST_WHY = 200
USUAL = marked("The usual baseline is shown.")


def baseline_asked(args: MultiDict[str, str], today: date, problems: list[str]) -> ChosenBaseline | None:
    """Return the baseline asked for, None for the usual one; what cannot be is named among the problems.

    baseline: "2026-W02..2026-W09", or its first and last week as two values; left_out: weeks parted by commas or
    spaces; why: the reason, which a baseline of one's own needs.
    """
    ends = _parted(args.getlist("baseline"), "..")
    without = _parted(args.getlist("left_out"), ",")
    if not ends:
        if without:
            told = say("Weeks are left out of a baseline: give its first and last week too.")
            problems.append(f"{told} {say(USUAL)}")
        return None
    weeks = [_monday(text, problems) for text in (*ends, *without)]
    if any(week is None for week in weeks):
        return None
    found = [week for week in weeks if week is not None]
    fault = _fault(found[: len(ends)], today)
    why = " ".join(args.get("why", "").split())[:LONGEST_WHY]
    if not fault and not why:
        fault = say("A baseline of one's own needs its reason: what makes these weeks the ones to judge by?")
    if not fault:
        try:
            return ChosenBaseline(found[0], found[1], tuple(dict.fromkeys(map(iso_week, found[2:]))), why)
        except ValueError:
            fault = say(
                "Weeks left out must lie between {first} and {last}, got {weeks}.",
                first=ends[0],
                last=ends[1],
                weeks=", ".join(without)[:80],
            )
    problems.append(f"{fault} {say(USUAL)}")
    return None


def chosen_pairs(chosen: ChosenBaseline | None) -> list[tuple[str, str]]:
    """Return the baseline as an address holds it."""
    if chosen is None:
        return []
    pairs = [("baseline", f"{chosen.weeks[0]}..{chosen.weeks[-1]}")]
    pairs += [("left_out", ",".join(chosen.left_out))] if chosen.left_out else []
    return [*pairs, ("why", chosen.why)]


def _parted(values: list[str], mark: str) -> list[str]:
    return [part for value in values for part in re.split(rf"{re.escape(mark)}|\s", value) if part]


def _monday(text: str, problems: list[str]) -> date | None:
    try:
        monday = week_start(text)
    except ValueError:
        monday = None
    if monday is None or not is_countable(monday):
        told = say("“{value}” is no week; write it like 2026-W10.", value=text[:40])
        problems.append(f"{told} {say(USUAL)}")
        return None
    return monday


def _fault(ends: list[date], today: date) -> str:
    """Return what is wrong with the weeks of a baseline, "" where nothing is."""
    if len(ends) != 2:
        return say("A baseline has a first and a last week, got {number} of them.", number=len(ends))
    first, last = ends
    if last < first:
        return say("The baseline's last week lies before its first.")
    if (last - first).days // 7 >= MOST_WEEKS:
        return say("A baseline has at most {number} weeks.", number=MOST_WEEKS)
    if last + timedelta(days=7) > today:
        return say("A baseline holds weeks that are over; its last one is not.")
    return ""
