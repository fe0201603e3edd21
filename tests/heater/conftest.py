"""Sheets, fuel and ratings as they ship."""

from collections.abc import Mapping

import pytest

from lightoff.heater.rating import Rating, rate
from lightoff.physics.fuel import Fuel
from lightoff.shelf import open_shelf
from lightoff.terms.shelf import Sheet

SHELF = open_shelf()


@pytest.fixture(scope="session")
def diesel() -> Fuel:
    return SHELF.fuels["diesel_2"]


@pytest.fixture(scope="session")
def sheets() -> Mapping[str, Sheet]:
    return SHELF.sheets


@pytest.fixture(scope="session", params=sorted(SHELF.sheets))
def rating(request: pytest.FixtureRequest, diesel: Fuel) -> Rating:
    return rate(SHELF.sheets[request.param], diesel)
