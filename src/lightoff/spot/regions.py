"""Patches of a picture that hang together: named, filled, and described by an ellipse."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from lightoff.spot.reading import Ellipse, Quad

Mask: TypeAlias = NDArray[np.bool_]
Labels: TypeAlias = NDArray[np.int64]


def labelled(mask: Mask) -> Labels:
    """0 outside, and one number from 1 up for each patch whose pixels touch along an edge."""
    names, parents = np.zeros(mask.shape, dtype=np.int64), [0]

    def root(name: int) -> int:
        while parents[name] != name:
            parents[name] = parents[parents[name]]
            name = parents[name]
        return name

    before: list[tuple[int, int, int]] = []
    for row, line in enumerate(mask):
        edges = np.flatnonzero(np.diff(np.concatenate(([0], line.view(np.int8), [0]))))
        runs, first = [], 0
        for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            name = 0
            while first < len(before) and before[first][1] <= start:
                first += 1
            at = first
            while at < len(before) and before[at][0] < stop:
                other = root(before[at][2])
                if name and other != name:
                    parents[max(name, other)] = min(name, other)
                    name = min(name, other)
                else:
                    name = other
                at += 1
            if not name:
                name = len(parents)
                parents.append(name)
            names[row, start:stop] = name
            runs.append((start, stop, name))
        before = runs
    roots = np.array([root(each) for each in range(len(parents))])
    _, packed = np.unique(roots, return_inverse=True)
    return np.asarray(packed[names], dtype=np.int64)


def filled(patch: Mask) -> Mask:
    """The patch with its holes."""
    around = labelled(np.pad(~patch, 1, constant_values=True))
    return np.asarray(around != around[0, 0])[1:-1, 1:-1]


def touches_edge(patch: Mask) -> bool:
    """Whether the picture ends where the patch does."""
    return bool(patch[0].any() or patch[-1].any() or patch[:, 0].any() or patch[:, -1].any())


def ellipse_of(patch: Mask) -> Ellipse:
    """The ellipse with the centre and the second moments of a patch that is not empty."""
    y, x = np.nonzero(patch)
    middle = np.array([x.mean(), y.mean()])
    spread = np.cov(np.stack([x, y]), bias=True) + np.eye(2) / 12.0  # a pixel is a square, not a point
    sizes, axes = np.linalg.eigh(spread)
    short, long = 2.0 * np.sqrt(sizes)
    return Ellipse(
        x=float(middle[0]), y=float(middle[1]), long_radius=float(long), short_radius=float(short),
        turn=float(np.arctan2(axes[1, 1], axes[0, 1])),
    )  # fmt: skip


def scaled(ellipse: Ellipse, size: float, *, left: float = 0.0, top: float = 0.0) -> Ellipse:
    """An ellipse found among blocks of `size` pixels, in pixels; `left` and `top` are where they begin."""
    return Ellipse(
        x=left + (ellipse.x + 0.5) * size - 0.5, y=top + (ellipse.y + 0.5) * size - 0.5,
        long_radius=ellipse.long_radius * size, short_radius=ellipse.short_radius * size, turn=ellipse.turn,
    )  # fmt: skip


def distance_in_radii(ellipse: Ellipse, shape: tuple[int, int]) -> NDArray[np.float64]:
    """How far each pixel lies from the middle, in radii of the ellipse: 1 on its line."""
    y, x = np.mgrid[: shape[0], : shape[1]]
    along = (x - ellipse.x) * np.cos(ellipse.turn) + (y - ellipse.y) * np.sin(ellipse.turn)
    across = (y - ellipse.y) * np.cos(ellipse.turn) - (x - ellipse.x) * np.sin(ellipse.turn)
    return np.asarray(np.hypot(along / ellipse.long_radius, across / ellipse.short_radius))


def roundness(patch: Mask, ellipse: Ellipse) -> float:
    """Area of the patch over that of its ellipse: 1 for an ellipse, 0.95 for a square, less if ragged."""
    return float(patch.sum() / (np.pi * ellipse.long_radius * ellipse.short_radius))


def quad_of(patch: Mask, size: float) -> Quad:
    """The four outermost points of a patch along the diagonals of its own axes, in pixels."""
    y, x = np.nonzero(patch)
    turn = ellipse_of(patch).turn
    along = x * np.cos(turn) + y * np.sin(turn)
    across = y * np.cos(turn) - x * np.sin(turn)
    # Lengths are made alike first: the corners of a long strip would else all lie at its ends.
    along, across = (each / max(float(np.ptp(each)), 1.0) for each in (along, across))
    picks = [int(np.argmax(a * along + b * across)) for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))]
    one, two, three, four = ((float((x[at] + 0.5) * size), float((y[at] + 0.5) * size)) for at in picks)
    return Quad(corners=(one, two, three, four))
