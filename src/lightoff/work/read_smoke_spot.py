"""Read a smoke spot off a photograph: the picture turned upright, made small, and read."""

from __future__ import annotations

import io
import warnings

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.spot import SpotReading, read_spot
from lightoff.work.bare_photo import bare_photo

LONGEST_PX = 1600  # more tells nothing more of a spot, and takes longer
_MOST_PIXELS = 250_000_000
_TYPES = ("JPEG", "PNG", "WEBP")


def read_smoke_spot(data: bytes) -> SpotReading:
    """The smoke number in a JPEG, PNG or WebP picture, or why it cannot be read.

    Places are in pixels of the upright picture, made small to at most `LONGEST_PX`. Raises Refusal for
    what is no picture, or breaks off: what is missing would pass for paper or spot.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError  # slow to load, and few read a spot

    if not bare_photo(data).is_whole:
        raise Refusal(message("spot.cut_short"), field="photo")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # its size is looked at here
            with Image.open(io.BytesIO(data), formats=_TYPES) as opened:
                if opened.width * opened.height > _MOST_PIXELS:
                    raise Refusal(message("web_error.not_a_photo"), field="photo")
                opened.draft("RGB", (LONGEST_PX, LONGEST_PX))
                upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (
        OSError,
        ValueError,
        SyntaxError,
        UnidentifiedImageError,
        Image.DecompressionBombError,
    ) as trouble:
        raise Refusal(message("web_error.not_a_photo"), field="photo") from trouble
    upright.thumbnail((LONGEST_PX, LONGEST_PX))
    return read_spot(np.asarray(upright))
