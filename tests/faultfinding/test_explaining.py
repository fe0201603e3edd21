"""Sentences for and against: what speaks, honest bands, and readings that fit nothing."""

from collections.abc import Mapping, Sequence

import numpy as np
import pytest
import world
from making import SHELF, bank_of, conditions, evidence, known_of

from lightoff.faultfinding import Bank, Clue, Evidence, posterior
from lightoff.faultfinding.explaining import SPEAKS, clues, odd_readings
from lightoff.faultfinding.leaving_out import left_out
from lightoff.plant.number import Side

SHEET = "generic_9_kw"
CASES, HEALTHY = 24, 60


@pytest.fixture(scope="module")
def nine_kw() -> Bank:
    return bank_of(SHEET, conditions())


def told(bank: Bank, case: Evidence, fault: str) -> Mapping[str, Clue]:
    found = posterior(bank, case)
    return {clue.key: clue for clue in clues(left_out(bank, case, found), fault)}


def odd(bank: Bank, case: Evidence) -> tuple[str, ...]:
    return odd_readings(left_out(bank, case, posterior(bank, case)))


def made(count: int, *, seed: int, singles: float = 1.0) -> Sequence[world.MadeCase]:
    return world.cases(
        count,
        seed=seed,
        there=world.world(seed, SHELF),
        shelf=SHELF,
        sheet=SHELF.sheets[SHEET],
        conditions=conditions(),
        singles=singles,
        doubles=0.0,
    )


def test_two_readings_that_say_the_same_both_speak(nine_kw: Bank) -> None:
    case = evidence(numbers={"flue_o2": 0.105, "flue_co2": 0.077}, states={"light_off": "first try"})
    found = told(nine_kw, case, "air_set_high")
    assert found["flue_o2"].ratio > SPEAKS
    assert found["flue_co2"].ratio > SPEAKS


def test_what_another_reading_explains_hardly_speaks(nine_kw: Bank) -> None:
    weak = {"igniter_current": 6.3, "time_to_light": 75.0}
    alone = told(nine_kw, evidence(numbers=weak), "igniter_weak")
    assert alone["igniter_current"].ratio > SPEAKS
    sagging = {"supply_voltage_rest": 10.9, "supply_voltage_igniter": 8.4, "igniter_voltage_at_lead": 8.2}
    both = told(nine_kw, evidence(numbers={**weak, **sagging}), "igniter_weak")
    assert "igniter_current" not in both or both["igniter_current"].ratio < alone["igniter_current"].ratio


def test_leaving_out_is_what_a_new_posterior_says(nine_kw: Bank) -> None:
    """By the linear model alone, which both share."""
    apart = []
    for case in made(8, seed=11):
        known = known_of(case)
        found = posterior(nine_kw, known, sharp=False, pairs=False)
        without = left_out(nine_kw, known, found)
        for key in without.by_reading:
            anew = posterior(nine_kw, known.without(key), sharp=False, pairs=False)
            unknown = anew.of("unknown")
            for fault, chance in without.faults(key).items():
                apart.append(abs((1.0 - unknown) * chance - anew.of(fault)))
    assert len(apart) > 1000
    assert np.quantile(apart, 0.99) < 0.005
    assert max(apart) < 0.1  # where it also tells whether there was a flame to be read


def test_a_look_speaks_for_what_it_shows_and_against_what_it_clears(nine_kw: Bank) -> None:
    case = evidence(states={"owner_says": "smokes or smells", "inlet_tube_look": "standing up"})
    assert told(nine_kw, case, "inlet_tube_unseated")["inlet_tube_look"].ratio > 10.0
    clear = evidence(states={"owner_says": "smokes or smells", "inlet_tube_look": "down in its seat"})
    assert told(nine_kw, clear, "inlet_tube_unseated")["inlet_tube_look"].ratio < 0.2


def test_the_band_of_a_number_holds_what_the_suspect_predicts(nine_kw: Bank) -> None:
    case = evidence(numbers={"flue_o2": 0.105, "stack_gas_temperature": 500.0})
    clue = told(nine_kw, case, "air_set_high")["flue_o2"]
    assert clue.low is not None
    assert clue.high is not None
    assert 0.0 < clue.low < clue.high < 0.21
    assert clue.high > 0.07  # more oxygen than the sheet's


def test_a_number_beyond_the_range_has_its_band_too(nine_kw: Bank) -> None:
    case = evidence(beyond={"flue_co": (2e-3, Side.ABOVE)}, states={"smoke_colour": "black"})
    clue = told(nine_kw, case, "inlet_blocked")["flue_co"]
    assert clue.ratio > 1.0
    assert clue.low is not None
    assert clue.high is not None
    assert clue.low < clue.high


def test_a_true_suspect_has_a_sentence_for_it_wherever_a_reading_speaks(nine_kw: Bank) -> None:
    for case in made(CASES, seed=12):
        known = known_of(case)
        found = posterior(nine_kw, known)
        for fault, chance in found.faults().items():
            if fault == "unknown" or chance < 0.3:
                continue
            spoken = clues(left_out(nine_kw, known, found), fault)
            assert any(clue.ratio > 1.0 for clue in spoken), (case.truth, fault)
            order = [abs(np.log(clue.ratio)) for clue in spoken if abs(np.log(clue.ratio)) > np.log(SPEAKS)]
            assert order == sorted(order, reverse=True)


# Readings that fit nothing


def test_a_planted_reading_is_found(nine_kw: Bank) -> None:
    sound = {
        "flue_o2": 0.055,
        "flue_co2": 0.115,
        "stack_gas_temperature": 505.0,
        "supply_voltage_rest": 12.7,
        "fan_current": 2.5,
    }
    looks = {"light_off": "first try", "stop_step": "did not stop", "flame_look": "bright and steady"}
    assert odd(nine_kw, evidence(numbers=sound, states=looks)) == ()
    planted = evidence(numbers={**sound, "flue_co2": 0.02}, states=looks)
    assert "flue_co2" in odd(nine_kw, planted) or "flue_o2" in odd(nine_kw, planted)


def test_planted_readings_are_found_far_oftener_than_sound_ones_are_doubted(nine_kw: Bank) -> None:
    """A meter read in another unit or by another plug, in heaters that are in order."""
    doubted = found = 0
    for case in made(HEALTHY, seed=13, singles=0.0):
        known = known_of(case)
        doubted += bool(odd(nine_kw, known))
        numbers = {key: number.value for key, number in known.numbers.items()} | {
            "flue_o2": 0.02,
            "flue_co2": 0.02,
            "stack_gas_temperature": 480.0,
        }
        states = {key: max(fits, key=lambda state: fits[state]) for key, fits in known.states.items()}
        found += bool({"flue_o2", "flue_co2"} & set(odd(nine_kw, evidence(numbers=numbers, states=states))))
    assert doubted / HEALTHY <= 0.15
    assert found / HEALTHY >= 0.8
