"""What a case's heater is rated at, and what it burned."""

from __future__ import annotations

from lightoff.ground.errors import NotFound
from lightoff.ground.message import message
from lightoff.physics.fuel import Fuel
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.shelf import Sheet


def sheet_of(case: Case, shelf: Shelf) -> Sheet:
    """The sheet of the case's heater. Raises NotFound."""
    return sheet_named(case.heater.sheet, shelf)


def sheet_named(key: str, shelf: Shelf) -> Sheet:
    """The sheet of a heater type by its key. Raises NotFound, naming those that there are."""
    sheet = shelf.sheets.get(key)
    if sheet is None:
        possible = ", ".join(shelf.sheets)
        raise NotFound(message("shop.no_such_sheet", sheet=key[:100], possible=possible))
    return sheet


def fuel_of(case: Case, shelf: Shelf) -> Fuel | None:
    """The fuel of the visit; None where nobody said, or where the shelf no longer knows it."""
    return shelf.fuels.get(case.visit.fuel)
