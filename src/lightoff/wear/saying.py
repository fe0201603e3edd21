"""Chances and round numbers as people say them."""

from __future__ import annotations

import math

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, Message, Value, message

_TENTHS_FROM = 0.095


def share(chance: Estimate) -> Message:
    """A chance as "about 8 in 10 (6 to 9)"; in a hundred where one of the three is near nought or one."""
    three = (chance.value, chance.low, chance.high)
    in_tenths = min(three) >= _TENTHS_FROM and max(three) <= 1.0 - _TENTHS_FROM
    of = 10 if in_tenths else 100
    # Never rounded up to certainty, nor down to none.
    count, low, high = (
        min(max(round(of * each), 0 if each == 0.0 else 1), of - (each < 1.0)) for each in three
    )
    if three[2] < 1.0 / of:
        return message("wear.share_under", of=of)
    if three[1] > 1.0 - 1.0 / of:
        return message("wear.share_over", count=of - 1, of=of)
    if low == high:
        return message("wear.share_alone", count=count, of=of)
    return message("wear.share", count=count, of=of, low=low, high=high)


def plain_share(chance: float) -> Message:
    """A chance without its interval."""
    return share(Estimate.exact(chance))


def whole(number: float) -> Value:
    """A round number, two digits of it; beyond all bounds it is said so."""
    if not math.isfinite(number):
        return message("wear.no_bound")
    return Amount(value=number, dimension="count", significant=2)
