"""A plain answer as text to read: names with values, columns side by side, one line for a point.

Numbers are printed with six significant digits; the JSON has them in full.
"""

from collections.abc import Sequence
from typing import Any

# Lists that belong beside each other row by row stand beside one of these.
ANCHORS = ("labels", "names", "origins", "gates", "classes", "weights")
# Lists that are read by themselves, whatever their length.
APART = ("signals", "gaps", "cautions", "unshared", "named", "dropped", "absent", "changed_since_frozen", "fresh_from")


def shown(value: Any) -> str:
    """Return one value as the table prints it."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, dict):
        return ", ".join(f"{name} {shown(one)}" for name, one in value.items())
    if isinstance(value, list):
        return ", ".join(map(shown, value)) if value else "none"
    return str(value)


def table(answer: Any, title: str = "") -> list[str]:
    """Return the lines of a plain answer; a list answer is one line an entry."""
    if not isinstance(answer, dict):
        return _grid(title, answer) if _is_records(answer) else [f"{title or 'answer'}  {shown(answer)}"]
    beside = _beside(answer)
    short = {name: value for name, value in answer.items() if name not in beside and not _is_deep(value)}
    lines = [title] if title else []
    width = max((len(_words(name)) for name in short), default=0)
    for name, value in short.items():
        # A caution is a sentence: one a line.
        each = value if name == "cautions" and value else [value]
        lines += [f"{_words(name):<{width}}  {shown(one)}" for one in each]
    if beside:
        rows = zip(*(answer[name] for name in beside), strict=True)
        lines += [""] if short else []
        lines += _grid("", [dict(zip(beside, row, strict=True)) for row in rows])
    for name, value in answer.items():
        if name not in beside and _is_deep(value):
            lines += ["", *_deep(_words(name), value)]
    return lines


def _words(name: str) -> str:
    return name.replace("_", " ")


def _is_records(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)


def _is_matrix(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(one, list) for one in value)


def _is_deep(value: Any) -> bool:
    return (isinstance(value, dict) and bool(value)) or _is_records(value) or _is_matrix(value)


def _deep(title: str, value: Any) -> list[str]:
    if isinstance(value, dict):
        return table(value, title)
    return _grid(title, value) if _is_records(value) else [title, *_aligned([list(map(shown, row)) for row in value])]


def _beside(answer: dict[str, Any]) -> list[str]:
    """Return the names of the lists that stand side by side, the anchor first; none if there is nothing beside it."""
    anchor = next((name for name in ANCHORS if isinstance(answer.get(name), list) and answer[name]), None)
    if anchor is None:
        return []
    names = [
        name
        for name, value in answer.items()
        if isinstance(value, list) and len(value) == len(answer[anchor]) and name not in APART and not _is_deep(value)
    ]
    return sorted(names, key=lambda name: name != anchor) if len(names) > 1 else []


def _grid(title: str, records: Sequence[dict[str, Any]]) -> list[str]:
    titles = list(dict.fromkeys(name for record in records for name in record))
    rows = [[shown(record[name]) if name in record else "" for name in titles] for record in records]
    return [*([title] if title else []), *_aligned([list(map(_words, titles)), *rows])]


def _aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return ["  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
