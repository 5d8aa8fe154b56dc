"""The app's words: none stands outside the catalogue, none stays in one language, and each language has all of them."""

import ast
import json
import re
import shutil
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest

from tests.js.test_js import PWA, ROOT, read_by

pytestmark = pytest.mark.node
LANGUAGES = sorted(path.stem for path in (PWA / "words").glob("*.json"))
# Plural categories of whole numbers, from the CLDR's plural rules (language_plural_rules, from memory).
PLURALS = {"de": {"one", "other"}}
PLACES = re.compile(r"\{\d!?\}")  # with "!" where somebody wrote the value


@pytest.fixture(scope="module")
def words() -> dict[str, list[dict[str, Any]]]:
    return read_by("words.js", PWA)


def faults_of(catalogue: dict[str, Any], keys: dict[str, Any], plurals: set[str]) -> list[str]:
    """Return what a language's catalogue lacks, has too much of, or says with other places."""
    told = [f"no words for {key!r}" for key in keys if key not in catalogue]
    told += [f"nothing says {key!r} any more" for key in catalogue if key not in keys]
    for key, said in catalogue.items():
        forms = said if isinstance(said, dict) else {"": said}
        if isinstance(said, dict) and set(said) != plurals:
            told.append(f"{key!r} has the plurals {sorted(said)}, not {sorted(plurals)}")
        if keys.get(key) and not isinstance(said, dict):
            told.append(f"{key!r} is counted and has one form alone")
        for form, text in forms.items():
            if not text.strip():
                told.append(f"{key!r} is empty")
            wanted, given = sorted(PLACES.findall(key)), sorted(PLACES.findall(text))
            if set(given) - set(wanted) or (form in ("", "other") and given != wanted):
                told.append(f"{key!r} has the places {wanted}, {text!r} has {given}")
    return told


def catalogue_of(tag: str) -> dict[str, Any]:
    return json.loads((PWA / "words" / f"{tag}.json").read_text(encoding="utf-8"))["words"]


def told_by_server(tag: str) -> dict[str, str]:
    return json.loads((PWA / "words" / f"{tag}.json").read_text(encoding="utf-8"))["server"]


# Modules whose sentences reach a phone as what blocks a unit, why a record was refused, or the words of an alarm.
SAY_TO_PHONES = (
    *("unit/release", "acts/unit_rules", "unit/alarms", "unit/origins"),
    *("plant/judging", "plant/references"),
)


def stands_in(part: str, known: Iterable[str]) -> bool:
    """Whether all words of a sentence stand, in order, in one that a catalogue has: a part is said within its whole."""
    words = [piece.strip(" ;.") for piece in PLACES.split(part) if piece.strip(" ;.")]
    form = re.compile(".*".join(map(re.escape, words)), re.DOTALL)
    return any(form.search(key) for key in known)


def said_in(path: Path) -> list[str]:
    """Return the sentences of a module with their places, docstrings left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    inner = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    inner |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            places = iter(range(20))
            found.append(
                "".join(str(p.value) if isinstance(p, ast.Constant) else f"{{{next(places)}}}" for p in node.values)
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in inner:
            found.append(node.value)
    return [text for text in found if re.search(r"[a-z]{2,}[^a-z]* \S*[a-z]{2,}", text) and "\n" not in text]


def test_no_word_of_the_app_stands_outside_the_catalogue(words):
    assert len(words["words"]) > 800
    assert words["outside"] == []


def test_no_sentence_stays_in_the_language_in_which_the_app_began(words):
    assert words["frozen"] == []


@pytest.mark.parametrize("tag", LANGUAGES)
def test_a_language_says_every_sentence_with_the_same_places(words, tag):
    keys = {each["key"]: each["forms"] for each in words["words"]}

    assert faults_of(catalogue_of(tag), keys, PLURALS[tag]) == []


@pytest.mark.parametrize("tag", LANGUAGES)
def test_a_language_says_what_the_server_tells_a_phone(tag):
    known = told_by_server(tag)
    sentences = [text for name in SAY_TO_PHONES for text in said_in(ROOT / "qc" / "domain" / f"{name}.py")]

    assert len(sentences) > 90
    assert [text for text in sentences if not stands_in(text, known)] == []
    assert not stands_in("this is said nowhere", known)
    assert faults_of(known, dict.fromkeys(known), set()) == []


def test_the_languages_on_offer_are_those_with_words():
    offered = re.search(r"LANGUAGES = \{(.*?)\}", (PWA / "lib" / "language.js").read_text(encoding="utf-8"))

    assert offered is not None
    assert set(re.findall(r"(\w+):", offered[1])) == {"en", *LANGUAGES}


def test_a_planted_word_outside_and_a_planted_frozen_one_are_found(tmp_path):
    app = shutil.copytree(PWA, tmp_path / "pwa")
    screen = app / "screens" / "stop.js"
    text = screen.read_text(encoding="utf-8")
    planted = 'const LATE = t("Too late for words");\n'
    screen.write_text(text.replace("title: t`Stop, tag, tell`", 'title: "Stop, tag, tell"') + planted)

    found = read_by("words.js", app)

    assert [each["key"] for each in found["outside"]] == ["Stop, tag, tell"]
    assert [each["key"] for each in found["frozen"]] == ["Too late for words"]


def test_planted_gaps_in_a_catalogue_are_found():
    keys = {"{0} of {1}": None, "gone": None, "{0} days": ["1 day", "{0} days"]}

    told = faults_of({"{0} of {1}": "{0} von {0}", "old": "alt", "{0} days": {"other": " "}}, keys, {"one", "other"})

    assert len(told) == 6
