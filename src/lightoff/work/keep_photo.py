"""Keep a photo in the book, without where and with what it was taken."""

from __future__ import annotations

from lightoff.ground.errors import Doubtful
from lightoff.ground.message import message
from lightoff.work.bare_photo import bare_photo
from lightoff.work.small_photo import LONGEST_PX, small
from lightoff.work.workshop import Workshop


def keep_photo(workshop: Workshop, data: bytes, *, is_meant: bool = False) -> tuple[str, str]:
    """The SHA-256 under which the bare picture lies in the book, and its media type.

    Raises Refusal for what is no picture; and, unless `is_meant`, Doubtful for one whose file breaks off or
    that cannot be drawn: part of what it should show may be missing.
    """
    bare = bare_photo(data)
    if not is_meant and not (bare.is_whole and small(bare.data, LONGEST_PX)):
        raise Doubtful(message("web_error.photo_cut_short"), field="photo")
    return workshop.book.keep_photo(bare.data, bare.media_type), bare.media_type
