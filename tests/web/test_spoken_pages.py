"""Every word that a page shows is said in its reader's language: each letter of what is looked up is another one, and
what still stands in plain letters was never looked up. English is the same before and after another language.

The second plant lives here, whose own words are not English, so that they hide none; its tables name everything anew in
the other language, in the letters of the pages' own words.
"""

import csv
import json
import re
import tomllib
from contextlib import contextmanager
from dataclasses import replace
from io import BytesIO, StringIO

import pytest

from qc.domain.tables.names_table import NAME_COLUMNS, NAMED, NAMES
from qc.domain.tables.plant_tables import plant_from_tables, tables_of
from qc.domain.words.speaking import Tongue
from qc.store.people.languages import keep_language
from qc.web import languages
from qc.web.languages import catalogue_of
from qc.web.sentence_forms import Forms
from tests.web.pages.reading import Node, read
from tests.web.pages.test_names_on_pages import OTHER, Lived
from tests.web.plant_server import CAST, OWN_PAGE, PIN, PlantServer, cheap_hashes

WRITTEN = ("nicht von uns", "Neue Lehre", "storniert", "noch da", "Freigaberegel")  # by those who recorded
# Columns and keys of the tables whose words are the project's, so that a page has to say them.
SET = (
    "beyond", "camera", "can_detect", "caution", "final", "hazard", "holds", "kind", "models", "move_away", "outside",
    "photo_rule", "shown", "stop_unit", "belongs_to", "check", "counts_as", "days",
)  # fmt: skip
READ_OUT = ("aria-label", "aria-description", "alt", "placeholder", "title", "data-words", "data-head")
IN_FIGURES = ("text", "title", "name", "hovertemplate", "ticktext")  # what a chart writes, by plotly's own keys
MUTE = ("script", "style", "code", "textarea")
DAY = re.compile(r"(?:Mo|Di|Mi|Do|Fr|Sa|So)\. \d+\. (?:Jan|Feb|März|Apr|Mai|Juni|Juli|Aug|Sept|Okt|Nov|Dez)\b\.?")
FIGURE = re.compile(r'<script type="application/json" data-figure="[^"]*">(.*?)</script>', re.DOTALL)
PLACES = re.compile(r"\{[^{}]*\}")
KEPT = re.compile(r"(\{[^{}]*\}|</?\w+>|&#?\w+;)")
IN_OTHER_LETTERS = re.compile("[Ａ-Ｚａ-ｚ]")
FIGURES = re.compile(r"\d+")
WORD = re.compile(r"[A-Za-zÄÖÜäöüß]{2,}")


def other_letters(text):
    """Return a sentence with every letter another one; its places, emphasis and signs as they are."""
    kept = KEPT.split(text)
    return "".join(
        part if place % 2 else re.sub("[A-Za-z]", lambda sign: chr(ord(sign[0]) + 0xFEE0), part)
        for place, part in enumerate(kept)
    )


OTHER_LETTERS = Tongue(
    tag="de",
    words=other_letters,
    counted=lambda one, many, number: other_letters(one if number == 1 else many),
    decimal=",",
    told=Forms({key: other_letters(key) for key in languages.forms_of("de")}, ",").told,
)


def named_anew(tables):
    """Return a plant's tables in which each name has another in the other language: the same in other letters."""
    plant = plant_from_tables(tables)
    things = {
        "zone": [(one.key, one) for one in plant.zones.values()],
        "group": [(one.group, replace(one, name=one.group_name)) for one in plant.types.values()],
        "plant": [("plant", plant)],
        **{
            kind: [*getattr(plant, many).items()]
            for kind, many in (
                ("view", "views"), ("type", "types"), ("station", "stations"), ("test", "tests"),
                ("caution", "cautions"), ("model", "models"), ("severity", "severities"), ("option", "options"),
                ("line", "lines"),
            )
        },
    }  # fmt: skip
    rows = {}
    for kind, columns in NAMED.items():
        for code, one in things[kind]:
            for column in columns:
                words = getattr(one, column)
                if isinstance(words, str) and words:
                    rows[kind, code, column] = ["de", kind, code, column, other_letters(words)]
    text = StringIO()
    csv.writer(text).writerows([NAME_COLUMNS, *rows.values()])
    return {**tables, NAMES: text.getvalue()}, {undone(row[-1]) for row in rows.values()}


def undone(text):
    """Return a text of other letters in its own."""
    return "".join(chr(ord(sign) - 0xFEE0) if "！" <= sign <= "～" else sign for sign in text)


