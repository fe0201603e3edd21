"""How one person likes to read: kept in this browser's cookies, never in the book."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

from lightoff.ground.values import dataclass

APPEARANCES = ("auto", "sun", "dark")
UNITS = ("metric", "us")
COOKIE_SECONDS = 400 * 86_400


@dataclass(frozen=True, slots=True, kw_only=True)
class Preferences:
    """Units, appearance, gloves, the last heater that was open and the clock of the place.

    `keeps_location`: where a photograph of this browser was taken is kept beside it, and not thrown away.
    """

    units: str
    appearance: str
    gloves: bool
    keeps_location: bool
    every_field: bool
    last_heater: str
    zone: tzinfo

    @classmethod
    def of(cls, cookies: Mapping[str, str], *, shop_units: str) -> Preferences:
        """What the cookies say; anything unknown in them is passed over."""
        units = cookies.get("lightoff_units", "")
        appearance = cookies.get("lightoff_appearance", "")
        return cls(
            units=units if units in UNITS else (shop_units if shop_units in UNITS else "metric"),
            appearance=appearance if appearance in APPEARANCES else "auto",
            keeps_location=cookies.get("lightoff_location") == "yes",
            gloves=cookies.get("lightoff_gloves") == "yes",
            every_field=cookies.get("lightoff_every_field") == "yes",
            last_heater=cookies.get("lightoff_last", "")[:64],
            zone=_zone(cookies.get("lightoff_zone", "")),
        )


def _zone(name: str) -> tzinfo:
    """The named zone, else that of this computer."""
    cleaned = name.strip('"').replace("%2F", "/")
    if cleaned and len(cleaned) < 64:
        try:
            return ZoneInfo(cleaned)
        except (ValueError, OSError, KeyError):
            pass
    return datetime.now(tz=UTC).astimezone().tzinfo or UTC
