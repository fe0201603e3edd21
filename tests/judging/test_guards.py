"""The twenty-one ways to a false "fit": each closed, and each test proven by a planted fault.

A planted fault switches one guard off. The same case must then read "fit as tested": so the guard, and
nothing else, closed that way, and its test would turn red without it.
"""

import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from cases import (
    AS_FOUND,
    CO2_LARGEST,
    GATING_CO,
    HEATER,
    METER,
    NOW,
    PROBE,
    Draft,
    Healthy,
    at,
    catalogue,
    diluted,
    good,
    limits,
    sheet,
    shelf,
)
from mutators import JUNK, NEAR
from second_opinion import USED_BY_A_GATE

from lightoff.judging import assess, believed, evidence_gates, limit_gates, verdict, weighing
from lightoff.judging.assessment import Verdict, VerdictResult
from lightoff.shelf import open_shelf
from lightoff.terms.case import Case
from lightoff.terms.part import Outcome, StepDone
from lightoff.terms.people import Span
from lightoff.terms.shelf import Limit, Limits
from lightoff.terms.visit import EventKind, Stage
from lightoff.texts import Speaker

FIT = "fit as tested"
Plant = pytest.MonkeyPatch


def judged(draft: Draft, **facts: Any) -> VerdictResult:
    return verdict.judge(draft.case(), **(draft.facts() | facts))


def said(draft: Draft, **facts: Any) -> str:
    return str(judged(draft, **facts).verdict)


def gates(draft: Draft) -> dict[str, str]:
    return {each.gate: str(each.judgement) for each in judged(draft).gates}


def close(plant: Plant, gate: str) -> None:
    """Plant: this gate is always within limits."""
    run = verdict._run

    def never(runs: dict[str, Callable[[], Any]]) -> list[Any]:
        return [
            replace(each, judgement="within limits", stops=()) if each.gate == gate else each
            for each in run(runs)
        ]

    plant.setattr(verdict, "_run", never)


def table(key: str, **loosened: Any) -> Limits:
    """The table with one row as a careless hand would have it."""
    rows = dict(limits().rows)
    rows[key] = replace(rows[key], **loosened)
    return replace(limits(), rows=rows)


def everywhere(plant: Plant, name: str, value: object) -> None:
    """Replace a function in each module of the judgement that uses it."""
    for module in (believed, evidence_gates, limit_gates, weighing, verdict):
        if hasattr(module, name):
            plant.setattr(module, name, value)


# --- 1: CO never measured, blank, or 0 typed by habit ---------------------------------------------


def typed_by_habit() -> Draft:
    return good().edit("living_space_co_running", value=Decimal(0), confirmed=False)


def dead_cell() -> Draft:
    draft = good().edit("living_space_co_running", value=Decimal(0), confirmed=True)
    return draft.edit("co_response", value=Decimal(0))


@pytest.mark.parametrize("key", GATING_CO)
def test_1_co_missing_or_blank_is_never_fit(key: str) -> None:
    assert said(good().drop(key)) != FIT
    assert said(good().edit(key, value=None)) != FIT


@pytest.mark.parametrize("case", [typed_by_habit, dead_cell])
def test_1_a_zero_needs_confirming_and_an_awake_cell(case: Callable[[], Draft]) -> None:
    assert gates(case())["response check"] == "not proven"
    assert said(case()) == "not proven"


def test_1_a_confirmed_zero_of_an_awake_cell_is_fit() -> None:
    assert said(good().edit("living_space_co_running", value=Decimal(0), confirmed=True)) == FIT


def test_1_dashes_are_no_response() -> None:
    draft = good().edit("living_space_co_running", value=Decimal(0), confirmed=True)
    draft.edit("co_response", of=None, at_top=True, value=None)
    assert said(draft) == "not proven"


@pytest.mark.parametrize("case", [typed_by_habit, dead_cell])
def test_1_planted(case: Callable[[], Draft], monkeypatch: Plant) -> None:
    close(monkeypatch, "response check")
    assert said(case()) == FIT


def test_1_planted_blank_counts_as_zero(monkeypatch: Plant) -> None:
    number = believed._number
    monkeypatch.setattr(
        believed, "_number", lambda r, entry: Fraction(0) if r.value is None else number(r, entry)
    )
    assert said(good().edit("living_space_co_off", value=None, confirmed=True)) == FIT


# --- 2: NaN, infinity, text, negative, boolean ----------------------------------------------------


@pytest.mark.parametrize("junk", JUNK, ids=repr)
@pytest.mark.parametrize("key", sorted(NEAR))
def test_2_only_finite_numbers(key: str, junk: object) -> None:
    draft = good().drop("flue_co", of=AS_FOUND)
    assert said(draft.edit(key, value=junk)) == "not proven" or key not in {r.key for r in draft.readings}
    assert said(good().edit(key, value=junk)) != FIT or key not in {r.key for r in draft.readings}