def own_words():
    """Return what the tables and people say in their own words, what is named anew left out, the longest first."""
    tables = tables_of(OTHER)
    said = set(WRITTEN) | {one.name for one in CAST.values()} | {one.code for one in CAST.values()}
    for name, text in tables.items():
        if name.endswith(".csv"):
            said |= {cell for row in csv.DictReader(StringIO(text)) for key, cell in row.items() if key not in SET}
        elif name.endswith(".toml"):
            said |= set(_texts(tomllib.loads(text)))
    said -= named_anew(tables)[1]
    return sorted({" ".join(each.split()) for each in said if len(each) > 1}, key=len, reverse=True)


def _texts(value):
    if isinstance(value, dict):
        for key, each in value.items():
            yield from _texts(each) if key not in SET else ()
    elif isinstance(value, list):
        for each in value:
            yield from _texts(each)
    elif isinstance(value, str):
        yield value


def shown(node):
    """Yield each text that a page shows or that is read out of it, without what stands in a language of its own."""
    for name in READ_OUT:
        if node.attrs.get(name):
            yield node.attrs[name]
    if node.tag in MUTE or ("lang" in node.attrs and node.tag != "html"):
        return
    for part in node.children:
        if isinstance(part, Node):
            yield from shown(part)
        elif part.strip():
            yield " ".join(part.split())


def drawn(figure, key=""):
    """Yield each text that a chart writes."""
    if isinstance(figure, dict):
        for name, value in figure.items():
            yield from drawn(value, name)
    elif isinstance(figure, list):
        for value in figure:
            yield from drawn(value, key)
    elif isinstance(figure, str) and key in IN_FIGURES:
        yield figure


class Walk:
    """Sees pages as somebody of each role: in English, in other letters, and in English again."""

    def __init__(self, lived):
        self.lived, self.pages, self.seen = lived, {}, 0
        self.asked: set[str] = set()  # what was looked up
        self.known = {one.id if isinstance(one.id, str) else one.id[0] for one in catalogue_of("de")}
        whole = "|".join(re.escape(one) for one in own_words())
        self.own = re.compile(rf"(?<!\w)(?:{whole})(?!\w)")
        self.faults: dict[str, str] = {}  # by what is wrong, where it was seen first

    @property
    def tongue(self):
        """The language in other letters, which remembers what it was asked for."""

        def words(text):
            self.asked.add(text)
            return OTHER_LETTERS.words(text)

        def counted(one, many, number):
            self.asked.add(one)
            return OTHER_LETTERS.counted(one, many, number)

        return replace(OTHER_LETTERS, words=words, counted=counted)

    def see(self, role, *addresses):
        """See pages that answer a GET; role: None for a stranger."""
        for address in addresses:
            self._see(role, address, lambda page, address=address: page.get(address))

    def hand_in(self, role, address, /, **form):
        """See what a form is answered with; it is handed in three times, so one that is refused or only looks."""
        own = "/own-secret" if role else "/sign-in"
        self._see(role, address, lambda page: page.post(address, csrf_token=page.form_token(own), **form))

    def hand_in_file(self, role, address, field, name, text):
        """See what a file is answered with that is looked through, and of which nothing is taken."""

        def ask(page):
            form = {"csrf_token": page.form_token("/own-secret"), field: (BytesIO(text.encode()), name)}
            return page.client.post(address, data=form, headers=OWN_PAGE, content_type="multipart/form-data")

        self._see(role, address, ask)

    def bare(self, text):
        """Return the words of a text that were not looked up and are neither the plant's nor a person's own."""
        rest = self.own.sub(" ", DAY.sub(" ", re.sub(r"<[^>]*>|%\{[^}]*\}|&\w+;", " ", text)))
        return WORD.findall(re.sub(r"\S*[\d@/_]\S*|\bbody\.\w+|[a-z_]+\.[a-z_]+\b", " ", rest))

    def _see(self, role, address, ask):
        if role not in self.pages:
            self.pages[role] = self.lived.server.page(role)
        first = self._texts(ask(self.pages[role]), role, address)
        with self._in_other_letters(role):
            other = self._texts(ask(self.pages[role]), role, address)
        again = self._texts(ask(self.pages[role]), role, address)
        self.seen += 1
        for text in sorted(self.asked - self.known):
            # What is looked up twice has its other letters by then
            if self.bare(PLACES.sub(" ", text)):
                self.faults.setdefault(f"looked up, and no catalogue has it | {text}", f"{role} {address}")
        for text in other:
            if bare := self.bare(text):
                self.faults.setdefault(f"{' '.join(bare)} | {text}", f"{role} {address}")
        known = {FIGURES.sub("0", text) for text in first}  # what was handed in stands in the story each time
        for text in again:
            if FIGURES.sub("0", text) not in known:
                self.faults.setdefault(f"English afterwards | {text}", f"{role} {address}")

    def _texts(self, answer, role, address):
        assert answer.status_code not in (301, 302, 303, 405, 500), (role, address, answer.status_code)
        if answer.is_json:
            return list(dict.fromkeys(drawn(answer.json)))
        figures = [json.loads(one) for one in FIGURE.findall(answer.text)]
        return list(dict.fromkeys([*shown(read(answer)), *drawn(figures)]))

    @contextmanager
    def _in_other_letters(self, role):
        write = self.lived.server.house.journal.write
        code = CAST[role].code if role else ""
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(languages, "tongue_of", lambda tag: self.tongue if tag == "de" else languages.ENGLISH)
            if code:
                write(lambda conn: keep_language(conn, code, "de"))
            else:
                self.pages[role].client.environ_base["HTTP_ACCEPT_LANGUAGE"] = "de"
            try:
                yield
            finally:
                if code:
                    write(lambda conn: keep_language(conn, code, "en"))
                else:
                    del self.pages[role].client.environ_base["HTTP_ACCEPT_LANGUAGE"]


