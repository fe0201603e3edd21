"""Guard 16 for what is no reading: a heater's sheet, a meter's calibration, the visit, its moments.

Nothing that a gate uses is settled by the later clock. As with every guard, a planted fault switches this
one off, and the same case must then read "fit as tested".
"""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, get_args, get_type_hints

import pytest
from cases import AS_LEFT, CO2_LARGEST, HEATER, METER, NOW, PROBE, at, catalogue, good, limits, sheet, shelf
from second_opinion import USED_BY_A_GATE

from lightoff.judging import assess, disputed, evidence_gates, resting, verdict
from lightoff.judging.assessment import VerdictResult
from lightoff.terms.case import Case
from lightoff.terms.conflict import Candidate, Conflict
from lightoff.terms.entry import Noun
from lightoff.terms.part import Bin, Move, MoveKind, Outcome, Part, StepDone
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Span, Vehicle, VehicleKind
from lightoff.terms.visit import (
    Acceptance,
    Close,
    Event,
    EventKind,
    Photo,
    Place,
    Reading,
    Visit,
)
from lightoff.texts import Speaker
from lightoff.texts.speaker import templates

FIT, NOT_PROVEN = "fit as tested", "not proven"
CASE = good().case()
PROBE_NOW = CASE.instruments[PROBE]
VISIT = Visit(id="visit-1", heater=HEATER, started_at=CASE.visit.started_at, fuel="diesel_2")
CO = Reading(
    id="r1",
    heater=HEATER,
    key="flue_co",
    stage=AS_LEFT,
    taken_at=at(68),
    value=Decimal(30),
    unit="ppm",
    test="test-1",
    set_number=1,
    instrument=PROBE,
)
FLAME = Event(id="e1", heater=HEATER, kind=EventKind.FLAME, at=at(60.5))
PHOTO = Photo(id="p1", heater=HEATER, taken_at=at(5), sha256="0" * 64, media_type="image/png")

DEAD = StepDone(id="s1", heater=HEATER, step="isolate", outcome=Outcome.DONE, at=at(30), state="dead")
FILTER = StepDone(id="s2", heater=HEATER, step="renew_fuel_filter", outcome=Outcome.DONE, at=at(40))


def conflict(one: Noun | None, other: Noun | None, *, noun: str = "", subject: str = "") -> Conflict:
    """Two entries, of two people, ten minutes apart."""
    shown = one or other
    kind = noun or {"Acceptance": "accept"}.get(type(shown).__name__, type(shown).__name__.lower())
    kind = {"stepdone": "step"}.get(kind, kind)
    of_visit = kind in ("reading", "event", "photo", "move", "step", "close", "accept")
    return Conflict(
        noun=kind,
        subject=subject or ("visit-1" if of_visit or kind == "shop" else shown.id),  # type: ignore[union-attr]
        candidates=(
            Candidate(entry="entry-1", author="Ann", at=at(100), says=one),
            Candidate(entry="entry-2", author="Bob", at=at(110), says=other),
        ),
    )


def changed(noun: Any, **changes: Any) -> Conflict:
    return conflict(noun, replace(noun, **changes))


def other(key: str, **of: Any) -> Conflict:
    """A reading of no set, and another number for it."""
    return changed(replace(CO, key=key, set_number=None, **of), value=Decimal(7))


def judged(*conflicts: Conflict, case: Case = CASE) -> VerdictResult:
    facts: dict[str, Any] = {
        "limits": limits(),
        "catalogue": catalogue(),
        "sheet": sheet(),
        "co2_largest_fraction": CO2_LARGEST,
        "now": NOW,
    }
    return verdict.judge(replace(case, conflicts=conflicts), **facts)


