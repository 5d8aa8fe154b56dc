"""The week's defects in the plant's own severities, each with the one of the three that the statistics count it as."""

from qc.domain.plant.plant import SEVERITIES
from qc.domain.words.code_words import code_words
from qc.domain.words.speaking import say
from qc.reports.asking import Asking
from qc.reports.periods import Period
from qc.reports.wording import listed


def own_severities(ask: Asking, week: Period) -> str:
    """Return a sentence, "" for a plant without severities of its own.

    First presentations, all severities that are asked for, criticals too: they are counted here and rated nowhere.
    """
    own = ask.plant.severities
    if not own:
        return ""
    counts = ask.counts.grade_counts(ask.slice(week, ask.severities))
    told = []
    for severity in SEVERITIES:
        if ask.severities and severity not in ask.severities:
            continue
        parts = [(one.name, counts.get((severity, one.code), 0)) for one in own.values() if one.counts_as == severity]
        parts += [(say("without one"), unsaid)] if (unsaid := counts.get((severity, ""), 0)) else []
        whole = sum(count for _, count in parts)
        if parts:
            told.append(f"{whole} {code_words(severity)} ({', '.join(f'{name} {count}' for name, count in parts)})")
    return say(
        "In the plant's own severities, defects of {week}: {counts}. The statistics count the three.",
        week=week.name,
        counts=listed(told),
    )