def test_2_planted_sign_is_dropped(monkeypatch: Plant) -> None:
    number = believed._number
    monkeypatch.setattr(
        believed, "_number", lambda r, e: number(replace(r, value=abs(r.value)) if r.value else r, e)
    )
    assert said(good().edit("living_space_co_off", value=Decimal(-1))) == FIT


# --- 3: over range --------------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["flue_co", "living_space_co_running", "living_space_co_off", "smoke_number"])
def test_3_the_top_of_the_range_is_at_least_not_fit(key: str) -> None:
    for value in (None, good().readings[0].value):
        assert said(good().edit(key, at_top=True, value=value)) in ("not fit", "stop")
    entry = catalogue().entries[key]
    top = min(catalogue().classes[kind].accuracies[key].high for kind in entry.classes)
    assert said(good().edit(key, value=top, unit=entry.unit)) in ("not fit", "stop")


def test_3_planted(monkeypatch: Plant) -> None:
    judge_one = believed._judged
    monkeypatch.setattr(believed, "_judged", lambda r, *rest: judge_one(replace(r, at_top=False), *rest))
    assert said(good().edit("living_space_co_off", at_top=True)) == FIT


# --- 4: diluted sample ----------------------------------------------------------------------------


def dirty() -> Draft:
    return good(Healthy(co=("160", "160"))).drop("flue_co", of=AS_FOUND)


@pytest.mark.parametrize("times", [1, 1.5, 2, 3, 4, 5, 6, 7, 8])
def test_4_dilution_never_makes_fit(times: float) -> None:
    assert gates(dirty())["flue CO"] == "outside limits"
    assert said(diluted(dirty(), times)) != FIT


def test_4_a_leaking_line_is_never_fit() -> None:
    assert said(good().edit("sampling_line", state="leaking")) == "not proven"


def test_4_much_air_is_never_proven() -> None:
    thin = diluted(good().drop("flue_co", of=AS_FOUND), 3)
    assert gates(thin)["flue O2"] == "not proven"


def test_4_planted_bare_co(monkeypatch: Plant) -> None:
    true = limit_gates.air_free
    everywhere(
        monkeypatch, "air_free", lambda co, u_co, _o2, u_o2, air: true(co, u_co, Fraction(0), 0 * u_o2, air)
    )
    assert said(diluted(dirty(), 1.5)) == FIT


def test_4_planted_line(monkeypatch: Plant) -> None:
    close(monkeypatch, "sampling line")
    assert said(good().edit("sampling_line", state="leaking")) == FIT


def test_4_planted_ceiling() -> None:
    thin = diluted(good().drop("flue_co", of=AS_FOUND), 2.3)
    assert said(thin) == "not proven"
    loose = table("flue_o2_ceiling", value=Decimal("20.95")).rows | {
        "air_free_o2": table("air_free_o2", value=Decimal("20.95")).rows["air_free_o2"]
    }
    assert said(thin, limits=replace(limits(), rows=loose)) == FIT


# --- 5 and 6: O2 and CO2 --------------------------------------------------------------------------


def contradicted(by: str) -> Draft:
    co2 = str(Decimal("11.0") + Decimal(by))
    return good(Healthy(co2=(co2, co2)))


@pytest.mark.parametrize("by", ["-1.2", "-0.9", "0.9", "1.2", "4"])
def test_5_carbon_dioxide_that_contradicts_oxygen_is_never_fit(by: str) -> None:
    assert said(contradicted(by)) == "not proven"


def test_5_a_typed_width_does_not_widen_it() -> None:
    assert said(contradicted("1.2").edit("flue_co2", typed_uncertainty=Decimal(3))) == "not proven"


def test_5_planted(monkeypatch: Plant) -> None:
    close(monkeypatch, "CO2 agrees")
    assert said(contradicted("1.2")) == FIT


def unchecked_before() -> Draft:
    return good(Healthy(co2_basis="calculated")).drop("fresh_air_o2_before").drop("fresh_air_co_before")


def test_6_calculated_co2_needs_fresh_air_before_and_after() -> None:
    assert said(good(Healthy(co2_basis="calculated"))) == FIT
    assert said(unchecked_before()) == "not proven"
    assert said(good().edit("flue_co2", basis=None)) == "not proven"


def test_6_planted(monkeypatch: Plant) -> None:
    check = evidence_gates._fresh_air
    monkeypatch.setattr(
        evidence_gates, "_fresh_air", lambda b, rows, when: None if when == "before" else check(b, rows, when)
    )
    assert said(unchecked_before()) == FIT


# --- 7: cell zeroed in dirty air ------------------------------------------------------------------

DIRTY_ZERO: dict[str, tuple[Callable[[], Draft], str]] = {
    "indoors": (lambda: good().edit("probe_zero", state="indoors"), "zero"),
    "place not noted": (lambda: good().edit("probe_zero", place=" "), "zero"),
    "oxygen off": (lambda: good().edit("fresh_air_o2_after", value=Decimal("20.5")), "fresh air"),
    "CO in fresh air": (lambda: good().edit("fresh_air_co_after", value=Decimal(4)), "fresh air"),
    "not checked": (lambda: good().drop("fresh_air_o2_after"), "fresh air"),
    "checked too soon": (lambda: good().edit("fresh_air_o2_after", taken_at=at(70)), "fresh air"),
}


