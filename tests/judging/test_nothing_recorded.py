"""A gate about which nothing was recorded is not proven: "within limits" is never where it starts."""

import pytest
from cases import AS_FOUND, METER, PROBE, Draft, good
from second_opinion import second_verdict

from lightoff.judging.verdict import judge
from lightoff.texts import Speaker

NOTHING = {
    "trials": "Nobody has noted how it lit, nor how many starts were without flame.",
    "response check": "No carbon monoxide was read as left, so no cell has shown that it answers.",
    "belongs here": "Nothing that the verdict needs has been read yet.",
    "conflict": "Nothing has been read yet that something else could confirm or contradict.",
}


def empty() -> Draft:
    draft = good()
    draft.readings.clear()
    draft.events.clear()
    return draft


def gates(draft: Draft) -> dict[str, str]:
    """Every gate's judgement, on which both implementations agree."""
    first = {each.gate: str(each.judgement) for each in judge(draft.case(), **draft.facts()).gates}
    assert first == second_verdict(draft.case(), **draft.facts())[1]
    return first


def said(draft: Draft, gate: str) -> str:
    found = next(each for each in judge(draft.case(), **draft.facts()).gates if each.gate == gate)
    return Speaker().say(found.said)


def test_no_gate_of_an_empty_visit_is_within() -> None:
    assert set(gates(empty()).values()) == {"not proven"}


@pytest.mark.parametrize("gate", NOTHING)
def test_it_says_that_nothing_was_recorded(gate: str) -> None:
    assert said(empty(), gate) == NOTHING[gate]


def test_what_only_other_devices_or_no_gate_read_is_no_evidence() -> None:
    draft = empty().add("stack_gas_temperature", 71.5, "190 degC", instrument=PROBE)
    assert set(gates(draft).values()) == {"not proven"}


def test_one_look_proves_only_its_own_gate() -> None:
    within = {name for name, each in gates(empty().add("exhaust_path", 75, "sound and clear")).items()
              if each == "within limits"}  # fmt: skip
    assert within == {"exhaust path", "belongs here", "conflict"}


@pytest.mark.parametrize(
    "recorded",
    [
        lambda draft: draft.add("trials_without_flame", 61, "0 count", test=None),
        lambda draft: draft.add("light_off", 60.6, "first try"),
        lambda draft: draft.add("chamber_look", 50, "dry", stage=AS_FOUND, test=None),
    ],
)
def test_starts_without_flame_are_known_by_a_count_a_light_off_or_a_look(recorded) -> None:  # type: ignore[no-untyped-def]
    assert gates(recorded(empty()))["trials"] == "within limits"


def test_what_is_doubted_does_not_tell_of_starts_without_flame() -> None:
    draft = empty().add("light_off", 60.6, "first try", basis="grouped")
    assert gates(draft)["trials"] == "not proven"


def test_a_number_of_carbon_monoxide_asks_for_no_response_check_and_says_so() -> None:
    draft = empty().add("living_space_co_running", 80, "2 ppm", instrument=METER)
    assert gates(draft)["response check"] == "within limits"
    assert (
        said(draft, "response check")
        == "No carbon monoxide was read as 0, so no response check is asked for."
    )


def test_one_test_needs_flue_gas_and_living_space_in_it() -> None:
    flue = empty().add("flue_o2", 68, "6.0 %", basis="dry", instrument=PROBE, set_number=1)
    assert gates(flue)["one test"] == "not proven"
    assert said(flue, "one test") == (
        "The flue gas and the living space have not both been read in the test, so its length is not known."
    )
    both = flue.add("living_space_co_running", 80, "2 ppm", instrument=METER)
    assert gates(both)["one test"] == "within limits"


def test_calibration_needs_an_electronic_instrument_that_read() -> None:
    draft = empty().add("smoke_number", 73, "0 smoke no.", instrument="smoke-pump")
    assert gates(draft)["calibration"] == "not proven"
    assert said(draft, "calibration") == "No electronic instrument has read anything in the test yet."
