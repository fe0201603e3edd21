"""Water with glycol against published properties.

Melinder's coefficients as CoolProp 8.0.0 evaluates them (INCOMP::MPG, INCOMP::MEG; seen as computed values),
and freeze points of the CRC Handbook of Chemistry and Physics, 102nd edition, 2021.
"""

from __future__ import annotations

import pytest

from lightoff.physics.coolant import glycol_fraction_of, heat_j_m3_k

MELINDER = "Melinder 2010 by CoolProp 8.0.0"
CRC = "CRC Handbook, 102nd edition, 2021, concentrative properties"
DENSITY_AND_HEAT = [
    ("propylene glycol, 50 %, 70 degC", 0.5, 1002.72, 3721.65),
    ("propylene glycol, 50 %, 20 degC", 0.5, 1039.06, 3530.19),
    ("propylene glycol, 30 %, 20 degC", 0.3, 1023.78, 3857.0),
    ("ethylene glycol, 50 %, 70 degC", 0.5, 1033.57, 3543.97),
]
FREEZE = [
    ("propylene glycol, 30 %", 0.30, -12.7891, MELINDER),
    ("propylene glycol, 50 %", 0.50, -32.1935, MELINDER),
    ("ethylene glycol, 30 %", 0.30, -14.5758, MELINDER),
    ("ethylene glycol, 50 %", 0.50, -35.9944, MELINDER),
    ("ethylene glycol, 20 %", 0.20, -7.93, CRC),
    ("ethylene glycol, 52 %", 0.52, -38.81, CRC),
]


@pytest.mark.parametrize(("what", "fraction", "density", "capacity"), DENSITY_AND_HEAT)
def test_heat_of_a_volume(check, what: str, fraction: float, density: float, capacity: float) -> None:
    check(
        f"coolant heat, {what}",
        f"heat held by a volume of coolant, {what}",
        expected=density * capacity,
        got=float(heat_j_m3_k(fraction)),
        tolerance=0.03,
        relative=True,
        unit="J/(m3 K)",
        source=MELINDER,
        how_seen="computed",
    )


@pytest.mark.parametrize(("what", "fraction", "freeze_degc", "source"), FREEZE)
def test_glycol_of_a_freeze_point(check, what: str, fraction: float, freeze_degc: float, source: str) -> None:
    check(
        f"coolant freeze, {what}",
        f"glycol by mass that the freeze point tells of {what}",
        expected=fraction,
        got=glycol_fraction_of(freeze_degc + 273.15),
        tolerance=0.03,
        unit="kg/kg",
        source=source,
        how_seen="computed" if source == MELINDER else "second-hand, a transcription of the table",
    )
