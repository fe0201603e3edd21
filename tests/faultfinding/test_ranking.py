"""The next step: what comes first, what is left out and why, what a step costs and what its outcomes mean."""

import itertools
from dataclasses import replace

import pytest
from making import SHELF, bank_of, conditions, evidence

from lightoff.faultfinding import Bank, Evidence, Kind, Outcome, Step, find, posterior
from lightoff.faultfinding.cost import HAND_OVER_MINUTES, OPENING_MINUTES, SOUND
from lightoff.faultfinding.likely import WARMED_UP
from lightoff.faultfinding.options import AFTER_FIRST, CHAMBER, FIRING_LOOKS, FIRST, WARM_LOOKS, laid_out
from lightoff.faultfinding.planning import outlook
from lightoff.faultfinding.ranking import no_firing, ranked
from lightoff.plant.quantities import QUANTITIES

EVERY = frozenset(SHELF.catalogue.classes)
DIES = evidence(states={"owner_says": "lights then dies", "light_off": "first try", "stop_step": "running"})
DEAD = evidence(states={"owner_says": "does nothing", "light_off": "did not light", "stop_step": "at rest"})
TRIES = evidence(
    states={"owner_says": "tries without flame", "light_off": "did not light", "stop_step": "trial"}
)
SMOKES = evidence(states={"owner_says": "smokes or smells", "light_off": "first try"})
COMPLAINT = evidence(states={"owner_says": "smokes or smells"})
CASES = ["dies", "dead", "tries", "smokes", "complaint"]


@pytest.fixture(scope="module")
def nine_kw() -> Bank:
    return bank_of("generic_9_kw", conditions())


def steps(
    bank: Bank, told: Evidence, *, classes: frozenset[str] = EVERY, hand_over: float | None = None
) -> tuple[Step, ...]:
    return ranked(bank, told, posterior(bank, told), classes=classes, hand_over=hand_over)


def keys(found: tuple[Step, ...]) -> list[str]:
    return [step.key for step in found]


def step(found: tuple[Step, ...], key: str) -> Step:
    return next(each for each in found if each.key == key)


def with_states(told: Evidence, **states: str) -> Evidence:
    more = evidence(states=states).states
    return replace(told, states={**told.states, **more})


# The order


@pytest.mark.parametrize("told", [DIES, DEAD, TRIES, SMOKES], ids=["dies", "dead", "tries", "smokes"])
def test_the_cheapest_first_and_handing_over_last(nine_kw: Bank, told: Evidence) -> None:
    found = steps(nine_kw, told)
    assert found[-1].kind is Kind.HAND_OVER
    assert [each.kind for each in found].count(Kind.HAND_OVER) == 1
    expected = [each.expected_minutes for each in found if each.key != CHAMBER]
    assert all(one <= other + 0.5 for one, other in itertools.pairwise(expected))
    assert found[-1].expected_minutes == HAND_OVER_MINUTES
    assert found[0].expected_minutes < HAND_OVER_MINUTES
    assert len(keys(found)) == len(set(zip(keys(found), [each.kind for each in found], strict=True)))


def test_the_order_of_entry_changes_no_digit(nine_kw: Bank) -> None:
    told = with_states(DIES, flame_look="dull", fuel_filter_look="dark")
    turned = replace(told, states=dict(reversed(told.states.items())))
    assert steps(nine_kw, told) == steps(nine_kw, turned)


def test_what_hands_over_for_little_hands_over_at_once(nine_kw: Bank) -> None:
    assert steps(nine_kw, DIES, hand_over=1.0)[0].kind is Kind.HAND_OVER


def test_a_flame_that_dies_is_tried_on_good_fuel_before_dear_repairs(nine_kw: Bank) -> None:
    told = with_states(DIES, air_bubbles="none", window_look="clear", fuel_at_pickup="above the pick-up")
    found = steps(nine_kw, told)
    splitter = keys(found).index("good_fuel_can")
    dear = [at for at, each in enumerate(found) if each.kind is Kind.REPAIR and each.minutes > 30.0]
    assert all(splitter < at for at in dear)


