"""The words of the pages' scripts: what `static/js` says stands there in English and is looked up as a page's are.

A page that is not in English carries its scripts' sentences in a JSON element, which `static/js/words.js` reads.
"""

import json
import re
from functools import cache

from markupsafe import Markup

from qc.assets import folder
from qc.domain.words.speaking import ENGLISH, tongue

_TEXT = r'"((?:[^"\\]|\\.)*)"'
_SAID = re.compile(rf"\b(?:say\(\s*{_TEXT}|sayMany\(\s*{_TEXT},\s*{_TEXT})")


def script_words(*names: str) -> Markup:
    """Return the element with what scripts of ``static/js`` say in the language spoken; nothing for English."""
    if tongue() is ENGLISH:
        return Markup("")
    told = {_key(one): _told(one) for name in names for one in _sentences(name)}
    text = json.dumps(told, ensure_ascii=False)
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(f'<script type="application/json" data-script-words>{text}</script>')


def said_in(source: str) -> list[str | tuple[str, str]]:
    """Return the sentences that a script says, of a counted one that for one and that for several."""
    found = [
        tuple(json.loads(f'"{text}"') for text in one.groups() if text is not None) for one in _SAID.finditer(source)
    ]
    return [one[0] if len(one) == 1 else (one[0], one[1]) for one in found]


@cache
def _sentences(name: str) -> list[str | tuple[str, str]]:
    return said_in((folder("static") / "js" / name).read_text(encoding="utf-8"))


def _key(one: str | tuple[str, str]) -> str:
    return one if isinstance(one, str) else one[0]


def _told(one: str | tuple[str, str]) -> str | list[str]:
    words = tongue()
    return words.words(one) if isinstance(one, str) else [words.counted(*one, number) for number in (1, 2)]