@pytest.mark.parametrize("way", DIRTY_ZERO)
def test_7_a_cell_zeroed_in_dirty_air_is_never_fit(way: str) -> None:
    assert said(DIRTY_ZERO[way][0]()) == "not proven"


@pytest.mark.parametrize("way", DIRTY_ZERO)
def test_7_planted(way: str, monkeypatch: Plant) -> None:
    case, gate = DIRTY_ZERO[way]
    close(monkeypatch, gate)
    assert said(case()) == FIT


# --- 8: calibration -------------------------------------------------------------------------------


def uncalibrated(key: str, days: int | None) -> Draft:
    draft = good()
    on = None if days is None else at(0).date() - timedelta(days=days)
    draft.instruments[key] = replace(draft.instruments[key], calibrated_on=on)
    return draft


@pytest.mark.parametrize("days", [None, -1, 366, 5000])
@pytest.mark.parametrize("key", [PROBE, METER])
def test_8_calibration_expired_unknown_or_to_come_is_never_fit(key: str, days: int | None) -> None:
    assert said(uncalibrated(key, days)) == "not proven"


def test_8_planted() -> None:
    assert said(uncalibrated(PROBE, 366), limits=table("calibration_age", value=Decimal(9999))) == FIT


# --- 9: read too early ----------------------------------------------------------------------------


def just_lit() -> Draft:
    draft = good()
    draft.events = [e for e in draft.events if e.kind is not EventKind.FLAME]
    draft.edit("fuel_joints_1_min", taken_at=at(65.5)).edit("fuel_joints_10_min", taken_at=at(74.5))
    return draft.happen(EventKind.FLAME, 64)


def at_once() -> Draft:
    draft = good()
    for key in ("flue_o2", "flue_co", "flue_co2"):
        draft.edit(key, nth=2, taken_at=at(68.5))
    return draft


def test_9_readings_taken_too_early_are_never_fit() -> None:
    assert said(just_lit()) == said(at_once()) == "not proven"
    no_flame = good()
    no_flame.events = []
    assert said(no_flame) == "not proven"
    for kind in (EventKind.FLAME_OUT, EventKind.ADJUSTED, EventKind.OPENED):
        assert said(good().happen(kind, 69)) == "not proven"


def test_9_planted() -> None:
    assert said(just_lit(), limits=table("steady_before_reading", value=Decimal(1))) == FIT
    assert said(at_once(), limits=table("sets_apart", value=Decimal(1))) == FIT


def looked(minute: float, *happened: tuple[EventKind, float]) -> Draft:
    """Joints that were looked at for the second time in this minute; the flame shows at 60.5."""
    draft = good().edit("fuel_joints_10_min", taken_at=at(minute))
    for kind, when in happened:
        draft = draft.happen(kind, when)
    return draft


def test_9_joints_looked_at_too_early_are_never_fit() -> None:
    assert said(looked(70.5)) == FIT, "ten minutes to the second"
    assert said(looked(70.49)) == said(looked(65)) == said(looked(59)) == "not proven"
    assert said(good().edit("fuel_joints_1_min", taken_at=at(61))) == "not proven"
    # A run that was broken, or that came before something was moved, does not count.
    for broken in ((EventKind.FLAME_OUT, 64), (EventKind.FLAME, 64), (EventKind.OPENED, 61.6)):
        assert gates(looked(70.5, broken))["fuel joints"] == "not proven"
    # Off, no pressure is on; lit anew, what has cooled has moved; and what was opened since was not seen.
    for since in ((EventKind.FLAME_OUT, 72), (EventKind.FLAME, 72), (EventKind.OPENED, 74)):
        assert gates(looked(73, since))["fuel joints"] == "not proven"
    once = looked(73).edit("fuel_joints_1_min", taken_at=at(73))
    assert gates(once)["fuel joints"] == "not proven", "one look is not two"
    foreign = good()
    foreign.events = [
        replace(each, heater="another") if each.kind is EventKind.FLAME else each for each in foreign.events
    ]
    assert gates(foreign)["fuel joints"] == "not proven", "it was another heater that burned"
    early = next(each for each in judged(looked(65)).gates if each.gate == "fuel joints")
    assert early.missing == ("fuel_joints_10_min",)
    assert [row.key for row in early.limits] == ["ran_before_joints_10"]
    dripping = looked(65).edit("fuel_joints_10_min", state="dripping")
    assert gates(dripping)["fuel joints"] == "stop", "a drip counts whenever it was seen"
    found = {"stage": AS_FOUND, "test": "found"}
    stands = looked(65).add("fuel_joints_10_min", 9, "dripping", **found)
    assert gates(stands)["fuel joints"] == "stop", "a look that proves nothing takes no drip away"
    past = looked(73).add("fuel_joints_10_min", 9, "dripping", **found)
    assert gates(past)["fuel joints"] == "within limits"