COUNTS: dict[str, Conflict] = {
    "a heater's sheet": changed(CASE.heater, sheet="generic_12_kw"),
    "whose heater it is": changed(CASE.heater, vehicle="vehicle-2"),
    "the kind of vehicle": changed(CASE.vehicle, kind=VehicleKind.CABIN),
    "an expired calibration become valid": changed(PROBE_NOW, calibrated_on=date(2024, 3, 1)),
    "an earlier calibration": changed(PROBE_NOW, earlier_calibrations=(date(2025, 3, 1),)),
    "the class of a meter": changed(PROBE_NOW, kind="living_space_co_meter"),
    "a retired meter": changed(CASE.instruments[METER], retired=True),
    "the range of a meter": changed(
        PROBE_NOW, spans=(Span(key="flue_co", low=Decimal(0), high=Decimal(900), unit="ppm"),)
    ),
    "the fuel": changed(VISIT, fuel="b100"),
    "the fuel and the start": changed(VISIT, fuel="b100", started_at=at(30)),
    "the altitude": changed(VISIT, place=Place(altitude_m=2500.0)),
    "how warm the air was": changed(VISIT, place=Place(air_temperature_k=280.0)),
    "how moist the air was": changed(VISIT, place=Place(relative_humidity_fraction=0.5)),
    "the start of the visit": changed(VISIT, started_at=at(30)),
    "the heater of the visit": changed(VISIT, heater="heater-2"),
    "a reading": changed(CO, value=Decimal(300)),
    "oxygen of the milder set": changed(
        replace(CO, key="flue_o2", value=Decimal(6), unit="%", basis="dry"), value=Decimal(9)
    ),
    "a gas of a set that nobody else has": other("flue_co"),
    "the air outdoors": other("outdoor_co", instrument=METER),
    "what a cell answered": other("co_response", instrument=METER, test=None),
    "oxygen of fresh air": other("fresh_air_o2_before", unit="%"),
    "carbon monoxide of fresh air": other("fresh_air_co_before"),
    "when a reading was taken": changed(CO, taken_at=at(50)),
    "a reading that was withdrawn elsewhere": conflict(CO, None),
    "the moment of the flame": changed(FLAME, at=at(20)),
    "a moment that was withdrawn elsewhere": conflict(FLAME, None),
    "a sheet that was withdrawn elsewhere": conflict(CASE.heater, None),
    "what a step found": changed(DEAD, state="still live"),
    "whether a step was done": changed(FILTER, outcome=Outcome.NOT_DONE, reason="none aboard"),
    "a step that was taken back elsewhere": conflict(DEAD, None),
    "which late reading was accepted": conflict(
        Acceptance(id="a1", reading="r1"), Acceptance(id="a2", reading="r2")
    ),
}
HARMLESS: dict[str, Conflict] = {
    "a heater's note": changed(CASE.heater, note="rusty", serial="7"),
    "a vehicle's plate": changed(CASE.vehicle, registration="IN 1"),
    "an owner": changed(CASE.owner, name="Other"),
    "how a meter is said to read oxygen": changed(PROBE_NOW, o2_basis="dry"),
    "a meter's name": changed(PROBE_NOW, name="Other probe"),
    "where the vehicle goes": changed(VISIT, destination=Place(name="Pass", altitude_m=2500.0)),
    "the name of the place": changed(VISIT, place=Place(name="Quay")),
    "a note beside a reading": changed(CO, note="by the window"),
    "the picture of a reading": changed(CO, photo="p1"),
    "a note beside a moment": changed(FLAME, note="by the window"),
    "a reading that no gate uses": changed(replace(CO, key="coolant_temperature"), value=Decimal(5)),
    "why a step was not done": conflict(
        replace(FILTER, outcome=Outcome.NOT_DONE, reason="none aboard"),
        replace(FILTER, outcome=Outcome.NOT_DONE, reason="no time"),
    ),
    "which new piece a step names": conflict(
        replace(FILTER, exchange=("p1", "m1")), replace(FILTER, exchange=("p2", "m2"))
    ),
    "which procedure is followed": conflict(
        replace(DEAD, step="procedure", state="annual_service"),
        replace(DEAD, step="procedure", state="no_heat_call"),
    ),
    "a picture": changed(PHOTO, caption="other"),
    "the close": changed(Close(id="c1", closed_at=at(120)), closed_at=at(130)),
    "the shop": changed(Shop(name="One"), name="Other"),
    "another heater's sheet": conflict(
        replace(CASE.heater, id="heater-2"), replace(CASE.heater, id="heater-2", sheet="generic_12_kw")
    ),
    "a meter that this visit did not use": conflict(
        Instrument(id="old", name="Old", kind="flue_gas_probe"),
        Instrument(id="old", name="Old", kind="flue_gas_probe", calibrated_on=date(2026, 1, 1)),
    ),
    "an earlier visit's reading": conflict(CO, replace(CO, value=Decimal(300)), subject="visit-0"),
}


