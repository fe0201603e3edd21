"""The verdict around its gates: errors, names of stops, vehicles, and what is set aside."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from cases import PROBE, Draft, good, limits

from lightoff.judging import verdict
from lightoff.judging.assessment import VerdictResult
from lightoff.judging.verdict import GATES
from lightoff.terms.people import VehicleKind
from lightoff.terms.shelf import Limit, Limits
from lightoff.terms.visit import NOT_HAD
from lightoff.texts import Speaker


def judged(draft: Draft, **facts: Any) -> VerdictResult:
    return verdict.judge(draft.case(), **(draft.facts() | facts))


def table(*rows: Limit) -> Limits:
    return replace(limits(), rows=dict(limits().rows) | {row.key: row for row in rows})


def broken(*_: object) -> Any:
    raise ZeroDivisionError("planted")


def test_an_error_before_the_gates_leaves_every_gate_not_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verdict, "believe", broken)
    result = judged(good())
    assert str(result.verdict) == "not proven"
    assert {str(gate.judgement) for gate in result.gates} == {"not proven"}
    assert [gate.gate for gate in result.gates] == list(GATES)
    assert result.stops == result.set_aside == ()
    for gate in result.gates:
        said = Speaker().say(gate.said)
        name = Speaker().text(f"gate.{gate.gate.replace(' ', '_')}")
        assert said.startswith(f"The gate “{name}” could not be judged because of an error")
        assert "ZeroDivisionError('planted')" in said


def test_an_error_in_what_is_set_aside_hides_no_stop(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verdict, "why_not", broken)
    draft = good().edit("exhaust_path", state="blocked").add("coolant_temperature", 70, "400 degC")
    result = judged(draft)
    assert result.stops == ("do not fire",)
    told = [Speaker().say(each) for each in result.set_aside]
    assert len(told) == 1
    assert "ZeroDivisionError('planted')" in told[0]


def test_gates_are_told_worst_first_and_in_their_order_where_they_are_alike() -> None:
    result = judged(good().edit("exhaust_path", state="blocked").drop("smoke_number").drop("light_off"))
    assert [gate.gate for gate in result.gates if str(gate.judgement) != "within limits"] == [
        "exhaust path",
        "smoke",
        "light-off",
    ]
    alike = [gate.gate for gate in result.gates if str(gate.judgement) == "within limits"]
    assert alike == [gate for gate in GATES if gate in alike]


@pytest.mark.parametrize("kind", VehicleKind)
def test_a_row_for_boats_holds_on_boats(kind: VehicleKind) -> None:
    row = replace(limits().rows["type_approval_smoke"], value=limits().rows["smoke_number_fit"].value / 100)  # type: ignore[operator]
    draft = good().edit("smoke_number", shown="0.5 smoke no.")
    draft.kind = kind
    boats_only = judged(draft, limits=table(replace(row, kinds=("boat",))))
    assert (str(boats_only.verdict) == "not proven") == (kind is VehicleKind.BOAT)


def test_a_stop_without_a_name_forbids_to_fire() -> None:
    row = replace(limits().rows["exhaust_not_inside"], stops="")
    assert judged(good().edit("exhaust_path", state="blocked"), limits=table(row)).stops == ("do not fire",)


def test_a_stop_that_no_order_knows_is_named_and_comes_first() -> None:
    row = replace(limits().rows["exhaust_not_inside"], stops="keep the dog out")
    draft = good().edit("exhaust_path", state="blocked").edit("living_space_co_running", shown="60 ppm")
    assert judged(draft, limits=table(row)).stops == ("keep the dog out", "leave the vehicle")


def test_all_stops_are_named_in_their_order() -> None:
    rows = limits().rows
    table_of_four = table(
        replace(rows["exhaust_not_inside"], stops="do not drink"),
        replace(rows["chamber_dry"], stops="do not energise"),
    )
    draft = good().edit("exhaust_path", state="blocked").add("chamber_look", 90, "wet")
    draft.edit("living_space_co_running", shown="60 ppm").edit("flue_co", shown="900 ppm")
    assert judged(draft, limits=table_of_four).stops == (
        "leave the vehicle",
        "do not fire",
        "do not energise",
        "do not drink",
    )


def test_what_another_heater_showed_is_not_set_aside_for_a_reason_that_is_not_true() -> None:
    # 70 degC can be; it is only of no use here, and "belongs here" says why.
    draft = good().add("coolant_temperature", 70, "70 degC", heater="heater-2")
    result = judged(draft)
    assert result.set_aside == ()
    assert [gate.gate for gate in result.gates if str(gate.judgement) != "within limits"] == ["belongs here"]


def test_what_cannot_be_believed_and_no_gate_needs_is_set_aside_by_name() -> None:
    draft = good().add("coolant_temperature", 70, "400 degC").add("igniter_current", 61, "9 A", at_top=True)
    draft.add("stack_gas_temperature", 72, "190 degC", instrument=PROBE, set_number=3)
    told = [Speaker().say(each).replace("\u00a0", " ") for each in judged(draft).set_aside]
    assert [each.partition(" was read")[0] for each in told] == ["Coolant now", "Igniter current"]
    assert str(judged(draft).verdict) == "fit as tested"


@pytest.mark.parametrize(
    "draft",
    [
        good().add("coolant_temperature", 70, None, note=NOT_HAD),  # no reading at all
        good().add("no_such_quantity", 70, "70 degC"),  # "belongs here" names it
        good().add("smoke_number", 74, "9 degC", set_number=2),  # so does "belongs here"
        good().add(
            "coolant_temperature", 70, "70 degC", typed_uncertainty=Decimal(40)
        ),  # doubted, and usable
    ],
)
def test_what_is_told_elsewhere_or_can_be_used_is_not_set_aside(draft: Draft) -> None:
    assert judged(draft).set_aside == ()


def test_stops_that_no_order_knows_come_in_one_order() -> None:
    stops = ["do not drink", "mind the dog", "leave the vehicle", "keep the cat out"]
    assert sorted(stops, key=verdict._stop_order) == [
        "keep the cat out",
        "mind the dog",
        "leave the vehicle",
        "do not drink",
    ]
