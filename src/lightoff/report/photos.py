"""Photos made ready for the page: upright, no larger than they print, without their metadata."""

from __future__ import annotations

import base64

from lightoff.drawing.svg import element, number
from lightoff.work.small_photo import small

LONGEST_PX = 1100


def framed(data: bytes) -> tuple[str, float] | None:
    """A photo as a picture for the page and its height over its width; None if it cannot be read.

    Turned as its camera meant it; place and camera, which a phone writes into a photo, are left out.
    """
    drawn = small(data, LONGEST_PX)
    if drawn is None:
        return None
    wide, tall = float(drawn.width), float(drawn.height)
    link = "data:image/jpeg;base64," + base64.b64encode(drawn.data).decode("ascii")
    inner = element("image", width=wide, height=tall, href=link)
    picture = element(
        "svg",
        inner,
        xmlns="http://www.w3.org/2000/svg",
        width=wide,
        height=tall,
        viewBox=f"0 0 {number(wide)} {number(tall)}",
    )
    return picture, tall / wide
