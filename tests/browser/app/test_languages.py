"""The app in another language: every word of every screen, within the frame, kept without signal, a person's own."""

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.app.frame import painted, wrong_at_each_size
from tests.browser.app.test_screens import journey, walk_through, what_others_see
from tests.browser.plant_server import PEOPLE, PIN

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parent.parent.parent.parent
CATALOGUE = json.loads((ROOT / "pwa" / "words" / "de.json").read_text(encoding="utf-8"))
WORDS, SERVER = CATALOGUE["words"], CATALOGUE["server"]
TABLES = 100  # texts at least of a phone that has the plant's tables
SPOKEN = Path(__file__).with_name("spoken.js").read_text(encoding="utf-8").partition("*/")[2].strip().rstrip(";")
BARE = f"known => ({SPOKEN}).bare(known)"
# Of the language's own calendar and measures, which the browser says; the browser's own names; the name of the app.
SAYS_THE_BROWSER = ("Jan", "Feb", "März", "Apr", "Mai", "Juni", "Juli", "Aug", "Sept", "Okt", "Nov", "Dez", "min")


# Whether the server has been told of each choice that this phone keeps.
TOLD = """async () => {
  const { openDatabase, readAll } = await import(
    document.querySelector("script[type=module]").src.replace("main.js", "lib/db.js"));
  const kept = (await readAll(await openDatabase(), "settings")).find((row) => row.name === "languages");
  return Object.values(kept?.value ?? {}).every((own) => own.told) && !!kept;
}"""


def other_letters(text: str) -> str:
    """Return a sentence with every letter another one, its places and emphasis as they are."""
    kept = re.split(r"(\{\d\}|</?\w+>|&\w+;)", text)
    return "".join(
        part if place % 2 else re.sub("[A-Za-z]", lambda sign: chr(ord(sign[0]) + 0xFEE0), part)
        for place, part in enumerate(kept)
    )


OTHER_LETTERS = {
    key: {form: other_letters(key) for form in said} if isinstance(said, dict) else other_letters(key)
    for key, said in WORDS.items()
}


OTHER_LETTERS_SERVER = {key: other_letters(key) for key in SERVER}


def speak(phone, tag: str, words: dict[str, object], server: dict[str, str]) -> None:
    phone.page.evaluate(f"([tag, words, server]) => ({SPOKEN}).speak(tag, words, server)", [tag, words, server])


def texts(value: object) -> set[str]:
    if isinstance(value, dict):
        return set().union(*(texts(each) for each in value.values()))
    if isinstance(value, list):
        return set().union(*(texts(each) for each in value))
    return {value} if isinstance(value, str) else set()


def as_shown(said: set[str]) -> set[str]:
    """Return texts whole and as screens cut them."""
    pieces = {piece.strip() for text in said for piece in (*re.split("[,(:]", text)[:1], *re.split("[.:]", text)[:1])}
    return {re.sub(r"\s+", " ", text) for text in said | pieces if len(text) > 2}


def plant_words(phone) -> set[str]:
    """Return what the plant's tables and its people say in their own words; nothing of tables not here yet."""
    said = set().union(*(texts(row["value"]) for row in phone.stored("plant")))
    return as_shown(said | {person.name for person in PEOPLE} | set(SAYS_THE_BROWSER))


def recorded_words(phone) -> set[str]:
    """Return what the units and the records on a phone say in their own words."""
    units = [{**unit, "blockers": [], "alarm": ""} for unit in phone.stored("units")]
    operations = [json.loads(row["text"]) for row in phone.stored("operations")]
    return as_shown(set().union(*map(texts, units + operations)))


def test_every_word_that_a_screen_shows_is_said_in_german_within_the_frame(phone):
    bare: dict[str, list[str]] = {}
    out_of_frame: list[str] = []
    of_plant = plant_words(phone)

    def look(screen: str) -> None:
        nonlocal of_plant
        painted(phone)
        if len(of_plant) < TABLES:  # they come with the first sign-in, and stay
            of_plant = plant_words(phone)
        speak(phone, "de", OTHER_LETTERS, OTHER_LETTERS_SERVER)
        if found := phone.page.evaluate(BARE, sorted(of_plant | recorded_words(phone))):
            bare[screen] = found
        speak(phone, "de", WORDS, SERVER)
        out_of_frame.extend(wrong_at_each_size(phone, screen))
        speak(phone, "en", {}, {})

    walk_through(phone, look)
    journey(phone, look)
    what_others_see(phone, look)

    assert "\n".join(f"{screen}: {each}" for screen, all_ in bare.items() for each in all_) == ""
    assert "\n".join(out_of_frame) == ""


