"""The posterior against exact inference by another library, on a network made from the same model.

Few faults, two parameters that vary, everything laid out in steps: there the library's answer is exact.
"""

import warnings
from dataclasses import replace

import numpy as np
import pytest
from making import SHELF, bank_of, conditions, evidence

from lightoff.faultfinding import Bank, Evidence, posterior
from lightoff.faultfinding.bank import LEAK, Beliefs
from lightoff.faultfinding.observed import on_scale, read_spread
from lightoff.plant.baseline import Baseline
from lightoff.plant.parameters import COLUMN as PARAMETER
from lightoff.plant.parameters import PARAMETERS
from lightoff.plant.quantities import COLUMN, compared

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import pyagrum

FAULTS = ("air_set_low", "fan_worn", "igniter_weak", "inlet_blocked", "nozzle_worn")
VARYING = ("air_setting", "igniter_resistance")
STEPS, POINTS = 12, 11
NARROW = 1e-6
MOST_APART = 0.03
"""Total variation; more steps and points on the library's side bring most cases to 0.01, "rich" to 0.027."""

CASES = {
    "black smoke": evidence(
        states={"smoke_colour": "black", "light_off": "first try", "inlet_path": "seated and clear"}
    ),
    "lights late": evidence(
        states={"light_off": "second try", "owner_says": "lights late", "igniter_look": "coated"},
        numbers={"igniter_current": 8.0},
    ),
    "rich": evidence(numbers={"flue_o2": 0.03, "fan_current": 2.3}, states={"exhaust_smell": "sharp"}),
    "nothing odd": evidence(
        numbers={"flue_o2": 0.06, "igniter_current": 9.0},
        states={"smoke_colour": "none", "flame_look": "bright and steady"},
    ),
}


@pytest.fixture(scope="module")
def few() -> Bank:
    """The nine-kilowatt heater with five faults and two parameters that vary."""
    spread = np.full(len(PARAMETERS), NARROW)
    spread[[PARAMETER[key] for key in VARYING]] = 1.0
    whole = bank_of(
        "generic_9_kw",
        conditions(),
        baseline=Baseline(mean=np.zeros(len(PARAMETERS)), covariance=np.diag(spread**2)),
    )
    return replace(
        whole, faults={key: SHELF.faults[key] for key in FAULTS}, beliefs=Beliefs(unknown=1e-12, tail=1e9)
    )


def by_library(bank: Bank, told: Evidence) -> dict[tuple[str, ...], float]:
    """Chance of each set of faults by exact inference on the network."""
    sets: list[tuple[str, ...]] = [(), *((key,) for key in FAULTS)]
    sets += [(one, two) for at, one in enumerate(FAULTS) for two in FAULTS[at + 1 :]]
    net = pyagrum.BayesNet()
    axes = {"wrong": len(sets), "first": STEPS, "second": STEPS} | dict.fromkeys(VARYING, POINTS)
    for name, count in axes.items():
        net.add(pyagrum.LabelizedVariable(name, "", count))
    weight = np.array([SHELF.faults[key].weight for key in FAULTS])
    weight = dict(zip(FAULTS, weight / weight.sum(), strict=True))
    together = sum(weight[one] * weight[two] for one, two in sets[len(FAULTS) + 1 :])
    held = bank.beliefs
    net.cpt("wrong").fillWith(
        [
            held.nothing if not each
            else (1.0 - held.nothing - held.two) * weight[each[0]] if len(each) == 1
            else held.two * weight[each[0]] * weight[each[1]] / together
            for each in sets
        ]
    )  # fmt: skip
    points, shares = np.polynomial.hermite_e.hermegauss(POINTS)
    for name in ("first", "second"):
        net.cpt(name).fillWith([1.0 / STEPS] * STEPS)
    for name in VARYING:
        net.cpt(name).fillWith(list(shares / shares.sum()))
    rows, severities, members = laid_out(bank, sets, points)
    seen = bank.predict(rows)
    shape = tuple(axes.values())
    for reading in told.states:
        if reading in seen.chances:
            chances = seen.chances[reading]
        else:
            chances = noisy_or(reading, sets, severities, members)
        finding(net, reading, chances.reshape(*shape, -1), axes)
    for key in told.numbers:
        off = (compared(seen.numeric)[:, COLUMN[key]] - on_scale(key, told.numbers[key].value)) / read_spread(
            bank, key, told
        )
        density = np.exp(-0.5 * off**2)
        finding(net, key, np.stack([1.0 - density, density], axis=1).reshape(*shape, 2), axes)
    lit, runs = seen.lit, seen.running / np.maximum(seen.lit, 1e-12)
    there = np.ones_like(lit)
    if "flue_o2" in told.numbers:
        there = lit * (0.3 + 0.7 * runs)
    elif told.numbers:
        there = seen.asked
    finding(net, "could be read", np.stack([1.0 - there, there], axis=1).reshape(*shape, 2), axes)
    asked = pyagrum.LazyPropagation(net)
    asked.setEvidence(
        {reading: list(fits.values()) for reading, fits in told.states.items()}
        | dict.fromkeys(told.numbers, 1)
        | {"could be read": 1}
    )
    asked.makeInference()
    return dict(zip(sets, asked.posterior("wrong").tolist(), strict=True))


