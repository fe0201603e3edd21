"""Every suspect, step and outcome has its words."""

from dataclasses import replace

import pytest
from making import SHELF, bank_of, conditions, evidence

from lightoff.faultfinding import Bank, Evidence, Kind, Outcome, find, telling
from lightoff.texts import Speaker

EVERY = frozenset(SHELF.catalogue.classes)
CASES = {
    "nothing read": evidence(),
    "does nothing": evidence(states={"owner_says": "does nothing", "light_off": "did not light"}),
    "dies": evidence(states={"owner_says": "lights then dies", "stop_step": "running"}),
    "smokes": evidence(numbers={"flue_o2": 0.02, "flue_co": 2e-3}, states={"smoke_colour": "black"}),
    "no heat": evidence(numbers={"coolant_flow": 5e-5}, states={"owner_says": "gives little heat"}),
    "slipped": evidence(
        numbers={"flue_o2": 0.02, "coolant_flow": 2e-3},
        states={"owner_says": "smokes or smells", "smoke_colour": "black", "inlet_path": "restricted"},
    ),
    "tried": evidence(
        states={"owner_says": "lights then dies"},
        trials={"good_fuel_can": Outcome.CURED},
        repairs={"fuel_filter_restricted": Outcome.NO_CHANGE},
    ),
}


@pytest.fixture(scope="module")
def nine_kw() -> Bank:
    return bank_of("generic_9_kw", conditions())


@pytest.mark.parametrize("told", CASES.values(), ids=CASES)
def test_all_of_it_can_be_said(nine_kw: Bank, told: Evidence) -> None:
    speaker = Speaker()
    found = find(nine_kw, told, classes=EVERY)
    said = [speaker.say(each) for each in telling.conclusion(found)]
    for suspect in found.suspects:
        said += [speaker.say(each) for each in telling.speaks_for(suspect, told)]
        said += [speaker.say(each) for each in telling.speaks_against(suspect, told)]
    for step in found.steps:
        said += [speaker.say(telling.step_name(step)), speaker.say(telling.step_how(step))]
        said.append(speaker.say(telling.why(step)))
        said += [speaker.say(each) for each in telling.outcomes(step)]
        assert set(telling.readings_of(step)) <= set(SHELF.catalogue.entries)
    assert all(sentence and "{" not in sentence and "@" not in sentence for sentence in said)


def test_a_word_for_every_chance() -> None:
    speaker = Speaker()
    words = [speaker.text(telling.chance_word(at / 100)) for at in range(101)]
    assert len(set(words)) == len(telling.CHANCE_WORDS)
    assert telling.chance_word(0.1497) == telling.chance_word(0.1503), "suspects that nothing sets apart"
    assert telling.chance_word(0.1449) != telling.chance_word(0.15)
    assert words[0] != words[100]


@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_of_step_is_met(nine_kw: Bank, kind: Kind) -> None:
    kinds = {step.kind for told in CASES.values() for step in find(nine_kw, told, classes=EVERY).steps}
    assert kind in kinds


@pytest.mark.parametrize(
    ("chances", "words"),
    [
        ((0.62, 0.4, 0.8), "about 6 in 10 (4 to 8)"),
        ((0.955, 0.4, 0.96), "about 96 in 100 (40 to 96)"),
        ((0.999, 0.6, 1.0), "about 99 in 100 (60 to 99)"),
        ((0.999, 0.998, 1.0), "more than 99 in 100"),
        ((0.05, 0.03, 0.2), "about 5 in 100 (3 to 20)"),
        ((0.001, 0.0, 0.004), "less than 1 in 100"),
    ],
)
def test_no_chance_is_told_as_certain(chances: tuple[float, float, float], words: str) -> None:
    assert Speaker().say(telling.share(*chances)) == words


def test_where_it_was_set_lower_the_thin_air_is_told() -> None:
    """Black smoke of a heater in order high up: what needs no fault is said to be the height."""
    told = evidence(states={"owner_says": "smokes or smells", "smoke_colour": "black"})

    def said(set_altitude_m: float) -> str:
        here = replace(conditions(altitude_m=4_500.0), set_altitude_m=set_altitude_m)
        found = find(bank_of("generic_9_kw", here), told, classes=EVERY)
        return " ".join(Speaker().say(each) for each in telling.conclusion(found))

    assert "lower than this place" in said(0.0)
    assert "lower than this place" not in said(4_200.0)


@pytest.mark.parametrize(
    ("look", "word"), [(None, "before somebody has looked"), ("wet", "is wet"), ("dry", "")]
)
def test_of_a_wet_chamber_it_is_said_that_it_is_wet(nine_kw: Bank, look: str | None, word: str) -> None:
    states = {"owner_says": "tries without flame"} | ({"chamber_look": look} if look else {})
    told = replace(evidence(states=states), starts_without_flame=2)
    said = " ".join(Speaker().say(each) for each in telling.conclusion(find(nine_kw, told, classes=EVERY)))
    assert word in said
    assert ("before somebody has looked" in said) == (look is None)


def test_a_step_that_reads_more_says_that_its_outcomes_are_of_one_number(nine_kw: Bank) -> None:
    said = Speaker().text("finding.outcome_along")
    told = evidence(states={"owner_says": "smokes or smells"})
    steps = [each for each in find(nine_kw, told, classes=EVERY).steps if each.kind is Kind.READING]
    assert any(step.along for step in steps)
    for step in steps:
        assert (said in map(Speaker().say, telling.outcomes(step))) is bool(step.along), step.key
