"""Which letters the bundled typefaces have, so that no name can stop a report."""

from __future__ import annotations

import struct
import unicodedata
from functools import lru_cache
from importlib.resources import files
from typing import Any

STAND_IN = "?"
# Whether two letters join is spelling, in Persian for one.
JOINERS = "\u200c\u200d"


def printable(value: Any) -> tuple[Any, int]:
    """Any JSON value with every text composed (NFC) and freed of letters that cannot be printed.

    Returns the value and how many letters were replaced.
    """
    if isinstance(value, str):
        kept, gone = _cleaned(value)
        return kept, len(gone)
    if isinstance(value, dict):
        pairs = {key: printable(each) for key, each in value.items()}
        return {key: each for key, (each, _) in pairs.items()}, sum(lost for _, lost in pairs.values())
    if isinstance(value, (list, tuple)):
        each_of = [printable(each) for each in value]
        return [each for each, _ in each_of], sum(lost for _, lost in each_of)
    return value, 0


def unprintable(*texts: str) -> str:
    """The letters of these texts that no bundled typeface can draw, each once, in order."""
    return "".join(dict.fromkeys(letter for text in texts for letter in _cleaned(text)[1]))


def _cleaned(text: str) -> tuple[str, list[str]]:
    known = letters()
    lost: list[str] = []
    kept = []
    for letter in unicodedata.normalize("NFC", text):
        kind = unicodedata.category(letter)
        if kind == "Zs":
            kept.append(letter if letter == "\u00a0" else " ")
        elif letter in JOINERS and ord(letter) in known:
            kept.append(letter)
        elif kind[0] == "C" or "VARIATION SELECTOR" in unicodedata.name(letter, ""):
            # Control and format characters are no letters: all but a line's end go without a word.
            kept.append(letter if letter == "\n" else " " if letter == "\t" else "")
        elif ord(letter) in known:
            kept.append(letter)
        else:
            kept.append(STAND_IN)
            lost.append(letter)
    return "".join(kept), lost


@lru_cache(maxsize=1)
def letters() -> frozenset[int]:
    """The code points that at least one bundled upright regular cut can draw."""
    found: set[int] = set()
    for file in (files("lightoff.report") / "fonts").iterdir():
        if file.name.endswith("_400Regular.ttf"):
            found |= _mapped(file.read_bytes())
    return frozenset(found)


def _mapped(font: bytes) -> set[int]:
    """The code points in a TrueType file's character map.

    Basis: opentype_cmap (subtable formats 4 and 12).
    """
    tables = struct.unpack_from(">H", font, 4)[0]
    records = (struct.unpack_from(">4sLLL", font, 12 + 16 * index) for index in range(tables))
    cmap = next(offset for tag, _, offset, _ in records if tag == b"cmap")
    found: set[int] = set()
    for index in range(struct.unpack_from(">H", font, cmap + 2)[0]):
        start = cmap + struct.unpack_from(">L", font, cmap + 4 + 8 * index + 4)[0]
        kind = struct.unpack_from(">H", font, start)[0]
        if kind == 4:
            found |= _segments(font, start)
        elif kind == 12:
            groups = struct.unpack_from(">L", font, start + 12)[0]
            for group in range(groups):
                first, last, _ = struct.unpack_from(">LLL", font, start + 16 + 12 * group)
                found.update(range(first, last + 1))
    return found


def _segments(font: bytes, start: int) -> set[int]:
    """Format 4: runs of code points, each by a shift or through a list of glyphs; glyph 0 is no letter."""
    count = struct.unpack_from(">H", font, start + 6)[0] // 2
    ends, starts = start + 14, start + 16 + 2 * count
    deltas, offsets = starts + 2 * count, starts + 4 * count
    found: set[int] = set()
    for index in range(count):
        first, last, delta, offset = (
            struct.unpack_from(">H", font, table + 2 * index)[0] for table in (starts, ends, deltas, offsets)
        )
        for point in range(first, min(last, 0xFFFE) + 1):
            glyph = point + delta
            if offset:
                place = offsets + 2 * index + offset + 2 * (point - first)
                glyph = struct.unpack_from(">H", font, place)[0]
                glyph = glyph + delta if glyph else 0
            if glyph & 0xFFFF:
                found.add(point)
    return found
