"""What a sheet leaves out, filled from its heat and its supply, and marked as estimated.

Straight lines through what burners of this size usually have: common practice, no source. They serve to
begin with; the maker's number replaces one as soon as somebody reads it off. Service intervals follow no such
line: what a maker asks for is on the plate or in the manual, or it is not said.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

_PER_HEAT: Mapping[str, tuple[str, str]] = {
    "fuel_flow_kg_h": ("0", "0.098"),
    "igniter_w": ("70", "4"),
    "coolant_volume_l": ("6", "1.25"),
}
"""Field: at no heat, and for each kilowatt."""
_CURRENTS_AT_12_V: Mapping[str, tuple[str, str]] = {
    "fan_current_a": ("0.6", "0.17"),
    "compressor_current_a": ("0.7", "0.24"),
    "pump_current_a": ("0.7", "0.05"),
}
_FIXED: Mapping[str, str] = {
    "light_off_low_s": "30",
    "light_off_high_s": "60",
    "pre_purge_s": "0",
    "after_run_s": "120",
    "thermostat_off_degc": "80",
    "high_limit_degc": "110",
    "o2_dry_low_percent": "4",
    "o2_dry_high_percent": "8",
    "atomising_pressure_kpa": "20",
}
_CUT_OUT_SHARE = Decimal("0.875")
_TWELVE = Decimal(12)


def usual(field: str, *, heat_kw: Decimal, supply_v: Decimal) -> Decimal | None:
    """What a heater of this heat and supply usually has there, in the field's unit; None for no such law."""
    if field in _PER_HEAT:
        start, slope = (Decimal(each) for each in _PER_HEAT[field])
        return _shown(start + slope * heat_kw)
    if field in _CURRENTS_AT_12_V:
        start, slope = (Decimal(each) for each in _CURRENTS_AT_12_V[field])
        return _shown((start + slope * heat_kw) * _TWELVE / supply_v)
    if field == "igniter_v":
        return supply_v
    if field == "low_voltage_cut_out_v":
        return _shown(_CUT_OUT_SHARE * supply_v)
    return Decimal(_FIXED[field]) if field in _FIXED else None


def _shown(value: Decimal) -> Decimal:
    """To three figures or so: an estimate pretends to no more."""
    return value.quantize(Decimal("0.01"))
