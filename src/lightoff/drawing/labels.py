"""Where words may stand so that no label lies on another or on a mark."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field
from functools import lru_cache

from lightoff.drawing.svg import Anchor, Point
from lightoff.ground.values import dataclass

# Advance widths of the printable ASCII letters from space to tilde, hundredths of an em, rounded up.
# Basis: the metrics of Atkinson Hyperlegible Next 2.001: Regular, and the wider of Regular and Bold.
# fmt: off
_REGULAR = (
    29, 29, 31, 66, 60, 92, 74, 16, 30, 30, 49, 61, 21, 37, 21, 39, 65, 41, 55, 58, 62, 59, 60, 51,
    62, 60, 21, 21, 56, 63, 56, 48, 78, 63, 62, 65, 67, 57, 56, 70, 70, 40, 52, 64, 55, 83, 70, 72,
    60, 73, 62, 60, 56, 69, 60, 86, 63, 58, 61, 32, 39, 35, 56, 38, 25, 53, 57, 49, 57, 54, 32, 56,
    56, 26, 25, 50, 27, 85, 56, 55, 57, 58, 35, 48, 33, 54, 47, 69, 49, 45, 46, 35, 24, 35, 56,
)
_WIDEST = (
    32, 31, 39, 77, 61, 97, 74, 21, 34, 34, 49, 61, 28, 38, 28, 44, 66, 44, 58, 60, 63, 61, 63, 54,
    63, 60, 28, 28, 57, 63, 57, 55, 79, 68, 65, 66, 69, 60, 57, 72, 71, 43, 57, 67, 56, 86, 72, 75,
    63, 76, 65, 61, 61, 69, 65, 89, 69, 65, 62, 34, 44, 35, 59, 40, 29, 56, 60, 51, 60, 57, 37, 60,
    58, 30, 26, 56, 32, 89, 58, 58, 60, 60, 38, 51, 38, 57, 53, 74, 54, 53, 51, 39, 26, 39, 56,
)
# fmt: on
_OTHER = 98  # any other letter, the widest of the cut aside from dashes


@lru_cache(maxsize=4096)
def text_width(text: str, size: float, *, regular: bool = False) -> float:
    """How wide words run, in px, from above: the Regular cut only, or whichever cut is wider."""
    widths = _REGULAR if regular else _WIDEST
    hundredths = sum(widths[ord(each) - 32] if " " <= each <= "~" else _OTHER for each in text)
    return size * hundredths / 100


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
        """The first candidate with room for the text, taken with a space beside; None if there is none."""
        for at, anchor in candidates:
            box = label_box(at, text, size=size, anchor=anchor)
            if self.free(box):
                space = text_width(" ", size)
                self.take(Box(box.left - space, box.top, box.right + space, box.bottom))
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