def test_9_a_lost_row_of_the_joints_hides_no_drip_and_proves_nothing() -> None:
    rows = {key: row for key, row in limits().rows.items() if not key.startswith("ran_before_joints")}
    lost = replace(limits(), rows=rows)
    assert said(looked(75), limits=lost) == "not proven"
    dripping = looked(75).edit("fuel_joints_10_min", state="dripping")
    assert said(dripping, limits=lost) == "stop"


def test_9_planted_joints() -> None:
    assert said(looked(65), limits=table("ran_before_joints_10", value=Decimal(1))) == FIT


def test_9_planted_clock(monkeypatch: Plant) -> None:
    close(monkeypatch, "steady")
    assert said(just_lit()) == FIT


# --- 10: very low O2 ------------------------------------------------------------------------------


def starved(o2: str, co: str) -> Draft:
    co2 = str(
        (Decimal(str(CO2_LARGEST)) * 100 * (1 - Decimal(o2) / Decimal("20.95"))).quantize(Decimal("0.01"))
    )
    return good(Healthy(o2=(o2, o2), co=(co, co), co2=(co2, co2)))


@pytest.mark.parametrize("o2", ["0", "0.5", "1", "1.6", "2.0", "2.29"])
@pytest.mark.parametrize("co", ["0", "1", "30", "150", "900"])
def test_10_oxygen_below_its_floor_is_never_fit(o2: str, co: str) -> None:
    assert said(starved(o2, co)) != FIT
    if Decimal(o2) < Decimal("1.7"):
        assert said(starved(o2, co)) in ("not fit", "stop")


def test_10_planted() -> None:
    assert said(starved("1.6", "30"), limits=table("flue_o2_floor", value=Decimal(0))) == FIT


# --- 11 and 12: gas indoors -----------------------------------------------------------------------


@pytest.mark.parametrize("key", ["living_space_co_running", "living_space_co_off", "outdoor_co"])
def test_11_clean_exhaust_alone_is_never_fit(key: str) -> None:
    assert said(good().drop(key)) == "not proven"


def test_11_gas_indoors_empties_the_vehicle_whatever_the_exhaust() -> None:
    assert judged(good().edit("living_space_co_running", value=Decimal(40))).stops == ("leave the vehicle",)


@pytest.mark.parametrize("key", ["living_space_co_running", "living_space_co_off", "outdoor_co"])
def test_11_planted(key: str, monkeypatch: Plant) -> None:
    close(monkeypatch, "living-space CO")
    assert said(good().drop(key)) == FIT


# Read on the good visit, and needed only where carbon monoxide reads 0 or carbon dioxide is calculated.
NEEDED_ELSEWHERE = {"co_response", "fresh_air_o2_before", "fresh_air_co_before"}


@pytest.mark.parametrize("key", sorted({each.key for each in good().readings} & USED_BY_A_GATE))
def test_a_grouped_answer_closes_no_gate(key: str) -> None:
    draft = good().edit(key, basis="grouped")
    assert (said(draft) == FIT) == (key in NEEDED_ELSEWHERE)


def test_a_step_closes_no_gate_answered_by_itself_or_in_one_tap_with_others() -> None:
    """Not even where every step that ships is called done, beside a visit that lacks one thing."""
    steps = {each.key: each for one in open_shelf().procedures.values() for each in one.steps}
    for note in ("", "grouped"):
        done = tuple(
            StepDone(
                id=f"s-{key}", heater=HEATER, step=key, outcome=Outcome.DONE, at=at(5), note=note,
                state=each.states[0] if each.states else "",
            )
            for key, each in steps.items()
        )  # fmt: skip
        for key in sorted({each.key for each in good().readings} & USED_BY_A_GATE):
            draft = good().drop(key)
            case, facts = draft.case(), draft.facts()
            stepped = replace(case, visit=replace(case.visit, steps=done))
            assert verdict.judge(stepped, **facts) == verdict.judge(case, **facts), (key, note)
        assert len(done) > 80


def test_a_grouped_answer_still_counts_against() -> None:
    assert said(good().edit("fuel_joints_10_min", state="dripping", basis="grouped")) == "stop"


def test_a_grouped_answer_planted(monkeypatch: Plant) -> None:
    monkeypatch.setattr(believed, "GROUPED", "nothing of the kind")
    assert said(good().edit("exhaust_path", basis="grouped")) == FIT


PHOTOGRAPHED = {"basis": "by photograph"}


@pytest.mark.parametrize("key", ["smoke_number", "smoke_spot_look"])
def test_a_photograph_closes_no_gate(key: str) -> None:
    assert said(good().edit(key, **PHOTOGRAPHED)) == "not proven"


def test_a_photograph_still_counts_against() -> None:
    assert said(good().edit("smoke_number", value=Decimal(4), **PHOTOGRAPHED)) == "not fit"
    assert said(good().edit("smoke_spot_look", state="oily", **PHOTOGRAPHED)) == "not fit"


