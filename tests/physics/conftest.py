"""Fuels of the tests of this folder, built as a shop would build them from a data sheet."""

import pytest

from lightoff.physics.fuel import Fuel, fuel_from_data_sheet


@pytest.fixture(scope="session")
def diesel() -> Fuel:
    return fuel_from_data_sheet(
        key="diesel_2",
        name="No. 2 diesel",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=45.759e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.13,
        sulphur_fraction=1.5e-5,
        viscosity_points=((293.15, 4.2e-6), (313.15, 2.6e-6)),
        cloud_point_caution="Ask for this tank's cloud point.",
    )


@pytest.fixture(scope="session")
def kerosene() -> Fuel:
    return fuel_from_data_sheet(
        key="kerosene",
        name="kerosene",
        density_15c_kg_m3=810.0,
        heating_value_j_kg=46.1e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.138,
        viscosity_points=((293.15, 2.0e-6), (313.15, 1.4e-6)),
    )


@pytest.fixture(scope="session")
def biodiesel() -> Fuel:
    return fuel_from_data_sheet(
        key="b100",
        name="B100",
        density_15c_kg_m3=878.1,
        heating_value_j_kg=37.521e6,
        heating_value_basis="net",
        hydrogen_fraction=0.12,
        oxygen_fraction=0.11,
        moisture_fraction=0.0005,
        viscosity_points=((293.15, 7.0e-6), (313.15, 4.5e-6)),
    )
