"""The handbook holds what exists: each command, option, setting and page; its links and anchors lead somewhere."""

import re
import tomllib
from collections import Counter
from pathlib import Path

import click
import orjson
import pytest
from PIL import Image

from qc.assets import folder
from qc.domain.facts.people import ROLES
from qc.domain.tables import plant_sections, plant_tables
from qc.domain.words.languages import LANGUAGES
from qc.store.people.languages import keep_language
from qc.web.assets_site import the_site
from qc.web.languages import catalogue_of
from qc.web.pages.handbook import OF_ROLE, OPEN, PAGES, PARAGRAPHS
from tests.first_monday.pictures import NAMES
from tests.test_docs import DEVELOPERS, commands
from tests.web.pages.reading import read
from tests.web.plant_server import CAST, PlantServer, cheap_hashes

BOOK = folder("static") / "handbook"
OTHERS = sorted(tag for tag in LANGUAGES if tag != "en")
# By language: that something is safe, what a sentence that says it has to say too, and what cautions defer to.
SAFE = {
    "de": (
        r"(?:\bsicher (?:ist|oder)|\bist sicher)\b",
        r"\b([Nn]ie|[Nn]icht|Dass eine)\b",
        "örtlichen? Vorschriften",
    )
}


def written(tag, slug):
    return (BOOK / tag / f"{slug}.html").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with cheap_hashes():
        server = PlantServer(tmp_path_factory.mktemp("handbook") / "plant")
        yield server
        server.house.close()


@pytest.fixture(scope="module")
def book(server):
    """Each page of the handbook as its reader sees it."""
    page = server.page("quality_manager")
    found = {slug: page.get(f"/help/{slug}") for slug in PAGES} | {"": page.get("/help")}
    assert {answer.status_code for answer in found.values()} == {200}
    return {slug: read(answer) for slug, answer in found.items()}


def missing(told, wanted):
    return sorted(one for one in wanted if not re.search(rf"(?<![\w-]){re.escape(one)}(?![\w-])", told))


def test_every_command_stands_in_it(book):
    groups = {name for name, command in commands().items() if isinstance(command, click.Group) and name != "stat"}

    assert missing(book["commands"].text, {f"qc {name}" for name in commands() if name not in groups}) == []
    assert missing(book["commands"].text, {"qc planted"}) == ["qc planted"]


def test_every_option_stands_in_it(book):
    options = {
        option
        for command in commands().values()
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for option in parameter.opts
        if option.startswith("--") and option != "--help"
    }

    assert missing(book["commands"].text, options) == []


def settings():
    """Return every key that a plant.toml may have: those of the invented plant, and those that it only tells of."""
    text = (folder("demo_data") / "plant" / "plant.toml").read_text(encoding="utf-8")
    found = tomllib.loads(text)
    keys = {key for part in found.values() for one in (part if isinstance(part, list) else [part]) for key in one}
    optional = (*plant_tables.ABOUT, *plant_tables.ABOUT_OPTIONAL, *plant_tables.CHASSIS, *plant_sections._PLAN)
    mailed = (*plant_sections._MAIL, *plant_sections._MAIL_OPTIONAL)
    days = {"belongs_to", "other_hours", "stations", "first", "last"}
    return keys | {*optional, *mailed, *days, "vital_few_percent", "folder", "at", "keep", "in_name_of", "leave_wrong"}


def test_every_setting_stands_in_it(book):
    told = book["settings"].text

    assert missing(told, settings()) == []
    assert [one for one in plant_tables.SECTIONS if f"[{one}]" not in told] == []


def test_every_page_of_the_developers_table_is_told_or_belongs_to_one_that_is(server, book):
    rows = DEVELOPERS.split("## Pages and addresses")[1].split("\n## ")[0]
    told = set(re.findall(r"`(/[^`]*)`", "\n".join(line.split("|")[1] for line in rows.splitlines() if "|" in line)))
    words = " ".join(page.text for page in book.values())
    unseen = {"/", "/sign-out", "/review/figures", "/export/file"}  # forms and files of the pages before them
    others = {one for one in told if not one.startswith(("/api/", "/app/", "/photos/", "/help"))} - unseen
    linked = {link.attrs["href"].partition("#")[0] for page in book.values() for link in page.all("a")}

    assert len(told) > 40
    assert {one for one in others if one not in PARAGRAPHS and one not in linked and one not in words} == set()


def test_every_page_that_somebody_sees_leads_to_its_paragraph(server):
    rules = {rule.rule for rule in server.app.url_map.iter_rules() if rule.endpoint.startswith(("pages.", "sign_in"))}
    plain = {"/", "/sign-out", "/review/figures", "/export/file"}
    ours = {rule for rule in rules if not rule.startswith(("/help", "/photos"))} - plain

    assert ours - set(PARAGRAPHS) == set()
    assert set(PARAGRAPHS) - rules == set()
    foot = read(server.page("quality_manager").get("/signals")).one("footer")
    assert [link.attrs["href"] for link in foot.all("a") if link.text == "Help"] == ["/help/manager#signals"]


