"""What a logger recorded of a heater while nobody was there, and what was found in it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from lightoff.ground.values import dataclass


class Channel(StrEnum):
    """What a column of a log holds, the best evidence of a burn first."""

    BURNING = "burning"  # the control's own word: 1 or 0
    SUPPLY_CURRENT = "supply current"
    STACK_TEMPERATURE = "stack temperature"
    COOLANT_TEMPERATURE = "coolant temperature"
    IGNITER_CURRENT = "igniter current"  # these two tell no burn, but what stands beside one
    SUPPLY_VOLTAGE = "supply voltage"


TELLS_BURNS = tuple(Channel)[:4]
"""Channels by which a burn is told, the best evidence first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One log of one heater: the span it covers, and how long and how often the heater burned in it.

    `logged_s` is what was recorded of the span, gaps left out; `burned_low_s` and `burned_high_s` are how
    sure the time of burning is (coverage 0.95), `starts_unsure` how many starts may be too many or missing.
    `sha256` names the file in the book, packed.
    """

    id: str
    heater: str
    began_at: datetime
    ended_at: datetime
    channel: Channel
    logged_s: Decimal
    burned_s: Decimal
    burned_low_s: Decimal
    burned_high_s: Decimal
    starts: int
    starts_unsure: int
    row_count: int
    bad_row_count: int
    file_name: str
    sha256: str