def test_a_smoke_number_off_a_photograph_is_worth_a_whole_step() -> None:
    at_its_edge = {"value": Decimal(2), **PHOTOGRAPHED}
    assert said(good().edit("smoke_number", **at_its_edge)) == "not proven"
    assert said(good().edit("smoke_number", **{**at_its_edge, "value": Decimal("2.0001")})) == "not fit"
    assert said(good().edit("smoke_number", value=Decimal(2))) == "not fit"  # seen by eye


def test_a_photograph_never_replaces_what_the_eye_found() -> None:
    draft = good().edit("smoke_number", stage=Stage.AS_FOUND, value=Decimal(4), test=None)
    assert said(draft.add("smoke_number", 73, "0 smoke no.", instrument="smoke-pump", **PHOTOGRAPHED)) != FIT


def test_a_photograph_planted(monkeypatch: Plant) -> None:
    monkeypatch.setattr(believed, "BY_PHOTOGRAPH", "nothing of the kind")
    assert said(good().edit("smoke_number", **PHOTOGRAPHED)) == FIT


def alarm_silent(draft: Draft) -> Draft:
    """Every reading that no gate needs, among them the alarm, in its best words."""
    for key, entry in catalogue().entries.items():
        if key not in USED_BY_A_GATE and entry.states:
            draft.add(key, 80, entry.states[0])
    return draft


def test_12_no_gate_reads_the_alarm() -> None:
    for missing in ("living_space_co_running", "living_space_co_off", "outdoor_co"):
        without = good().drop(missing)
        assert gates(alarm_silent(without.copy())) == gates(without)
    for entry in catalogue().entries:
        if "alarm" in entry:
            used = [g.gate for g in judged(alarm_silent(good())).gates for id_ in g.readings if entry in id_]
            assert not used
            assert entry not in USED_BY_A_GATE


@pytest.mark.parametrize("key", sorted(key for key in USED_BY_A_GATE if key in catalogue().entries))
def test_12_what_a_gate_misses_is_never_the_alarm(key: str) -> None:
    assert not any("alarm" in wanted for gate in judged(good().drop(key)).gates for wanted in gate.missing)


def test_12_planted(monkeypatch: Plant) -> None:
    run = verdict._run

    def trusting(runs: dict[str, Callable[[], Any]]) -> list[Any]:
        within = {"judgement": "within limits"}
        return [replace(g, **within) if g.gate == "living-space CO" else g for g in run(runs)]

    monkeypatch.setattr(verdict, "_run", trusting)
    without = good().drop("living_space_co_running")
    assert gates(alarm_silent(without)) != dict.fromkeys(gates(without), "not proven")
    assert said(alarm_silent(without)) == FIT


# --- 13: units ------------------------------------------------------------------------------------


@pytest.mark.parametrize("shown", ["40 ppm", "0.004 %", "50 mg/m3 CO"])
def test_13_the_unit_goes_with_the_number(shown: str) -> None:
    assert judged(good().edit("living_space_co_running", shown=shown)).stops == ("leave the vehicle",)


def test_13_a_unit_that_cannot_be_is_never_fit() -> None:
    for unit in ("degC", "mg/m3 CO", "", "furlong"):
        assert said(good().drop("flue_co", of=AS_FOUND).edit("flue_o2", unit=unit)) == "not proven"


def test_13_planted(monkeypatch: Plant) -> None:
    number = believed._number
    monkeypatch.setattr(believed, "_number", lambda r, entry: number(replace(r, unit=entry.unit), entry))
    assert said(good().edit("living_space_co_running", shown="0.004 %")) == FIT


# --- 14: the table is hashed ----------------------------------------------------------------------


def printed(shelf_now: Any) -> str:
    draft = good()
    return assess.assess(
        draft.case(),
        sheet=draft.sheet,
        fuel=shelf_now.fuels["diesel_2"],
        limits=shelf_now.limits,
        catalogue=shelf_now.catalogue,
        now=NOW,
    ).shelf_sha256


def numbers_to_edit() -> list[str]:
    return [key for key, row in limits().rows.items() if row.value is not None]


@pytest.mark.parametrize(
    "key", ["co_air_free_fit", "living_space_co_fit", "smoke_number_fit", "flue_o2_ceiling"]
)
def test_14_an_edited_table_prints_another_hash(key: str, tmp_path: Path) -> None:
    row = limits().rows[key]
    assert row.value is not None
    text = f'[[tighten]]\nkey = "{key}"\nvalue = "{row.value / 2}"\n'
    (tmp_path / "limits.toml").write_text(text, encoding="utf-8")
    edited = open_shelf(tmp_path)
    assert edited.problems == ()
    assert edited.limits.rows[key].value == row.value / 2
    assert edited.limits.sha256 != limits().sha256
    assert printed(edited) != printed(shelf())


