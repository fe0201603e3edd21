"""Evidence gates at their edges: to the second, the day and the last digit; each found by a changed line."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from cases import AS_FOUND, METER, NOW, PROBE, Draft, Healthy, at, catalogue, good, limits, sheet

from lightoff.judging import evidence_gates
from lightoff.judging.assessment import GateResult
from lightoff.judging.believed import Believed, believe
from lightoff.judging.evidence_gates import gate_co2
from lightoff.judging.limit_gates import Rows
from lightoff.judging.verdict import judge
from lightoff.terms.visit import EventKind
from lightoff.texts import Speaker

NOT_PROVEN, WITHIN = "not proven", "within limits"


def gate(draft: Draft, name: str) -> GateResult:
    result = judge(draft.case(), **draft.facts())
    return next(each for each in result.gates if each.gate == name)


def says(draft: Draft, name: str) -> str:
    return Speaker().say(gate(draft, name).said).replace("\u00a0", " ")


def sorted_out(draft: Draft) -> Believed:
    return believe(draft.case(), catalogue(), NOW)


def late(draft: Draft, key: str, **more: Any) -> Draft:
    draft.closed_at = at(120)
    return draft.edit(key, entered_at=at(130), **more)


def on_clock(draft: Draft, ahead_minutes: int) -> Draft:
    draft.utc_offset_minutes = ahead_minutes
    return draft


def events(*found: tuple[EventKind, float]) -> Draft:
    """The good case with these events and no others."""
    draft = good()
    draft.events = []
    for kind, minute in found:
        draft.happen(kind, minute)
    return draft


def burning(*found: tuple[EventKind, float]) -> Draft:
    """As before, after a flame at 60.5 minutes."""
    return events((EventKind.FLAME, 60.5), *found)


def calibrated(on: date | None, *earlier: date, meter: str = METER) -> Draft:
    draft = good()
    draft.instruments[meter] = replace(
        draft.instruments[meter], calibrated_on=on, earlier_calibrations=tuple(earlier)
    )
    return draft


def only(*keys: str) -> Draft:
    draft = good()
    draft.readings = [each for each in draft.readings if each.key in keys and each.stage is not AS_FOUND]
    return draft


def zero(**confirmed: Any) -> Draft:
    """Nothing in the living space, read by the room's meter."""
    return good().edit("living_space_co_running", value=Decimal(0), confirmed=True, **confirmed)


def wet_set() -> Draft:
    return good().add("flue_o2", 71, "6.1 %", basis="wet", instrument=PROBE, set_number=2)


def window(minutes: float) -> Draft:
    """The test ends so many minutes after its first reading."""
    return good().edit("after_run", taken_at=at(57) + timedelta(minutes=minutes))


def apart(seconds: float) -> Draft:
    draft = good()
    for key in ("flue_o2", "flue_co", "flue_co2"):
        draft.edit(key, nth=2, taken_at=at(68) + timedelta(seconds=seconds))
    return draft