@pytest.mark.parametrize("what", COUNTS)
def test_16_what_a_gate_uses_waits_for_a_person(what: str) -> None:
    result = judged(COUNTS[what])
    assert str(result.verdict) == NOT_PROVEN
    assert {each.gate for each in result.gates if str(each.judgement) == NOT_PROVEN} == {
        "conflict",
        *RESTING.get(what, ()),
    }


# Gates that would otherwise judge by one of the candidates as if the other were not there.
NUMBERS = (
    *("flue O2", "flue CO", "smoke", "living-space CO", "two sets", "steady", "one test", "fresh air"),
    *("trials", "calibration", "fuel joints"),
)
BY_PROBE = ("flue O2", "flue CO", "CO2 agrees", "two sets", "steady", "one test", "fresh air", "calibration")
OF_A_READING = tuple(each for each in BY_PROBE if each != "fresh air")
RESTING: dict[str, tuple[str, ...]] = {
    "a heater's sheet": NUMBERS,
    "a sheet that was withdrawn elsewhere": NUMBERS,
    "whose heater it is": NUMBERS,
    "the kind of vehicle": NUMBERS,
    "an expired calibration become valid": BY_PROBE,
    "an earlier calibration": BY_PROBE,
    "the class of a meter": BY_PROBE,
    "a retired meter": ("living-space CO", "steady", "one test", "calibration"),
    "the range of a meter": BY_PROBE,
    "the fuel": ("CO2 agrees",),
    "the start of the visit": ("belongs here",),
    "the fuel and the start": ("CO2 agrees", "belongs here"),
    "the heater of the visit": ("belongs here",),
    "a reading": OF_A_READING,
    "oxygen of the milder set": OF_A_READING,
    "a gas of a set that nobody else has": ("flue O2", "flue CO", "CO2 agrees", "two sets"),
    "the air outdoors": ("living-space CO", "one test", "calibration"),
    "what a cell answered": ("response check",),
    "oxygen of fresh air": ("CO2 agrees", "one test", "calibration"),
    "carbon monoxide of fresh air": ("CO2 agrees", "one test", "calibration"),
    "when a reading was taken": OF_A_READING,
    "a reading that was withdrawn elsewhere": OF_A_READING,
    "the moment of the flame": ("steady", "one test", "fuel joints"),
    "a moment that was withdrawn elsewhere": ("steady", "one test", "fuel joints"),
    "which late reading was accepted": ("belongs here",),
}


def test_what_rests_on_a_conflict_names_it() -> None:
    found = {each.gate: each for each in judged(COUNTS["a heater's sheet"]).gates}
    for gate in NUMBERS:
        told = Speaker().say(found[gate].said)
        assert told.startswith(
            "This rests on entries that contradict each other: the heater “Bay heater”."
        ), gate
        assert not found[gate].missing