def test_14_another_fuel_prints_another_hash() -> None:
    fuels = shelf().fuels
    draft = good()
    kinds = {
        assess.inputs_hash(draft.case(), sheet=draft.sheet, fuel=fuel, limits=limits(), catalogue=catalogue())
        for fuel in (fuels["diesel_2"], fuels["b100"], None)
    }
    assert len(kinds) == 3


def test_14_planted() -> None:
    # A table whose numbers change under an unchanged hash is what the guard is against.
    silent = table("co_air_free_fit", value=Decimal(5000))
    assert silent.sha256 == limits().sha256
    assert said(dirty(), limits=silent) == FIT


# --- 15: another heater, an old visit -------------------------------------------------------------


def stranger() -> Draft:
    return good().add("flue_co", 69, "20 ppm", heater="heater-2", instrument=PROBE, set_number=1)


def long_ago() -> Draft:
    return good().edit("after_run", taken_at=at(57 + 61))


def test_15_a_reading_of_another_heater_or_time_is_never_fit() -> None:
    assert said(stranger()) == said(long_ago()) == "not proven"
    for index, r in enumerate(good().readings):
        if r.stage is Stage.AS_LEFT:
            for wrong in (
                {"heater": "heater-2"},
                {"taken_at": at(-60 * 13)},
                {"taken_at": NOW + timedelta(days=1)},
            ):
                draft = good()
                draft.readings[index] = replace(r, **wrong)  # type: ignore[arg-type]
                needed = r.key in USED_BY_A_GATE or "heater" in wrong
                assert said(draft) != FIT or not needed, (r.key, wrong)


def test_15_planted(monkeypatch: Plant) -> None:
    assert said(long_ago(), limits=table("test_window", value=Decimal(600))) == FIT
    close(monkeypatch, "belongs here")
    assert said(stranger()) == FIT


# --- 16: late corrections and conflicts -----------------------------------------------------------


def late() -> Draft:
    draft = good()
    draft.closed_at = at(120)
    return draft.edit("smoke_number", entered_at=at(130))


def merged() -> Draft:
    draft = good()
    return draft.add("smoke_number", 73, "0.2 smoke no.", instrument="smoke-pump")


def test_16_a_late_correction_waits_for_a_person() -> None:
    assert said(late()) == "not proven"
    assert said(late().edit("smoke_number", accepted_by="Invented Person")) == FIT


def test_16_a_conflict_waits_for_a_person() -> None:
    assert said(merged()) == "not proven"
    assert gates(merged())["conflict"] == "not proven"


def test_16_a_conflict_whose_candidates_are_all_outside_fails_at_once() -> None:
    draft = (
        good()
        .edit("smoke_number", value=Decimal(3))
        .add("smoke_number", 73, "4 smoke no.", instrument="smoke-pump")
    )
    assert said(draft) == "not fit"


def test_16_planted(monkeypatch: Plant) -> None:
    true = believed.believe

    def last_wins(case: Case, *rest: Any, **more: Any) -> Any:
        last = {r.slot: r for r in case.visit.readings}
        settled = replace(case, visit=replace(case.visit, readings=tuple(last.values())))
        return true(settled, *rest, **more)

    monkeypatch.setattr(verdict, "believe", last_wins)
    assert said(merged()) == FIT
    everywhere(monkeypatch, "_doubts_of_time", lambda *_: ())
    assert said(late()) == FIT


# --- 17: rounding at the limit --------------------------------------------------------------------


def hair_over() -> Draft:
    return good().edit("smoke_number", value=Decimal("0.500001"))


def test_17_nothing_is_rounded_at_a_limit() -> None:
    assert said(good().edit("smoke_number", value=Decimal("0.5"))) == FIT
    assert said(hair_over()) == "not proven"


def test_17_planted(monkeypatch: Plant) -> None:
    true = limit_gates.against
    everywhere(
        monkeypatch, "against", lambda row, number: true(row, replace(number, x=Fraction(round(number.x, 1))))
    )
    assert said(hair_over()) == FIT


# --- 18: stale page, cached result ----------------------------------------------------------------


def hashed(draft: Draft) -> str:
    return assess.inputs_hash(
        draft.case(),
        sheet=draft.sheet,
        fuel=shelf().fuels["diesel_2"],
        limits=limits(),
        catalogue=catalogue(),
    )


@pytest.mark.parametrize("index", range(len(good().readings)))
def test_18_a_verdict_carries_the_hash_of_what_it_judged(index: int) -> None:
    draft = good()
    before = hashed(draft)
    draft.readings[index] = replace(draft.readings[index], note="changed")
    assert hashed(draft) != before
    assert hashed(good()) == before


def test_18_meters_sheets_and_events_are_in_the_hash() -> None:
    prints = {hashed(good()), hashed(uncalibrated(PROBE, 3)), hashed(good().happen(EventKind.ADJUSTED, 10))}
    other = good()
    other.sheet = shelf().sheets["generic_12_kw"]
    assert len(prints | {hashed(other)}) == 4


