"""Names for entries, made where the entry is made, that sort by the time of making."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

RANDOM_BYTES = 10
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_OVERWRITTEN = 0xF << 76 | 0b11 << 62
_VERSION_7_VARIANT_10 = 0x7 << 76 | 0b10 << 62
_MILLISECOND = timedelta(milliseconds=1)


def time_ordered_id(now: datetime, randomness: bytes) -> str:
    """A UUID of version 7 for this moment, as lower-case text.

    `now` is aware and not before 1970; `randomness` is ten fresh random bytes, of which version and
    variant overwrite six bits. Ids of one millisecond sort at random.

    Raises ValueError for a naive or too early time and for another count of bytes.
    Basis: RFC 9562, section 5.7 (layout) and appendix A.6 (the worked example that the test holds).
    """
    if now.tzinfo is None:
        raise ValueError("the time of an id needs its time zone")
    if len(randomness) != RANDOM_BYTES:
        raise ValueError(f"an id needs {RANDOM_BYTES} random bytes, not {len(randomness)}")
    milliseconds = (now - _EPOCH) // _MILLISECOND
    if not 0 <= milliseconds < 1 << 48:
        raise ValueError(f"an id cannot be made for {now.isoformat()}: it must lie from 1970 to 10889")
    bits = milliseconds << 80 | int.from_bytes(randomness, "big")
    return str(UUID(int=bits & ~_OVERWRITTEN | _VERSION_7_VARIANT_10))
