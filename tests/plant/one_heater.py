"""One heater at one place, with shifts by name or a fault of the shelf: what tests ask of the model."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from lightoff.plant.conditions import Conditions
from lightoff.plant.model import Prediction, predict
from lightoff.plant.parameters import COLUMN, PARAMETERS
from lightoff.plant.quantities import COLUMN as QUANTITY
from lightoff.shelf import open_shelf
from lightoff.terms.shelf import Sheet

SHELF = open_shelf()
DIESEL = SHELF.fuels["diesel_2"]
PUMPED, SIPHONED = SHELF.sheets["generic_12_kw"], SHELF.sheets["generic_16_kw"]
USUAL = Conditions(fuel=DIESEL, rated_fuel=DIESEL)
DRY = replace(USUAL, relative_humidity_fraction=0.0)
"""What sheets are rated in: 15 degC, dry, sea level."""


def shifts(*rows: Mapping[str, float]) -> np.ndarray:
    """One row for each mapping of parameter to shift."""
    made = np.zeros((len(rows), len(PARAMETERS)))
    for at, row in enumerate(rows):
        for key, shift in row.items():
            made[at, COLUMN[key]] += shift
    return made


def fault_row(key: str, severity: float) -> dict[str, float]:
    """Shifts of a fault of the shelf at a severity between its ends (0 to 1)."""
    fault = SHELF.faults[key]
    low, high = fault.severity
    return {name: (low + severity * (high - low)) * shift for name, shift in fault.shifts.items()}


def seen(*rows: Mapping[str, float], sheet: Sheet = PUMPED, conditions: Conditions = USUAL) -> Prediction:
    """The model's answer for these rows, the healthy heater for none."""
    return predict(sheet, conditions, shifts(*(rows or ({},))))


def number(prediction: Prediction, key: str, row: int = 0) -> float:
    """One predicted number, SI."""
    return float(prediction.numeric[row, QUANTITY[key]])


def every_array(prediction: Prediction) -> Iterable[np.ndarray]:
    """All that was predicted."""
    yield prediction.numeric
    yield from prediction.chances.values()
    for name in Prediction.__dataclass_fields__:
        if name not in ("numeric", "chances"):
            yield getattr(prediction, name)


def likely(prediction: Prediction, key: str, row: int = 0) -> str:
    """The state that leads."""
    return SHELF.catalogue.entries[key].states[int(np.argmax(prediction.chances[key][row]))]
