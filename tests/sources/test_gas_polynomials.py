"""Heat content of each gas against the data file that its polynomial was copied from."""

import cantera
import numpy as np
import pytest

from lightoff.physics.gas import GAS_CONSTANT_J_MOL_K, NASA_COEFFICIENTS, enthalpies_j_mol

SPECIES = sorted(set(NASA_COEFFICIENTS) - {"N2+Ar"})
FILE = "nasa_gas.yaml"


@pytest.fixture(scope="module")
def of_file() -> dict[str, cantera.Species]:
    return {each.name: each for each in cantera.Species.list_from_file(FILE)}


@pytest.mark.parametrize("name", SPECIES)
@pytest.mark.parametrize("temperature_k", [400.0, 2200.0])
def test_enthalpy(check, of_file, name, temperature_k) -> None:
    # Cantera's gas constant is that of CODATA 2014 or 2018 by its version; both are divided out.
    theirs = of_file[name].thermo.h(temperature_k) / cantera.gas_constant / temperature_k
    (ours_j_mol,) = enthalpies_j_mol((name,), np.asarray(temperature_k)).values()
    ours = float(ours_j_mol) / GAS_CONSTANT_J_MOL_K / temperature_k
    check(
        f"N-{name}-{temperature_k:.0f}",
        f"enthalpy over RT of {name} at {temperature_k:.0f} K",
        expected=theirs,
        got=ours,
        tolerance=1e-7,
        relative=True,
        unit="1",
        source="NASA TM-4513 (1993), data file nasa_gas of Cantera 3.2.0",
        how_seen="computed with Cantera from the file",
    )