def test_a_word_outside_the_catalogue_is_found(phone):
    said = {key: words for key, words in OTHER_LETTERS.items() if key != "Who are you?"}

    speak(phone, "de", said, OTHER_LETTERS_SERVER)
    found = phone.page.evaluate(BARE, sorted(plant_words(phone) | recorded_words(phone)))

    assert found == ["Who are you?"]


@pytest.mark.signed_in
def test_a_persons_language_starts_without_signal_and_is_not_the_next_ones(phone, server):
    phone.open("#/settings")
    phone.tap("Deutsch")
    expect(phone.heading("Einstellungen")).to_be_visible()
    assert phone.page.evaluate("document.documentElement.lang") == "de"

    server.stop()
    phone.page.reload()
    expect(phone.heading("Einstellungen")).to_be_visible()
    phone.open("#/units")
    expect(phone.heading("In Arbeit")).to_be_visible()
    phone.open("#/help")
    expect(phone.page.get_by_text("Gasgeruch", exact=True)).to_be_visible()  # the plant's own table of names

    server.start()
    phone.open("#/settings")
    phone.tap("Für andere sperren")
    expect(phone.heading("Who are you?")).to_be_visible()


@pytest.mark.signed_in
def test_a_persons_language_goes_with_them_to_another_phone(phone, new_phone):
    phone.open("#/settings")
    phone.tap("Deutsch")
    expect(phone.heading("Einstellungen")).to_be_visible()
    phone.wait_until(lambda: phone.page.evaluate(TOLD), "the server has not been told of the language")

    other = new_phone()
    other.open_first()
    other.tap(re.compile("Inspector One"))
    for figure in PIN:
        other.tap(figure, exact=True)
    other.tap("Sign in", exact=True)

    expect(other.heading("In Arbeit")).to_be_visible()


def test_before_anybody_signs_in_the_phone_speaks_what_its_browser_asks_for(phone):
    phone.context.add_init_script(
        "Object.defineProperty(Navigator.prototype, 'languages', { get: () => ['fr-CA', 'de-AT', 'en'] })"
    )
    phone.page.reload()
    expect(phone.heading("Wer meldet sich an?")).to_be_visible()

    phone.tap("English")
    expect(phone.heading("Who are you?")).to_be_visible()
    phone.page.reload()
    expect(phone.heading("Who are you?")).to_be_visible()


def test_words_that_do_not_load_are_told_and_english_is_shown(phone):
    phone.context.route("**/words/de.json", lambda route: route.abort())
    phone.page.evaluate("caches.keys().then(names => Promise.all(names.map(name => caches.delete(name))))")
    phone.sign_in()
    phone.open("#/settings")

    phone.tap("Deutsch")

    expect(phone.heading("Settings")).to_be_visible()
    phone.open("#/menu")
    expect(phone.page.locator("main .warning").first).to_contain_text("The words of this language did not load")


@pytest.mark.signed_in
def test_on_the_narrowest_phone_no_key_and_no_number_is_broken_within_a_word(phone):
    phone.page.set_viewport_size({"width": 320, "height": 568})
    phone.open("#/settings")
    phone.tap("Deutsch", exact=True)
    expect(phone.heading("Einstellungen")).to_be_visible()
    unit = phone.stored("units")[0]
    broken = {"settings": phone.page.evaluate(BROKEN)}
    for at in ("units", "find", f"unit/{unit['chassis']}", f"unit/{unit['chassis']}/release"):
        phone.open(f"#/{at}")
        expect(phone.page.locator("h1")).to_contain_text(re.compile("Arbeit|finden|Einheit|Freigabe"))
        broken[at] = phone.page.evaluate(BROKEN)
    phone.open("#/settings")
    phone.tap("Für andere sperren")
    phone.tap("Deutsch", exact=True)
    phone.tap(re.compile("Inspector One"))
    expect(phone.heading("PIN von Inspector One")).to_be_visible()
    broken["PIN"] = phone.page.evaluate(BROKEN)

    assert {at: words for at, words in broken.items() if words} == {}


# Words of the keys, and the unit's number in the head, that do not stand on one line.
BROKEN = r"""() => {
  const found = [];
  for (const key of document.querySelectorAll("footer :is(button, .button), main .choices > *, header h1")) {
    const texts = document.createTreeWalker(key, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
      const text = texts.currentNode;
      for (const { 0: word, index } of text.data.matchAll(key.matches("h1") ? /PC\d+/g : /[^\s-]+/g)) {
        const range = document.createRange();
        range.setStart(text, index);
        range.setEnd(text, index + word.length);
        const lines = new Set([...range.getClientRects()].map(({ top }) => Math.round(top)));
        if (lines.size > 1) found.push(word);
      }
    }
  }
  return found;
}"""
