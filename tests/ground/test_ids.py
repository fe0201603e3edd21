"""The names of entries: RFC 9562, version 7."""

from datetime import UTC, datetime, timedelta, timezone
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id

_MOMENTS = st.datetimes(
    min_value=datetime(1970, 1, 1), max_value=datetime(9000, 1, 1), timezones=st.just(UTC)
)
_RANDOM = st.binary(min_size=RANDOM_BYTES, max_size=RANDOM_BYTES)


def test_the_worked_example_of_the_standard() -> None:
    """RFC 9562, appendix A.6: 22 February 2022, 2:22:22 PM GMT-05:00.

    unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0b01 followed by 0x8C4DC0C0C07398F.
    """
    now = datetime(2022, 2, 22, 14, 22, 22, tzinfo=timezone(timedelta(hours=-5)))
    randomness = (0xCC3 << 64 | 0b01 << 60 | 0x8C4DC0C0C07398F).to_bytes(10, "big")
    assert time_ordered_id(now, randomness) == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"


@given(_MOMENTS, _RANDOM)
def test_pythons_own_reader_sees_version_variant_and_time(now: datetime, randomness: bytes) -> None:
    made = UUID(time_ordered_id(now, randomness))
    assert made.version == 7
    assert made.variant == "specified in RFC 4122"
    milliseconds = (now - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)
    assert made.int >> 80 == milliseconds


@given(_MOMENTS, _RANDOM, _RANDOM)
def test_a_millisecond_later_sorts_later(now: datetime, first: bytes, second: bytes) -> None:
    later = now + timedelta(milliseconds=1)
    assert time_ordered_id(now, first) < time_ordered_id(later, second)


@given(_RANDOM, _RANDOM)
def test_all_but_six_random_bits_are_kept(first: bytes, second: bytes) -> None:
    now = datetime(2026, 3, 1, tzinfo=UTC)
    kept = ~(0xF << 76 | 0b11 << 62)
    differ = (int.from_bytes(first, "big") ^ int.from_bytes(second, "big")) & kept
    assert (time_ordered_id(now, first) != time_ordered_id(now, second)) == (differ != 0)


def test_what_cannot_be_named() -> None:
    with pytest.raises(ValueError, match="the time of an id needs its time zone"):
        time_ordered_id(datetime(2026, 3, 1), bytes(10))
    with pytest.raises(ValueError, match="an id needs 10 random bytes, not 9"):
        time_ordered_id(datetime(2026, 3, 1, tzinfo=UTC), bytes(9))
    with pytest.raises(ValueError, match="it must lie from 1970 to 10889"):
        time_ordered_id(datetime(1969, 12, 31, tzinfo=UTC), bytes(10))