# Each room of pages: what is seen of it, as whom. A form that is handed in here is refused, or looks and takes nothing.


def frame(walk):
    """What stands around every page, signing in, and one's own account."""
    walk.see(None, "/sign-in")
    walk.hand_in(None, "/sign-in", person="XY9", secret="no such")
    walk.see("station_lead", "/review", "/nowhere")
    for role in CAST:
        walk.see(role, "/sign-ins", "/own-secret")
        walk.hand_in(role, "/own-secret", secret="wrong", new="a", again="b")
    walk.hand_in("inspector", "/own-secret", secret=PIN, new="111111", again="111111")
    walk.hand_in("inspector", "/own-secret", secret=PIN, new=PIN, again=PIN)
    page = walk.pages["inspector"]  # a second wrong try is told in other words than the first
    page.post("/own-secret", csrf_token=page.form_token("/own-secret"), secret="739105", new="739104", again="739104")
    walk.hand_in("inspector", "/own-secret", secret="739105", new="739104", again="739104")
    walk.hand_in("inspector", "/own-secret", secret="", new="739104", again="739104")
    walk.hand_in("station_lead", "/own-mail", to="nobody", daily="yes")
    walk.see("station_lead", "/own-mail")
    walk.see("quality_manager", "/own-mail")


def units(walk):
    """Units: the list, what is not found, each unit's page."""
    walk.see("dispatch", "/units", "/units?state=released", "/units?state=in_rework", "/units?q=0")
    walk.see("dispatch", f"/units?q={walk.lived.units[3][-5:]}")
    walk.see("dispatch", "/units?q=50091", "/units?q=3%25", "/units?lot=L7")
    for role in ("inspector", "dispatch", "planner", "quality_manager"):
        walk.see(role, *(f"/units/{one}" for one in walk.lived.units))

    late, _, field, full, _, disputed, gone = walk.lived.units
    for unit in (full, disputed):
        walk.hand_in("quality_manager", f"/units/{unit}/settle", defect="none", station="B10", reason="7.")
        walk.hand_in("quality_manager", f"/units/{unit}/suspect", defect="none", station="B10")
    walk.hand_in("planner", f"/units/{full}/cancel", reason="7.")
    walk.hand_in("planner", f"/units/{full}/take-up", reason="nicht von uns")
    walk.hand_in("planner", f"/units/{gone}/cancel", reason="nicht von uns")
    walk.hand_in("planner", f"/units/{late}/cancel", reason="nicht von uns")
    where = {"zone": "seite.tuer", "type": "TUR-1", "severity": "usual", "found_day": "2026-03-05", "note": ""}
    for wrong in (
        {"zone": ""}, {"type": ""}, {"zone": "vorn.kasten"}, {"severity": "7"}, {"found_day": "1.1."},
        {"found_day": "2099-01-01"}, {"type": "BRG-1", "zone": "vorn.kasten", "severity": "C1"},
    ):  # fmt: skip
        walk.hand_in("dispatch", f"/units/{field}/found", **{**where, **wrong})
    walk.hand_in("dispatch", f"/units/{full}/found", **where)