# The refusal of a report on a stale verdict is proven where reports are made, in tests/report.


# --- 19: a crash inside the judgement -------------------------------------------------------------


class Planted(Exception):
    """Thrown by the test inside the judgement."""


LINES_OF = tuple(str(module.__file__) for module in (limit_gates, weighing, evidence_gates, believed))


def judged_with_fault_at(draft: Draft, place: tuple[str, int]) -> VerdictResult:
    def local(frame: FrameType, event: str, _arg: object) -> Any:
        if event == "line" and (frame.f_code.co_filename, frame.f_lineno) == place:
            raise Planted(place)
        return local

    def on_call(frame: FrameType, _event: str, _arg: object) -> Any:
        return local if frame.f_code.co_filename in LINES_OF else None

    before = sys.gettrace()
    sys.settrace(on_call)
    try:
        return judged(draft)
    finally:
        sys.settrace(before)


def lines_run(draft: Draft) -> Iterator[tuple[str, int]]:
    seen: dict[tuple[str, int], None] = {}

    def local(frame: FrameType, event: str, _arg: object) -> Any:
        if event == "line":
            seen[frame.f_code.co_filename, frame.f_lineno] = None
        return local

    def on_call(frame: FrameType, _event: str, _arg: object) -> Any:
        return local if frame.f_code.co_filename in LINES_OF else None

    before = sys.gettrace()
    sys.settrace(on_call)
    try:
        judged(draft)
    finally:
        sys.settrace(before)
    return iter(seen)


def test_19_a_fault_at_any_line_is_never_fit() -> None:
    tried = 0
    for place in lines_run(good()):
        tried += 1
        try:
            result = judged_with_fault_at(good(), place)
        except Planted:
            continue  # before any gate ran: no verdict at all, and the face that called logs it
        assert str(result.verdict) == "not proven", place
    assert tried > 150


GATE_FUNCTIONS = [name for name in vars(verdict) if name.startswith("gate_")]


def broken(*_: object) -> Any:
    raise Planted


@pytest.mark.parametrize("name", GATE_FUNCTIONS)
def test_19_a_broken_gate_is_not_proven_and_hides_no_stop(name: str, monkeypatch: Plant) -> None:
    bad = good().edit("living_space_co_running", value=Decimal(60)).edit("exhaust_path", state="blocked")
    stops = judged(bad).stops
    assert stops == ("leave the vehicle", "do not fire")
    monkeypatch.setattr(verdict, name, broken)
    assert said(good()) == "not proven"
    own = {"gate_living_space": "leave the vehicle", "gate_state": "do not fire"}.get(name)
    assert judged(bad).stops == tuple(stop for stop in stops if stop != own)


BROKEN_FIELDS: list[dict[str, Any]] = [
    {"unit": "furlong"},
    {"unit": "furlong", "at_top": True, "value": None},
    {"unit": "", "at_top": True, "value": None},
    {"typed_uncertainty": Decimal("NaN")},
    {"typed_uncertainty": "text"},
    {"typed_uncertainty": Decimal(1), "unit": "furlong"},
    {"taken_at": at(60).replace(tzinfo=None)},
    {"entered_at": at(60).replace(tzinfo=None)},
    {"value": "text"},
    {"value": None, "state": None},
    {"instrument": "nobody's"},
    {"set_number": 99},
    {"basis": "odd"},
    {"stage": AS_FOUND},
]


@pytest.mark.parametrize("broken_field", BROKEN_FIELDS, ids=repr)
@pytest.mark.parametrize("index", range(len(good().readings)))
def test_19_no_broken_reading_hides_a_stop(index: int, broken_field: dict[str, Any]) -> None:
    draft = good()
    draft.closed_at = at(200)
    draft.readings[index] = replace(draft.readings[index], **broken_field)
    # Another reading than the broken one, and no number that a broken one could be subtracted from.
    if draft.readings[index].key == "exhaust_path":
        stop, draft = "leave the vehicle", draft.edit("living_space_co_running", value=Decimal(60))
    else:
        stop, draft = "do not fire", draft.edit("exhaust_path", state="blocked")
    assert stop in judged(draft).stops
    assert str(judged(draft).verdict) == "stop"


def test_19_a_meter_with_a_broken_range_hides_no_stop() -> None:
    draft = good().edit("exhaust_path", state="blocked")
    span = Span(key="flue_co", low=Decimal(0), high=Decimal(9), unit="furlong")
    draft.instruments[PROBE] = replace(draft.instruments[PROBE], spans=(span,))
    assert judged(draft).stops == ("do not fire",)


def test_19_a_time_that_cannot_be_hides_no_stop() -> None:
    """A later test found danger; a reading of the earlier one, mistyped into tomorrow, does not undo it."""
    draft = good()
    for r in list(draft.readings):
        if r.key in ("flue_o2", "flue_co", "flue_co2") and r.stage is Stage.AS_LEFT and r.taken_at:
            worse = {"value": Decimal(900)} if r.key == "flue_co" else {}
            later = r.taken_at + timedelta(minutes=40)
            draft.readings.append(replace(r, id=f"later-{r.id}", test="test-2", taken_at=later, **worse))
    assert judged(draft).stops == ("do not fire",)
    draft.edit("after_run", taken_at=NOW + timedelta(days=1))
    assert judged(draft).stops == ("do not fire",)


