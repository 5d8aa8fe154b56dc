"""A person's language: kept beside their account, brought by their next sign-in, nobody else's."""

import re
from threading import Thread

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
    from qc.assets import folder
    from qc.domain.words.languages import LANGUAGES

    told = re.search(r"LANGUAGES = \{(.*?)\}", (folder("pwa") / "lib" / "language.js").read_text(encoding="utf-8"))

    assert told is not None
    assert dict(re.findall(r'(\w+): "(\w+)"', told[1])) == LANGUAGES


def html_language(answer):
    return re.search(r'<html lang="(\w+)"', answer.get_data(as_text=True))[1]


@pytest.mark.parametrize("onward", ["//evil.example", "/\\evil.example", "https://evil.example", "/\tevil.example"])
def test_a_page_speaks_what_was_chosen_and_goes_on_to_no_other_site(server, onward):
    page = server.page("inspector")
    token = page.form_token("/own-secret")

    told = [page.post("/own-language", csrf_token=token, language="de", next=onward) for _ in range(2)]

    assert [(one.status_code, one.headers["Location"]) for one in told] == [(303, "/"), (303, "/")]
    assert html_language(page.get("/own-secret")) == "de"


def test_a_choice_with_the_form_token_of_another_is_not_kept(server):
    page, other = server.page("inspector"), server.page("tester")

    answer = page.post("/own-language", csrf_token=other.form_token("/own-secret"), language="de", next="/")

    assert answer.status_code == 403
    assert html_language(page.get("/own-secret")) == html_language(other.get("/own-secret")) == "en"


@pytest.mark.parametrize(
    ("asked", "spoken"),
    [
        ("de-AT", "de"),
        ("fr, de;q=0.1", "de"),
        ("x" * 100_000, "en"),
        ("fr," * 30_000, "en"),
        (";;;q=q,,de;q=nan", "en"),
        ("../../de", "en"),
        ("\xff\xfe", "en"),
        ("", "en"),
    ],
    ids=["a country's", "the second", "long", "many", "signs", "a path", "no letters", "empty"],
)
def test_a_stranger_is_spoken_to_as_the_browser_asks_whatever_it_asks(server, asked, spoken):
    answer = server.client().get("/sign-in", headers={"Accept-Language": asked})

    assert (answer.status_code, html_language(answer)) == (200, spoken)


def test_two_people_at_once_are_each_spoken_to_in_their_own_language(server):
    german, english = server.page("quality_manager"), server.page("planner")
    german.post("/own-language", csrf_token=german.form_token("/own-secret"), language="de", next="/")
    told = {}

    def read(page, name):
        pages = [re.sub(r'value="[0-9a-f]+"', "", page.get("/legend").get_data(as_text=True)) for _ in range(10)]
        told[name] = set(pages)

    readers = [Thread(target=read, args=(page, name)) for page, name in ((german, "de"), (english, "en"))]
    for each in readers:
        each.start()
    for each in readers:
        each.join()

    assert [len(told[name]) for name in ("de", "en")] == [1, 1]
    assert "Legende" in next(iter(told["de"]))
    assert "Legende" not in next(iter(told["en"]))


def test_a_language_that_is_none_is_refused_in_the_language_spoken(server):
    page = server.page("dispatch")
    token = page.form_token("/own-secret")
    page.post("/own-language", csrf_token=token, language="de", next="/")

    answer = page.post("/own-language", csrf_token=token, language="{0} <b>", next="/")

    assert answer.status_code == 400
    assert (
        "&#39;{0} &lt;b&gt;&#39; ist keine Sprache, die die Seiten sprechen; es gibt: English (en), Deutsch (de)."
        in (answer.get_data(as_text=True))
    )
