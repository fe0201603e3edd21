"""Reads a drawing back: its words with the room they take, and its claims."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

from lightoff.drawing.labels import Box, label_box

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Label:
    """One text of a drawing."""

    text: str
    size: float
    box: Box


def parsed(drawing: str) -> ElementTree.Element:
    """The drawing as XML; fails if it is not well formed."""
    return ElementTree.fromstring(drawing)


def labels(drawing: str) -> list[Label]:
    """All words that stand at one place, the ground-coloured halos left out."""
    found = []
    for each in parsed(drawing).iter(f"{SVG}text"):
        if each.get("aria-hidden") == "true" or each.get("font-size") is None:
            continue
        text = "".join(each.itertext())
        size = float(each.get("font-size", "0"))
        at = (float(each.get("x", "0")), float(each.get("y", "0")))
        anchor = each.get("text-anchor", "start")
        found.append(Label(text, size, label_box(at, text, size=size, anchor=anchor)))  # type: ignore[arg-type]
    return found


def overlapping(drawing: str) -> list[tuple[str, str]]:
    """Pairs of words that lie on each other."""
    found = labels(drawing)
    return [
        (one.text, other.text)
        for index, one in enumerate(found)
        for other in found[index + 1 :]
        if one.box.overlaps(other.box)
    ]


def touching(drawing: str) -> list[tuple[str, str]]:
    """Pairs of words of one line with less than a fifth of their height between them: they read as one."""
    found = sorted(labels(drawing), key=lambda each: (each.box.bottom, each.box.left))
    return [
        (one.text, other.text)
        for one, other in pairwise(found)
        if one.box.bottom == other.box.bottom and other.box.left - one.box.right < one.size / 5
    ]


def outside(drawing: str) -> list[str]:
    """Words that leave the picture by more than rounding."""
    root = parsed(drawing)
    frame = Box(-0.5, -0.5, float(root.get("width", "0")) + 0.5, float(root.get("height", "0")) + 0.5)
    return [each.text for each in labels(drawing) if not each.box.inside(frame)]


def smallest_text(drawing: str) -> float:
    """The smallest size of any word; small digits of a formula do not count."""
    sizes = [float(each.get("font-size", "99")) for each in parsed(drawing).iter(f"{SVG}text")]
    sizes += [
        float(each.get("font-size", "99"))
        for each in parsed(drawing).iter(f"{SVG}tspan")
        if each.get("dy") is None
    ]
    return min(sizes, default=99.0)
