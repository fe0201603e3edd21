"""What an earlier visit left, by the set that counted there: as its own card tells it."""

from __future__ import annotations

from collections.abc import Iterable

from lightoff.ground import units
from lightoff.ground.errors import Refusal
from lightoff.judging.believed import FLUE
from lightoff.physics.air import DRY_AIR
from lightoff.physics.burn import co_air_free_fraction
from lightoff.terms.visit import Reading, Stage, Visit

_Spot = tuple[str | None, int]  # test and set
_ONCE = ("stack_gas_temperature", "combustion_air_temperature")  # read once, they serve all sets


def left_then(visit: Visit, key: str, *, basis: str | None = None, highest: bool = False) -> Reading | None:
    """The reading of `key` that counted as the visit was left, or None.

    Of several sets it is of the one with the most carbon monoxide, air-free, as in the burn of a visit that
    is judged; what is no part of a set is the one read last. With `highest` it is the highest of them.
    """
    mine = [each for each in _left(visit, key) if basis is None or each.basis == basis]
    spots = _spots(visit) if key in (*FLUE, *_ONCE) else []
    if not spots:
        return _last(mine)
    each = [_of_set(mine, spot, near=key in _ONCE) for spot in spots]
    if highest:
        return max((one for one in each if one is not None), key=_si, default=None)
    worst = max(range(len(spots)), key=lambda index: (_monoxide(visit, spots[index]), index))
    return each[worst]


def _left(visit: Visit, key: str) -> list[Reading]:
    """Every number of `key` as left that can be compared."""
    return [
        each
        for each in visit.readings
        if each.key == key
        and each.heater == visit.heater
        and each.stage is Stage.AS_LEFT
        and not each.at_top
        and _is_number(each)
    ]


def _is_number(reading: Reading) -> bool:
    if reading.value is None or not reading.value.is_finite():
        return False
    try:
        units.to_si(reading.value, reading.unit)
    except Refusal:
        return False
    return True


def _si(reading: Reading) -> float:
    return units.to_si(reading.value or 0, reading.unit)


def _spots(visit: Visit) -> list[_Spot]:
    """The sets of the test in which flue gas was read last, in their order."""
    gases = [each for key in FLUE for each in _left(visit, key)]
    last = _last(gases)
    if last is None:
        return []
    return sorted({_spot(each) for each in gases if each.test == last.test}, key=lambda spot: spot[1])


def _spot(reading: Reading) -> _Spot:
    return reading.test, reading.set_number or 0


def _of_set(mine: Iterable[Reading], spot: _Spot, *, near: bool) -> Reading | None:
    own = _last(each for each in mine if _spot(each) == spot)
    return _last(mine) if own is None and near else own


def _monoxide(visit: Visit, spot: _Spot) -> float:
    """Air-free where oxygen was read beside it, as read where not, below nought where there is none."""
    co, o2 = (_of_set(_left(visit, key), spot, near=False) for key in ("flue_co", "flue_o2"))
    if co is None:
        return -1.0
    if o2 is None or _si(o2) >= DRY_AIR["O2"]:
        return _si(co)
    return float(co_air_free_fraction(co_fraction=_si(co), o2_fraction=_si(o2), extrapolate=True))


def _last(readings: Iterable[Reading]) -> Reading | None:
    def when(each: Reading) -> tuple[float, int, str]:
        return (each.taken_at.timestamp() if each.taken_at else 0.0, each.set_number or 0, each.id)

    return max(readings, key=when, default=None)
