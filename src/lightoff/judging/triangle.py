"""The combustion triangle (Ostwald) of the fuel, with this visit's burn and the unit's earlier ones."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lightoff.ground import units
from lightoff.judging.assessment import BurnPoint, Triangle
from lightoff.judging.believed import accuracy_of, class_width
from lightoff.judging.burn import Burn
from lightoff.judging.earlier import left_then
from lightoff.judging.view import View
from lightoff.physics import burn as chemistry
from lightoff.physics.fuel import Fuel, Stoichiometry
from lightoff.terms.visit import Reading, Stage, Visit

AIR_RATIOS = (1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.7, 2.0, 2.5)
CO_SHARES = (0.01, 0.02, 0.03, 0.04)
EARLIER_VISITS = 6


def triangle(view: View, burned: tuple[Burn, ...]) -> Triangle | None:
    """Every line computed for the fuel of this visit; None where nobody said what burned."""
    fuel = view.fuel
    if fuel is None:
        return None
    now = [point for each in burned if (point := _point_now(view, each, fuel)) is not None]
    return Triangle(
        fuel=fuel.key,
        co2_largest_fraction=fuel.stoichiometry.largest_dry_co2_fraction,
        o2_floor_fraction=float(view.rows.number("flue_o2_floor")),
        air_ratios=tuple(_on_line(fuel.stoichiometry, ratio) for ratio in AIR_RATIOS),
        co_lines=tuple((share, _co_line(fuel.stoichiometry, share)) for share in CO_SHARES),
        points=(*_earlier(view, fuel), *now),
        expected_o2=(view.sheet.o2_dry_low_fraction, view.sheet.o2_dry_high_fraction),
    )


@lru_cache(maxsize=256)
def _on_line(fuel: Stoichiometry, ratio: float) -> tuple[float, float, float]:
    gas = chemistry.products(fuel, air_ratio=ratio)
    shares = gas.dry_fractions()
    return ratio, float(shares["O2"]), float(shares["CO2"])


@lru_cache(maxsize=64)
def _co_line(fuel: Stoichiometry, co: float) -> tuple[tuple[float, float], ...]:
    """Where gas with this CO share lies, from no oxygen left over to plenty."""
    ratios = np.linspace(0.85, 2.2, 28)
    shares = chemistry.products(fuel, air_ratio=ratios, co_dry_fraction=co).dry_fractions()
    o2, co2 = np.asarray(shares["O2"]), np.asarray(shares["CO2"])
    keep = (o2 >= 0.0) & (co2 >= 0.0)
    return tuple(zip(o2[keep].tolist(), co2[keep].tolist(), strict=True))


def _point_now(view: View, burn: Burn, fuel: Fuel) -> BurnPoint | None:
    if burn.gas is None or burn.o2 is None or burn.o2.reading.taken_at is None:
        return None
    gas = burn.gas
    measured = burn.co2 is not None and burn.co2.reading.basis == "measured"
    o2_width = float(gas.o2_dry_fraction.half_width())
    co2 = burn.co2.value if burn.co2 and measured else float(gas.co2_dry_fraction.value)
    width = burn.co2.half_width if burn.co2 and measured else float(gas.co2_dry_fraction.half_width())
    return BurnPoint(
        visit=view.case.visit.id,
        at=burn.o2.reading.taken_at,
        stage=burn.stage,
        o2_fraction=float(gas.o2_dry_fraction.value),
        o2_half_width=o2_width,
        co2_fraction=co2,
        co2_half_width=width,
        co2_is_measured=measured,
        air_ratio=float(gas.air_ratio.value),
        now=True,
    )


def _earlier(view: View, fuel: Fuel) -> list[BurnPoint]:
    found = (_point_then(view, visit, fuel) for visit in view.case.history[-EARLIER_VISITS:])
    return [point for point in found if point is not None]


def _point_then(view: View, visit: Visit, fuel: Fuel) -> BurnPoint | None:
    left = left_then(visit, ())
    o2 = left.reading("flue_o2", basis="dry")
    if o2 is None or o2.value is None or o2.taken_at is None or visit.fuel not in ("", fuel.key):
        return None
    share = units.to_si(o2.value, o2.unit)
    if not 0.0 <= share < 0.2:
        return None
    ratio = float(chemistry.air_ratio_from_dry_o2(fuel.stoichiometry, o2_dry_fraction=share))
    co2 = left.reading("flue_co2", basis="measured")
    _, _, on_line = _on_line(fuel.stoichiometry, ratio)
    written = co2.value if co2 is not None else None
    return BurnPoint(
        visit=visit.id,
        at=o2.taken_at,
        stage=Stage.AS_LEFT,
        o2_fraction=share,
        o2_half_width=_width(view, o2),
        co2_fraction=units.to_si(written, co2.unit) if co2 and written is not None else on_line,
        co2_half_width=_width(view, co2) if co2 else 0.0,
        co2_is_measured=co2 is not None,
        air_ratio=ratio,
        now=False,
    )


def _width(view: View, reading: Reading) -> float:
    instrument = view.case.instruments.get(reading.instrument or "")
    accuracy = accuracy_of(instrument, reading.key, view.catalogue) if instrument else None
    if accuracy is None or reading.value is None:
        return 0.0
    return float(class_width(accuracy, reading.value, reading.unit))
