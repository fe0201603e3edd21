"""From the numbers of a photograph to light, and from light to the colour that is seen."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Bytes: TypeAlias = NDArray[np.uint8]

# Shares of red, green and blue in the brightness that is seen, and the primaries of sRGB in CIE XYZ (D65).
# Basis: iec_61966_2_1, annex F; from memory, held against published pairs in the tests.
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_D65 = _XYZ.sum(axis=1)


def _linear(share: Floats) -> Floats:
    """The transfer function of sRGB undone. Basis: iec_61966_2_1, 5.2."""
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


_LINEAR = _linear(np.arange(256) / 255.0)


def linear_light(image: Bytes) -> Floats:
    """Light of each channel, 0 to 1, of an sRGB picture of any shape.

    Basis: iec_61966_2_1. A phone bends this curve to please; only a scale in the picture can undo that.
    """
    return _LINEAR[image]


def lightness_and_colour(ratio: Floats) -> tuple[float, float, float]:
    """CIELAB L*, a*, b* of a surface whose light is `ratio` (red, green, blue) of its white's.

    Basis: iso_cie_11664_4.
    """
    share = _XYZ @ np.clip(ratio, 0.0, None) / _D65
    edge = 6.0 / 29.0
    x, y, z = np.where(share > edge**3, np.cbrt(share), share / (3.0 * edge**2) + 4.0 / 29.0)
    return float(116.0 * y - 16.0), float(500.0 * (x - y)), float(200.0 * (y - z))


def in_blocks(picture: Floats, size: int) -> Floats:
    """Means of square blocks of `size` pixels; what is left over at the right and lower edge goes."""
    if size == 1:
        return picture
    rows, columns = picture.shape[0] // size, picture.shape[1] // size
    cut = picture[: rows * size, : columns * size]
    return np.asarray(cut.reshape(rows, size, columns, size, *picture.shape[2:]).mean(axis=(1, 3)))


def smoothed(picture: Floats, reach: int) -> Floats:
    """Means over squares of 2 `reach` + 1 pixels; beyond its edges a picture goes on as it ends."""
    if reach < 1:
        return picture
    width = 2 * reach + 1
    wide = np.pad(picture, reach, mode="edge")
    for axis in (0, 1):
        total = np.insert(np.cumsum(wide, axis=axis), 0, 0.0, axis=axis)
        low, high = (np.arange(wide.shape[axis] - width + 1) + each for each in (0, width))
        wide = (np.take(total, high, axis=axis) - np.take(total, low, axis=axis)) / width
    return wide
