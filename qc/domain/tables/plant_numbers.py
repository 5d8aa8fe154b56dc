"""The section [chassis] of plant.toml where a plant says the form of its numbers itself, read and checked."""

import string
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from qc.domain.numbers.check_signs import CHECKS
from qc.domain.numbers.number_form import ISO_LETTERS, LEAST, MOST, MOST_SHOP, NumberForm, Part, length_of, parts_of
from qc.domain.tables.plant_sections import PLANT_FILE
from qc.domain.tables.table_rows import Faults, Row
from qc.domain.words.speaking import say

KEYS = ("pattern", "shop", "sequence_start")
OPTIONAL = ("letters", "check", "find", "model_year")
_SHOP_WORDS = ("text", "model", "digit", "sequence")
_USUAL = (Part("sequence", "", 5),)  # stands for what cannot be read, so that all else is still looked at


def own_form(faults: Faults, data: Mapping[str, Any]) -> NumberForm:
    """Return the form of numbers that the section tells; what is wrong with it is noted."""
    row = Row(faults, PLANT_FILE, 0, data["chassis"], "chassis")
    check = row.choice("check", "none", *CHECKS) if row.has("check") else "none"
    check = "" if check == "none" else check
    letters = _letters(row)
    # A check of no such name is told once: where it stands is looked at as if it were one.
    meant = check or (next(iter(CHECKS)) if row.text("check", may_be_empty=True) not in ("", "none") else "")
    chassis, shop = _parts(row, "pattern", meant, letters), _parts(row, "shop", "", letters)
    if odd := [part.kind for part in shop if part.kind not in _SHOP_WORDS]:
        row.fault(
            "shop",
            say("holds {{{odd}}}; a shop number is made of {{model}}, {{digit}}, {{sequence:5}} and text", odd=odd[0]),
        )
        shop = _USUAL
    form = NumberForm(
        chassis=chassis,
        shop=shop,
        letters=letters,
        check=check,
        find=row.whole("find", 3, 8) if row.has("find") else 5,
        own=True,
    )
    _check(row, form)
    if any(part.kind == "year" for part in chassis) and not row.has("model_year"):
        row.fault("model_year", say("is missing, and the pattern holds {year}; write the model year"))
    return form


def _letters(row: Row) -> str:
    if not row.has("letters"):
        return ISO_LETTERS
    told = row.text("letters", may_be_empty=True)
    if set(told) - set(string.ascii_uppercase) or len(set(told)) < len(told):
        row.fault(
            "letters", say('must be the capital letters A to Z that a number may hold, each once, or "" for none')
        )
        return ISO_LETTERS
    return "".join(sorted(told))


def _parts(row: Row, key: str, check: str, letters: str) -> tuple[Part, ...]:
    try:
        parts = parts_of(row.text(key, most=100), check)
    except ValueError as error:
        row.fault(key, str(error))
        return _USUAL
    counted = Counter(part.kind for part in parts if part.kind not in ("text", "any"))
    twice = [kind for kind, count in counted.items() if count > 1]
    if not counted["sequence"]:
        row.fault(
            key, say("holds no {sequence:5}, by which a plan numbers its units; write it where the figures stand")
        )
        return _USUAL
    if twice:
        row.fault(key, say("holds {{{twice}}} twice; keep one", twice=twice[0]))
        return _USUAL
    for sign in "".join(part.text for part in parts):
        if sign not in string.digits + letters:
            row.fault(
                key,
                say(
                    "holds {sign!r}, which no number of this plant does: figures and {letters}",
                    sign=sign,
                    letters=letters or say("no letters"),
                ),
            )
            break
    return parts


def _check(row: Row, form: NumberForm) -> None:
    """Note a check that the pattern has no place for, or that could not be worked out of it."""
    places = [place for place, part in enumerate(form.chassis) if part.kind == "check"]
    if not form.check:
        return
    sign = CHECKS[form.check]
    if not places:
        row.fault("check", say("has no {check} in the pattern; write where it stands"), f"{PLANT_FILE}:chassis.pattern")
    elif sign.place < 0 and places[0] != len(form.chassis) - 1:
        row.fault("check", say("stands at the end of a number; put {check} last"))
    if set(form.letters) - sign.letters:
        without = "".join(sorted(set(form.letters) - sign.letters))
        row.fault("check", say("has no value for {without}; leave them out of letters", without=without))


def check_lengths(faults: Faults, form: NumberForm | None, models: Iterable[str]) -> None:
    """Note each model whose numbers would be too short, too long, or not of the length that the check asks."""
    if form is None:
        return
    told: set[str] = set()

    def note(key: str, value: object, remedy: str) -> None:
        if remedy not in told:
            told.add(remedy)
            faults.note(PLANT_FILE, 0, f"chassis.{key}", value, remedy)

    for model in models:
        full, shop = length_of(form.chassis, model), length_of(form.shop, model)
        if not LEAST <= full <= MOST:
            note(
                "pattern",
                full,
                say(
                    "characters a number would have for {model}; it may have {least} to {most}",
                    model=model,
                    least=LEAST,
                    most=MOST,
                ),
            )
        if shop > MOST_SHOP:
            note(
                "shop",
                shop,
                say(
                    "characters a shop number would have for {model}; it may have up to {most_shop}",
                    model=model,
                    most_shop=MOST_SHOP,
                ),
            )
        sign = CHECKS.get(form.check)
        if sign is not None and sign.whole:
            at = 0
            for part in form.chassis:
                if part.kind == "check":
                    break
                at += part.length or len(model)
            if full != sign.whole or at != sign.place:
                remedy = say(
                    "needs {whole} characters with {{check}} as number {place}; for {model} there are {full}, and it "
                    "is number {at}",
                    whole=sign.whole,
                    place=sign.place + 1,
                    model=model,
                    full=full,
                    at=at + 1,
                )
                note("check", form.check, remedy)
