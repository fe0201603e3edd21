"""The whole answer: suspects with their whiskers, what does not fit, the steps."""

from dataclasses import replace

import numpy as np
import pytest
from making import SHELF, bank_of, conditions, evidence, sure

from lightoff.faultfinding import Bank, Evidence, Finding, Kind, Outcome, find, telling
from lightoff.faultfinding.bank import runs_well

EVERY = frozenset(SHELF.catalogue.classes)
CASE = evidence(
    numbers={"flue_o2": 0.02, "stack_gas_temperature": 553.0, "supply_voltage_igniter": 12.2},
    states={"owner_says": "smokes or smells", "smoke_colour": "black", "inlet_path": "restricted"},
)


@pytest.fixture(scope="module")
def nine_kw() -> Bank:
    return bank_of("generic_9_kw", conditions())


def finding(bank: Bank, told: Evidence, pairs: bool = True) -> Finding:
    return find(bank, told, classes=EVERY, pairs=pairs)


def test_suspects_come_likeliest_first_with_whiskers_around_them(nine_kw: Bank) -> None:
    found = finding(nine_kw, CASE)
    chances = [each.chance for each in found.suspects]
    assert chances == sorted(chances, reverse=True)
    for each in found.suspects:
        assert 0.0 <= each.low <= each.chance <= each.high <= 1.0
        assert each.chance == pytest.approx(found.posterior.of(each.fault))
    assert any(each.high - each.low > 0.05 for each in found.suspects)


def test_a_whisker_reaches_to_where_the_deciding_look_would_leave_it(nine_kw: Bank) -> None:
    first = finding(nine_kw, CASE).suspects[0]
    assert first.fault in ("inlet_blocked", "inlet_tube_unseated")
    without = finding(nine_kw, CASE.without("inlet_path"))
    left = without.posterior.of(first.fault)
    assert first.low <= left + 0.1


def test_undo_and_a_new_start_give_the_same_digits(nine_kw: Bank) -> None:
    before = finding(nine_kw, CASE)
    more = replace(CASE, states={**CASE.states, "inlet_tube_look": sure("inlet_tube_look", "standing up")})
    assert finding(nine_kw, more).suspects != before.suspects
    again = finding(nine_kw, more.without("inlet_tube_look"))
    assert again.suspects == before.suspects
    assert again.steps == before.steps


def test_nothing_read_is_an_answer_too(nine_kw: Bank) -> None:
    found = finding(nine_kw, evidence())
    assert found.steps
    assert found.check_again == ()
    assert not found.nothing_fits
    assert all(each.low == each.chance == each.high for each in found.suspects)


def test_at_once_without_pairs(nine_kw: Bank) -> None:
    found = finding(nine_kw, CASE, pairs=False)
    assert len(found.posterior.sets) == len(nine_kw.keys) + 2
    assert found.suspects[0].fault == finding(nine_kw, CASE).suspects[0].fault


def test_the_chamber_comes_first_after_failed_starts(nine_kw: Bank) -> None:
    assert finding(nine_kw, evidence(states={"light_off": "did not light"})).chamber_first
    assert not finding(nine_kw, CASE).chamber_first


def test_a_repair_that_did_not_cure_clears_its_fault(nine_kw: Bank) -> None:
    first = finding(nine_kw, CASE).suspects[0]
    after = finding(nine_kw, replace(CASE, repairs={first.fault: Outcome.NO_CHANGE}))
    assert after.posterior.of(first.fault) < first.chance
    assert first.fault not in {step.key for step in after.steps}


@pytest.mark.parametrize("sheet", SHELF.sheets)
def test_a_can_mends_no_ring_at_the_nozzle_and_a_good_nozzle_does(sheet: str) -> None:
    """A can at the heater's level takes away what lies before its hose; the ring lies behind it."""
    bank = bank_of(sheet, conditions())
    places = bank.places([("nozzle_ring_leaking",), ("suction_air_leak",)])
    rows = bank.shifts(places, np.ones((2, 2)))
    as_found = runs_well(bank.predict(rows, with_signs=False))
    with_can, with_nozzle = (
        bank.cured(SHELF.trials[key], rows) for key in ("good_fuel_can", "known_good_nozzle")
    )
    assert with_can[0] == pytest.approx(as_found[0], abs=0.01)
    assert with_nozzle[0] > as_found[0] + 0.1
    assert with_can[1] > 0.9 > with_nozzle[1]


def test_what_a_can_changes_nothing_in_lies_behind_it(nine_kw: Bank) -> None:
    pulses = evidence(states={"owner_says": "lights then dies", "flame_look": "pulsing"})
    of_ring = {
        outcome: finding(nine_kw, replace(pulses, trials={"good_fuel_can": outcome})).posterior.of(
            "nozzle_ring_leaking"
        )
        for outcome in (Outcome.CURED, Outcome.NO_CHANGE)
    }
    before = finding(nine_kw, pulses).posterior.of("nozzle_ring_leaking")
    assert of_ring[Outcome.CURED] < before < of_ring[Outcome.NO_CHANGE]


LIGHTS_THEN_DIES = {"owner_says": "lights then dies", "last_work": "fuel filter"}
TWO_MINUTES = {"run_time_before_stop": 120.0}
HELD_BACK = {"fuel_vacuum": 30e3}


@pytest.mark.parametrize("sheet", ["generic_9_kw", "generic_16_kw"])
def test_two_minutes_after_a_new_filter_lead_to_the_filter_of_a_siphon(sheet: str) -> None:
    bank = bank_of(sheet, conditions())
    said = finding(bank, evidence(states=LIGHTS_THEN_DIES, numbers=TWO_MINUTES))
    assert "fuel_filter_not_primed" in [each.fault for each in said.suspects[:3]]
    read = finding(bank, evidence(states=LIGHTS_THEN_DIES, numbers=TWO_MINUTES | HELD_BACK))
    assert "fuel_filter_restricted" in [each.fault for each in read.suspects[:3]]


@pytest.mark.parametrize("sheet", ["generic_9_kw", "generic_16_kw"])
def test_two_minutes_do_not_speak_against_a_filter_that_holds_a_siphon_back(sheet: str) -> None:
    """What its line holds lasts about as long; a flame set too lean is out at once."""
    bank = bank_of(sheet, conditions())
    whenever, late, soon = (
        finding(bank, evidence(states=LIGHTS_THEN_DIES, numbers=HELD_BACK | each)).posterior.of(
            "fuel_filter_restricted"
        )
        for each in ({}, TWO_MINUTES, {"run_time_before_stop": 20.0})
    )
    assert late > soon
    assert late > 0.4 * whenever


def test_once_it_runs_well_it_is_shown_and_not_handed_over(nine_kw: Bank) -> None:
    told = evidence(
        states={"owner_says": "lights then dies", "last_work": "fuel filter", "flame_look": "pulsing"}
    )
    cured = finding(nine_kw, replace(told, repairs={"fuel_filter_not_primed": Outcome.CURED}))
    assert cured.mended == ("fuel_filter_not_primed",)
    assert cured.steps[0].kind is Kind.SHOW_SOUND
    assert next(each.key for each in telling.conclusion(cured)) == "finding.mended"
    failed = finding(nine_kw, replace(told, repairs={"fuel_filter_not_primed": Outcome.NO_CHANGE}))
    assert failed.mended == ()
    assert failed.steps[0].kind is not Kind.SHOW_SOUND