def inspectors_own(walk):
    """An inspector's own looks."""
    walk.see("inspector", "/inspectors/me", "/inspectors/me?week=2026-W10")


def stations(walk):
    """Stations and their leads' pages."""
    walk.see("station_lead", "/stations", "/stations/B10")
    walk.see("quality_manager", "/stations", *(f"/stations/{one}" for one in walk.lived.plant.stations))


def signals(walk):
    """The signals that stand."""
    walk.see("quality_manager", "/signals")


def review(walk):
    """The manager's week."""
    week = "week=2026-W10"
    walk.see("quality_manager", f"/review?{week}", f"/review/by-model?{week}", f"/review/by-point?{week}")
    walk.see("quality_manager", f"/review?{week}&order=minutes", f"/review?{week}&order=severity")
    walk.see("quality_manager", f"/review/figures?{week}", "/review?week=2026-99")


def backlog(walk):
    """What waits."""
    walk.see("quality_manager", "/backlog")


def inspectors(walk):
    """The inspectors beside each other."""
    walk.see("quality_manager", "/inspectors", "/inspectors?week=2026-W10")


def people(walk):
    """People, phones, tokens."""
    walk.see("administrator", "/people")
    walk.see("quality_manager", "/people")
    walk.hand_in("administrator", "/people/add", person="A B", name="x", role="inspector")
    walk.hand_in("administrator", "/people/add", person=CAST["planner"].code, name="x", role="inspector")
    walk.hand_in("administrator", "/people/role", person=CAST["planner"].code, role="station_lead")
    walk.hand_in("administrator", "/people/role", person=CAST["planner"].code, role="planner", stations="B10")
    walk.hand_in("administrator", "/people/token", machine="n ight", may="read")
    walk.hand_in("administrator", "/people/end", person="NO9", reason="x")
    walk.hand_in("administrator", "/people/enrol", device="NO9")
    walk.hand_in("administrator", "/people/enrol")


def plans(walk):
    """The build plan and a range of units."""
    walk.see("planner", "/plan", "/plan/range", "/passed")
    units = walk.lived.units
    rows = [
        f"{units[0]},2031-01-07",
        f"{units[1]},2031-13-07",
        f"{units[1]},2031-01-07",
        "0,2031-01-07",
        f"{units[2]},7",
    ]
    walk.hand_in_file(
        "planner", "/plan/look", "file", "1.csv", "\n".join(["chassis;planned day", *rows]).replace(",", ";")
    )
    walk.hand_in("planner", "/plan/look")
    shop = [walk.lived.server.house.reads.unit_line(one).shop_number for one in units]
    for act in ("cancel", "take_up", "day"):
        asked = {"first": min(shop), "last": max(shop), "act": act, "reason": "noch da", "day": "2031-01-07"}
        walk.hand_in("planner", "/plan/range", **asked)
        walk.hand_in("planner", "/plan/range", **asked | {"reason": "", "day": "7"})
        walk.hand_in("planner", "/plan/range/take", **asked, seen="0")
    walk.hand_in("planner", "/plan/range", first="9", last="10", act="day")
    days = [
        f"{units[0]},B10,2026-03-02 10:00",
        f"{units[1]},B10,2031-03-02 10:00",
        f"{units[1]},0,2026-03-02 10:00",
        "7,B10,7",
    ]
    walk.hand_in_file("planner", "/passed/look", "file", "1.csv", "\n".join(["unit,station,passed at", *days]))
    walk.hand_in_file("planner", "/passed/look", "file", "1.csv", "1,2\n3,4\n")


def plant_tables(walk):
    """The plant's tables and the drawing of its zones."""
    walk.see("administrator", "/plant-tables", "/plant-tables/zones")
    look = ("administrator", "/plant-tables/look", "files")
    stations = tables_of(OTHER)["stations.csv"]
    first = stations.splitlines()[1]
    cells = first.split(",")
    walk.hand_in_file(*look, "stations.csv", stations.replace(first, ",".join([*cells[:4], "7", *cells[5:]])))
    walk.hand_in_file(*look, "stations.csv", stations.replace(first, ",".join([*cells[:4], "-7", *cells[5:]])))
    walk.hand_in_file(*look, "stations.csv", stations.replace(f"{first}\n", ""))
    walk.hand_in_file(*look, "stations.csv", stations.replace("tag;nacht", '"tag;nacht"').replace(",", ";"))
    walk.hand_in_file(*look, "1.csv", "1,2\n3,4\n")
    walk.hand_in("administrator", "/plant-tables/look")
    walk.hand_in("administrator", "/plant-tables/take", digest="0")
    walk.hand_in("administrator", "/plant-tables/picture", model="0", view="0")
    walk.hand_in("administrator", "/plant-tables/zones", model="0", view="0")


