"""A photograph no larger than it is shown: upright, without what its camera wrote into it."""

from __future__ import annotations

import io
import warnings

from lightoff.ground.values import dataclass
from lightoff.work.workshop import Workshop

LONGEST_PX = 720  # on a page: what a thumb scrolls past need not be forty megabytes
QUALITY = 82
MOST_PIXELS = 80_000_000
# A JPEG is opened at an eighth of its size, so that a large one of a telephone costs little.
MOST_JPEG_PIXELS = 250_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Small:
    """A JPEG, and how many pixels it has."""

    data: bytes
    width: int
    height: int


def small(data: bytes, longest_px: int) -> Small | None:
    """The picture with at most so many pixels a side; None for what cannot be read or is too large to be."""
    from PIL import Image, ImageOps, UnidentifiedImageError  # slow to load, and few pages show a photograph

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # its size is looked at here
            with Image.open(io.BytesIO(data)) as opened:
                most = MOST_JPEG_PIXELS if opened.format == "JPEG" else MOST_PIXELS
                if opened.width * opened.height > most:
                    return None
                opened.draft("RGB", (longest_px * 2, longest_px * 2))
                upright = ImageOps.exif_transpose(opened).convert("RGB")
                upright.thumbnail((longest_px, longest_px))
    except (OSError, ValueError, SyntaxError, UnidentifiedImageError, Image.DecompressionBombError):
        return None
    written = io.BytesIO()
    upright.save(written, "JPEG", quality=QUALITY)
    return Small(data=written.getvalue(), width=upright.width, height=upright.height)


def small_photo(workshop: Workshop, sha256: str) -> bytes:
    """A picture of the book as a page shows it; itself where it cannot be drawn smaller. Raises NotFound.

    Made once, and kept with what else was worked out.
    """
    key = f"small photo:{LONGEST_PX}:{sha256}"
    known = workshop.derived.find([key]).get(key)
    if isinstance(known, bytes):
        return known
    whole: bytes = workshop.book.photo_bytes(sha256)
    drawn = small(whole, LONGEST_PX)
    if drawn is None or len(drawn.data) >= len(whole):
        return whole
    workshop.derived.keep({key: drawn.data})
    return drawn.data