def test_weak_under_load_is_tried_on_a_good_battery_before_a_new_cable(nine_kw: Bank) -> None:
    told = evidence(
        numbers={"supply_voltage_rest": 12.6, "supply_voltage_igniter": 10.6},
        states={"owner_says": "tries without flame", "light_off": "did not light", "chamber_look": "dry"},
    )
    found = steps(nine_kw, told)
    assert keys(found).index("good_battery") < keys(found).index("supply_cable_poor")


# What is left out


def test_no_step_needs_an_instrument_that_is_not_there(nine_kw: Bank) -> None:
    entries = SHELF.catalogue.entries
    found = steps(nine_kw, DIES, classes=frozenset({"multimeter"}))
    for each in found:
        if each.kind is Kind.READING and each.key in entries:
            assert entries[each.key].can_be_taken_with({"multimeter"}), each.key
    assert not {"flue_o2", "fuel_flow", "igniter_current"} & set(keys(found))


def test_no_repair_needs_an_instrument_that_is_not_there(nine_kw: Bank) -> None:
    """Air is set by the probe: who has none hands over where the setting is all but sure."""
    told = evidence(states={
        "owner_says": "smokes or smells", "smoke_colour": "black", "place_height": "much higher",
        "exhaust_smell": "sharp", "inlet_path": "seated and clear", "nozzle_look": "clean",
    })  # fmt: skip
    with_probe, without = (
        find(nine_kw, told, classes=classes) for classes in (EVERY, EVERY - {"flue_gas_probe"})
    )
    assert with_probe.suspects == without.suspects
    settings = {key for key, fault in SHELF.faults.items() if fault.needs}
    assert settings == {"air_set_low", "air_set_high", "set_for_lower_place"}
    mended = [
        {each.key for each in found.steps if each.kind is Kind.REPAIR} for found in (with_probe, without)
    ]
    assert mended[0] & settings
    assert not mended[1] & settings


def test_what_could_not_be_had_is_not_asked_for_again(nine_kw: Bank) -> None:
    first = steps(nine_kw, DIES)[0]
    again = steps(nine_kw, replace(DIES, not_possible=frozenset({first.key, "good_fuel_can"})))
    assert not {first.key, "good_fuel_can"} & set(keys(again))


@pytest.mark.parametrize("outcome", [Outcome.NO_CHANGE, Outcome.NOT_DONE])
def test_a_repair_that_was_done_or_cannot_be_done_is_not_proposed(nine_kw: Bank, outcome: Outcome) -> None:
    told = with_states(SMOKES, inlet_tube_look="standing up")
    assert "inlet_tube_unseated" in keys(steps(nine_kw, told))
    found = steps(nine_kw, replace(told, repairs={"inlet_tube_unseated": outcome}))
    assert "inlet_tube_unseated" not in keys(found)


def test_a_renewed_part_is_not_renewed_again_for_its_other_faults(nine_kw: Bank) -> None:
    told = evidence(
        numbers={"igniter_resistance": 1e4},
        states={"owner_says": "tries without flame", "light_off": "did not light", "chamber_look": "dry"},
    )
    first = steps(nine_kw, told)
    before = first[: keys(first).index("known_good_igniter")]
    assert all(each.kind is Kind.READING and not each.opens and each.minutes <= 3.0 for each in before)
    found = steps(nine_kw, replace(told, repairs={"igniter_open": Outcome.NO_CHANGE}))
    assert not {"igniter_open", "igniter_weak", "igniter_cracked"} & set(keys(found))


def test_a_trial_that_could_not_be_done_is_left_out(nine_kw: Bank) -> None:
    told = replace(DIES, trials={"good_fuel_can": Outcome.NOT_DONE})
    assert "good_fuel_can" not in keys(steps(nine_kw, told))


def test_a_show_that_failed_is_not_repeated(nine_kw: Bank) -> None:
    told = evidence(states={"owner_says": "is noisy", "light_off": "first try", "stop_step": "did not stop"})
    assert Kind.SHOW_SOUND in {each.kind for each in steps(nine_kw, told)}
    again = steps(nine_kw, replace(told, repairs={SOUND: Outcome.NO_CHANGE}))
    assert Kind.SHOW_SOUND not in {each.kind for each in again}