def test_an_error_about_what_rests_on_a_conflict_leaves_nothing_within(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fails(*_: object) -> None:
        raise RuntimeError("planted")

    monkeypatch.setattr(resting, "disputes", fails)
    result = judged(COUNTS["a heater's sheet"])
    assert {str(each.judgement) for each in result.gates} == {NOT_PROVEN}
    broke = next(each for each in result.gates if each.gate == "smoke")
    name = Speaker().text("gate.conflict")
    assert f"The gate “{name}” could not be judged because of an error" in Speaker().say(broke.said)
    assert "RuntimeError('planted')" in Speaker().say(broke.said)


def test_a_meter_that_only_read_outdoors_is_what_the_living_space_rests_on() -> None:
    draft = good().edit("outdoor_co", instrument="other")
    meter = replace(draft.instruments[METER], id="other", name="Other")
    draft.instruments["other"] = meter
    result = judged(changed(meter, calibrated_on=date(2026, 1, 1)), case=draft.case())
    found = next(each for each in result.gates if each.gate == "living-space CO")
    assert str(found.judgement) == NOT_PROVEN


@pytest.mark.parametrize("what", HARMLESS)
def test_16_what_no_gate_uses_lowers_nothing(what: str) -> None:
    assert str(judged(HARMLESS[what]).verdict) == FIT


@pytest.mark.parametrize("what", COUNTS)
def test_16_planted_the_later_clock_settles_it(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(evidence_gates, "disputes", lambda _: ())
    assert str(judged(COUNTS[what]).verdict) == FIT


@pytest.mark.parametrize("what", COUNTS)
def test_16_the_order_of_the_candidates_changes_nothing(what: str) -> None:
    turned = replace(COUNTS[what], candidates=COUNTS[what].candidates[::-1])
    assert str(judged(turned).verdict) == NOT_PROVEN


def test_16_a_conflict_hides_no_stop_and_lifts_nothing() -> None:
    leaking = good().edit("living_space_co_running", value=Decimal(60)).case()
    result = judged(*COUNTS.values(), case=leaking)
    assert str(result.verdict) == "stop"
    assert result.stops == ("leave the vehicle",)
    crossed = good().edit("smoke_number", value=Decimal(3)).case()
    assert str(judged(COUNTS["a heater's sheet"], case=crossed).verdict) == "not fit"


def test_16_a_meter_that_only_read_what_no_gate_uses_lowers_nothing() -> None:
    draft = good().edit("stack_gas_temperature", instrument="old")
    draft.instruments["old"] = Instrument(id="old", name="Old", kind="flue_gas_probe")
    of_old = changed(draft.instruments["old"], calibrated_on=date(2026, 1, 1))
    assert str(judged(of_old, case=draft.case()).verdict) == FIT


def test_what_contradicts_is_shown_also_where_no_gate_uses_it() -> None:
    case = replace(CASE, conflicts=(HARMLESS["an owner"], HARMLESS["another heater's sheet"]))
    assert disputed.of_this_visit(case) == (HARMLESS["an owner"],)
    assert disputed.disputes(case) == ()


def test_a_withdrawal_counts_whichever_came_first() -> None:
    assert disputed.is_used(conflict(None, CO)) is True
    assert disputed.is_used(conflict(None, replace(CO, key="coolant_temperature"))) is False


def test_16_every_reading_of_a_gate_counts() -> None:
    for key in sorted(USED_BY_A_GATE):
        assert str(judged(changed(replace(CO, key=key), value=Decimal(5))).verdict) == NOT_PROVEN, key


def test_18_a_choice_changes_the_hash_of_what_was_judged() -> None:
    def hashed(case: Case) -> str:
        fuel = shelf().fuels["diesel_2"]
        return assess.inputs_hash(case, sheet=sheet(), fuel=fuel, limits=limits(), catalogue=catalogue())

    disputed_case = replace(CASE, conflicts=(COUNTS["a heater's sheet"],))
    assert hashed(disputed_case) != hashed(CASE)
    # What fills a field is no input of a judgement: a verdict sealed before it was said stands.
    said_dry = {**CASE.instruments, PROBE: replace(PROBE_NOW, o2_basis="dry")}
    assert hashed(replace(CASE, instruments=said_dry)) == hashed(CASE)


def said(*conflicts: Conflict) -> str:
    gate = next(each for each in judged(*conflicts).gates if each.gate == "conflict")
    return Speaker(own=shelf().own_words).say(gate.said)


def test_both_candidates_are_told_side_by_side() -> None:
    assert said(COUNTS["an expired calibration become valid"]) == (
        "The entries of the instrument “Probe” contradict each other: calibrated on 3 November 2025 (Ann, "
        "10 March 2026, 09:40) and calibrated on 1 March 2024 (Bob, 10 March 2026, 09:50). No clock settles "
        "which is true; the shop has to choose."
    )
    assert "type Generic 9 kW, siphon (Ann" in said(COUNTS["a heater's sheet"])
    assert "type Generic 12 kW, metering pump (Bob" in said(COUNTS["a heater's sheet"])
    assert "altitude none (Ann" in said(COUNTS["the altitude"])
    assert "altitude 2,500\N{NO-BREAK SPACE}m (Bob" in said(COUNTS["the altitude"])
    reading = said(changed(CO, value=Decimal(300), taken_at=at(70)))
    assert "as left, set 1 contradict each other: 30\N{NO-BREAK SPACE}ppm (Ann" in reading
    assert "read at" not in reading
    assert "read at 10 March 2026, 08:50 (Bob" in said(COUNTS["when a reading was taken"])
    assert "and withdrawn (Bob" in said(COUNTS["a reading that was withdrawn elsewhere"])


def test_two_answers_of_a_step_are_told_in_its_own_words() -> None:
    title = Speaker().text("step.isolate.title")
    told = said(COUNTS["what a step found"])
    assert told.startswith(f"The entries of the step “{title}” contradict each other: dead (Ann")
    assert "and still live (Bob" in told
    done = said(COUNTS["whether a step was done"])
    assert "contradict each other: done (Ann" in done
    assert "and not done, reason none aboard (Bob" in done
    assert "and withdrawn (Bob" in said(COUNTS["a step that was taken back elsewhere"])

    def shown(what: str) -> list[str]:
        return [Speaker().say(each) for each in disputed.ways(HARMLESS[what], {})]

    assert shown("which new piece a step names")[0].startswith("done, with a new one (Ann")
    assert shown("which procedure is followed")[1].startswith(
        f"{Speaker().text('procedure.no_heat_call.title')} (Bob"
    )


@pytest.mark.parametrize(
    "noun",
    [
        Part(id="p1", kind="igniter", heater=HEATER),
        Bin(id="b1", kind="igniter", place="van", counted=1, counted_at=at(1)),
        Move(id="m1", heater=HEATER, part="p1", kind=MoveKind.FITTED, at=at(1)),
    ],
)
def test_what_became_of_parts_can_be_told_too(noun: Noun) -> None:
    told = Speaker().say(disputed.noun_said(conflict(noun, None), {}))
    assert told.startswith(("a part", "a bin", "what became"))


def test_every_conflict_is_told() -> None:
    both = said(COUNTS["a heater's sheet"], COUNTS["the fuel"])
    assert "the heater “Bay heater”" in both
    assert "fuel B100" in both
    assert both.count("No clock settles") == 2


def test_entries_are_told_before_readings_that_contradict_each_other() -> None:
    twice = good().add("smoke_number", 73, "1 smoke no.", instrument="smoke-pump").case()
    gate = next(each for each in judged(COUNTS["the fuel"], case=twice).gates if each.gate == "conflict")
    assert "fuel B100" in Speaker().say(gate.said)
    assert gate.missing == ("smoke_number",)


def test_an_unsigned_entry_is_told_by_its_time() -> None:
    one = COUNTS["the fuel"]
    unsigned = replace(one, candidates=tuple(replace(each, author="") for each in one.candidates))
    assert "fuel Diesel No. 2 (10 March 2026, 09:40)" in said(unsigned)


KINDS: tuple[type, ...] = (
    Owner, Vehicle, Heater, Instrument, Shop, Visit, Reading, Event, Photo, Close, Acceptance,
)  # fmt: skip


def _parts(kind: type) -> set[str]:
    """Every part in which two nouns of a kind can differ, as `Conflict.parts` names it."""
    found = set()
    hints = get_type_hints(kind)
    for each in fields(kind):
        if Place in (hints[each.name], *get_args(hints[each.name])):
            found |= {f"{each.name}.{name}" for name in _parts(Place)}
        elif each.name not in ("id", "entered_at", "corrects", "accepted_by", "readings", "events", "photos"):
            found.add(each.name)
    return found


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_part_of_every_noun_has_its_word(kind: type) -> None:
    known = templates("en")
    missing = {f"conflict_part.{part.replace('.', '_')}" for part in _parts(kind)} - known.keys()
    assert not missing
    noun = {"Acceptance": "accept", "Reading": ""}.get(kind.__name__, kind.__name__.lower())
    assert not noun or f"conflict.noun_{noun}" in known


@pytest.mark.parametrize(
    ("one", "changes"),
    [
        (PROBE_NOW, {"earlier_calibrations": (date(2020, 1, 1), date(2021, 1, 1))}),
        (PROBE_NOW, {"spans": (Span(key="flue_co", low=Decimal(0), high=Decimal(900), unit="ppm"),)}),
        (VISIT, {"work_done": ("nozzle", "filter"), "place": Place(name="Q", altitude_m=1.5)}),
        (VISIT, {"destination": Place(name="Pass", air_temperature_k=270.0, relative_humidity_fraction=0.5)}),
        (CO, {"typed_uncertainty": Decimal("1.5"), "set_number": 2, "confirmed": True, "basis": "dry"}),
        (replace(CO, value=None, unit="", at_top=True), {"note": "x"}),
        (CASE.vehicle, {"kind": VehicleKind.BOAT, "registration": "IN"}),
        (CASE.heater, {"fitted_on": date(2020, 1, 1)}),
        (PHOTO, {"stage": AS_LEFT, "taken_at": at(6)}),
        (Close(id="c", closed_at=at(1)), {"closed_at": at(1) + timedelta(days=1)}),
    ],
)
def test_everything_can_be_said(one: Any, changes: dict[str, Any]) -> None:
    for each in (changed(one, **changes), conflict(one, None)):
        for way in disputed.ways(each, {}):
            assert Speaker(units="us").say(way)


def told(one: Noun | None, other: Noun | None) -> tuple[str, str]:
    """What each of two candidates is told to say; an id has a name where one is known."""
    both = conflict(one, other)
    said = [disputed.says(both, each, {"heater-2": "Other heater"}) for each in both.candidates]
    first, second = (Speaker(own=shelf().own_words).say(each).replace("\u00a0", " ") for each in said)
    return first, second


BLANK = replace(CO, value=None, unit="")
SPAN = Span(key="flue_co", low=Decimal(0), high=Decimal("9E+2"), unit="ppm")
EVERYWHERE = Place(name="Pass", altitude_m=2500.0, air_temperature_k=280.0, relative_humidity_fraction=0.5)


@pytest.mark.parametrize(
    ("one", "changes", "first", "second"),
    [
        # Two readings are taken at two times: that is told only where the answer is the same.
        (CO, {"value": Decimal(300), "taken_at": at(70)}, "30 ppm", "300 ppm"),
        (CO, {"unit": "%", "taken_at": at(70)}, "30 ppm", "30 %"),
        (replace(BLANK, state="dry"), {"state": "damp", "taken_at": at(70)}, "dry", "damp"),
        (BLANK, {"at_top": True, "taken_at": at(70)}, "none", "----"),
        (CO, {"value": None}, "30 ppm", "none"),
        (
            CO,
            {"taken_at": at(50), "note": "by the door"},
            "30 ppm, read at 10 March 2026, 09:08, note none",
            "30 ppm, read at 10 March 2026, 08:50, note by the door",
        ),
        (CO, {"confirmed": True}, "30 ppm, confirmed no", "30 ppm, confirmed yes"),
        (CO, {"set_number": 1234}, "30 ppm, set 1", "30 ppm, set 1,234"),
        (CO, {"typed_uncertainty": Decimal("1E+1")}, "30 ppm, uncertainty none", "30 ppm, uncertainty 10"),
        (CASE.vehicle, {"kind": VehicleKind.CABIN}, "kind coach", "kind cabin"),
        (VISIT, {"heater": "heater-2"}, "heater heater-1", "heater Other heater"),
        (
            VISIT,
            {"place": EVERYWHERE},
            "place none, altitude none, outside air none, humidity none",
            "place Pass, altitude 2,500 m, outside air 7 °C, humidity 50.0 %",
        ),
        (VISIT, {"work_done": ("nozzle", "filter")}, "work done none", "work done nozzle, filter"),
        (
            PROBE_NOW,
            {"earlier_calibrations": (date(2020, 1, 2), date(2021, 1, 2)), "spans": (SPAN,)},
            "calibrated before on none, ranges none",
            "calibrated before on 2 January 2020, 2 January 2021, ranges flue_co 0 to 900 ppm",
        ),
        (CASE.heater, {}, "as entered", "as entered"),
    ],
)
def test_each_candidate_says_what_it_differs_in(
    one: Noun, changes: dict[str, Any], first: str, second: str
) -> None:
    pair = told(one, replace(one, **changes))
    assert [sorted(each.split(", ")) for each in pair] == [
        sorted(each.split(", ")) for each in (first, second)
    ]


@pytest.mark.parametrize(
    ("noun", "said"),
    [
        (replace(CASE.heater, serial="7", note="rusty"), "name Bay heater, type Generic 9 kW, siphon"),
        (CASE.vehicle, "name Invented Heron, kind coach"),
        (PROBE_NOW, "name Probe, kind flue-gas probe, calibrated on 3 November 2025"),
        (FLAME, "kind flame, time 10 March 2026, 09:00"),
        (VISIT, "fuel Diesel No. 2"),
        (replace(VISIT, fuel="depot_winter"), "fuel depot winter"),
        (CO, "30 ppm"),
        (DEAD, "dead"),
    ],
)
def test_beside_a_withdrawal_only_what_names_a_thing_is_told(noun: Noun, said: str) -> None:
    assert told(noun, None) == (said, "withdrawn")
    assert told(None, noun) == ("withdrawn", said)


def test_a_step_tells_how_it_ended_and_why_and_that_a_new_piece_went_in() -> None:
    undone = replace(FILTER, outcome=Outcome.NOT_DONE, reason="none aboard")
    assert told(undone, replace(FILTER, exchange=("p2", "m2"))) == (
        "not done, reason none aboard",
        "done, with a new one",
    )


@pytest.mark.parametrize(
    ("one", "subject", "said"),
    [
        (CO, "", "CO in the exhaust as left, set 1"),
        (replace(CO, set_number=None), "", "CO in the exhaust as left"),
        (DEAD, "", "the step “Isolate and prove dead”"),
        (CASE.heater, "", "the heater “Bay heater”"),
        (replace(CASE.heater, name="Aft"), "heater-2", "the heater “Other heater”"),
        (replace(CASE.heater, name="Aft"), "nobody", "the heater “Aft”"),
    ],
)
def test_what_a_conflict_is_about_has_a_name(one: Noun, subject: str, said: str) -> None:
    names = {"heater-2": "Other heater"}
    both = (conflict(one, None, subject=subject), conflict(None, one, subject=subject))
    for each in both:
        assert Speaker().say(disputed.noun_said(each, names)) == said


def test_every_noun_of_a_case_has_its_name() -> None:
    assert disputed.names_of(CASE) == {
        "owner-1": "Invented Owner",
        "vehicle-1": "Invented Heron",
        HEATER: "Bay heater",
        PROBE: "Probe",
        METER: "Meter",
        "smoke-pump": "Pump",
    }


def test_conflicts_are_told_in_their_order_and_none_where_there_is_none() -> None:
    assert disputed.said_of_all((), {}) is None
    said = disputed.said_of_all([COUNTS["the fuel"], COUNTS["what a step found"], HARMLESS["an owner"]], {})
    assert said is not None
    whole = Speaker().say(said)
    places = [whole.index(each) for each in ("of the visit", "of the step", "of the owner")]
    assert places == sorted(places)


def test_a_thing_without_a_name_has_none_and_an_answer_is_told_in_its_words() -> None:
    assert disputed.noun_said(conflict(FLAME, None), {}).values["name"] == ""
    assert told(replace(DEAD, state="tries without flame"), DEAD) == ("tries, no flame", "dead")
    assert disputed.is_used(HARMLESS["which procedure is followed"]) is False