def laid_out(
    bank: Bank, sets: list[tuple[str, ...]], points: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rows of the model in the order of the network's axes, with their severities and sets."""
    steps = (np.arange(STEPS) + 0.5) / STEPS
    grid = np.meshgrid(np.arange(len(sets)), steps, steps, points, points, indexing="ij")
    members, first, second, *parameters = (each.reshape(-1) for each in grid)
    rows = np.zeros((len(members), len(PARAMETERS)))
    for name, drawn in zip(VARYING, parameters, strict=True):
        rows[:, PARAMETER[name]] = drawn * PARAMETERS[name].spread
    for at, each in enumerate(sets):
        here = members == at
        for key, severity in zip(each, (first, second), strict=False):
            most = 1.0 + bank.beliefs.effect
            low, high = bank.faults[key].severity[0] / most, bank.faults[key].severity[1] * most
            for parameter, shift in bank.faults[key].shifts.items():
                rows[here, PARAMETER[parameter]] += (low + severity[here] * (high - low)) * shift
    return rows, np.stack([first, second], axis=1), members


def noisy_or(
    reading: str, sets: list[tuple[str, ...]], severities: np.ndarray, members: np.ndarray
) -> np.ndarray:
    """Chances of a look that faults of the catalogue show, row by row."""
    states = SHELF.catalogue.entries[reading].states
    out = np.empty((len(members), len(states)))
    for member, each in enumerate(sets):
        here = members == member
        silent = np.full((int(here.sum()), len(states) - 1), 1.0 - LEAK / (len(states) - 1))
        showing = [key for key in each if reading in SHELF.faults[key].shows]
        for key in showing:
            low, high = SHELF.faults[key].severity
            strong = np.minimum(1.0, 0.5 + 0.5 * (low + severities[here, each.index(key)] * (high - low)))
            shown = [SHELF.faults[key].shows[reading].get(state, 0.0) for state in states[1:]]
            silent *= 1.0 - np.outer(strong, shown)
        normal = silent.prod(axis=1) if showing else np.full(len(silent), 1.0 - LEAK)
        heard = (1.0 - silent) / (1.0 - silent).sum(axis=1)[:, None] * (1.0 - normal)[:, None]
        out[here] = np.column_stack([normal, heard])
    return out


def finding(net: pyagrum.BayesNet, name: str, chances: np.ndarray, axes: dict[str, int]) -> None:
    """A finding with all axes as its parents."""
    net.add(pyagrum.LabelizedVariable(name, "", chances.shape[-1]))
    for parent in axes:
        net.addArc(parent, name)
    order = [*axes, name]
    names = list(net.cpt(name).names)
    # The table lies with its last name first.
    turned = np.transpose(chances, [order.index(each) for each in reversed(names)])
    net.cpt(name)[:] = np.ascontiguousarray(turned)


@pytest.mark.parametrize("name", CASES)
def test_the_posterior_is_that_of_exact_inference(few: Bank, name: str) -> None:
    told = CASES[name]
    theirs, ours = by_library(few, told), posterior(few, told)
    apart = 0.5 * sum(
        abs(theirs.get(each, 0.0) - float(chance))
        for each, chance in zip(ours.sets, ours.chances, strict=True)
    )
    assert apart < MOST_APART, {
        each: (round(theirs.get(each, 0.0), 3), round(float(chance), 3))
        for each, chance in zip(ours.sets, ours.chances, strict=True)
        if max(theirs.get(each, 0.0), chance) > 0.02
    }
