"""What a visit ended with when it was closed holds, with what it stopped; it never raises anything."""

from dataclasses import replace

import pytest
from cases import Draft, catalogue, good, limits, sheet, shelf

from lightoff.judging.assess import assess
from lightoff.judging.assessment import Assessment
from lightoff.judging.content import sealed_content
from lightoff.judging.sealing import as_sealed

BOTH = ("leave the vehicle", "do not fire")


def judged(draft: Draft, sealed: str, stops: tuple[str, ...] = (), *, about_this: bool = True) -> Assessment:
    """The good case, or one of its edits, as judged today, under a seal."""
    case = draft.case()
    visit = replace(case.visit, sealed_verdict=sealed, sealed_stops=stops)
    visit = replace(visit, sealed_content=sealed_content(case) if about_this else "of other readings")
    case = replace(case, visit=visit)
    found = assess(
        case,
        sheet=sheet(),
        fuel=shelf().fuels["diesel_2"],
        limits=limits(),
        catalogue=catalogue(),
        now=draft.now,
    )
    return as_sealed(found, case)


def dripping() -> Draft:
    return good().edit("fuel_joints_10_min", state="dripping")


def told(found: Assessment) -> tuple[str, tuple[str, ...]]:
    return str(found.verdict.verdict), found.verdict.stops


@pytest.mark.parametrize("sealed", ["fit as tested", "not proven", "not fit"])
def test_a_seal_holds_and_stops_nothing_of_itself(sealed: str) -> None:
    assert told(judged(good(), sealed, BOTH)) == (sealed, ())
    assert told(judged(good(), sealed, BOTH, about_this=False)) == ("fit as tested", ())
    worse = judged(dripping(), sealed, BOTH)
    assert told(worse) == ("stop", ("do not fire",)), "it raises nothing"
    assert "as closed" not in {each.gate for each in worse.verdict.gates}, "nor is it told then"


def test_a_sealed_stop_names_what_it_stopped() -> None:
    found = judged(good(), "stop", ("leave the vehicle",))
    assert told(found) == ("stop", ("leave the vehicle",))
    gate = found.verdict.gates[0]
    assert (gate.gate, gate.stops, gate.said.key) == (
        "as closed",
        ("leave the vehicle",),
        "judging.as_closed",
    )
    assert gate.said.values["state"] == "@verdict_word.stop"
    assert told(judged(good(), "stop", BOTH)) == ("stop", BOTH)


@pytest.mark.parametrize("stops", [(), ("keep the dog out",)])
def test_where_a_sealed_stop_names_nothing_the_heater_stays_off(stops: tuple[str, ...]) -> None:
    assert told(judged(good(), "stop", stops)) == ("stop", ("do not fire",))


def test_beside_a_stop_of_today_too() -> None:
    gas = good().edit("living_space_co_running", shown="60 ppm")
    assert told(judged(gas, "stop")) == ("stop", BOTH)


def test_a_stop_of_today_hides_none_that_was_sealed() -> None:
    assert told(judged(dripping(), "stop", ("leave the vehicle",))) == ("stop", BOTH)
    same = judged(dripping(), "stop", ("do not fire",))
    assert told(same) == ("stop", ("do not fire",))
    assert "as closed" not in {each.gate for each in same.verdict.gates}, "nothing is told twice"


def test_a_seal_that_is_no_verdict_says_nothing() -> None:
    assert told(judged(good(), "splendid")) == told(judged(good(), "")) == ("fit as tested", ())
    assert "as closed" not in {each.gate for each in judged(good(), "fit as tested").verdict.gates}
