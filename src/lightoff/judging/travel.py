"""What this burn becomes where the vehicle goes next: it informs, and can never prove a burn there."""

from __future__ import annotations

from lightoff.ground.message import Amount, Message, message
from lightoff.ground.values import dataclass
from lightoff.judging.burn import Burn
from lightoff.judging.view import View
from lightoff.physics import air, altitude
from lightoff.terms.people import VehicleKind
from lightoff.terms.visit import Place

# Between these a small pressure-air burner neither smokes nor blows its flame cold.
# Basis: common practice, no source; the maker's window rules where its sheet gives one.
LOWEST_AIR_RATIO = 1.15
HIGHEST_AIR_RATIO = 1.8
# Heights at which a card tells how the setting fares when no destination is named.
HEIGHTS_M = (1500.0, 2500.0)
CLIMB = frozenset((VehicleKind.COACH, VehicleKind.WORKSHOP))
"""What may go to the mountains without anybody naming a place; a boat and a cabin do not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Travel:
    """What is told of the way: sentences, and those that deserve a notice."""

    sentences: tuple[Message, ...] = ()
    notices: tuple[Message, ...] = ()


def travel(view: View, burned: tuple[Burn, ...]) -> Travel:
    """How lambda moves to the destination, and what to set here; to the mountains if none is named.

    Nothing is told of mountains to the owner of a boat or a cabin.
    """
    burn = next((each for each in reversed(burned) if each.gas is not None), None)
    if burn is None or burn.gas is None:
        return Travel()
    stands = view.case.visit.place
    if stands.altitude_m is None:
        return Travel(sentences=(message("judging.travel_no_altitude"),))
    here = _place(stands, burn)
    ratio = burn.gas.air_ratio.estimate()
    destination = view.case.visit.destination
    digits: int | None = None
    if destination is not None and destination.altitude_m is not None:
        heights: tuple[float, ...] = (destination.altitude_m,)
        goals: tuple[altitude.Place, ...] = (_place(destination, None),)
    elif view.case.vehicle.kind not in CLIMB:
        return Travel()
    else:
        digits = 2
        heights = tuple(height for height in HEIGHTS_M if height > stands.altitude_m + 300.0)
        goals = tuple(altitude.Place.at_altitude(height) for height in heights)
    sentences, notices = [], []
    for height, goal in zip(heights, goals, strict=True):
        there = altitude.air_ratio_there(ratio, here=here, there=goal, feed=view.sheet.feed)
        said = message(
            "judging.travel_thin" if there.low < LOWEST_AIR_RATIO else "judging.travel",
            altitude=Amount(value=height, dimension="length", significant=digits),
            air=Amount(value=float(goal.air_temperature_k), dimension="temperature"),
            low=Amount(value=there.low, dimension="ratio"),
            high=Amount(value=there.high, dimension="ratio"),
        )
        sentences.append(said)
        if destination is not None and there.low < LOWEST_AIR_RATIO:
            notices.append(said)
    if goals:
        sentences.append(_window(view, here, goals))
    return Travel(sentences=tuple(sentences), notices=tuple(notices))


def _window(view: View, here: altitude.Place, goals: tuple[altitude.Place, ...]) -> Message:
    window = altitude.setting_window(
        here=here,
        places=(here, *goals),
        lowest_air_ratio=LOWEST_AIR_RATIO,
        highest_air_ratio=HIGHEST_AIR_RATIO,
        feed=view.sheet.feed,
    )
    if not window.exists:
        return message("judging.travel_no_window")
    return message(
        "judging.travel_window",
        low=Amount(value=window.low, dimension="ratio"),
        high=Amount(value=window.high, dimension="ratio"),
    )


def _place(place: Place, burn: Burn | None) -> altitude.Place:
    """A place as the physics sees it; the intake reading knows its air better than the forecast."""
    height = place.altitude_m or 0.0
    temperature = place.air_temperature_k
    if burn is not None and burn.intake is not None:
        temperature = burn.intake.value
    humidity = place.relative_humidity_fraction
    return altitude.Place.at_altitude(
        height,
        air_temperature_k=temperature if temperature is not None else air.standard_temperature_k(height),
        relative_humidity_fraction=humidity if humidity is not None else 0.0,
    )
