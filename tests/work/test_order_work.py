"""The order of work: what is needed is there with its reason, and nothing takes a guard away."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.shelf import open_shelf
from lightoff.terms.procedure import Phase
from lightoff.texts import Speaker
from lightoff.work.order_work import OrderOfWork, compose

SHELF = open_shelf()
SHEET = SHELF.sheets["generic_9_kw"]
EVERY_KIND = tuple(SHELF.catalogue.classes)
STATES = {
    **{key: each.states for key, each in SHELF.catalogue.entries.items() if each.states},
    **{
        each.key: each.states
        for procedure in SHELF.procedures.values()
        for each in procedure.steps
        if each.states
    },
}
ASKED = sorted(
    {key for p in SHELF.procedures.values() for each in p.steps for key in (*each.only_findings, *each.holds)}
    | set(SHELF.procedures["annual_service"].stops)
)
findings = st.lists(st.sampled_from(ASKED), unique=True, max_size=6).flatmap(
    lambda keys: st.fixed_dictionaries({key: st.sampled_from(STATES[key]) for key in keys})
)
questions = st.fixed_dictionaries(
    {
        "procedure": st.sampled_from(sorted(SHELF.procedures)),
        "sheet": st.sampled_from(sorted(SHELF.sheets)),
        "kinds": st.sets(st.sampled_from(EVERY_KIND)),
        "due": st.sets(st.sampled_from(sorted(SHELF.part_types))),
        "complaint": st.sampled_from(("", *SHELF.catalogue.entries["owner_says"].states)),
        "findings": findings,
        "spares": st.sets(st.sampled_from(sorted(SHELF.part_types))),
    }
)


def order(procedure: str = "annual_service", *, sheet: Any = SHEET, **asked: Any) -> OrderOfWork:
    sheet = SHELF.sheets[sheet] if isinstance(sheet, str) else sheet
    return compose(SHELF.procedures[procedure], sheet=sheet, catalogue=SHELF.catalogue, **asked)


def there(found: OrderOfWork) -> list[str]:
    return [each.step.key for each in found.steps]


def reasons(found: OrderOfWork, key: str) -> str:
    speaker = Speaker(own=SHELF.own_words)
    said = [why for each in found.steps if each.step.key == key for why in each.because]
    said += [each.because for each in found.left_out if each.step.key == key]
    return " ".join(speaker.say(each) for each in said)


@settings(max_examples=60, deadline=None)
@given(questions)
def test_what_is_required_is_there_before_what_it_guards(asked: dict[str, Any]) -> None:
    found, procedure = order(**asked), SHELF.procedures[asked["procedure"]]
    keys = there(found)
    always = {each.key for each in procedure.steps if each.required and not each.only_findings}
    assert always <= set(keys)
    for index, each in enumerate(found.steps):
        guarded = [i for i, e in enumerate(found.steps) if e.step.key in each.step.guards]
        guarded += [i for i, e in enumerate(found.steps) if e.step.opens and e.step.opens in each.step.guards]
        if "firing" in each.step.guards:
            guarded += [i for i, e in enumerate(found.steps) if e.step.fires]
        assert all(index < at for at in guarded), each.step.key
        if each.step.opens:
            assert any(each.step.opens in e.step.guards and e.step.required for e in found.steps[:index])


@settings(max_examples=60, deadline=None)
@given(questions)
def test_what_is_displaced_is_put_back_and_nothing_else(asked: dict[str, Any]) -> None:
    found, procedure = order(**asked), SHELF.procedures[asked["procedure"]]
    keys = there(found)
    for step in procedure.steps:
        if step.puts_back:
            assert (step.key in keys) == (step.puts_back in keys)
            if step.key in keys:
                assert keys.index(step.puts_back) < keys.index(step.key)


@settings(max_examples=60, deadline=None)
@given(questions, findings)
def test_a_finding_more_takes_no_step_away_and_the_order_stands(asked: dict[str, Any], more: Any) -> None:
    fewer = order(**asked)
    grown = order(**{**asked, "findings": {**more, **asked["findings"]}})
    assert set(there(fewer)) <= set(there(grown))
    whole = [each.key for each in SHELF.procedures[asked["procedure"]].steps]
    assert there(grown) == sorted(there(grown), key=whole.index)
    held = {each.step.key for each in fewer.steps if each.held}
    assert held <= {each.step.key for each in grown.steps if each.held}


@settings(max_examples=30, deadline=None)
@given(questions)
def test_every_step_is_there_or_left_out_once_with_a_reason_and_asked_again_it_is_the_same(
    asked: dict[str, Any],
) -> None:
    found = order(**asked)
    everything = [*there(found), *(each.step.key for each in found.left_out)]
    assert sorted(everything) == sorted(each.key for each in SHELF.procedures[asked["procedure"]].steps)
    speaker = Speaker(own=SHELF.own_words)
    assert all(speaker.say(why) for each in found.steps for why in each.because)
    assert all(speaker.say(each.because) for each in found.left_out)
    assert all(speaker.say(each.held) for each in found.steps if each.held)
    assert found == order(**{**asked, "kinds": tuple(sorted(asked["kinds"], reverse=True))})


@pytest.mark.parametrize("procedure", [key for key, each in SHELF.procedures.items() if each.proves_first])
def test_it_is_proved_before_it_is_touched(procedure: str) -> None:
    found = order(procedure)
    proved = [i for i, e in enumerate(found.steps) if e.step.fires and e.step.phase is Phase.PROVE]
    touched = [i for i, e in enumerate(found.steps) if e.step.opens or e.step.displaces]
    assert proved
    assert proved[0] < min(touched)


@pytest.mark.parametrize("state", ["light soot", "heavy soot", "cracked"])
def test_build_up_in_the_tube_brings_it_out_and_back(state: str) -> None:
    assert not {"tube_out", "clean_tube", "tube_in"} & set(there(order(findings={"burn_tube_look": "clean"})))
    found = order(findings={"burn_tube_look": state})
    assert {"tube_out", "clean_tube", "tube_in"} <= set(there(found))
    assert reasons(found, "tube_out") == f"Burn tube: {state}."


def test_a_cured_finding_keeps_the_step_that_cured_it() -> None:
    found = order(findings={"chamber_look": "dry"}, seen={"chamber_look": ["wet", "dry"]})
    assert "dry_wet_chamber" in there(found)
    assert not any(each.held for each in found.steps)


def test_a_wet_chamber_holds_every_firing_and_nothing_else() -> None:
    found = order(findings={"chamber_look": "wet"})
    held = {each.step.key for each in found.steps if each.held}
    assert held == {each.step.key for each in found.steps if each.step.fires}
    step = next(each for each in found.steps if each.step.key == "prove_fires")
    assert step.held is not None
    assert Speaker().say(step.held) == "Wait: Chamber, looked into, wet. Cure that first."


def test_what_is_still_live_holds_every_opening() -> None:
    found = order(findings={"isolate": "still live"})
    held = {each.step.key for each in found.steps if each.held}
    assert held == {each.step.key for each in found.steps if each.step.opens}


def test_of_two_answers_that_contradict_each_other_the_one_that_holds_holds() -> None:
    for said in (["dead", "still live"], ["still live", "dead"]):
        found = order(findings={"isolate": "dead"}, disputed={"isolate": said})
        held = {each.step.key for each in found.steps if each.held}
        assert held == {each.step.key for each in found.steps if each.step.opens}


def test_the_igniter_is_renewed_when_it_is_due_or_found_bad_and_not_by_the_year() -> None:
    assert "renew_igniter" not in there(order())
    assert reasons(order(), "renew_igniter") == "Left out: igniter is not due."
    assert "renew_igniter" in there(order(due={"igniter"}))
    assert reasons(order(due={"igniter"}), "renew_igniter") == "Igniter is due."
    assert "renew_igniter" in there(order(findings={"igniter_look": "coated"}))
    assert "spare_igniter" in there(order())


def test_holder_and_fastening_come_from_the_sheet_and_a_silent_one_asks_to_look() -> None:
    nut = replace(SHEET, igniter_holder="cap nut", fastening="four bolts")
    flange = replace(SHEET, igniter_holder="flange", fastening="thumb screws")
    silent = replace(SHEET, igniter_holder="", fastening="")
    assert {"igniter_out_nut", "igniter_in_nut", "tighten_bolts"} <= set(there(order(sheet=nut)))
    assert not {"igniter_in_flange", "tighten_screws"} & set(there(order(sheet=nut)))
    assert {"igniter_out_flange", "igniter_in_flange", "tighten_screws"} <= set(there(order(sheet=flange)))
    assert {"igniter_out_nut", "igniter_out_flange"} <= set(there(order(sheet=silent)))
    assert "does not say which" in reasons(order(sheet=silent), "igniter_out_nut")


def test_a_holder_that_no_step_is_made_for_is_looked_at_and_not_forgotten() -> None:
    found = order(sheet=replace(SHEET, igniter_holder="bayonet"))
    assert {"igniter_out_nut", "igniter_out_flange", "igniter_in_nut"} <= set(there(found))
    assert "bayonet, which no step here is made for" in reasons(found, "igniter_out_flange")


def test_an_instrument_that_is_not_owned_leaves_its_step_out_and_is_named() -> None:
    assert "flue_set_1" not in there(order())
    assert reasons(order(), "flue_set_1") == "Left out: it needs flue-gas probe."
    assert "flue_set_1" in there(order(kinds=["flue_gas_probe"]))
    meter = next(each for each in order().steps if each.step.key == "living_space_running")
    assert meter.cannot_take == ("living_space_co_running",)


def test_the_complaint_decides_where_a_call_begins() -> None:
    nothing = there(order("no_heat_call", complaint="does nothing"))
    tries = there(order("no_heat_call", complaint="tries without flame"))
    assert "power_first" in nothing
    assert "fuel_first" in tries
    assert "power_first" not in tries


def test_a_spare_goes_without_a_question_only_where_the_book_has_one_aboard() -> None:
    for spares, asks in (({"igniter"}, False), (set(), True), ({"nozzle"}, True)):
        step = next(each for each in order(spares=spares).steps if each.step.key == "spare_igniter")
        assert step.needs_own_answer is asks
    for each in order(spares=set(SHELF.part_types)).steps:
        assert each.needs_own_answer or not (each.step.required or each.step.guards or each.step.fires)


def test_minutes_tools_parts_and_spares() -> None:
    found = order(kinds=EVERY_KIND, spares={"nozzle_filter"})
    assert found.minutes == sum(each.step.minutes for each in found.steps)
    assert 180 < found.minutes < 420
    assert found.tools[0] == "personal_co_alarm"
    assert {"nozzle_filter", "nozzle_ring", "fuel_filter", "fuel_filter_seal", "intake_filter"} <= set(
        found.parts
    )
    spare = {each.step.key: each.spare for each in found.steps}
    assert spare["renew_nozzle_filter"] is True
    assert spare["renew_nozzle_ring"] is False
    assert spare["ventilate"] is None
