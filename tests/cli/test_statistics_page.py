"""The page of statistics: every command has a worked example, and the examples do what the page says.

The answers under the examples come from outside the project; each section names its source, and says which numbers
were typed from memory. ``python tests/cli/test_statistics_page.py`` writes the outputs anew after a change of the
table's form: read the difference before committing it. The answers are never written by that.
"""

import json
import math
import re
import shlex
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from qc.cli.stat import STATISTICS, stat

PAGE = Path(__file__).parents[2] / "static" / "docs" / "statistics.md"
NO_ANSWER = "No printed answer for these numbers is known to us"
LONGEST_BLOCK, LONGEST_LINE = 20, 150


@dataclass(frozen=True)
class Example:
    """One section of the page: its command line, the output that it shows, and the answer from outside."""

    name: str
    command: str
    output: tuple[str, ...]
    answer: tuple[str, ...]
    words: str


def blocks(text: str) -> list[tuple[str, str]]:
    """Return (info, content) of every fenced block."""
    return re.findall(r"^```([^\n]+)\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def data_files(page: str) -> dict[str, str]:
    """Return the CSV files of the page by name."""
    return {info.split()[1]: content for info, content in blocks(page) if info.startswith("csv ")}


def examples(page: str) -> list[Example]:
    """Return the worked examples in page order."""
    found = []
    for section in re.split(r"^### ", page, flags=re.MULTILINE)[1:]:
        parts = dict(blocks(section))
        command, *output = parts["console"].rstrip("\n").split("\n")
        name = re.match(r"`([^`]+)`", section)
        assert name
        assert command.startswith(f"$ qc stat {name[1]}")
        answer = tuple(parts.get("answer", "").strip().split("\n")) if parts.get("answer") else ()
        found.append(Example(name[1], command.removeprefix("$ qc stat "), tuple(output), answer, section))
    return found


TEXT = PAGE.read_text(encoding="utf-8")
EXAMPLES = examples(TEXT)


@pytest.fixture
def here(tmp_path, monkeypatch):
    """Stand in a folder with the page's files."""
    for name, content in data_files(TEXT).items():
        (tmp_path / name).write_text(content, encoding="utf-8")
    monkeypatch.chdir(tmp_path)


def run(command: str, *more: str) -> str:
    """Return what a command line of the page prints; it must succeed."""
    told = CliRunner().invoke(stat, [*shlex.split(command), *more])
    assert told.exit_code == 0, told.output
    return told.output


def test_every_statistic_has_its_example_in_table_order():
    assert [example.name for example in EXAMPLES] == list(STATISTICS)


def test_every_example_says_where_its_answer_comes_from():
    for example in EXAMPLES:
        assert ("Source of the answer: " in example.words) == bool(example.answer), example.name
        assert (NO_ANSWER in example.words) != bool(example.answer), example.name


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_an_example_prints_what_the_page_shows(example):
    printed = run(example.command).rstrip("\n").split("\n")

    assert shows(example.output, printed), "\n".join(printed)


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize("example", [one for one in EXAMPLES if one.answer], ids=lambda example: example.name)
def test_an_example_gives_the_answer_from_outside(example):
    told = json.loads(run(example.command, "--json"))

    for line in example.answer:
        path, _, expected = line.partition(" ")
        value = told
        for step in path.split("."):
            value = value[int(step) - 1] if isinstance(value, list) else value[step]
        assert agrees(value, expected), f"{path} is {value}, the source has {expected}"


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_table_and_json_hold_the_same_numbers(example):
    numbers = Counter(f"{number:.6g}" for number in numbers_in(json.loads(run(example.command, "--json"))))
    printed = Counter(token for token in re.split(r"[\s,()]+", run(example.command)))

    assert numbers
    assert not numbers - printed


def numbers_in(told: object) -> list[float]:
    """Return every number of a JSON answer."""
    if isinstance(told, dict):
        return [number for value in told.values() for number in numbers_in(value)]
    if isinstance(told, list):
        return [number for value in told for number in numbers_in(value)]
    return [told] if isinstance(told, (int, float)) and not isinstance(told, bool) else []


def agrees(value: object, expected: str) -> bool:
    """Return whether a value is the printed one: half a unit of the last digit away at most, or within ± x."""
    if isinstance(value, list):
        parts = [] if expected == "none" else expected.split(", ")
        return len(parts) == len(value) and all(map(agrees, value, parts))
    if isinstance(value, bool) or value is None:
        return expected == {True: "yes", False: "no", None: "none"}[value]
    if isinstance(value, str):
        return value == expected
    assert isinstance(value, (int, float))
    printed, _, within = expected.partition(" ± ")
    digits = len(printed.partition(".")[2])
    slack = float(within) if within else (0.5 * 10**-digits if digits else 0.0)
    return abs(value - float(printed)) <= slack + 1e-9 * max(1.0, abs(value))


@pytest.mark.parametrize(
    ("value", "expected", "same"),
    [
        (0.23133, "0.2313", True),
        (0.23136, "0.2313", False),
        (28.2, "28", False),
        (0.41, "0.4 ± 0.02", True),
        (["15", "23"], "15, 23", True),
        (["15"], "15, 23", False),
        ([], "none", True),
        (True, "no", False),
        (None, "none", True),
    ],
)
def test_the_comparison_sees_a_wrong_answer(value, expected, same):
    assert agrees(value, expected) is same


def shows(page: tuple[str, ...], printed: list[str]) -> bool:
    """Return whether printed lines are those of the page, "…" standing for lines, or for the rest of a line."""
    if not page:
        return not printed
    if page[0] == "…":
        return any(shows(page[1:], printed[skipped:]) for skipped in range(1, len(printed) + 1))
    return bool(printed) and same_line(page[0], printed[0]) and shows(page[1:], printed[1:])


def same_line(page: str, printed: str) -> bool:
    """Return whether two lines say the same; numbers may differ in the last of their six digits."""
    ours, theirs = page.split(), printed.split()
    if page.endswith("…"):
        ours = ours[:-1]
        theirs = theirs[: len(ours)]
    return len(ours) == len(theirs) and all(map(same_token, ours, theirs))


def same_token(page: str, printed: str) -> bool:
    """Return whether two words are equal, or numbers that an optimiser or another processor rounds alike."""
    if page == printed:
        return True
    try:
        one, other = float(page.rstrip(",")), float(printed.rstrip(","))
    except ValueError:
        return False
    return math.isclose(one, other, rel_tol=2e-5, abs_tol=1e-9)


def test_the_page_s_comparison_sees_a_wrong_line():
    assert shows(("a 1", "…", "c 3"), ["a 1", "b", "c 3"])
    assert not shows(("a 1", "…", "c 3"), ["a 1", "b", "c 4"])
    assert not shows(("a 1",), ["a 1", "b"])
    assert not shows(("a 1.0001",), ["a 1.0002"])


def shortened(lines: list[str]) -> list[str]:
    """Return an output as the page shows it: long blocks without their middle, long lines without their end."""
    text = "\n".join(
        line if len(line) <= LONGEST_LINE else line[:LONGEST_LINE].rsplit(" ", 1)[0] + " …" for line in lines
    )
    parts = [block.split("\n") for block in text.split("\n\n")]
    short = [block if len(block) <= LONGEST_BLOCK else [*block[:5], "…", block[-1]] for block in parts]
    return "\n\n".join("\n".join(block) for block in short).split("\n")


def rewrite() -> None:
    """Write the outputs of the page anew; the answers stay as they are."""
    import os
    import tempfile

    page = PAGE.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        for name, content in data_files(page).items():
            Path(folder, name).write_text(content, encoding="utf-8")
        os.chdir(folder)
        for example in examples(page):
            old = "\n".join([f"$ qc stat {example.command}", *example.output])
            new = "\n".join([f"$ qc stat {example.command}", *shortened(run(example.command).rstrip("\n").split("\n"))])
            page = page.replace(f"```console\n{old}\n```", f"```console\n{new}\n```")
        os.chdir(PAGE.parent)
    PAGE.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    sys.exit(rewrite())
