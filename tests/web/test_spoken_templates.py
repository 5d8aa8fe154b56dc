"""A template's sentences are looked up whole, and the page is the same where the language has no other words."""

import pytest
from jinja2 import Environment, TemplateSyntaxError

from qc.domain.words.speaking import Tongue, spoken
from qc.web.spoken_templates import SpokenText


class Book(dict):
    """A catalogue that remembers what it was asked for."""

    def __init__(self, **known):
        super().__init__(known)
        self.asked = []

    def tongue(self):
        return Tongue(tag="xx", words=self.words, counted=lambda one, many, n: one if n == 1 else many, decimal=",")

    def words(self, text):
        self.asked.append(text)
        return self.get(text, text)


def rendered(source, book=None, **values):
    book = Book() if book is None else book
    with spoken(book.tongue()):
        page = Environment(autoescape=True, extensions=[SpokenText]).from_string(source).render(**values)
    return page, book.asked


SOURCES = [
    ("<p>Two words</p>", ["Two words"]),
    ("<p>\n  {{ n }} units\n  wait  </p>", ["{0} units wait"]),
    ("<p>Found <strong>here</strong>, by {{ who }}.</p>", ["Found <strong>here</strong>, by {0}."]),
    ("<p>See <a href='/x'>there</a> for more.</p>", ["See", "there", "for more."]),
    ("<p>{% if n %}One thing{% else %}None{% endif %} is</p>", ["One thing", "is"]),
    ("<b>{{ n }}</b> · <i>{{ n }} %</i>", []),
    ("<p>&nbsp;{{ n }}&middot;</p>", []),
    ('<input placeholder="Last {{ n }} figures" name="unit" title="{{ who }}">', ["Last {0} figures"]),
    ('<p class="wide">{# no word of this #}Own</p>', ["Own"]),
    ('<td data-head="Found on" data-sort="Found on">{{ n }}</td>', ["Found on"]),
    ("<script>const words = 1 < 2;</script><style>p { color: red }</style>", []),
    ("<p>{{ '>' }} here {{ \"a > b\" }}</p>", ["{0} here {1}"]),
    ("<p>a {brace} of its own {{ n }}</p>", ["a {{brace}} of its own {0}"]),
    ("<p>Only {brace}</p>", ["Only {{brace}}"]),
    ("{% macro cell(w) %} role=\"{{ w }}\"{% endmacro %}<td{{ cell('x') }}>Hm</td>", ["Hm"]),
    ('<p{% if n > 1 %} class="a"{% endif %}>Many</p>', ["Many"]),
]


@pytest.mark.parametrize(("source", "keys"), SOURCES, ids=[source for source, _ in SOURCES])
def test_a_sentence_is_looked_up_whole_and_english_stays_as_it_was(source, keys):
    plain = Environment(autoescape=True).from_string(source).render(n=7, who="<Ann>")

    page, asked = rendered(source, n=7, who="<Ann>")

    assert asked == keys
    assert " ".join(page.split()) == " ".join(plain.split())


def test_values_take_the_places_that_the_language_gives_them_and_are_escaped():
    book = Book(**{"{0} units of {1} wait": "Von {1} warten {0} Einheiten"})

    page, _ = rendered("<p>{{ n }} units of {{ who }} wait</p>", book, n=7, who="<b>Ann</b>")

    assert page == "<p>Von &lt;b&gt;Ann&lt;/b&gt; warten 7 Einheiten</p>"


def test_an_attribute_stays_one_whatever_its_values_hold():
    page, _ = rendered('<input title="Last of {{ who }}">', Book(**{"Last of {0}": "{0}s Letzte"}), who='" x="1')

    assert page == '<input title="&#34; x=&#34;1s Letzte">'


def test_expressions_say_counted_sentences_with_the_languages_own_decimal_sign():
    source = '{{ say_many("{number} unit of {n:.1f}", "{number} units of {n:.1f}", 2, n=1.25) }}'

    assert rendered(source)[0] == "2 units of 1,2"


def test_a_fault_in_a_sentence_is_told_at_its_line():
    with pytest.raises(ZeroDivisionError) as told:
        rendered("<p>\nHere\n{{ n }}\n</p>\n<p>Now {{ 1 / 0 }}</p>")

    assert told.traceback[-1].lineno == 4


def test_signs_for_blanks_within_a_sentence_are_refused_when_the_template_is_read():
    with pytest.raises(TemplateSyntaxError, match="blanks"):
        rendered("<p>Here {{- n }}</p>")
