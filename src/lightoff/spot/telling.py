"""What a reading of a spot says, in the order in which it is read."""

from __future__ import annotations

from lightoff.ground.message import Amount, Message, message
from lightoff.spot.reading import Anchor, SpotReading, Tint


def said(reading: SpotReading) -> tuple[Message, ...]:
    """The number with its doubt, the tint, and that the eye decides; or the refusals."""
    if reading.number is None:
        return reading.refusals
    number = Amount(value=reading.number, dimension="smoke_number", half_width=reading.half_width)
    told = [
        message("spot.read_with_scale", number=number)
        if reading.anchor is Anchor.SCALE
        else message("spot.read", number=number)
    ]
    if reading.tint is Tint.YELLOW:
        told.append(message("spot.yellow"))
    elif reading.tint is Tint.OILY:
        told.append(message("spot.oily"))
    return (*told, message("spot.eye_decides"))