def sheets(walk):
    """What is printed, taken away or looked up: sheets, labels, export, legend, the list of the handbook."""
    walk.see("inspector", "/paper", "/paper?model=A21", "/paper?model=BRG34", "/paper?model=X", "/labels", "/legend")
    walk.see("inspector", f"/labels?unit={walk.lived.units[0]}", "/labels?unit=0", "/labels?first=9&last=10&used=99")
    walk.see("inspector", "/labels?from_day=7", "/labels?from_day=2026-01-01&to_day=2026-12-31&used=3")
    walk.see("quality_manager", "/export", "/legend", "/set-aside", "/help")


ROOMS = (
    frame, units, inspectors_own, stations, signals, review, backlog, inspectors, people, plans, plant_tables, sheets,
)  # fmt: skip


@pytest.fixture(scope="module")
def lived(tmp_path_factory):
    tables, _ = named_anew(tables_of(OTHER))
    with pytest.MonkeyPatch.context() as patch, cheap_hashes():
        patch.setitem(CAST, "station_lead", replace(CAST["station_lead"], stations=("B10",)))
        server = PlantServer(tmp_path_factory.mktemp("spoken") / "other", (tables, plant_from_tables(tables)))
        lived = Lived(server)
        lived.units = lived.live_here()
        yield lived
        server.house.close()


@pytest.fixture
def walk(lived):
    return Walk(lived)


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: room.__name__)
def test_every_word_of_a_room_is_said_and_english_is_the_same_before_and_after(walk, room):
    room(walk)

    assert walk.seen
    if walk.faults:
        pytest.fail("\n".join(f"{place}: {fault}" for fault, place in walk.faults.items()), pytrace=False)


def test_nothing_that_is_recorded_is_said_in_another_language(walk):
    unit = walk.lived.units[3]
    with walk._in_other_letters("quality_manager"):
        page = walk.pages.setdefault("quality_manager", walk.lived.server.page("quality_manager"))
        token = page.form_token("/own-secret")
        for act, form in (
            ("settle", {"defect": "none", "station": "B10", "reason": "ab"}),
            ("cancel", {"reason": "ab"}),
        ):
            refused = page.post(f"/units/{unit}/{act}", csrf_token=token, **form)
            assert IN_OTHER_LETTERS.search(refused.text)

    kept = recorded(walk.lived.server.house)

    assert len(kept) > 500
    assert [text for text in kept if IN_OTHER_LETTERS.search(text)] == []
    assert any("has 2" in text for text in kept)  # why the last one was refused


def as_text(value):
    """Return a value of the record as the text that it is; None for a number, a hash and whatever else is no text."""
    try:
        text = value.decode() if isinstance(value, bytes) else value
    except UnicodeDecodeError:
        return None  # by chance a hash holds the bytes of some letter
    return text if isinstance(text, str) else None


def recorded(house):
    """Return every text of the record but the plant's own tables, which name things in the other letters."""
    conn = house.reads.connection()
    told = []
    for (table,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
        for row in conn.execute(f'SELECT * FROM "{table}"'):
            for value in row:
                text = as_text(value)
                if text is not None and NAMES not in text and '"names"' not in text:
                    told.append(text)
    return told


def test_a_word_that_is_not_looked_up_is_found_and_the_plants_own_are_not(walk):
    assert walk.bare("Werk Niederfurt, Neue Lehre, Do. 5. März 2026, W650001K") == []
    assert walk.bare("Units " + other_letters("that wait {0}")) == ["Units"]
    assert walk.bare("TUR-1 Tür klemmt") == ["Tür", "klemmt"]
    assert walk.bare("Thu 5 Mar 2026") == ["Thu", "Mar"]


def test_a_chart_that_keeps_english_words_is_found():
    figure = {"data": [{"name": "Defects", "x": ["W10"]}], "layout": {"title": {"text": "Per unit"}}}

    assert list(drawn(figure)) == ["Defects", "Per unit"]
