"""A page and the app say the same of what the record keeps in English: one catalogue, known by form in two programs."""

import json
import re
import subprocess
from itertools import pairwise
from pathlib import Path

import pytest

from qc.web.languages import forms_of
from qc.web.sentence_forms import Forms
from tests.js.test_js import tool
from tests.web.test_sentence_forms import TOLD

pytestmark = pytest.mark.node
HERE = Path(__file__).parent
SAID = forms_of("de")
VALUES = ("GAS-1 Gas leak", "critical", "7.5", "I1", "in the daylight bay")
OWN = "each 7.5 or dark; the unit: weather."  # full of words that the catalogue knows
OF_PAGES_ALONE = ("body.",)  # fields of the record, by which no refusal on a phone begins


def told_by_the_app(texts):
    run = subprocess.run(
        [tool("node", "DAYBAY_NODE"), str(HERE / "told_asked.js")],
        input=json.dumps({"tag": "de", "said": SAID, "texts": texts}),
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(run.stdout)


def test_each_form_with_values_alone_at_an_end_and_in_a_list_is_told_alike():
    filled = [re.sub(r"\{(\d)!?\}", lambda place: VALUES[int(place[1])], form) for form in SAID]
    begun = [f"{text[:1].upper()}{text[1:]}." for text in filled]
    listed = [f"{one}; {other}" for one, other in pairwise(filled)]
    own = [re.sub(r"\{\d!\}", OWN, re.sub(r"\{\d\}", "U1", form)) for form in SAID if "!}" in form]
    known = [text for text, _ in TOLD if not text.startswith(OF_PAGES_ALONE)]
    texts = [*filled, *begun, *listed, *own, *known]

    page = [Forms(SAID, ",").told(text) for text in texts]

    assert len(texts) > 500
    assert page == told_by_the_app(texts)
    assert sum(one != text for one, text in zip(page, texts, strict=True)) > 500