def test_every_link_and_anchor_leads_somewhere(server, book):
    page = server.page("quality_manager")
    anchors = {slug: {node.attrs["id"] for node in one.all() if "id" in node.attrs} for slug, one in book.items()}
    addresses = {f"/help/{told}" for told in PARAGRAPHS.values()}
    addresses |= {link.attrs["href"] for one in book.values() for link in one.one("main").all("a")}

    assert len(addresses) > 40
    wrong = []
    for address in sorted(addresses):
        path, _, anchor = address.partition("#")
        if path.startswith("/help/"):
            slug = path.removeprefix("/help/")
            if slug not in PAGES or (anchor and anchor not in anchors[slug]):
                wrong.append(address)
        elif page.get(path).status_code not in (200, 303, 403):
            wrong.append(address)
    assert wrong == []


def test_each_role_has_a_page_that_begins_with_the_day(server, book):
    assert set(OF_ROLE) == set(ROLES)
    for slug in OF_ROLE.values():
        first = book[slug].one("article").all("h2")[0]
        assert first.attrs["id"] == "day"
        assert book[slug].one("article").all("ol")[0].all("li")
    assert "/help/lead" in server.page("station_lead").get("/help").text


def test_a_page_is_a_page_or_two(book):
    for slug in PAGES:
        assert len(book[slug].one("article").text.split()) < 900, slug


@pytest.mark.parametrize("tag", OTHERS)
def test_another_language_never_says_that_a_unit_is_safe_and_defers_to_local_codes(tag):
    told = 0
    for slug in PAGES:
        for sentence in re.findall(rf"[^.:;]*{SAFE[tag][0]}[^.:;]*", re.sub("<[^>]+>", "", written(tag, slug))):
            told += 1
            assert re.search(SAFE[tag][1], sentence), (slug, sentence)
    assert told > 3
    for slug in ("tester", "repairer", "starting", "settings"):
        assert re.search(SAFE[tag][2], written(tag, slug)), slug


def test_it_never_says_that_a_unit_is_safe_and_defers_to_local_codes(book):
    told = 0
    for slug, page in book.items():
        for place in [*page.one("article").all("p"), *page.one("article").all("li")]:
            for sentence in re.findall(r"[^.:;]*\bis safe\b[^.:;]*", place.text):
                told += 1
                assert re.search(r"\b(never|not|nor|That a unit)\b", sentence), (slug, sentence)
    assert told > 3
    for slug in ("", "tester", "repairer", "starting"):
        assert re.search(r"local codes|codes where you are", book[slug].text), slug


def test_who_cannot_sign_in_reads_what_to_do_and_nothing_else(server):
    stranger = server.page(None)

    for slug in PAGES:
        answer = stranger.get(f"/help/{slug}")
        assert (answer.status_code == 200) == (slug in OPEN), slug
    for slug in OPEN:
        assert f"/help/{slug}" in stranger.get("/sign-in").text
    assert server.page("inspector").get("/help/nowhere").status_code == 404


APP = (folder("pwa") / "lib" / "handbook.js").read_text(encoding="utf-8")
PARTS = ("export const TITLES = inWords({", "export const OF_ROLE = {")


def test_the_app_has_every_page_without_signal():
    titles, roles = (dict(re.findall(r'"?([a-z_-]+)"?: "([^"]+)"', APP.split(part)[1].split("}")[0])) for part in PARTS)
    kept = {address.rpartition("/handbook/")[2] for address in the_site().precache()}

    assert list(titles.items()) == list(PAGES.items())
    assert {role: roles.get(role, role) for role in OF_ROLE} == OF_ROLE
    assert {f"{tag}/{slug}.html" for slug in PAGES for tag in LANGUAGES} - kept == set()


def test_every_screen_of_the_app_leads_to_its_paragraph(book):
    screens = (folder("pwa") / "screens").glob("*.js")
    paths = {path for file in screens for path in re.findall(r'^  path: "([^"]+)"', file.read_text(), re.M)}
    told = dict(re.findall(r'^  "?([a-z/:-]+)"?: "([a-z-]+/[a-z-]+)",$', APP, re.M))
    anchors = {slug: {node.attrs["id"] for node in page.all() if "id" in node.attrs} for slug, page in book.items()}

    assert paths - {"menu", "help", "help/:page/:anchor"} == set(told)
    assert [one for one in told.values() if one.split("/")[1] not in anchors[one.split("/")[0]]] == []


