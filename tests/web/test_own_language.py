"""A person's language: kept beside their account, brought by their next sign-in, nobody else's."""

import pytest


def test_a_choice_comes_back_with_the_next_sign_in_and_is_ones_own(server):
    first = server.phone()
    assert first.signed["language"] == ""

    answer = first.post("language", b'{"language":"de"}')

    assert (answer.status_code, answer.json) == (200, {"language": "de"})
    assert server.phone().signed["language"] == "de"
    assert server.phone("tester").signed["language"] == ""
    assert first.post("language", b'{"language":"en"}').status_code == 200
    assert server.phone().signed["language"] == "en"


@pytest.mark.parametrize("body", [b'{"language":"xx"}', b'{"language":""}', b"{}", b'{"language":["de"]}', b"[", b""])
def test_what_is_no_language_of_ours_is_refused_and_changes_nothing(server, body):
    phone = server.phone()

    assert phone.post("language", body).status_code in (400, 411)
    assert server.phone().signed["language"] == ""


def test_the_app_and_the_server_offer_the_same_languages():
    import re

    from qc.assets import folder
    from qc.domain.languages import LANGUAGES

    told = re.search(r"LANGUAGES = \{(.*?)\}", (folder("pwa") / "lib" / "language.js").read_text(encoding="utf-8"))

    assert told is not None
    assert dict(re.findall(r'(\w+): "(\w+)"', told[1])) == LANGUAGES
