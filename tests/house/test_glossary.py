"""The glossary holds the words that stand on the pages: one thing, one name, and none unexplained."""

import re
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest

# Tables of words whose entries name things: figures, gates, meters, areas, verdicts, parts.
NAMED = (
    ("judging", "figure"),
    ("judging", "gate"),
    ("house", "area"),
    ("house", "verdict"),
    ("house", "judgement"),
    ("web", "class"),
    ("fault_finding", "class"),
    ("parts", "part"),
    ("faults", "fault_system"),
)


def terms(root: Path) -> list[str]:
    """Each line that is explained by the line after it."""
    lines = (root / "docs" / "glossary.md").read_text(encoding="utf-8").splitlines()
    return [line for line, after in pairwise(lines) if after.startswith(": ")]


@pytest.fixture(scope="module")
def heads(root: Path) -> set[str]:
    """Every term that the glossary explains, in small letters."""
    return {part.strip().lower() for term in terms(root) for part in re.split(r",| and ", term)}


def test_the_glossary_is_read(heads: set[str]) -> None:
    assert {"light-off", "air ratio", "smoke number"} <= heads
    assert len(heads) > 120


@pytest.mark.parametrize(("file", "table"), NAMED)
def test_each_name_on_a_page_holds_a_word_of_the_glossary(
    root: Path, heads: set[str], file: str, table: str
) -> None:
    texts = tomllib.loads(
        (root / "src" / "lightoff" / "texts" / "en" / f"{file}.toml").read_text(encoding="utf-8")
    )
    names = texts[table]
    assert names
    unexplained = {
        key: name
        for key, name in names.items()
        if not any(re.search(rf"\b{re.escape(head)}", name.lower()) for head in heads)
    }
    assert not unexplained, "docs/glossary.md lacks a word for these"


def test_no_term_stands_twice(root: Path) -> None:
    assert len(terms(root)) == len(set(terms(root)))