def test_what_the_first_unit_asks_to_press_is_what_the_walk_presses():
    """`tests/first_monday` does on a plant of its own what the page *Starting a plant* tells."""
    page = (folder("static") / "handbook" / "en" / "starting.html").read_text(encoding="utf-8")
    walk = "".join(path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("first_monday/test_*.py"))
    walk += (Path(__file__).parent / "browser" / "phone.py").read_text(encoding="utf-8")
    asked = re.findall(r"<em>([^<]+)</em>", page.split('id="first-unit"')[1].split("</ol>")[0])

    assert len(asked) > 10
    assert [words for words in asked if f'"{words}"' not in walk and f'"^{words}' not in walk] == []


@pytest.mark.parametrize("tag", OTHERS)
def test_another_language_has_every_page_paragraph_link_picture_and_code(tag):
    assert sorted(path.name for path in (BOOK / tag).iterdir()) == sorted(f"{slug}.html" for slug in PAGES)
    for slug in PAGES:
        one, other = written("en", slug), written(tag, slug)
        for what in (r'\bid="[^"]+"', r'<img src="[^"]+" width="\d+" height="\d+"', r"<code>[^<]+", r"<kbd>[^<]+"):
            assert re.findall(what, other) == re.findall(what, one), (slug, what)
        # Every element, links with where they lead; words stand in another order within a sentence
        tags = (Counter(re.findall(r"<[^>]+>", re.sub(r' alt="[^"]*"', "", told))) for told in (one, other))
        assert next(tags) == next(tags), slug
        alts = [re.findall(r'alt="([^"]*)"', told) for told in (one, other)]
        assert all(len(alt.split()) > 6 for alt in alts[1]), slug
        assert not set(alts[0]) & set(alts[1]), slug


def test_german_says_what_to_do_in_the_infinitive_and_neither_du_nor_sie():
    """A capital at the beginning of a sentence can be "she" or "it"; within one it is who reads."""
    addressed = r"[\w,]+ (?:Sie|Ihnen|Ihr\w{0,2})\b|\b(?:[Dd]u|[Dd]ein\w*|[Dd]ir|[Dd]ich|[Ee]uch|[Ee]uer)\b"

    assert [(slug, found) for slug in PAGES for found in re.findall(addressed, written("de", slug))] == []


@pytest.mark.parametrize("tag", OTHERS)
def test_another_language_calls_keys_and_pages_as_the_app_and_the_desk_call_themselves(tag):
    said = list(said_in(tag))
    told = 0
    wrong = []
    for slug in PAGES:
        for named in (r"<em>([^<]+)</em>", r'<a href="/(?!help/)[^"]+">([^<]+)</a>'):
            pairs = zip(re.findall(named, written("en", slug)), re.findall(named, written(tag, slug)), strict=True)
            for ours, theirs in pairs:
                told += 1
                form = re.escape(theirs.lower()).replace("…", ".*")  # where a number stands
                if not any(ours.lower() in key and re.search(form, words) for key, words in said):
                    wrong.append((slug, ours, theirs))
    assert told > 60
    assert wrong == []
    for slug, title in PAGES.items():
        assert (title.lower(), re.search("<h1>(.*)</h1>", written(tag, slug))[1].lower()) in said


def said_in(tag):
    """Every English sentence of the app and the desk and what a language says for it, in small letters."""
    app = orjson.loads((folder("pwa") / "words" / f"{tag}.json").read_bytes())["words"]
    for key, words in app.items():
        for each in words.values() if isinstance(words, dict) else [words]:
            yield key.lower(), each.lower()
    for message in catalogue_of(tag):
        if message.id:
            keys, words = ([one] if isinstance(one, str) else one for one in (message.id, message.string))
            yield from ((key.lower(), each.lower()) for key in keys for each in words)


def test_the_handbook_shows_every_picture_that_the_walk_makes_and_no_other(book):
    files = {path.stem: size_of(path) for path in (folder("static") / "handbook" / "pictures").iterdir()}
    shown = {Path(node.attrs["src"]).stem: node.attrs for page in book.values() for node in page.all("img")}

    assert set(shown) == set(files) == set(NAMES)
    for name, attrs in shown.items():
        assert (int(attrs["width"]), int(attrs["height"])) == files[name] == NAMES[name]
        assert len(attrs["alt"].split()) > 6


def size_of(path):
    with Image.open(path) as image:
        return image.size


def test_a_page_is_shown_in_the_language_of_its_reader(server):
    house, page = server.house, server.page("station_lead")
    lead = CAST["station_lead"].code
    house.journal.write(lambda conn: keep_language(conn, lead, "de"))
    german = read(page.get("/help/settings")).one("article")
    house.journal.write(lambda conn: keep_language(conn, lead, "en"))

    assert (german.attrs["lang"], german.one("h1").text) == ("de", "Einstellungen")
    english = read(page.get("/help/settings")).one("article")
    assert (english.attrs["lang"], english.one("h1").text) == ("en", "Settings")
    stranger = server.page(None).client
    told = stranger.get("/help/phone-lost", headers={"Accept-Language": "de-AT,de;q=0.9,en;q=0.5"})
    assert read(told).one("h1").text == "Wenn ein Telefon verloren ist"