def test_a_number_that_this_start_does_not_offer_is_not_asked_for(nine_kw: Bank) -> None:
    told = with_states(DEAD, chamber_look="dry")
    assert not {"flue_o2", "smoke_number", "time_to_light"} & set(keys(steps(nine_kw, told)))


# What comes first


def test_with_no_number_to_read_the_search_still_answers(nine_kw: Bank) -> None:
    found = steps(nine_kw, replace(DIES, not_possible=frozenset(QUANTITIES)))
    assert found[-1].kind is Kind.HAND_OVER
    assert not {each.key for each in found} & set(QUANTITIES)


@pytest.mark.parametrize("told", [DIES, DEAD, TRIES, SMOKES, COMPLAINT], ids=CASES)
def test_no_outcome_has_a_chance_below_nought(nine_kw: Bank, told: Evidence) -> None:
    laid = laid_out(nine_kw, told, posterior(nine_kw, told), classes=EVERY)
    assert all(option.likelihood.min() >= 0.0 for option in laid.options)


@pytest.mark.parametrize("told", [DIES, DEAD, TRIES, SMOKES, COMPLAINT], ids=CASES)
def test_looking_costs_no_more_than_its_minutes(nine_kw: Bank, told: Evidence) -> None:
    laid = laid_out(nine_kw, told, posterior(nine_kw, told), classes=EVERY)
    seen = outlook(laid.repairs, laid.chances, laid.options)
    for option, once, minutes in zip(laid.options, seen.once, seen.minutes, strict=True):
        assert option.locked or minutes <= once + 1e-9, option.key


def test_after_failed_starts_the_chamber_is_looked_into_before_anything_is_started(nine_kw: Bank) -> None:
    assert no_firing(TRIES)
    found = steps(nine_kw, TRIES)
    at = keys(found).index(CHAMBER)
    for each in found[:at]:
        assert each.kind is Kind.READING
        assert each.key not in FIRING_LOOKS
    for each in found:
        assert each.kind is not Kind.TRIAL
        if each.key in QUANTITIES:
            assert not QUANTITIES[each.key].needs_flame
            assert not QUANTITIES[each.key].needs_trial


def test_two_starts_without_flame_are_enough(nine_kw: Bank) -> None:
    told = replace(SMOKES, starts_without_flame=2.0)
    assert no_firing(told)
    assert not {each.kind for each in steps(nine_kw, told)} & {Kind.TRIAL}


def test_a_wet_chamber_forbids_every_start_until_it_is_dried(nine_kw: Bank) -> None:
    wet = with_states(TRIES, chamber_look="wet")
    assert no_firing(wet)
    assert Kind.TRIAL not in {each.kind for each in steps(nine_kw, wet)}
    assert not no_firing(replace(wet, dried=True))
    assert Kind.TRIAL in {each.kind for each in steps(nine_kw, replace(wet, dried=True))}
    assert not no_firing(with_states(TRIES, chamber_look="dry"))


def test_currents_and_drops_wait_for_the_supply_voltage(nine_kw: Bank) -> None:
    told = with_states(TRIES, chamber_look="dry")
    assert not AFTER_FIRST & set(keys(steps(nine_kw, told)))
    assert FIRST in keys(steps(nine_kw, told))
    known = replace(told, numbers=evidence(numbers={FIRST: 12.6}).numbers)
    assert AFTER_FIRST & set(keys(steps(nine_kw, known)))
    assert AFTER_FIRST & set(keys(steps(nine_kw, replace(told, not_possible=frozenset({FIRST})))))
    only_clamp = steps(nine_kw, told, classes=frozenset({"dc_clamp"}))
    assert "igniter_current" in keys(only_clamp)


# Prices


def test_a_path_is_paid_once(nine_kw: Bank) -> None:
    before = step(steps(nine_kw, SMOKES), "smoke_number")
    assert before.opens == "exhaust"
    told = replace(SMOKES, numbers=evidence(numbers={"flue_co2": 0.12}).numbers)
    after = step(steps(nine_kw, told), "smoke_number")
    assert before.minutes - after.minutes == OPENING_MINUTES["exhaust"]


