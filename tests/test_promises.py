"""The honest page names only tests that are there, and what the README must not leave out."""

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "static" / "docs" / "promises.md").read_text(encoding="utf-8")


def test_each_promise_names_a_test_that_is_there():
    promised = PAGE.split("## Promised")[1].split("## Not promised")[0]
    rows = [row for row in promised.splitlines() if row.startswith("| ") and not row.startswith("| Promise")]

    assert len(rows) > 8
    for row in rows:
        names = re.findall(r"`(?:tests/)?([a-z_/]+(?:\.py|/))`", row.split("|")[2])
        assert names, row
        for name in names:
            found = (ROOT / "tests" / name).exists() or list((ROOT / "tests").rglob(Path(name).name))
            assert found, f"{name} is named and is not there"


def test_the_readme_leads_to_it_and_says_the_three_worst():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    assert "(static/docs/promises.md)" in readme
    for words in ("can sign a false release now", "loses what it alone holds", "may lose its browser's store"):
        assert words in " ".join(readme.split()), words
