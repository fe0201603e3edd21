"""Tables of the part types' file into frozen nouns, checked against the catalogue and the faults."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from lightoff.ground.units import to_si
from lightoff.shelf.faults import OPENS, WORK
from lightoff.shelf.files import Table
from lightoff.terms.shelf import PartType
from lightoff.wear.lives import Clock

CLOCKS = tuple(each.value for each in Clock)
EDITED = (
    "price",
    "life",
    "life_spread",
    "shape",
    "shape_spread",
    "minutes",
    "minutes_when_open",
    "annual",
    "carried",
    "renew_every",
    "mass_kg",
    "volume_l",
    "number",
)
"""What a shop may change of a part type that ships. Which clock wears it is none of these: lives that were
counted on one clock mean nothing on another."""
# Beyond these a number is a slip of the pen. The spread lies above that of heater types, which is a part of
# it. Basis: common practice, no source.
_LIFE, _LIFE_SPREAD, _SHAPE, _SHAPE_SPREAD = (1.0, 1e6), (0.4, 3.0), (0.3, 8.0), (0.05, 2.0)
_MINUTES, _PRICE = (0.0, 3000.0), (0.0, 1e6)
_MASS_KG, _VOLUME_L = (0.0, 50.0), (0.0, 200.0)


def part_type_of(
    table: Table, *, entries: Collection[str], faults: Collection[str], known: Mapping[str, PartType]
) -> PartType:
    """One part type; `entries`, `faults` and `known` are what it may name.

    Raises: Refusal that names file, row, field and cure.
    """
    table.known(
        (
            *EDITED,
            "key",
            "clock",
            "renewed_by",
            "opens",
            "source",
            "stamped",
            "kept",
            "supersedes",
            "readings",
            "faults",
            "label",
        )
    )
    minutes = table.within("minutes", *_MINUTES)
    clock = table.chosen("clock", CLOCKS)
    supersedes = table.each_of("supersedes", known)
    for old in supersedes:
        if known[old].clock != clock:
            raise table.refuse("other_clock", "supersedes", value=old, clock=known[old].clock)
    return PartType(
        key=table.text("key"),
        clock=clock,
        annual=table.truth("annual"),
        renewed_by=table.chosen("renewed_by", ("", *WORK), ""),
        opens=table.chosen("opens", OPENS, ""),
        minutes=minutes,
        minutes_when_open=table.within("minutes_when_open", 0.0, minutes, minutes),
        price=_price(table),
        life=table.within("life", *_LIFE),
        life_spread=table.within("life_spread", *_LIFE_SPREAD),
        shape=table.within("shape", *_SHAPE),
        shape_spread=table.within("shape_spread", *_SHAPE_SPREAD),
        source=table.text("source"),
        stamped=table.truth("stamped"),
        carried=table.truth("carried"),
        kept=table.truth("kept"),
        supersedes=supersedes,
        readings=table.each_of("readings", entries),
        faults=table.each_of("faults", faults),
        renew_every=_interval(table),
        mass_kg=table.within("mass_kg", *_MASS_KG, 0.0),
        volume_m3=to_si(table.within("volume_l", *_VOLUME_L, 0.0), "L"),
        number=table.text("number", ""),
        label=table.text("label", ""),
    )


def edited(table: Table, part: PartType) -> PartType:
    """The part type with what the shop says of price, life and minutes. Raises Refusal."""
    table.known(("key", "source", *EDITED))
    if not set(EDITED) & set(table.values):
        raise table.refuse("nothing_edited", "key", possible=", ".join(EDITED))
    bounds = {
        "life": _LIFE,
        "life_spread": _LIFE_SPREAD,
        "shape": _SHAPE,
        "shape_spread": _SHAPE_SPREAD,
        "minutes": _MINUTES,
        "minutes_when_open": _MINUTES,
        "mass_kg": _MASS_KG,
    }
    said: dict[str, Any] = {name: table.within(name, *bounds[name], getattr(part, name)) for name in bounds}
    said |= {name: table.truth(name) for name in ("annual", "carried") if name in table.values}
    if "volume_l" in table.values:
        said["volume_m3"] = to_si(table.within("volume_l", *_VOLUME_L), "L")
    changed = replace(
        part,
        **said,
        price=_price(table) if "price" in table.values else part.price,
        renew_every=_interval(table) if "renew_every" in table.values else part.renew_every,
        number=table.text("number", part.number),
        source=table.text("source", "the shop's own") if _speaks_of_life(table) else part.source,
    )
    table.bounded("minutes_when_open", changed.minutes_when_open, 0.0, changed.minutes)
    return changed


def _speaks_of_life(table: Table) -> bool:
    return any(name in table.values for name in ("life", "life_spread", "shape", "shape_spread"))


def _interval(table: Table) -> float | None:
    every = table.number_or_none("renew_every")
    if every is None:
        return None
    table.bounded("renew_every", float(every), *_LIFE)
    return float(every)


def _price(table: Table) -> Decimal | None:
    price = table.number_or_none("price")
    if price is not None:
        table.bounded("price", float(price), *_PRICE)
    return price
