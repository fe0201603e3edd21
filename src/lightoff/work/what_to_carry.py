"""What to carry: for the visits of a day, and what the shop will need till spring."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime

import numpy as np

from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.terms.shelf import PartType
from lightoff.wear.demand import Demand, demand_of
from lightoff.wear.lives import Clock
from lightoff.wear.spares import Aim, Call, DayChance, Item, Kit, Limits, best_kit, day_chance
from lightoff.work.advise_parts import lasting, part_name
from lightoff.work.fleet import Fleet, fleet
from lightoff.work.move_part import stock_of
from lightoff.work.order_of_visit import due_parts
from lightoff.work.part_lines import newest_of
from lightoff.work.parts_suspected import Suspected, parts_suspected
from lightoff.work.pieces import Piece, Where
from lightoff.work.reckoning import Price, Reckoning, reckoning
from lightoff.work.running import MONTH
from lightoff.work.units import Unit
from lightoff.work.who_needs_visit import service_due
from lightoff.work.workshop import Workshop

VAN = "van"
LEAST_NEED = 0.001
"""A chance below this to need a part is none. Common practice, no source."""
_UNLISTED = "@carry.unlisted"  # what no kit holds
_NEARLY_SURE = 0.999  # no more pieces are thought of than are enough so often


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """One part type: how many the best kit holds, how many lie on the van and elsewhere, and its price."""

    kind: PartType
    wanted: int
    on_van: int
    elsewhere: int
    expected: float
    price: Price

    @property
    def to_load(self) -> int:
        """Pieces to take on from the other bins."""
        return min(max(self.wanted - self.on_van, 0), self.elsewhere)

    @property
    def to_buy(self) -> int:
        """Pieces that the shop does not have."""
        return max(self.wanted - self.on_van - self.elsewhere, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tomorrow:
    """The visits chosen, in their order, with the chance to finish each as the van is and with the kit.

    The kit is for the first `served_count` of them: so many find what they need for sure within the limits.
    """

    calls: tuple[Unit, ...]
    served_count: int
    needs: tuple[Mapping[str, float], ...]  # by part type
    why: tuple[Message, ...]  # of each visit: its complaint, or wear alone
    as_is: DayChance
    with_kit: DayChance
    kit: Kit
    parts: tuple[Carried, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """What will be asked for till spring, what there is, and the best stock within the limits.

    `enough` is the chance that what there is will be enough, by part type.
    """

    months: float
    kit: Kit
    parts: tuple[Carried, ...]
    enough: Mapping[str, float]
    services: int


def for_the_day(
    workshop: Workshop, heater_ids: Sequence[str], now: datetime, *, limits: Limits, place: str = VAN
) -> Tomorrow:
    """What to carry for visits to these heaters, in this order. Raises NotFound for an unknown heater."""
    every, reckoned = fleet(workshop, now), reckoning(workshop)
    for each in heater_ids:
        workshop.book.heater(each)
    calls = tuple(every.units[each] for each in heater_ids)
    suspected = [parts_suspected(workshop, unit) for unit in calls]
    needs = tuple(needs_of(every, unit, now, each) for unit, each in zip(calls, suspected, strict=True))
    kinds = {kind for each in needs for kind in each}
    served = _served_count(every, needs, reckoned, limits)
    demands = {kind: demand_of([each.get(kind, 0.0) for each in needs[:served]]) for kind in kinds}
    kit = best_kit(_items(every, demands, reckoned), limits, aim=Aim.FINISH)
    at_hand = _stock(workshop, place)
    named = {kind: _part(every, kind) for kind in kinds}
    asked = [
        Call(
            name=_name(workshop, unit),
            needs={named[kind]: chance for kind, chance in each.items()}
            | ({_UNLISTED: told.unlisted(every.shelf.part_types)} if told else {}),
        )
        for unit, each, told in zip(calls, needs, suspected, strict=True)
    ]
    carried = _carried(every, demands, kit, at_hand, reckoned)
    return Tomorrow(
        calls=calls,
        served_count=served,
        needs=needs,
        why=tuple(_why(each) for each in suspected),
        as_is=day_chance(asked, {named[kind]: max(at_hand[kind][0], 0) for kind in kinds if kind in at_hand}),
        with_kit=day_chance(
            asked, {named[each.kind.key]: max(each.wanted, each.on_van, 0) for each in carried}
        ),
        kit=kit,
        parts=carried,
    )


def for_the_season(workshop: Workshop, now: datetime, *, limits: Limits, place: str = VAN) -> Season:
    """What the shop will need till spring: services that fall due, and parts that may fail before."""
    every, reckoned = fleet(workshop, now), reckoning(workshop)
    months = reckoned.months_to_spring(now)
    known = (now.date(), reckoned.planning, tuple(reckoned.prices.items()))
    demands, services = every.remembered(("season", *known), lambda: season_demands(every, reckoned, now))
    kit = every.remembered(
        ("season kit", limits, *known),
        lambda: best_kit(_items(every, demands, reckoned), limits, aim=Aim.SHORTAGES),
    )
    at_hand = _stock(workshop, place)
    return Season(
        months=months,
        kit=kit,
        parts=_carried(every, demands, kit, at_hand, reckoned),
        enough={kind: demand.met(max(sum(at_hand.get(kind, (0, 0))), 0)) for kind, demand in demands.items()},
        services=services,
    )


def needs_of(
    every: Fleet, unit: Unit, now: datetime, suspected: Suspected | None = None
) -> Mapping[str, float]:
    """Chance that a complete service of a heater needs one of each part type, from the van.

    Annual parts that are due are needed for sure. Where the visit has a complaint or answers of a search for
    its fault, a part that the suspects name is needed as likely as they are, moved by how far the piece's age
    makes it likelier to fail than any such piece at any time; else, and for parts that no fault names,
    as likely as it has failed since somebody last saw it at work. A spare that the vehicle carries is used
    first.
    """
    needs = dict.fromkeys(due_parts(unit, every.shelf, now), 1.0)
    spares, kinds = _spares(unit), every.shelf.part_types
    worn, moved = dict[str, float](), dict[str, float]()
    for piece in unit.fitted:
        kind = kinds.get(piece.part.kind)
        if kind is not None:
            worn[kind.key] = _failed_since(every, unit, piece, kind)
            moved[kind.key] = _moved(every, unit, piece, kind, worn[kind.key])
    named: Mapping[str, float] = {} if suspected is None else suspected.needs(moved)
    if suspected is not None:
        told = {part for fault in every.shelf.faults.values() for part in (fault.part,) if part in kinds}
        worn = {key: chance for key, chance in worn.items() if key not in told}
    for key, chance in (*worn.items(), *((key, chance) for key, chance in named.items() if key in kinds)):
        newest = newest_of(key, kinds)
        if newest not in needs and key not in spares and newest not in spares and chance >= LEAST_NEED:
            needs[newest] = chance
    return needs


def season_demands(every: Fleet, reckoned: Reckoning, now: datetime) -> tuple[Mapping[str, Demand], int]:
    """What may be asked for till spring by part type, and how many services fall due.

    Each piece fails once at most, and each heater is serviced once at most.
    """
    spring = now + reckoned.months_to_spring(now) * MONTH
    served = {unit.heater.id for unit in every.units.values() if service_due(unit, reckoned, now) <= spring}
    chances: dict[str, list[float]] = {}
    for kind in every.shelf.part_types.values():
        if kind.annual:
            newest = newest_of(kind.key, every.shelf.part_types)
            chances.setdefault(newest, [1.0] * len(served))
    spares = {unit.heater.id: _spares(unit) for unit in every.units.values()}
    for each in lasting(every, reckoned, now):
        kind = every.shelf.part_types[each.piece.part.kind]
        if kind.key not in spares[each.unit.heater.id] and not (
            kind.annual and each.unit.heater.id in served
        ):
            chances.setdefault(kind.key, []).append(min(max(1.0 - each.chance, 0.0), 1.0))
    return {kind: demand_of(each) for kind, each in sorted(chances.items())}, len(served)


def _served_count(
    every: Fleet, needs: Sequence[Mapping[str, float]], reckoned: Reckoning, limits: Limits
) -> int:
    """How many visits, in their order, find the parts that they need for sure within the limits."""
    price = mass_kg = volume_m3 = 0.0
    for at, each in enumerate(needs):
        for kind in (every.shelf.part_types[key] for key, chance in each.items() if chance >= 1.0):
            price += reckoned.prices[kind.key].amount
            mass_kg, volume_m3 = mass_kg + kind.mass_kg, volume_m3 + kind.volume_m3
        if price > limits.price or mass_kg > limits.mass_kg or volume_m3 > limits.volume_m3:
            return at
    return len(needs)


def _spares(unit: Unit) -> set[str]:
    """Part types of which the vehicle carries a spare."""
    return {each.part.kind for each in unit.pieces if each.where is Where.SPARE}


def _failed_since(every: Fleet, unit: Unit, piece: Piece, kind: PartType) -> float:
    """Chance that a piece has failed since somebody last saw it at work."""
    life = piece.life(Clock(kind.clock), heater_type=unit.heater.sheet)
    age = piece.age_on(Clock(kind.clock))
    if life is None or age is None or age <= life.left:
        return 0.0
    lasted = every.chances(kind, unit.heater.sheet).to_last(
        ages=np.array([life.left]), expected=np.array([age - life.left]), spread=0.0
    )
    return float(min(max(1.0 - lasted[0], 0.0), 1.0))


def _moved(every: Fleet, unit: Unit, piece: Piece, kind: PartType, chance: float) -> float:
    """How much likelier its age makes a piece's failure than that of any such piece at any time, in odds.

    One where nobody can say how old it is, or where nothing has been asked of it since it was seen at work.
    """
    life = piece.life(Clock(kind.clock), heater_type=unit.heater.sheet)
    age = piece.age_on(Clock(kind.clock))
    if life is None or age is None or age <= life.left:
        return 1.0
    usual = every.possible(kind, unit.heater.sheet).life().value
    by_chance = -math.expm1(-(age - life.left) / usual)
    return (chance / max(1.0 - chance, 1e-9)) * (1.0 - by_chance) / by_chance


def _why(suspected: Suspected | None) -> Message:
    if suspected is None:
        return message("carry.by_wear")
    if suspected.says:
        return message("carry.by_complaint", complaint=f"@state.{suspected.says.replace(' ', '_')}")
    if suspected.complaint:
        return message("carry.by_words", complaint=suspected.complaint[:80])
    return message("carry.by_answers")


def _items(every: Fleet, demands: Mapping[str, Demand], reckoned: Reckoning) -> list[Item]:
    found = []
    for key in sorted(demands):
        kind, demand = every.shelf.part_types[key], demands[key]
        most = int(np.searchsorted(np.cumsum(demand.chances), _NEARLY_SURE))
        found.append(
            Item(
                part=part_name(kind),
                price=reckoned.prices[key].amount,
                demand=demand,
                mass_kg=kind.mass_kg,
                volume_m3=kind.volume_m3,
                most=most,
            )
        )
    return found


def _carried(
    every: Fleet,
    demands: Mapping[str, Demand],
    kit: Kit,
    at_hand: Mapping[str, tuple[int, int]],
    reckoned: Reckoning,
) -> tuple[Carried, ...]:
    """Every part type that may be asked for, those first of which most are wanted."""
    found = []
    for key, demand in demands.items():
        kind = every.shelf.part_types[key]
        on_van, elsewhere = at_hand.get(key, (0, 0))
        found.append(
            Carried(
                kind=kind,
                wanted=kit.counts[part_name(kind)],
                on_van=on_van,
                elsewhere=elsewhere,
                expected=demand.mean,
                price=reckoned.prices[key],
            )
        )
    return tuple(sorted(found, key=lambda each: (-each.wanted, -each.expected, each.kind.key)))


def _stock(workshop: Workshop, place: str) -> Mapping[str, tuple[int, int]]:
    """Pieces of each part type at this place and in the other bins."""
    bins, kinds = workshop.book.bins(), workshop.shelf.part_types
    left = stock_of(bins, workshop.book.taken())
    found: dict[str, tuple[int, int]] = {}
    for each in bins:
        kind = newest_of(each.kind, kinds)
        here, there = found.get(kind, (0, 0))
        count = max(left[each.id], 0)
        found[kind] = (here + count, there) if each.place == place else (here, there + count)
    return found


def _part(every: Fleet, kind: str) -> str:
    return part_name(every.shelf.part_types[kind])


def _name(workshop: Workshop, unit: Unit) -> str:
    return f"{workshop.book.vehicle(unit.heater.vehicle).name}, {unit.heater.name}"
