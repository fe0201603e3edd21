"""What to carry: the chance to finish each visit without a second trip, and the best kit within limits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from enum import StrEnum

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.wear.demand import Demand, demand_of
from lightoff.wear.packing import Packing
from lightoff.wear.saying import plain_share, whole

_MOST_OF_ONE = 20
_NO_CHANCE = 1e-12
_SHARED_OUT = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """A visit to come, with the chance that it needs one of each part; parts not named are not needed."""

    name: str
    needs: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class CallChance:
    """Chance to finish one visit with what is left on the van, and the part most likely to be missing."""

    name: str
    chance: float
    missing: str | None
    missing_chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DayChance:
    """The visits of a day in their order, and the chance that none needs a second trip."""

    calls: tuple[CallChance, ...]
    every: float

    def says(self) -> tuple[Message, ...]:
        """The chances in sentences; part names are keys of `texts/` or words."""
        told = [message("wear.day", share=plain_share(self.every), count=len(self.calls))]
        for each in self.calls:
            if each.missing is not None:
                told.append(
                    message(
                        "wear.call_missing",
                        visit=each.name,
                        share=plain_share(each.chance),
                        part=each.missing,
                        missing=plain_share(each.missing_chance),
                    )
                )
            else:
                told.append(message("wear.call", visit=each.name, share=plain_share(each.chance)))
        return tuple(told)


def day_chance(calls: Sequence[Call], kit: Mapping[str, int]) -> DayChance:
    """The chance to finish each visit without a second trip, in the order of the day.

    A part used at one visit is gone for those after it. Parts are needed independently of each other: two
    that fail together are best given as one kit.
    Parameters: `kit` pieces carried by part, none where a part is not named.
    Raises: Refusal for a chance outside of 0 to 1, or a stock below nought.
    Basis: common practice, no source (products and sums of chances).
    """
    _check_kit(kit)
    told = []
    for at, call in enumerate(calls):
        gone = {
            part: need * (1.0 - _before(calls[:at], part).met(kit.get(part, 0) - 1))
            for part, need in call.needs.items()
        }
        missing = max(gone, key=lambda each: (gone[each], each), default=None)
        if missing is not None and gone[missing] <= 0.0:
            missing = None
        told.append(
            CallChance(
                name=call.name,
                chance=math.prod(1.0 - each for each in gone.values()),
                missing=missing,
                missing_chance=0.0 if missing is None else gone[missing],
            )
        )
    parts = {part for call in calls for part in call.needs}
    return DayChance(
        calls=tuple(told),
        every=math.prod(_before(calls, part).met(kit.get(part, 0)) for part in sorted(parts)),
    )


class Aim(StrEnum):
    """What a kit is to be best at."""

    FINISH = "finish"  # the chance that nothing is short: tomorrow's visits
    SHORTAGES = "shortages"  # the fewest pieces short on average: a season


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A part that may be carried: price, mass, volume, what may be asked for, and the most that fit."""

    part: str
    price: float
    demand: Demand
    mass_kg: float = 0.0
    volume_m3: float = 0.0
    most: int = _MOST_OF_ONE


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a kit may cost, weigh and fill; infinite where it does not matter."""

    price: float = math.inf
    mass_kg: float = math.inf
    volume_m3: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """What to carry. `next_part` would help most if the limits were wider, None where nothing would."""

    counts: Mapping[str, int]
    price: float
    mass_kg: float
    volume_m3: float
    enough_chance: float
    shortage: float
    next_part: str | None

    def says(self) -> tuple[Message, ...]:
        """The kit in sentences."""
        lines = tuple(
            message("wear.kit_line", count=count, part=part) for part, count in self.counts.items() if count
        )
        told = [message("wear.kit", parts=lines)] if lines else [message("wear.kit_empty")]
        told.append(
            message("wear.kit_enough", share=plain_share(self.enough_chance), price=whole(self.price))
        )
        if self.next_part is not None:
            told.append(message("wear.kit_next", part=self.next_part))
        return tuple(told)


def best_kit(items: Sequence[Item], limits: Limits, *, aim: Aim = Aim.FINISH) -> Kit:
    """The kit that does most within limits of money, weight and space.

    Piece by piece, what helps most for what it takes of the limits, then swaps (`lightoff.wear.packing`):
    the best there is under one limit nearly always, and near it under several.
    Parameters: each part once; `aim` the chance that nothing is short, or the fewest pieces short.
    Raises: Refusal for a part named twice, or a price, mass or volume below nought.
    Basis: sherbrooke_2004 (marginal analysis).
    """
    _check_items(items)
    most = max((item.most for item in items), default=0)
    packing = Packing(
        worth=np.array([_worths(item, aim, most) for item in items]).reshape(len(items), most + 1),
        takes=np.array([(item.price, item.mass_kg, item.volume_m3) for item in items]).reshape(-1, 3),
        limits=np.array([limits.price, limits.mass_kg, limits.volume_m3]),
    )
    counts = packing.best()
    price, mass_kg, volume_m3 = (float(each) for each in counts @ packing.takes)
    following = packing.following(counts)
    return Kit(
        counts={item.part: int(n) for item, n in zip(items, counts, strict=True)},
        price=price,
        mass_kg=mass_kg,
        volume_m3=volume_m3,
        enough_chance=math.prod(item.demand.met(n) for item, n in zip(items, counts, strict=True)),
        shortage=sum(item.demand.shortage(n) for item, n in zip(items, counts, strict=True)),
        next_part=None if following is None else items[following].part,
    )


def _worths(item: Item, aim: Aim, most: int) -> list[float]:
    """Of 0, 1, 2 ... pieces: the logarithm of the chance that they are enough, or the pieces not short."""
    counts = [min(count, item.most) for count in range(most + 1)]
    if aim is Aim.SHORTAGES:
        every = item.demand.shortages()
        short = [float(every[min(count, every.size - 1)]) for count in counts]
        # Where two ways leave as much short, the one that shares it out.
        return [-each * (1.0 + _SHARED_OUT * each) for each in short]
    # Without the pieces that are asked for at any rate there is no chance at all: each of them comes first.
    met = np.cumsum(item.demand.chances)
    sure = int(np.argmax(met > _NO_CHANCE))
    return [
        math.log(met[min(max(count, sure), met.size - 1)]) + math.log(_NO_CHANCE) * max(sure - count, 0)
        for count in counts
    ]


def _before(calls: Sequence[Call], part: str) -> Demand:
    return demand_of([call.needs.get(part, 0.0) for call in calls])


def _check_kit(kit: Mapping[str, int]) -> None:
    if any(count < 0 for count in kit.values()):
        raise Refusal(message("wear.stock_not_possible"), field="kit")


def _check_items(items: Sequence[Item]) -> None:
    if len({item.part for item in items}) < len(items):
        raise Refusal(message("wear.part_twice"), field="items")
    for item in items:
        numbers = (item.price, item.mass_kg, item.volume_m3, item.most)
        if not all(math.isfinite(each) and each >= 0.0 for each in numbers):
            raise Refusal(message("wear.item_not_possible", part=item.part), field="items")
