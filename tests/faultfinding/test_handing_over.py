"""Where nothing of the catalogue fits: read again what fits least, quick looks, then hand over."""

from dataclasses import replace

import numpy as np
import pytest
from making import SHELF, bank_of, conditions, evidence

from lightoff.faultfinding import Bank, Evidence, Finding, Kind, Outcome, find, posterior, telling
from lightoff.faultfinding.cost import CHEAP_MINUTES
from lightoff.faultfinding.handing_over import MOST_AGAIN, tells, with_unknown
from lightoff.faultfinding.options import laid_out
from lightoff.faultfinding.unknown import UNKNOWN_KEY
from lightoff.plant.quantities import QUANTITIES
from lightoff.texts import Speaker

EVERY = frozenset(SHELF.catalogue.classes)
LOOKS = {"owner_says": "smokes or smells", "smoke_colour": "black", "inlet_path": "restricted"}
BLOCKED = evidence(states=LOOKS, numbers={"flue_o2": 0.02})
SLIPPED = evidence(states=LOOKS, numbers={"flue_o2": 0.02, "coolant_flow": 2e-3})
"""A blocked inlet, and a flow typed a hundred times too large."""
NONSENSE = evidence(
    states={"owner_says": "runs well"},
    numbers={"fan_current": 9.0, "igniter_current": 31.0, "coolant_flow": 2e-3, "after_run_time": 700.0},
)


@pytest.fixture(scope="module")
def nine_kw() -> Bank:
    return bank_of("generic_9_kw", conditions())


def finding(bank: Bank, told: Evidence) -> Finding:
    return find(bank, told, classes=EVERY)


def read_again(found: Finding) -> list[str]:
    return [step.key for step in found.steps if step.kind is Kind.READ_AGAIN]


def checks(found: Finding) -> list[str]:
    return [step.key for step in found.steps if step.kind is Kind.READING]


def test_where_something_fits_nothing_is_read_again(nine_kw: Bank) -> None:
    found = finding(nine_kw, BLOCKED)
    assert not found.nothing_fits
    assert read_again(found) == []


def test_the_reading_that_hides_the_cause_is_read_again_first(nine_kw: Bank) -> None:
    found = finding(nine_kw, SLIPPED)
    assert found.nothing_fits
    first = found.steps[0]
    assert (first.kind, first.key) == (Kind.READ_AGAIN, "coolant_flow")
    assert found.steps[-1].kind is Kind.HAND_OVER
    assert first.expected_minutes < found.steps[-1].expected_minutes, "worth its minutes by itself"
    otherwise, same = first.outcomes
    assert otherwise.leads in {each.fault for each in finding(nine_kw, BLOCKED).suspects[:2]}
    assert same.leads == UNKNOWN_KEY
    assert otherwise.chance + same.chance == pytest.approx(1.0)


def test_read_otherwise_the_cause_leads_again(nine_kw: Bank) -> None:
    mended = finding(nine_kw, evidence(states=LOOKS, numbers={"flue_o2": 0.02, "coolant_flow": 2.4e-4}))
    assert not mended.nothing_fits
    assert mended.suspects[0].fault in {each.fault for each in finding(nine_kw, BLOCKED).suspects[:2]}


def test_what_was_read_again_is_not_asked_for_a_third_time(nine_kw: Bank) -> None:
    told = replace(SLIPPED, read_again=frozenset({"coolant_flow"}))
    found = finding(nine_kw, told)
    assert "coolant_flow" not in read_again(found)
    assert "coolant_flow" not in found.check_again
    assert "coolant_flow" in finding(nine_kw, SLIPPED).check_again
    assert found.posterior.of(UNKNOWN_KEY) == finding(nine_kw, SLIPPED).posterior.of(UNKNOWN_KEY)


def test_quick_looks_come_before_handing_over_and_open_nothing(nine_kw: Bank) -> None:
    found = finding(nine_kw, NONSENSE)
    assert found.nothing_fits
    assert checks(found)
    for step in found.steps[:-1]:
        if step.kind is Kind.READING:
            assert not step.opens
            assert step.minutes <= CHEAP_MINUTES
            assert step.key not in NONSENSE.known


