"""Where a photo was taken, as its camera wrote it."""

from __future__ import annotations

import io
import warnings
from collections.abc import Mapping, Sequence
from typing import Any

_GPS = 0x8825
_LATITUDE_SIDE, _LATITUDE, _LONGITUDE_SIDE, _LONGITUDE = 1, 2, 3, 4


def where_taken(data: bytes) -> str:
    """Latitude and longitude in degrees, north and east positive, as "52.08542, 5.12083".

    Blank where the camera wrote none, or what cannot be a place. Basis: Exif 2.3, GPS tags 1 to 4 (degrees,
    minutes, seconds and the side); from memory, unverified, and held against an independent writer of
    pictures in the tests.
    """
    from PIL import Image, UnidentifiedImageError  # slow to load, and most keep no place

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # nothing of it is drawn here
            with Image.open(io.BytesIO(data)) as opened:
                told = opened.getexif().get_ifd(_GPS)
        latitude = _degrees(told, _LATITUDE, _LATITUDE_SIDE, ("N", "S"), 90)
        longitude = _degrees(told, _LONGITUDE, _LONGITUDE_SIDE, ("E", "W"), 180)
    except (
        OSError,
        ValueError,
        TypeError,
        KeyError,
        SyntaxError,
        ZeroDivisionError,
        UnidentifiedImageError,
        Image.DecompressionBombError,
    ):
        return ""
    return f"{latitude:.5f}, {longitude:.5f}"


def _degrees(told: Mapping[int, Any], tag: int, side_tag: int, sides: Sequence[str], most: float) -> float:
    """Signed degrees. Raises KeyError and ValueError for what is missing or no place."""
    degrees, minutes, seconds = (float(each) for each in told[tag])
    side = str(told[side_tag]).strip("\0 ").upper()
    value = degrees + minutes / 60 + seconds / 3600
    if side not in sides or not 0 <= value <= most:
        raise ValueError("no place")
    return -value if side == sides[1] else value
