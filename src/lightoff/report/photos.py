"""Photos made ready for the page: upright, no larger than they print, without their metadata."""

from __future__ import annotations

import base64
import io
import warnings

from lightoff.drawing.svg import element, number

LONGEST_PX = 1100
QUALITY = 82
MOST_PIXELS = 80_000_000
# A JPEG is opened at an eighth of its size, so that a large one of a telephone costs little.
MOST_JPEG_PIXELS = 250_000_000


def framed(data: bytes) -> tuple[str, float] | None:
    """A photo as a picture for the page and its height over its width; None if it cannot be read.

    Turned as its camera meant it; place and camera, which a phone writes into a photo, are left out.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # its size is looked at here
            with Image.open(io.BytesIO(data)) as opened:
                most = MOST_JPEG_PIXELS if opened.format == "JPEG" else MOST_PIXELS
                if opened.width * opened.height > most:
                    return None
                opened.draft("RGB", (LONGEST_PX * 2, LONGEST_PX * 2))
                upright = ImageOps.exif_transpose(opened).convert("RGB")
                upright.thumbnail((LONGEST_PX, LONGEST_PX))
    except (OSError, ValueError, SyntaxError, UnidentifiedImageError, Image.DecompressionBombError):
        return None
    written = io.BytesIO()
    upright.save(written, "JPEG", quality=QUALITY)
    wide, tall = float(upright.width), float(upright.height)
    link = "data:image/jpeg;base64," + base64.b64encode(written.getvalue()).decode("ascii")
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
