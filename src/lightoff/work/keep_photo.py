"""Keep a photo in the book, without where and with what it was taken."""

from __future__ import annotations

from lightoff.work.bare_photo import bare_photo
from lightoff.work.workshop import Workshop


def keep_photo(workshop: Workshop, data: bytes, media_type: str) -> str:
    """The SHA-256 under which the bare picture lies in the book. Raises Refusal for what is no picture."""
    return workshop.book.keep_photo(bare_photo(data, media_type), media_type)
