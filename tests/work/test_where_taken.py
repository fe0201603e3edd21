"""Where a photo was taken is read off it as an independent writer of pictures wrote it, or not said."""

from __future__ import annotations

import io
from typing import Any

import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from lightoff.work.where_taken import where_taken

AMSTERDAM = {1: "N", 2: (52.0, 22.0, 23.88), 3: "E", 4: (4.0, 53.0, 32.64)}


def picture(gps: dict[int, Any], kind: str = "JPEG") -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8825).update(gps)
    written = io.BytesIO()
    Image.new("RGB", (40, 30), "#857A6B").save(written, kind, exif=exif.tobytes())
    return written.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize(
    ("gps", "said"),
    [
        (AMSTERDAM, "52.37330, 4.89240"),
        (AMSTERDAM | {1: "S", 3: "W"}, "-52.37330, -4.89240"),
        ({}, ""),
        ({1: "N", 2: (52.0, 22.0, 23.88)}, ""),
        (AMSTERDAM | {2: (91.0, 0.0, 0.0)}, ""),
        (AMSTERDAM | {3: "Q"}, ""),
        (AMSTERDAM | {2: (IFDRational(1, 0), 0.0, 0.0)}, ""),
    ],
)
def test_it_is_said_in_degrees_or_not_at_all(gps: dict[int, Any], said: str, kind: str) -> None:
    assert where_taken(picture(gps, kind)) == said


@pytest.mark.parametrize("data", [b"", b"\xff\xd8\xff\xe0", picture(AMSTERDAM)[:60], b"GIF89a"])
def test_what_is_no_picture_has_no_place(data: bytes) -> None:
    assert where_taken(data) == ""
