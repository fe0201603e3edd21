"""Looks inside a PDF: what its content streams draw, under which marks, and which letters that is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pikepdf

SHOWS = frozenset(("Tj", "TJ", "'", '"'))
PAINTS = SHOWS | frozenset(("S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "sh", "INLINE IMAGE"))
TWO_BYTES = 2


@dataclass(frozen=True, slots=True)
class Drawn:
    """One painting operator: its marks from the outside in, and for text the font and the codes shown."""

    page: int
    operator: str
    marks: tuple[str, ...]
    font: Any = None
    codes: tuple[int, ...] = ()


def drawn(pdf: pikepdf.Pdf) -> Iterator[Drawn]:
    """Everything that any page paints, forms opened, in the order of painting."""
    for number, page in enumerate(pdf.pages):
        yield from _stream(page, page.obj.get("/Resources"), number, ())


def _stream(stream: Any, resources: Any, page: int, outer: tuple[str, ...]) -> Iterator[Drawn]:
    marks: list[str] = []
    font = None
    for step in pikepdf.parse_content_stream(stream):
        operator, operands = str(step.operator), list(step.operands)
        if operator in ("BMC", "BDC"):
            held = operands[1] if operator == "BDC" else None
            tagged = isinstance(held, pikepdf.Dictionary) and "/MCID" in held
            marks.append("tagged" if tagged else str(operands[0]))
        elif operator == "EMC":
            marks.pop()
        elif operator == "Tf":
            font = resources.Font[str(operands[0])]
        elif operator == "Do":
            inner = resources.XObject[str(operands[0])]
            if inner.Subtype == "/Form":
                yield from _stream(inner, inner.get("/Resources", resources), page, (*outer, *marks))
            else:
                yield Drawn(page, "image", (*outer, *marks))
        elif operator in PAINTS:
            codes = tuple(_codes(operands)) if operator in SHOWS else ()
            yield Drawn(page, operator, (*outer, *marks), font if codes else None, codes)


def _codes(operands: list[Any]) -> Iterator[int]:
    for each in operands:
        parts = list(each) if isinstance(each, pikepdf.Array) else [each]
        for part in parts:
            if isinstance(part, pikepdf.String):
                data = bytes(part)
                for start in range(0, len(data), TWO_BYTES):
                    yield int.from_bytes(data[start : start + TWO_BYTES], "big")


def unicode_of(font: Any) -> dict[int, str]:
    """What each code of a two-byte font means, by its ToUnicode map."""
    if "/ToUnicode" not in font:
        return {}
    text = font.ToUnicode.read_bytes().decode("latin-1")
    found: dict[int, str] = {}
    for block in re.findall(r"beginbfchar(.*?)endbfchar", text, re.DOTALL):
        for code, letters in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            found[int(code, 16)] = _letters(letters)
    for block in re.findall(r"beginbfrange(.*?)endbfrange", text, re.DOTALL):
        triples = re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block)
        for first, last, letters in triples:
            start = int(letters, 16)
            for step, code in enumerate(range(int(first, 16), int(last, 16) + 1)):
                found[code] = chr(start + step)
    return found


def _letters(hexadecimal: str) -> str:
    return bytes.fromhex(hexadecimal).decode("utf-16-be")


def words(pdf: pikepdf.Pdf) -> str:
    """All text that is shown, one line a text operator, as a reader's copy and paste would have it."""
    maps: dict[tuple[int, int], dict[int, str]] = {}
    lines = []
    for each in drawn(pdf):
        if each.font is not None:
            known = maps.setdefault(each.font.objgen, unicode_of(each.font))
            lines.append("".join(known.get(code, "\ufffd") for code in each.codes))
    return "\n".join(lines)


@dataclass(frozen=True, slots=True)
class Element:
    """One element of the structure tree: its standard type, its depth of parents, its dictionary."""

    type: str
    parent: str
    node: Any

    @property
    def kids(self) -> list[str]:
        """The types of the elements right inside."""
        return [str(kid.S)[1:] for kid in _kids(self.node) if "/S" in kid]


def elements(pdf: pikepdf.Pdf) -> Iterator[Element]:
    """Every structure element in the order of reading."""
    root = pdf.Root.get("/StructTreeRoot")
    if root is None:
        return
    roles = root.get("/RoleMap", {})

    def standard(name: str) -> str:
        for _ in range(8):
            if f"/{name}" not in roles:
                return name
            name = str(roles[f"/{name}"])[1:]
        return name

    def walk(node: Any, parent: str) -> Iterator[Element]:
        for kid in _kids(node):
            if "/S" in kid:
                kind = standard(str(kid.S)[1:])
                yield Element(kind, parent, kid)
                yield from walk(kid, kind)

    yield from walk(root, "")


def _kids(node: Any) -> list[Any]:
    kids = node.get("/K", [])
    each = list(kids) if isinstance(kids, pikepdf.Array) else [kids]
    return [kid for kid in each if isinstance(kid, pikepdf.Dictionary)]
