"""The language that pages and the app speak to a person: their own choice, which follows them to any phone."""

from flask import redirect, request
from werkzeug.wrappers import Response

from qc.domain.words.languages import LANGUAGES
from qc.domain.words.problems import Problem, Refused
from qc.store.people.languages import keep_language
from qc.web.house import the_house
from qc.web.page_session import acting_person, own_address, require_role


@require_role(passphrase_first=False)
def choose() -> Response:
    """Keep the person's choice and go back to the page that they chose it on."""
    asked, code = request.form.get("language", ""), acting_person().code
    if asked not in LANGUAGES:
        offered = ", ".join(f"{name} ({tag})" for tag, name in LANGUAGES.items())
        words = f"{asked[:20]!r} is no language that the pages speak; there are: {offered}. Nothing was changed."
        raise Refused(Problem("bad_request", words), 400)
    the_house().journal.write(lambda conn: keep_language(conn, code, asked))
    return redirect(own_address(request.form.get("next", "/")), 303)
