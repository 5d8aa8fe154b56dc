"""In which language a page speaks: its reader's own choice, or what a stranger's browser asks for."""

from functools import cache
from io import BytesIO
from pathlib import Path

import orjson
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import get_decimal_symbol
from babel.support import Translations
from flask import Flask, g, request
from flask_babel import Babel, get_locale

from qc.assets import folder
from qc.domain.words.languages import LANGUAGES
from qc.domain.words.speaking import ENGLISH, Tongue, speak
from qc.store.people.languages import language_of
from qc.web.errors import is_api
from qc.web.house import the_house
from qc.web.page_session import current_person
from qc.web.script_words import script_words
from qc.web.sentence_forms import Forms
from qc.web.spoken_templates import SpokenText

WORDS = Path(__file__).parent / "words"

# What is answered without asking the record who is there: files, and whether the record can be written at all.
WORDLESS = frozenset({"asset", "health", "metrics", "inspectors_app", "inspectors_app_file"})


def register(app: Flask) -> None:
    """Let every page speak its reader's language. What machines and phones ask is answered in English."""
    app.jinja_env.add_extension(SpokenText)
    Babel(app, locale_selector=page_language)
    app.before_request(_speak)
    app.jinja_env.globals["script_words"] = script_words
    app.context_processor(lambda: {"language": page_language(), "languages": LANGUAGES})


def page_language() -> str:
    """Return the tag of the language in which the present request is answered."""
    if "language" not in g:
        # First what needs no record, so that the page that tells of a record out of reach can still speak
        g.language = request.accept_languages.best_match(list(LANGUAGES), "en")
        person = current_person()
        if person is not None and (chosen := language_of(the_house().reads.connection(), person.code)) in LANGUAGES:
            g.language = chosen
    return str(g.language)


def _speak() -> None:
    # Always, since the thread may have answered somebody else in another language before
    wordless = is_api(request.path) or request.endpoint in WORDLESS
    speak(ENGLISH if wordless else tongue_of(str(get_locale())))


@cache
def tongue_of(tag: str) -> Tongue:
    """Return a language of `LANGUAGES` with the words that its catalogue gives, English for the sentences it lacks."""
    if tag == "en":
        return ENGLISH
    book, decimal = Translations(BytesIO(_compiled(catalogue_of(tag)))), get_decimal_symbol(tag)
    forms = Forms(forms_of(tag), decimal)
    return Tongue(tag=tag, words=book.ugettext, counted=book.ungettext, decimal=decimal, told=forms.told)


def forms_of(tag: str) -> dict[str, str]:
    """Return the forms of what the record says in English: those that phones are told too, and those of pages alone."""
    phones: dict[str, str] = orjson.loads((folder("pwa") / "words" / f"{tag}.json").read_bytes())["server"]
    return {**orjson.loads((WORDS / tag / "told.json").read_bytes()), **phones}


def catalogue_of(tag: str) -> Catalog:
    """Return all that a language's catalogue holds: its files stand by room of the house, one after another."""
    whole = Catalog(locale=tag)
    for path in sorted((WORDS / tag).glob("*.po")):
        with path.open("rb") as file:
            for message in read_po(file, locale=tag, abort_invalid=True):
                if message.id:
                    whole[message.id] = message
    return whole


def _compiled(catalogue: Catalog) -> bytes:
    written = BytesIO()
    write_mo(written, catalogue)
    return written.getvalue()
