"""Where words may stand so that no label lies on another or on a mark."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from lightoff.drawing.svg import Anchor, Point

# Widths of letters in em, rounded up from the typeface's own bold cut, so that a box is never too small.
_NARROW = frozenset("iljft.,:;'|!()[] ")
_WIDE = frozenset("mwMWΩ%@—")


def text_width(text: str, size: float) -> float:
    """An upper estimate of how wide words run, in px."""
    return size * sum(_ems(letter) for letter in text)


def _ems(letter: str) -> float:
    if letter in _NARROW:
        return 0.39
    if letter in _WIDE:
        return 0.98
    return 0.78 if letter.isupper() else 0.67


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle in px."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box) -> bool:
        """Whether the two share any area."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def inside(self, other: Box) -> bool:
        """Whether this lies wholly within the other."""
        return (
            self.left >= other.left
            and self.right <= other.right
            and self.top >= other.top
            and self.bottom <= other.bottom
        )


def label_box(at: Point, text: str, *, size: float, anchor: Anchor) -> Box:
    """The room that words take when set at this baseline point."""
    wide = text_width(text, size)
    left = at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
    return Box(left, at[1] - 0.8 * size, left + wide, at[1] + 0.28 * size)


@dataclass(slots=True)
class Places:
    """The room that is left in a drawing. The one mutable thing here; it lives for one drawing."""

    frame: Box
    taken: list[Box] = field(default_factory=list)

    def take(self, box: Box) -> None:
        """Keep words off this room."""
        self.taken.append(box)

    def free(self, box: Box) -> bool:
        """Whether words may stand here."""
        return box.inside(self.frame) and not any(box.overlaps(other) for other in self.taken)

    def find(
        self, candidates: Iterable[tuple[Point, Anchor]], text: str, *, size: float
    ) -> tuple[Point, Anchor] | None:
        """The first candidate with room for the text, now taken; None if there is none."""
        for at, anchor in candidates:
            box = label_box(at, text, size=size, anchor=anchor)
            if self.free(box):
                self.take(box)
                return at, anchor
        return None


def around(centre: Point, *, reach: Point, size: float) -> list[tuple[Point, Anchor]]:
    """Places for a mark's label, nearest first: below left, right, above, below, then further out."""
    x, y = centre
    places: list[tuple[Point, Anchor]] = []
    for step in range(12):
        out = step * 9.0
        dx, dy = reach[0] + 4 + out, reach[1] + 3 + out
        down, up, level = y + dy + 0.8 * size, y - dy - 0.28 * size, y + 0.3 * size
        places += [
            ((x - 0.3 * dx, down), "end"),
            ((x + dx, level), "start"),
            ((x - dx, level), "end"),
            ((x + 0.3 * dx, up), "start"),
            ((x, down), "middle"),
            ((x, up), "middle"),
            ((x + 0.3 * dx, down), "start"),
            ((x - 0.3 * dx, up), "end"),
        ]
    return places