def test_a_look_that_brings_a_known_cause_back_is_worth_more_than_handing_over(nine_kw: Bank) -> None:
    """At the very edge of what the model thinks possible: so much oxygen in a flame that dies black."""
    told = evidence(states={**LOOKS, "owner_says": "lights then dies"}, numbers={"flue_o2": 0.02})
    found = finding(nine_kw, told)
    assert found.nothing_fits
    first = found.steps[0]
    assert first.kind is Kind.READING
    assert first.opens in ("", "exhaust"), "the probe that read the oxygen is in the pipe by then"
    assert first.minutes <= CHEAP_MINUTES
    assert first.expected_minutes < found.steps[-1].expected_minutes
    seen = {step.key: step for step in found.steps if step.kind is Kind.READING}
    step, states = seen["inlet_tube_look"], {**LOOKS, "owner_says": "lights then dies"}
    standing = next(each for each in step.outcomes if each.state == "standing up")
    after = finding(
        nine_kw, evidence(states={**states, "inlet_tube_look": "standing up"}, numbers={"flue_o2": 0.02})
    )
    assert not after.nothing_fits
    assert after.suspects[0].fault == "inlet_tube_unseated"
    assert standing.leads in ("inlet_tube_unseated", UNKNOWN_KEY)
    assert standing.leads == "inlet_tube_unseated" or standing.leads_chance < found.unknown


def test_it_always_comes_to_handing_over(nine_kw: Bank) -> None:
    """Each step done is gone; after a score of quick looks the plan ends, whatever they show."""
    told, minutes, done = NONSENSE, 0.0, []
    for _ in range(40):
        step = finding(nine_kw, told).steps[0]
        if step.kind is Kind.HAND_OVER:
            break
        minutes += step.minutes
        done.append((step.kind, step.key))
        if step.kind is Kind.READ_AGAIN:
            told = replace(told, read_again=told.read_again | {step.key})
        else:
            told = replace(told, not_possible=told.not_possible | {step.key})
    else:
        pytest.fail(f"never came to handing over: {done}")
    assert len(done) == len(set(done))
    assert 2 <= len(done) <= 25
    assert minutes < 60.0


def test_no_start_to_read_again_before_the_chamber_was_looked_into(nine_kw: Bank) -> None:
    told = replace(SLIPPED, starts_without_flame=2.0)
    for step in finding(nine_kw, told).steps:
        if step.kind is Kind.READ_AGAIN and step.key in QUANTITIES:
            assert not QUANTITIES[step.key].needs_flame
            assert not QUANTITIES[step.key].needs_trial


def test_at_most_a_few_are_read_again(nine_kw: Bank) -> None:
    assert 1 <= len(read_again(finding(nine_kw, NONSENSE))) <= MOST_AGAIN


def test_a_trial_is_not_done_again(nine_kw: Bank) -> None:
    told = replace(SLIPPED, trials={"good_fuel_can": Outcome.CURED})
    assert "good_fuel_can" not in read_again(finding(nine_kw, told))


def test_every_step_says_why_and_what_it_would_mean(nine_kw: Bank) -> None:
    speaker, found = Speaker(), finding(nine_kw, SLIPPED)
    first = found.steps[0]
    assert speaker.say(telling.step_name(first)).startswith("Read again: ")
    assert "misread" in speaker.say(telling.why(first))
    otherwise, same = (speaker.say(each) for each in telling.outcomes(first))
    assert "otherwise" in otherwise
    assert "the catalogue" in same
    check = next(step for step in found.steps if step.kind is Kind.READING)
    assert "known cause" in speaker.say(telling.why(check))
    assert telling.outcomes(check)


def test_a_probe_that_reads_four_tells_a_known_cause_from_none_better_than_one(nine_kw: Bank) -> None:
    told, found = NONSENSE, posterior(nine_kw, NONSENSE)
    laid = with_unknown(nine_kw, told, found, laid_out(nine_kw, told, found, classes=EVERY))
    probe = next(option for option in laid.options if option.key in laid.told and laid.told[option.key].along)
    assert np.allclose(probe.likelihood.sum(axis=1), 1.0)
    alone = tells(laid.chances, laid.told[probe.key].bands)
    assert tells(laid.chances, probe.likelihood) > alone + 0.02
    # What nobody wrote down lies where no known cause does: an outcome that all but names it.
    known = laid.chances[:-1] @ probe.likelihood[:-1] / laid.chances[:-1].sum()
    assert np.max(probe.likelihood[-1] - known) > 0.2