FLAME, OUT, ADJUSTED = EventKind.FLAME, EventKind.FLAME_OUT, EventKind.ADJUSTED
EDGES: dict[str, tuple[Callable[[], Draft], str, str]] = {
    # two sets
    "all oxygen wet": (lambda: good().edit("flue_o2", basis="wet"), "two sets", NOT_PROVEN),
    "one of two of a set wet": (wet_set, "two sets", NOT_PROVEN),
    "apart by the class": (lambda: good().edit("flue_o2", nth=2, shown="6.3 %"), "two sets", WITHIN),
    "and a hair": (lambda: good().edit("flue_o2", nth=2, shown="6.3001 %"), "two sets", NOT_PROVEN),
    "the wider class counts": (
        lambda: good().edit("flue_co", nth=1, shown="200 ppm").edit("flue_co", nth=2, shown="210.5 ppm"),
        "two sets",
        WITHIN,
    ),
    "a minute apart": (lambda: apart(60), "two sets", WITHIN),
    "not quite": (lambda: apart(59.9999), "two sets", NOT_PROVEN),
    # steady
    "out after the last reading": (lambda: burning((OUT, 90)), "steady", WITHIN),
    "out at the last reading": (lambda: burning((OUT, 80)), "steady", NOT_PROVEN),
    "opened, never lit": (lambda: events((EventKind.OPENED, 12.5)), "steady", NOT_PROVEN),
    "out, and lit again": (lambda: burning((OUT, 50)), "steady", WITHIN),
    "lit, out, and lit again": (lambda: burning((FLAME, 20), (OUT, 50)), "steady", WITHIN),
    "out at the moment it lit": (lambda: burning((OUT, 60.5)), "steady", NOT_PROVEN),
    "lit late, moved early": (lambda: events((FLAME, 64), (ADJUSTED, 20)), "steady", NOT_PROVEN),
    "moved early, lit long before": (lambda: events((FLAME, 20), (ADJUSTED, 64)), "steady", NOT_PROVEN),
    "closed up late": (lambda: burning((EventKind.CLOSED_UP, 64)), "steady", NOT_PROVEN),
    "exactly long enough": (lambda: events((FLAME, 63)), "steady", WITHIN),
    "another heater went out": (lambda: good().happen(OUT, 70, heater="heater-2"), "steady", WITHIN),
    # one test
    "touched at its first reading": (lambda: good().happen(ADJUSTED, 57), "one test", WITHIN),
    "touched after it": (lambda: good().happen(ADJUSTED, 57.1), "one test", NOT_PROVEN),
    "opened after it": (lambda: good().happen(EventKind.OPENED, 70), "one test", NOT_PROVEN),
    "closed up after it": (lambda: good().happen(EventKind.CLOSED_UP, 70), "one test", NOT_PROVEN),
    "sixty minutes": (lambda: window(60), "one test", WITHIN),
    "and a hair more": (lambda: window(60.00001), "one test", NOT_PROVEN),
    "indoors, burner off, will do": (lambda: good().drop("living_space_co_running"), "one test", WITHIN),
    # fresh air
    "before, but not before the flue": (
        lambda: (
            good(Healthy(co2_basis="calculated"))
            .edit("fresh_air_o2_before", taken_at=at(68))
            .edit("fresh_air_co_before", taken_at=at(68))
        ),
        "CO2 agrees",
        NOT_PROVEN,
    ),
    # zero and sampling line: every one of several
    "zeroed twice, once indoors": (
        lambda: good().add("probe_zero", 60, "indoors", place="at the bench", set_number=2),
        "zero",
        NOT_PROVEN,
    ),
    "zeroed twice, one place unknown": (
        lambda: good().add("probe_zero", 60, "outdoors", set_number=2),
        "zero",
        NOT_PROVEN,
    ),
    "tight, then leaking": (
        lambda: good().add("sampling_line", 63, "leaking", set_number=2),
        "sampling line",
        NOT_PROVEN,
    ),
    # response check
    "dashes are no zero": (
        lambda: good().edit("flue_co", nth=2, value=None, at_top=True, confirmed=False),
        "response check",
        WITHIN,
    ),
    "the other meter answered": (
        lambda: zero().drop("co_response").add("co_response", 60.9, "85 ppm", instrument=PROBE, test=None),
        "response check",
        NOT_PROVEN,
    ),
    "it answered the day before": (
        lambda: zero().edit("co_response", taken_at=at(-600)),
        "response check",
        NOT_PROVEN,
    ),
    "it answered the day before by the clock there": (
        lambda: on_clock(zero().edit("co_response", taken_at=at(30)), -540),  # 23.30; the zero after 0 h
        "response check",
        NOT_PROVEN,
    ),
    "it answered that day by the clock there": (
        lambda: on_clock(zero().edit("co_response", taken_at=at(-500)), 2 * 60),  # at 1.40, before 0 h in UTC
        "response check",
        WITHIN,
    ),
    "its answer came late": (lambda: late(zero(), "co_response"), "response check", NOT_PROVEN),
    "it answered with less than nothing it can show": (
        lambda: zero().edit("co_response", value=Decimal("0.5")),
        "response check",
        WITHIN,
    ),
    "once it answered and once not": (
        lambda: zero().add("co_response", 62, "0 ppm", instrument=METER, test=None, set_number=2),
        "response check",
        NOT_PROVEN,
    ),
    "outdoors a zero that nobody confirmed": (
        lambda: good().edit("outdoor_co", value=Decimal(0), confirmed=False),
        "response check",
        NOT_PROVEN,
    ),
    "in the flue": (
        lambda: good().edit("flue_co", nth=2, value=Decimal(0), confirmed=False),
        "response check",
        NOT_PROVEN,
    ),
    # calibration
    "the pump is read before a meter out of date": (
        lambda: calibrated(date(2024, 1, 1)).drop("outdoor_co").drop("living_space_co_off"),
        "calibration",
        NOT_PROVEN,
    ),
    "calibrated after the visit only": (lambda: calibrated(date(2026, 4, 1)), "calibration", NOT_PROVEN),
    "after, and a year before": (
        lambda: calibrated(date(2026, 4, 1), date(2025, 3, 10)),
        "calibration",
        WITHIN,
    ),
    "after, and longer before": (
        lambda: calibrated(date(2026, 4, 1), date(2025, 3, 9)),
        "calibration",
        NOT_PROVEN,
    ),
    "on the day": (lambda: calibrated(date(2026, 3, 10)), "calibration", WITHIN),
    "long ago, and again": (lambda: calibrated(date(2025, 11, 3), date(2019, 1, 1)), "calibration", WITHIN),
    # belongs here
    "as found at no time": (
        lambda: good().edit("flue_o2", of=AS_FOUND, taken_at=None),
        "belongs here",
        NOT_PROVEN,
    ),
    "late, of no gate": (lambda: late(good(), "stack_gas_temperature"), "belongs here", WITHIN),
    "of no gate alone": (lambda: only("stack_gas_temperature"), "belongs here", NOT_PROVEN),
    "nothing to contradict": (lambda: only("stack_gas_temperature"), "conflict", NOT_PROVEN),
}