def test_minutes_of_a_repair_are_hands_work_and_not_the_price_of_its_part(nine_kw: Bank) -> None:
    told = with_states(SMOKES, compressor_filter_look="plugged")
    found = step(steps(nine_kw, told), "compressor_filter_plugged")
    assert found.kind is Kind.REPAIR
    fault = SHELF.faults["compressor_filter_plugged"]
    assert found.minutes == fault.minutes + 4.0 + OPENING_MINUTES[fault.opens]
    assert found.cautions == fault.cautions


def test_a_good_part_that_made_it_run_stays_in_and_only_its_price_is_left(nine_kw: Bank) -> None:
    told = evidence(
        numbers={"igniter_resistance": 1e4},
        states={"owner_says": "tries without flame", "light_off": "did not light", "chamber_look": "dry"},
        trials={"known_good_igniter": Outcome.CURED},
    )
    first = steps(nine_kw, told)[0]
    assert (first.kind, first.key) == (Kind.REPAIR, "igniter_open")
    part, outright = SHELF.faults["igniter_open"].parts_minutes, SHELF.faults["igniter_open"].minutes
    assert part <= first.expected_minutes  # and the chance of a second fault
    without = replace(told, trials={})
    assert first.expected_minutes < step(steps(nine_kw, without), "igniter_open").expected_minutes - outright


# Outcomes


def test_bands_lie_side_by_side_and_neighbours_mean_something_else(nine_kw: Bank) -> None:
    numbers = [
        each for each in steps(nine_kw, SMOKES) if each.kind is Kind.READING and each.key in QUANTITIES
    ]
    assert len(numbers) > 5
    for each in numbers:
        bands = each.outcomes
        assert bands[0].low is None
        assert bands[-1].high is None
        assert sum(band.chance for band in bands) <= 1.0 + 1e-9
        for one, other in itertools.pairwise(bands):
            assert one.high == other.low
            assert (one.leads, one.raises) != (other.leads, other.raises)
            assert one.high is not None
            assert one.low is None or one.low < one.high


def test_each_state_of_a_look_is_told_with_what_it_would_mean(nine_kw: Bank) -> None:
    found = step(steps(nine_kw, SMOKES), "inlet_tube_look")
    assert [each.state for each in found.outcomes] == list(SHELF.catalogue.entries["inlet_tube_look"].states)
    assert sum(each.chance for each in found.outcomes) == pytest.approx(1.0)
    leads = {each.state: each.leads for each in found.outcomes}
    assert leads["standing up"] == "inlet_tube_unseated"
    assert leads["blocked"] == "inlet_blocked"


def test_no_warm_coolant_is_asked_of_a_heater_that_dies_after_two_minutes(nine_kw: Bank) -> None:
    dies = {"owner_says": "lights then dies", "stop_step": "running", "flame_look": "pulsing"}
    for states in (dies, {**dies, "last_work": "fuel filter"}):
        told = evidence(states=states, numbers={"run_time_before_stop": 120.0})
        asked = {step.key for step in ranked(nine_kw, told, posterior(nine_kw, told), classes=EVERY)}
        assert asked
        assert not asked & WARMED_UP


def test_no_room_or_tap_is_felt_of_a_heater_that_dies_even_where_it_may_be_in_order() -> None:
    """After a season's standing a drained line lets a sound heater die: that it would warm the rooms is no
    reason to ask for ten minutes of running."""
    stood = bank_of("generic_9_kw", replace(conditions(), since_fired_s=60.0 * 86_400.0))
    states = {
        "owner_says": "lights then dies",
        "flame_look": "bright and steady",
        "burner_sound": "even roar",
    }
    for burned, asks in ((None, False), (120.0, False), (1500.0, True)):
        numbers = {} if burned is None else {"run_time_before_stop": burned}
        told = evidence(states=states, numbers=numbers)
        laid = laid_out(stood, told, posterior(stood, told), classes=EVERY)
        keys = {option.key for option in laid.options}
        assert bool(keys & (WARMED_UP | WARM_LOOKS)) is asks, burned
