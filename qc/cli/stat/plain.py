"""A statistic's answer as plain names, numbers and lists: the one form that the table and the JSON both print."""

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

# What an answer works out from its fields and a reader wants to see, by the name of its class.
TOLD: dict[str, tuple[str, ...]] = {
    "ControlChart": ("signals",),
    "EwmaChart": ("signals",),
    "CusumChart": ("signals",),
    "Baseline": ("centre", "periods", "total_events", "total_size"),
    "WeightedBaseline": ("centre", "variance"),
}
# Fields that repeat the file, or that only a stored baseline has: limits from the command line are frozen nowhere.
LEFT_OUT: dict[str, tuple[str, ...]] = {
    "Baseline": ("frozen_on", "labels", "events", "sizes"),
    "WeightedBaseline": ("frozen_on",),
    "Finding": ("at",),
    "Standard": ("frozen_on", "source"),
}
# Fields that are printed under the name of the command's own option: what a file or a script reads stays what it was.
PRINTED: dict[str, dict[str, str]] = {
    "DirectRate": {"defects": "counts", "units": "exposures"},
    "ChangePoint": {"likelihood_ratio": "statistic"},
    "CusumDesign": {"after_shift": "shifted"},
    "DispersionTest": {"chi_square": "statistic"},
    "FirstPass": {"inspected": "units", "defectives": "with_defect"},
    "GateCount": {"inspected": "units", "defectives": "with_defect"},
    "ThroughCount": {"inspected": "units", "defectives": "with_defect"},
    "FunnelPoint": {"events": "count", "size": "exposure"},
    "HierarchicalRates": {"units": "exposure"},
    "IndirectRatio": {"units": "exposures"},
    "RateInterval": {"defects": "count", "units": "exposure"},
    "RateRatio": {
        "before_defects": "before",
        "before_units": "before_exposures",
        "after_defects": "after",
        "after_units": "after_exposures",
    },
    "RateTrend": {"defects": "counts", "units": "exposures"},
    "Shrunken": {"events": "counts", "sizes": "exposures"},
    "UnitsNeeded": {"units": "exposure", "before_defects": "before_count", "before_units": "before_exposure"},
    "UpperBound": {"events": "count", "size": "exposure"},
    "UsualRange": {"defects": "count", "units": "exposure", "now_units": "units"},
    "TypeChanges": {"before_units": "before_exposure", "after_units": "after_exposure"},
}


def plain(answer: object) -> Any:
    """Return the answer as dict, list, text, number, bool or None; infinity as the text "inf" or "-inf".

    JSON has no infinity, and "no upper limit" is not a number to calculate with. ArithmeticError for nan, which is
    never an answer.
    """
    if is_dataclass(answer) and not isinstance(answer, type):
        return _record(answer)
    if isinstance(answer, Mapping):
        return {str(key): plain(value) for key, value in answer.items()}
    if isinstance(answer, (list, tuple)):
        return [plain(value) for value in answer]
    if isinstance(answer, float) and math.isinf(answer):
        return "inf" if answer > 0 else "-inf"
    if isinstance(answer, float) and math.isnan(answer):
        raise ArithmeticError("the answer is not a number")
    if isinstance(answer, date):
        return answer.isoformat()
    if answer is None or isinstance(answer, (str, bool, int, float)):
        return answer
    raise TypeError(f"an answer must be made of records, lists, text and numbers, got {type(answer).__name__}")


def _record(answer: Any) -> dict[str, Any]:
    kind = type(answer).__name__
    if kind == "TooLittle":
        what = f"too little data for: {answer.what}"
        return {"answer": what, "reason": answer.reason, "have": answer.have, "need": answer.need}
    left_out, printed = LEFT_OUT.get(kind, ()), PRINTED.get(kind, {})
    told = {name: plain(getattr(answer, name)) for name in TOLD.get(kind, ())}
    return told | {printed.get(field.name, field.name): plain(getattr(answer, field.name)) for field in fields(answer)
                   if field.name not in left_out}  # fmt: skip