@pytest.mark.parametrize("name", EDGES)
def test_at_the_edge(name: str) -> None:
    make, which, judgement = EDGES[name]
    found = gate(make(), which)
    assert (found.gate, str(found.judgement)) == (which, judgement)
    assert "because of an error" not in Speaker().say(found.said)


SAID: dict[str, tuple[Callable[[], Draft], str, tuple[str, ...], str]] = {
    # case, gate, what would close it, words of its sentence
    "no gas": (
        lambda: good().drop("flue_o2").drop("flue_co").drop("flue_co2"),
        *("one test", ("flue_o2",), "judging.test_not_whole"),
    ),
    "nothing indoors": (
        lambda: good().drop("living_space_co_running").drop("living_space_co_off"),
        *("one test", ("living_space_co_running",), "judging.test_not_whole"),
    ),
    "no carbon monoxide": (
        lambda: only("flue_o2"),
        *("response check", ("flue_co", "living_space_co_running"), "judging.no_carbon_monoxide"),
    ),
    "no zero": (good, "response check", (), "judging.no_zero"),
    "only a pump": (lambda: only("smoke_number"), "calibration", ("flue_o2",), "judging.nothing_electronic"),
    "nothing to contradict": (lambda: only("light"), "conflict", (), "judging.nothing_to_contradict"),
    "nothing read": (lambda: only("light"), "belongs here", (), "judging.nothing_read"),
}


@pytest.mark.parametrize("name", SAID)
def test_what_is_missing_altogether_is_asked_for(name: str) -> None:
    make, which, missing, key = SAID[name]
    found = gate(make(), which)
    assert found.said.key == key
    assert Speaker().say(found.said)
    assert found.missing == missing


def test_a_gas_without_a_time_leaves_the_fresh_air_open_and_is_asked_for() -> None:
    assert gate(good().edit("flue_o2", nth=2, taken_at=None), "fresh air").missing == ("flue_o2",)


def test_one_wet_reading_of_a_set_is_told_as_wet() -> None:
    assert says(wet_set(), "two sets").startswith("O₂ in the exhaust was read wet, as 6.1")


def test_the_first_touch_is_told() -> None:
    touched = good().happen(ADJUSTED, 70).happen(ADJUSTED, 75)
    assert gate(touched, "one test").said.values["at"] == at(70)


def test_a_meter_of_no_known_kind_is_told() -> None:
    draft = good()
    draft.instruments[METER] = replace(draft.instruments[METER], kind="crystal ball")
    assert gate(draft, "calibration").missing == ("outdoor_co",)
    assert "because of an error" not in says(draft, "calibration")


@pytest.mark.parametrize(("co2", "judgement"), [("3.892", WITHIN), ("3.8921", NOT_PROVEN)])
def test_carbon_dioxide_apart_by_both_classes_agrees(co2: str, judgement: str) -> None:
    # CO2max 16.76 %, a fifth of it at 16.76 % O2: 3.352 %; classes 0.3 %, and 0.3 % x 16.76 / 20.95 = 0.24 %.
    draft = good().edit("flue_o2", shown="16.76 %").edit("flue_co2", shown=f"{co2} %")
    rows = Rows(limits=limits(), sheet=sheet(), kind="coach")
    assert str(gate_co2(sorted_out(draft), rows, Fraction("0.1676")).judgement) == judgement


def test_junk_as_found_is_told_as_junk() -> None:
    draft = good().edit("flue_o2", of=AS_FOUND, shown="25 %").edit("smoke_number", shown="-1 smoke no.")
    assert gate(draft, "belongs here").missing == ("flue_o2",)
    assert says(draft, "belongs here").startswith("O₂ in the exhaust was read as 25 %")


def test_late_as_found_is_told_as_late() -> None:
    draft = late(good(), "flue_o2", of=AS_FOUND)
    assert says(draft, "belongs here").startswith("O₂ in the exhaust was read as 9.5 %")


def test_days_are_whole_days() -> None:
    probe = calibrated(date(2025, 11, 3), meter=PROBE).instruments[PROBE]
    assert evidence_gates._calibration_age_s(probe, at(0).date()) == 127 * 24 * 60 * 60
    assert evidence_gates._calibration_age_s(probe, date(2025, 11, 2)) is None


def test_no_time_and_no_number_are_errors_below_the_gates() -> None:
    draft = good().edit("flue_co", nth=1, taken_at=None)
    timeless = next(one for one in sorted_out(draft).judged if one.reading.taken_at is None)
    with pytest.raises(ValueError, match=r"^flue_co has no time$"):
        evidence_gates._time(timeless)
    with pytest.raises(ValueError, match=r"^limit sets_apart has no value$"):
        evidence_gates._written(replace(limits().rows["sets_apart"], value=None))
