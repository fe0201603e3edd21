"""What an outcome means: which causes a step tells apart, and what each end of it speaks for."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from making import SHELF, bank_of, conditions, evidence

from lightoff.faultfinding import Bank, Evidence, Finding, Kind, Outcome, find, telling
from lightoff.faultfinding.asking import reading_step, repair_step
from lightoff.faultfinding.meaning import Meaning, meanings
from lightoff.faultfinding.unknown import UNKNOWN_KEY
from lightoff.plant.quantities import QUANTITIES
from lightoff.texts import Speaker

EVERY = frozenset(SHELF.catalogue.classes)
NAMED = ("filter", "leak", "pump", "")
TIED = np.array([0.45, 0.40, 0.10, 0.05])
"""Two that are hard to tell apart, a third, and nothing wrong; one cause each."""


def meant(*under: tuple[float, ...], chances: np.ndarray = TIED, named: tuple[str, ...] = NAMED) -> Meaning:
    """The meaning of one step with this chance of its outcomes under each cause."""
    return meanings(chances, (named, np.eye(len(named))), {"step": np.array(under)})["step"]


def test_a_step_that_splits_two_names_both_the_likelier_first() -> None:
    means = meant((0.9, 0.1), (0.1, 0.9), (0.5, 0.5), (0.5, 0.5))
    assert means.apart == ("filter", "leak")
    assert (means.leads, means.raises) == (["filter", "leak"], ["filter", "leak"])


def test_a_step_that_clears_a_third_does_not_claim_to_tell_the_first_two_apart() -> None:
    means = meant((1.0, 0.0), (1.0, 0.0), (0.1, 0.9), (1.0, 0.0))
    assert means.apart in (("pump",), ("filter", "pump"))
    assert "leak" not in means.apart
    assert means.raises[1] == "pump"


def test_what_is_raised_is_told_from_what_leads_on() -> None:
    means = meant((0.9, 0.1), (0.9, 0.1), (0.8, 0.2), (0.9, 0.1))
    assert means.leads == ["filter", "filter"]
    assert means.raises[1] == "pump"
    assert means.first == "filter"


def test_the_unknown_is_named_alone_only_where_it_leads() -> None:
    named = ("filter", UNKNOWN_KEY)
    tells = ((0.9, 0.1), (0.2, 0.8))
    assert meant(*tells, chances=np.array([0.7, 0.3]), named=named).apart == ("filter",)
    assert meant(*tells, chances=np.array([0.2, 0.8]), named=named).apart == (UNKNOWN_KEY,)


@pytest.fixture(scope="module")
def nine_kw() -> Bank:
    return bank_of("generic_9_kw", conditions(altitude_m=2_900.0))


@pytest.fixture(scope="module")
def tie(nine_kw: Bank) -> Finding:
    """Dies with a pulsing flame after the filter was touched: two that only an opened filter splits."""
    return find(nine_kw, TWO, classes=EVERY)


TWO = evidence(
    states={"owner_says": "lights then dies", "last_work": "fuel filter", "flame_look": "pulsing",
            "stop_step": "running"},
    numbers={"run_time_before_stop": 120.0},
)  # fmt: skip


def said(found: Finding, key: str) -> tuple[str, list[str]]:
    speaker = Speaker()
    step = next(each for each in found.steps if each.key == key)
    return speaker.say(telling.why(step)), [speaker.say(each) for each in telling.outcomes(step)]


def test_what_tells_a_tie_nothing_is_not_said_to_split_it(tie: Finding) -> None:
    assert {each.fault for each in tie.suspects[:2]} == {"fuel_filter_not_primed", "suction_air_leak"}
    why, outcomes = said(tie, "coolant_level")
    assert why == "It proves or clears: Coolant low."
    assert outcomes[0] == "at the mark: changes little"
    why, outcomes = said(tie, "filter_fill")
    assert "Fuel filter fitted without filling" in why
    assert "Air leak on the suction side" in why
    assert outcomes == [
        "full: points to Air leak on the suction side",
        "part empty: points to Fuel filter fitted without filling",
    ]


def test_a_repair_says_what_each_end_of_it_would_mean(tie: Finding) -> None:
    repair = next(each for each in tie.steps if each.kind is Kind.REPAIR)
    well, same = (Speaker().say(each) for each in telling.outcomes(repair))
    assert well.startswith("runs well: points to ")
    assert same.startswith("no change: ")
    assert Speaker().say(telling.why(repair)).startswith("For its chance it is the cheapest")
    assert Speaker().say(telling.why(repair, chosen=True)) == Speaker().text("finding.why_chosen")
    assert [each.state for each in repair.outcomes] == [Outcome.CURED.value, Outcome.NO_CHANGE.value]


def test_the_supply_is_measured_for_the_sake_of_what_it_opens(nine_kw: Bank) -> None:
    why, _ = said(find(nine_kw, evidence(states={"owner_says": "smokes or smells"}), classes=EVERY),
                  "supply_voltage_rest")  # fmt: skip
    assert why == "Currents and drops tell nothing before the supply at rest is known."


def test_what_no_ranking_chose_says_so() -> None:
    speaker = Speaker()
    asked = speaker.say(telling.why(reading_step("last_good_run", SHELF.catalogue)))
    assert "drained line" in asked
    chosen = speaker.say(telling.why(repair_step(SHELF.faults["igniter_open"])))
    assert chosen == Speaker().text("finding.why_chosen")
    for key in telling.ASKED:
        assert speaker.say(telling.why(reading_step(key, SHELF.catalogue))) != chosen


def test_where_nothing_fits_a_quick_look_says_what_for(nine_kw: Bank) -> None:
    odd: Evidence = replace(
        TWO, numbers=evidence(numbers={"fan_current": 9.0, "igniter_current": 31.0}).numbers
    )
    found = find(nine_kw, odd, classes=EVERY)
    assert found.nothing_fits
    looks = [each for each in found.steps if each.kind is Kind.READING]
    assert looks
    assert all(Speaker().say(telling.why(each)) for each in looks)


def test_what_means_the_same_is_told_once(tie: Finding) -> None:
    for step in tie.steps:
        lines = [Speaker().say(each) for each in telling.outcomes(step)]
        assert len(lines) == len(set(lines))
        if step.key in QUANTITIES:
            ends = [line.split(": ", 1)[1] for line in lines if ": " in line]
            assert all(one != other for one, other in itertools.pairwise(ends)), step.key
