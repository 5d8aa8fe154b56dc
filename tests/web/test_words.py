"""The words of pages: each language has all of them, whole and with the same values, and none that nothing says."""

import ast
import json
import re
from collections import Counter

import pytest
from babel.messages.pofile import read_po

from qc.assets import folder as bundled
from qc.domain.facts.people import ROLES
from qc.domain.words.languages import LANGUAGES
from qc.domain.words.speaking import say, spoken
from qc.web.languages import WORDS, tongue_of
from tests.web.spoken import PACKAGE, SAID, sentences

PLACES = re.compile(r"(?<!\{)\{(\w+)[^{}]*\}(?!\})")
TAGS = re.compile(r"</?\w+>")


def faults_of(tag, said):
    """Return what a language's files lack, have too much of or twice, or say with other values or tags."""
    told, seen = [], Counter()
    for path in sorted((WORDS / tag).glob("*.po")):
        with path.open("rb") as file:
            for message in read_po(file, locale=tag, abort_invalid=True):
                if message.id:
                    told += [f"{path.name}: {fault}" for fault in _faults(message, said)]
                    seen[message.id if isinstance(message.id, str) else message.id[0]] += 1
    told += [f"{key!r} stands {times} times" for key, times in seen.items() if times > 1]
    return told + [f"no words for {key!r} ({one.place})" for key, one in said.items() if key not in seen]


def _faults(message, said):
    key = message.id if isinstance(message.id, str) else message.id[0]
    if key not in said:
        return [f"nothing says {key!r} any more"]
    wanted = said[key].key
    if isinstance(wanted, str) != isinstance(message.id, str):
        return [f"{key!r} is counted here or there alone"]
    if message.fuzzy:
        return [f"{key!r} is marked as fuzzy"]
    asked, given = ([text] if isinstance(text, str) else list(text) for text in (wanted, message.string))
    faults = [f"{key!r} has an empty form" for text in given if not text.strip()]
    for english, text in zip(asked, given, strict=False):
        # A sentence for one may leave its number out, as English does
        if sorted(set(PLACES.findall(english)) - {"number"}) != sorted(set(PLACES.findall(text)) - {"number"}):
            faults.append(f"{english!r} and {text!r} hold other values")
        if sorted(TAGS.findall(english)) != sorted(TAGS.findall(text)):
            faults.append(f"{english!r} and {text!r} hold other tags")
    return faults


@pytest.mark.parametrize("tag", [tag for tag in LANGUAGES if tag != "en"])
def test_a_language_has_every_sentence_of_the_pages_and_none_besides(tag):
    said = sentences()

    assert len(said) > 100
    assert faults_of(tag, said) == []


def test_no_sentence_is_said_within_an_f_string():
    """What is said there is not found by what reads the source, so that no catalogue would know of it."""
    hidden = [
        f"{path.relative_to(PACKAGE)}:{call.lineno}"
        for path in PACKAGE.rglob("*.py")
        for text in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(text, ast.JoinedStr)
        for call in ast.walk(text)
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in SAID
        if any(isinstance(one, ast.Constant) for one in call.args)
    ]

    assert hidden == []


@pytest.mark.parametrize("tag", LANGUAGES)
def test_nothing_is_said_as_nothing_in_every_language(tag):
    # A catalogue keeps words about itself as those of the empty sentence
    with spoken(tongue_of(tag)):
        assert say("") == ""


@pytest.mark.parametrize("tag", [tag for tag in LANGUAGES if tag != "en"])
def test_a_role_has_one_name_in_the_app_and_on_pages_and_it_is_no_place(tag):
    """The test bay is where testers work; a message to somebody with several roles read as if one were a place."""
    app = json.loads((bundled("pwa") / "words" / f"{tag}.json").read_text(encoding="utf-8"))
    within = [role.replace("_", " ") for role in ROLES]
    with spoken(tongue_of(tag)):
        on_pages = {role: say(role) for role in within}
        place = say("Test bay")

    assert {role: app["server"][role] for role in within} == on_pages
    assert {role: app["words"][role.capitalize()] for role in within} == on_pages
    assert app["words"]["Test bay"] == place
    assert place not in on_pages.values()