def test_19_planted(monkeypatch: Plant) -> None:
    whole = {gate.gate: gate for gate in judged(good()).gates}
    monkeypatch.setattr(verdict, "_broke", lambda gate, _error: whole[gate])
    monkeypatch.setattr(verdict, "gate_smoke", broken)
    assert said(good()) == FIT


# --- 20: words on paper ---------------------------------------------------------------------------


def test_20_each_verdict_has_its_own_words_and_none_says_safe() -> None:
    speaker = Speaker()
    words = [speaker.text(f"verdict.{each.value}") for each in Verdict]
    assert len(set(words)) == len(Verdict)
    assert not any("safe" in each.lower() for each in words)


CASE_OF: dict[str, Callable[[], Draft]] = {
    FIT: good,
    "not proven": lambda: good().drop("smoke_number"),
    "not fit": lambda: good().edit("smoke_number", value=Decimal(4)),
    "stop": lambda: good().edit("exhaust_path", state="blocked"),
}


@pytest.mark.parametrize("name", CASE_OF)
def test_20_the_sentence_comes_from_the_verdict_alone(name: str) -> None:
    draft = CASE_OF[name]()
    result = assess.assess(
        draft.case(),
        sheet=draft.sheet,
        fuel=shelf().fuels["diesel_2"],
        limits=limits(),
        catalogue=catalogue(),
        now=NOW,
    )
    assert str(result.verdict.verdict) == name
    sentence = Speaker().say(result.said)
    assert "safe" not in sentence.lower()
    others = [CASE_OF[other]() for other in CASE_OF if other != name]
    for other in others:
        told = assess.assess(
            other.case(),
            sheet=other.sheet,
            fuel=shelf().fuels["diesel_2"],
            limits=limits(),
            catalogue=catalogue(),
            now=NOW,
        )
        assert told.said.key != result.said.key or Speaker().say(told.said) != sentence


# --- 21: limits are only tightened ----------------------------------------------------------------

LOOSE = {
    "co_air_free_fit": "5000",
    "co_air_free_stop": "5000",
    "smoke_number_fit": "9",
    "living_space_co_fit": "500",
    "living_space_co_stop": "500",
    "flue_o2_floor": "0",
    "flue_o2_ceiling": "20.95",
    "steady_before_reading": "0",
    "ran_before_joints_1": "0",
    "ran_before_joints_10": "0",
    "sets_apart": "0",
    "test_window": "6000",
    "fresh_air_co": "500",
    "calibration_age": "99999",
    "trials_before_looking": "50",
}
BAD: dict[str, Callable[[], Draft]] = {
    "co_air_free_fit": dirty,
    "co_air_free_stop": lambda: good(Healthy(co=("900", "900"))),
    "smoke_number_fit": lambda: good(Healthy(smoke="4")),
    "living_space_co_fit": lambda: good(Healthy(running="20")),
    "living_space_co_stop": lambda: good(Healthy(running="60")),
    "flue_o2_floor": lambda: starved("1.6", "30"),
    "flue_o2_ceiling": lambda: diluted(good(), 2.3),
    "steady_before_reading": just_lit,
    "ran_before_joints_1": lambda: good().edit("fuel_joints_1_min", taken_at=at(61)),
    "ran_before_joints_10": lambda: good().edit("fuel_joints_10_min", taken_at=at(70)),
    "sets_apart": at_once,
    "test_window": long_ago,
    "fresh_air_co": lambda: good().edit("fresh_air_co_after", value=Decimal(4)),
    "calibration_age": lambda: uncalibrated(PROBE, 400),
    "trials_before_looking": lambda: good().edit("trials_without_flame", value=Decimal(3)),
}


@pytest.mark.parametrize("key", LOOSE)
def test_21_a_loosened_limit_on_a_sheet_changes_nothing(key: str) -> None:
    strict = BAD[key]()
    assert said(strict) != FIT
    loose = BAD[key]()
    loose.sheet = sheet(**{key: LOOSE[key]})
    assert gates(loose) == gates(strict)
    assert judged(loose).stops == judged(strict).stops


def test_21_a_tightened_limit_on_a_sheet_counts() -> None:
    draft = good()
    draft.sheet = sheet(co_air_free_fit="30")
    assert said(draft) == "not fit"


def test_21_planted() -> None:
    row: Limit = limits().rows["co_air_free_fit"]
    assert row.value == 200
    assert said(dirty()) == "not fit"
    assert said(dirty(), limits=table("co_air_free_fit", value=Decimal(5000))) == FIT


def test_the_heater_of_the_cases_is_the_visits() -> None:
    assert good().case().visit.heater == HEATER
