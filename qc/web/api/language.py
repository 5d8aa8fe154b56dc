"""POST /language: a signed-in person chooses the language in which the app and the pages speak to them."""

from flask import Response

from qc.domain.facts.operations import choice
from qc.domain.words.languages import LANGUAGES
from qc.store.people.languages import keep_language
from qc.web.api.answers import json_answer
from qc.web.api.bearer import signed_in
from qc.web.api.bodies import JSON, body_of
from qc.web.house import the_house
from qc.web.json_door import fields_of, read_object

MOST_BYTES = 200
FIELDS = {"language": choice(*LANGUAGES)}


def answer() -> Response:
    """Keep the choice; the next sign-in on any phone brings it along."""
    code = signed_in().person.code
    asked = fields_of(read_object(body_of(JSON, MOST_BYTES), MOST_BYTES), FIELDS)
    the_house().journal.write(lambda conn: keep_language(conn, code, asked["language"]))
    return json_answer({"language": asked["language"]})
