"""The assessment: the figures of a visit, what is said of them, and what helps most."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import cases
import pytest

from lightoff.judging.assess import assess, inputs_hash
from lightoff.judging.assessment import CALCULATED_CO2, Area, Assessment, Judgement, Verdict
from lightoff.judging.noted import noted
from lightoff.shelf import open_shelf
from lightoff.terms.case import Case
from lightoff.terms.part import Move, MoveKind, Outcome, StepDone
from lightoff.terms.people import VehicleKind
from lightoff.terms.visit import EventKind, Place, Reading, Stage, Visit
from lightoff.texts import Speaker

SHELF = open_shelf()
FUEL = SHELF.fuels["diesel_2"]
SHEET = SHELF.sheets["generic_12_kw"]
NOW = cases.NOW


def judged(case: Case, *, fuel: object = FUEL, now: datetime = NOW) -> Assessment:
    return assess(
        case,
        sheet=SHEET,
        fuel=fuel,  # type: ignore[arg-type]
        limits=SHELF.limits,
        catalogue=SHELF.catalogue,
        now=now,
    )


def said(assessment: Assessment) -> str:
    return " ".join(Speaker().say(each) for each in assessment.paragraph).replace("\u00a0", " ")


def with_place(case: Case, place: Place, destination: Place | None = None) -> Case:
    return replace(case, visit=replace(case.visit, place=place, destination=destination))


def first_set() -> Case:
    """One set of flue readings as left and nothing else: what a technician types first."""
    draft = cases.good()
    draft.readings = []
    words = {"instrument": "probe", "set_number": 1}
    draft.add("flue_o2", 68, "4.8 %", basis="dry", **words)
    draft.add("flue_co2", 68, "11.9 %", basis="measured", **words)
    draft.add("flue_co", 68, "38 ppm", **words)
    draft.add("stack_gas_temperature", 68, "236 degC", **words)
    draft.add("combustion_air_temperature", 68, "11 degC", **words)
    return with_place(draft.case(), Place(altitude_m=420.0))


def practice(stage: Stage = Stage.AS_LEFT, **shown: str) -> Case:
    draft = cases.good()
    draft.readings = []
    for minute, (key, value) in enumerate(shown.items()):
        draft.add(key, 20 + minute, value, stage=stage, test=None)
    return draft.case()


def test_the_first_set_reads_as_a_technician_would_say_it() -> None:
    found = judged(first_set())
    assert found.verdict.verdict is Verdict.NOT_PROVEN
    assert said(found).startswith(
        "Lambda 1.28 ± 0.02, exhaust loss 10.9 ± 0.3 %. O₂ and CO₂ agree for this fuel. "
        "Air-free carbon monoxide is 49 ± 13 ppm; the limit is at most 200 ppm. Still not proven. "
    )
    assert found.most_useful == "living_space_co_running"


def test_air_free_figure_is_the_gates_own_number() -> None:
    # 38 x 20.95 / (20.95 - 4.8), by hand.
    figure = judged(first_set()).figure("co_air_free", Stage.AS_LEFT)
    assert figure is not None
    assert figure.estimate.value == pytest.approx(38e-6 * 20.95 / 16.15, rel=1e-9)
    assert figure.limit is not None
    assert figure.limit.key == "co_air_free_fit"


def test_a_good_visit_is_fit_and_says_so() -> None:
    found = judged(cases.good().case())
    assert found.verdict.verdict is Verdict.FIT
    assert said(found).endswith("Fit as tested: every limit that was checked was met.")
    assert found.most_useful is None
    unmeasured = [area for area in found.areas if area.area is Area.SUPPLY]
    assert [area.judgement for area in unmeasured] == [Judgement.NOT_PROVEN]
    assert Speaker().say(unmeasured[0].sentences[0]) == "Not measured on this visit."


def test_what_a_sheet_does_not_forbid_cannot_help_a_bad_igniter() -> None:
    draft = cases.good()
    draft.add("supply_voltage_igniter", 61, "24.0 V", instrument=None, test=None)
    draft.add("igniter_current", 61, "3.0 A", instrument=None, test=None)
    found = judged(draft.case())
    assert found.verdict.verdict is Verdict.NOT_PROVEN
    assert "The igniter draws 3.0 A at 24.0 V" in said(found)


def test_of_several_lights_of_a_test_the_slowest_is_judged() -> None:
    draft = cases.good()
    draft.readings = []
    for minute, value, test in ((10, "71 s", "before"), (20, "62 s", None), (25, "41 s", None)):
        draft.add("time_to_light", minute, value, test=test, set_number=minute % 7)
    text = said(judged(draft.case()))
    assert "It lit after 62 s" in text  # what was lit before it was opened is another test
    assert "41 s" not in text


@pytest.mark.parametrize("worst", ["3.1 A", "9.9 A", "0.0 A"])
def test_of_several_igniter_currents_of_a_test_the_one_farthest_off_is_judged(worst: str) -> None:
    draft = cases.good()
    draft.add("supply_voltage_igniter", 61, "24.6 V", instrument=None, test=None)
    for number, current in enumerate((worst, "5.4 A"), start=1):
        draft.add("igniter_current", 61 + number, current, instrument=None, test=None, set_number=number)
    text = said(judged(draft.case()))
    assert f"The igniter draws {worst} at 24.6 V" in text
    assert "5.4 A" not in text


def test_what_stops_is_the_first_thing_that_is_said() -> None:
    found = judged(cases.good().edit("living_space_co_running", shown="80 ppm").case())
    assert found.verdict.verdict is Verdict.STOP
    assert said(found).startswith("Carbon monoxide above outdoors is 79 ")
    assert "Lambda" in said(found)


def test_without_a_probe_the_card_still_judges() -> None:
    case = practice(
        time_to_light="43 s",
        supply_voltage_rest="25.4 V",
        supply_voltage_igniter="24.6 V",
        igniter_current="5.5 A",
        coolant_temperature_start="20 degC",
        coolant_temperature_end="60 degC",
        warm_up_time="8 min",
    )
    found = judged(case)
    text = said(found)
    assert "It lit after 43 s; this type takes 30 s to 50 s." in text
    assert "The igniter draws 5.5 A at 24.6 V; expect 4.7 A to 6.4 A." in text
    assert "The supply falls by 0.8 ± 0.2 V with the igniter on, from 25.4 V to 24.6 V." in text
    assert "The coolant warms by 5.0 ± 0.3 K/min" in text
    judgements = {area.area: area.judgement for area in found.areas}
    assert judgements[Area.SUPPLY] is Judgement.WITHIN
    assert judgements[Area.WARM_UP] is Judgement.WITHIN
    assert found.kit == 1
    assert Speaker().say(found.measured).endswith("Combustion gas was not measured.")
    assert found.verdict.verdict is Verdict.NOT_PROVEN


def test_output_over_input_of_a_measured_bottle() -> None:
    case = practice(fuel_volume="230 mL", fuel_time="600 s", fuel_temperature="15 degC")
    flow = judged(case).figure("fuel_flow", Stage.AS_LEFT)
    heat = judged(case).figure("heat_input_net", Stage.AS_LEFT)
    assert flow is not None
    assert heat is not None
    # 0.230 L x 0.8483 kg/L in ten minutes, at 42.92 MJ/kg net (45.759 gross less the water of 13 % H).
    assert flow.estimate.value == pytest.approx(0.230 * 0.8483 / 600, rel=1e-6)
    assert heat.estimate.value == pytest.approx(0.230 * 0.8483 / 600 * 42.92e6, rel=2e-3)


def test_burn_left_is_told_before_it_is_too_late() -> None:
    found = judged(practice(coolant_temperature="78 degC", heat_load="2 kW"))
    assert found.burn_time_left is not None
    # 2 K x 20 L x 3.7 MJ/m3K over 10 kW.
    assert found.burn_time_left.estimate.value == pytest.approx(2 * 0.020 * 3.7e6 / 10_000, rel=1e-9)
    assert "run every fan and open a hot tap" in said(found)
    assert "About 8 min of burn are left" in said(judged(practice(coolant_temperature="0 degC")))


def test_altitude_thins_the_burn_and_never_proves_one() -> None:
    here = Place(altitude_m=0.0, air_temperature_k=288.15)
    there = Place(altitude_m=1500.0, air_temperature_k=303.15, relative_humidity_fraction=0.3)
    draft = cases.good()
    draft.edit("flue_o2", shown="5.8 %").edit("flue_co2", shown="11.2 %")
    found = judged(with_place(draft.case(), here, there))
    text = " ".join(Speaker().say(each) for each in found.travel).replace("\u00a0", " ")
    # 1.35 at sea level falls to about 1.05 at 1,500 m on a 30 degC day.
    assert "At 1,500 m and 30 °C this setting gives lambda 1.04 to 1.08: too little air" in text
    assert found.notices
    assert found.verdict.verdict is Verdict.FIT


def test_a_place_without_altitude_says_so() -> None:
    text = [Speaker().say(each) for each in judged(cases.good().case()).travel]
    assert text == ["The altitude of this place was not noted, so nothing is said of other places."]


def test_no_fuel_no_lambda_and_nothing_proven() -> None:
    found = judged(cases.good().case(), fuel=None)
    assert found.verdict.verdict is Verdict.NOT_PROVEN
    assert found.triangle is None
    assert found.figure("air_ratio", Stage.AS_LEFT) is None


def test_the_makers_exhaust_limit_counts() -> None:
    draft = cases.good()
    draft.edit("stack_gas_temperature", shown="470 degC")
    found = judged(draft.case())
    assert found.verdict.verdict is Verdict.NOT_FIT
    assert "The exhaust is 470 ± 5 °C; the maker allows 430 °C." in said(found)


def test_the_triangle_is_the_fuels_own() -> None:
    found = judged(first_set()).triangle
    assert found is not None
    assert found.co2_largest_fraction == pytest.approx(0.1554, abs=6e-4)
    ratio, o2, co2 = found.air_ratios[3]
    assert (ratio, round(o2, 3)) == (1.3, 0.051)
    assert co2 == pytest.approx(0.1184, abs=2e-3)
    assert [point.now for point in found.points] == [True]
    assert found.points[0].air_ratio == pytest.approx(1.28, abs=0.01)


def earlier(count: int, seconds: str) -> tuple[Visit, ...]:
    return tuple(
        Visit(
            id=f"earlier-{index}",
            heater=cases.HEATER,
            started_at=datetime(2025, 1 + index, 1, tzinfo=UTC),
            readings=(
                Reading(
                    id=f"r-{index}",
                    heater=cases.HEATER,
                    key="time_to_light",
                    stage=Stage.AS_LEFT,
                    taken_at=datetime(2025, 1 + index, 1, tzinfo=UTC),
                    value=Decimal(seconds),
                    unit="s",
                ),
            ),
        )
        for index in range(count)
    )


def test_drift_against_the_units_own_past_informs() -> None:
    case = replace(practice(time_to_light="49 s"), history=earlier(3, "35"))
    notices = [Speaker().say(each).replace("\u00a0", " ") for each in judged(case).notices]
    assert "Time to light is 49 s; on 3 earlier visits it was about 35 s." in notices
    assert not judged(replace(case, history=earlier(1, "35"))).notices


def test_the_hash_knows_every_change_and_no_order() -> None:
    case = cases.good().case()
    facts = {"sheet": SHEET, "fuel": FUEL, "limits": SHELF.limits, "catalogue": SHELF.catalogue}
    first = inputs_hash(case, **facts)  # type: ignore[arg-type]
    turned = replace(case, visit=replace(case.visit, readings=case.visit.readings[::-1]))
    assert inputs_hash(turned, **facts) == first  # type: ignore[arg-type]
    less = replace(case, visit=replace(case.visit, readings=case.visit.readings[1:]))
    assert inputs_hash(less, **facts) != first  # type: ignore[arg-type]
    aged = {key: replace(each, calibrated_on=None) for key, each in case.instruments.items()}
    assert inputs_hash(replace(case, instruments=aged), **facts) != first  # type: ignore[arg-type]


def test_an_error_in_one_gate_is_not_proven_and_hides_no_stop(monkeypatch: pytest.MonkeyPatch) -> None:
    from lightoff.judging import verdict

    def broken(*_: object) -> None:
        raise ZeroDivisionError("planted")

    monkeypatch.setattr(verdict, "gate_smoke", broken)
    draft = cases.good().edit("living_space_co_running", shown="60 ppm")
    found = judged(draft.case())
    assert found.verdict.verdict is Verdict.STOP
    assert found.verdict.stops == ("leave the vehicle",)
    broke = next(gate for gate in found.verdict.gates if gate.gate == "smoke")
    assert broke.judgement is Judgement.NOT_PROVEN
    assert "planted" in Speaker().say(broke.said)


def test_the_owner_reads_the_rise_in_the_living_space() -> None:
    draft = cases.good().edit("living_space_co_running", shown="6 ppm").edit("outdoor_co", shown="2 ppm")
    figure = judged(draft.case()).figure("living_space_co_rise", Stage.AS_LEFT)
    assert figure is not None
    assert figure.estimate.value == pytest.approx(4e-6)
    # Two meters' classes of 2 ppm each, by root sum of squares.
    assert figure.estimate.half_width == pytest.approx(8**0.5 * 1e-6)


def test_at_most_three_notices() -> None:
    draft = cases.good()
    for minute in range(6):
        draft.add("fan_current", 200 + minute, "2.0 A", instrument="none", test=None, set_number=minute)
    case = replace(draft.case(), history=earlier(3, "35"))
    assert len(judged(case, now=NOW - timedelta(days=1)).notices) <= 3


def test_flame_out_ends_the_clock_of_burn_left() -> None:
    draft = cases.good()
    draft.readings = []
    draft.add("coolant_temperature", 20, "78 degC", test=None)
    draft.happen(EventKind.FLAME_OUT, 30)
    assert "burn are left" not in said(judged(draft.case()))


def test_work_done_is_not_denied_where_steps_were_answered_or_parts_moved() -> None:
    case = first_set()
    bare = replace(case, visit=replace(case.visit, work_done=(), service_complete=False))
    step = StepDone(id="s", heater=case.visit.heater, step="let_cool", outcome=Outcome.DONE, at=NOW)
    move = Move(id="m", part="p", at=NOW, kind=MoveKind.FITTED, heater=case.visit.heater)
    assert judged(bare).work_done.key == "judging.work_none"
    begun = judged(replace(bare, visit=replace(bare.visit, steps=(step,))))
    assert Speaker().say(begun.work_done) == "The order of work was begun; the service is not complete."
    moved = judged(replace(bare, visit=replace(bare.visit, moves=(move,), steps=(step,))))
    assert Speaker().say(moved.work_done) == "Work was done; the service is not complete."


def test_whether_oxygen_is_dry_is_asked_once() -> None:
    case = first_set()
    readings = tuple(
        replace(each, basis=None) if each.key == "flue_o2" else each for each in case.visit.readings
    )
    told = said(judged(replace(case, visit=replace(case.visit, readings=readings))))
    assert "without saying whether dry or wet" in told
    assert "it does not say how it was had" not in told


@pytest.mark.parametrize("kind", list(VehicleKind))
def test_mountains_are_told_to_what_may_climb_them_and_a_named_place_to_all(kind: VehicleKind) -> None:
    case = first_set()
    case = replace(case, vehicle=replace(case.vehicle, kind=kind))
    climbs = kind in (VehicleKind.COACH, VehicleKind.WORKSHOP)
    assert bool(judged(case).travel) is climbs
    named = with_place(case, Place(altitude_m=420.0), Place(name="Pass", altitude_m=2100.0))
    assert "2,100 m" in " ".join(Speaker().say(each) for each in judged(named).travel).replace("\u00a0", " ")


def test_carbon_dioxide_that_was_calculated_is_called_so() -> None:
    for basis, there, other in (
        ("calculated", CALCULATED_CO2, "flue_co2"),
        ("measured", "flue_co2", CALCULATED_CO2),
    ):
        case = cases.good(cases.Healthy(co2_basis=basis)).case()
        assessed = judged(case)
        figure = assessed.figure(there, Stage.AS_LEFT)
        assert figure is not None
        assert figure.estimate.value > 0.0
        assert assessed.figure(other, Stage.AS_LEFT) is None
        assert "flue_co2" not in {each.key for each in noted(case, assessed)}
