"""What an earlier visit left, by the set that counted there: as its own card tells it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import TypeAlias

from lightoff.ground import units
from lightoff.ground.errors import Refusal
from lightoff.ground.values import dataclass
from lightoff.judging.believed import FLUE
from lightoff.physics.air import DRY_AIR
from lightoff.physics.burn import co_air_free_fraction
from lightoff.terms.visit import Reading, Stage, Visit

_Spot: TypeAlias = tuple[str, int]  # test and set
_ONCE = ("stack_gas_temperature",)  # read once, it serves all sets


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """The numbers as left by key; `spots` are the sets of the test in which gas was read last.

    `counts` is the place of the set with the most carbon monoxide, air-free, as in the burn of a visit that
    is judged; of equals the later.
    """

    numbers: Mapping[str, Sequence[Reading]]
    spots: Sequence[_Spot]
    counts: int

    def reading(self, key: str, *, basis: str | None = None, highest: bool = False) -> Reading | None:
        """The reading of `key` that counted, or None; what is no part of a set is the one read last.

        With `highest` it is the highest of the sets.
        """
        mine = [each for each in self.numbers.get(key, ()) if basis is None or each.basis == basis]
        if not self.spots or key not in (*FLUE, *_ONCE):
            return _last(mine)
        each = [_of_set(mine, spot, near=key in _ONCE) for spot in self.spots]
        if highest:
            return max((one for one in each if one is not None), key=_si, default=None)
        return each[self.counts]


def left_then(visit: Visit, keys: Iterable[str]) -> Left:
    """What a visit left of these keys and of the flue gas."""
    wanted = {*FLUE, *keys}
    numbers = defaultdict(list)
    for each in visit.readings:
        mine = each.key in wanted and each.stage is Stage.AS_LEFT and each.heater == visit.heater
        if mine and not each.at_top and _is_number(each):
            numbers[each.key].append(each)
    gases = [each for key in FLUE for each in numbers.get(key, ())]
    last = _last(gases)
    if last is None:
        return Left(numbers=numbers, spots=(), counts=0)
    spots = sorted({_spot(each) for each in gases if each.test == last.test})
    monoxide = [_monoxide(numbers, spot) for spot in spots]
    counts = max(range(len(spots)), key=lambda index: (monoxide[index], index))
    return Left(numbers=numbers, spots=spots, counts=counts)


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


def _spot(reading: Reading) -> _Spot:
    return reading.test or "", reading.set_number or 0


def _of_set(mine: Sequence[Reading], spot: _Spot, *, near: bool) -> Reading | None:
    own = _last(each for each in mine if _spot(each) == spot)
    return _last(mine) if own is None and near else own


def _monoxide(numbers: Mapping[str, Sequence[Reading]], spot: _Spot) -> float:
    """Air-free where oxygen was read beside it, as read where not, below nought where there is none."""
    co, o2 = (_of_set(numbers.get(key, ()), spot, near=False) for key in ("flue_co", "flue_o2"))
    if co is None:
        return -1.0
    if o2 is None or _si(o2) >= DRY_AIR["O2"]:
        return _si(co)
    return float(co_air_free_fraction(co_fraction=_si(co), o2_fraction=_si(o2), extrapolate=True))


def _last(readings: Iterable[Reading]) -> Reading | None:
    def when(each: Reading) -> tuple[float, int, str]:
        return (each.taken_at.timestamp() if each.taken_at else 0.0, each.set_number or 0, each.id)

    return max(readings, key=when, default=None)
