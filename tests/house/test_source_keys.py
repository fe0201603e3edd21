"""A number's basis names a source that stands in the table, or says plainly that it has none."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

from lightoff.ground.sources import SOURCES

BASIS = re.compile(r"Basis(?: of [\w ]+)?: ?((?:[^\n]|\n(?!\s*\n)(?!\s*\"\"\"))+)")
KEY_SHAPE = re.compile(r"\b[a-z][a-z0-9]*(?:_[a-z0-9]+)*_(?:1[89]|20)\d\d[a-z]?\b")
PLAIN_WORDS = ("common practice", "from memory", "RFC ")


def bases(root: Path) -> list[tuple[str, str]]:
    """(place, what is said) of every "Basis:" in the code."""
    found = []
    for path in sorted((root / "src" / "lightoff").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        for match in BASIS.finditer(text):
            line = text.count("\n", 0, match.start()) + 1
            found.append((f"{path.relative_to(root)}:{line}", " ".join(match.group(1).split())))
    return found


def vendored(root: Path) -> set[str]:
    """Names of what we carry along: a figure read from a file of ours has that file as its source."""
    manifests = (root / "src" / "lightoff").rglob("manifest.toml")
    return {
        row["name"] for each in manifests for row in tomllib.loads(each.read_text(encoding="utf-8"))["file"]
    }


def test_every_basis_names_a_source_or_says_that_there_is_none(root: Path) -> None:
    said = bases(root)
    assert len(said) > 20
    silent = [
        f"{place}: {words[:80]}"
        for place, words in said
        if not words.startswith("key (equation)")  # the table's own docstring
        if not any(re.search(rf"\b{key}\b", words) for key in SOURCES)
        and not any(plain in words for plain in (*PLAIN_WORDS, *vendored(root)))
    ]
    assert not silent


def test_every_source_key_that_is_named_exists(root: Path) -> None:
    unknown = [
        f"{place}: {key}"
        for place, words in bases(root)
        for key in KEY_SHAPE.findall(words)
        if key not in SOURCES
    ]
    assert not unknown


def test_every_source_is_told_whole() -> None:
    for key, source in SOURCES.items():
        assert source.title, key
        assert not source.title.endswith((".", " ")), key
        assert source.edition or source.place or key == "common_practice", key


def test_every_source_on_the_shelf_is_named(root: Path) -> None:
    """A `source` in the shelf's tables is a key of the table, or plain words that say what it is."""
    tables = sorted((root / "src" / "lightoff" / "shelf" / "data").rglob("*.toml"))
    assert tables
    unknown = [
        f"{path.name}: {source!r}"
        for path in tables
        for source in sources_in(tomllib.loads(path.read_text(encoding="utf-8")))
        if not source.strip() or (KEY_SHAPE.fullmatch(source) and source not in SOURCES)
    ]
    assert not unknown


def sources_in(node: object) -> Iterator[str]:
    """Every text under the name `source`, however deep."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key == "source" and isinstance(value, str):
                yield value
            else:
                yield from sources_in(value)
    elif isinstance(node, list):
        for value in node:
            yield from sources_in(value)
