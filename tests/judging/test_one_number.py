"""One thing, one number: the figure shows what its gate held against the limit, and the sentence says it."""

from dataclasses import replace
from typing import Any

import pytest
from cases import AS_FOUND, AS_LEFT, PROBE, Draft, Healthy, at, good

from lightoff.judging.assess import assess
from lightoff.judging.assessment import Area, Assessment, Figure, GateResult, Verdict
from lightoff.shelf import open_shelf
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker

SHELF = open_shelf()
FIGURE_OF = {
    "flue CO": "co_air_free",
    "flue O2": "flue_o2",
    "smoke": "smoke_number",
    "living-space CO": "living_space_co_rise",
}


def judged(draft: Draft, sheet: str = "generic_9_kw") -> Assessment:
    facts: dict[str, Any] = {"limits": SHELF.limits, "catalogue": SHELF.catalogue, "now": draft.now}
    return assess(draft.case(), sheet=SHELF.sheets[sheet], fuel=SHELF.fuels["diesel_2"], **facts)


def gate(found: Assessment, name: str) -> GateResult:
    return next(each for each in found.verdict.gates if each.gate == name)


def figure(found: Assessment, key: str, stage: Stage = AS_LEFT) -> Figure:
    each = found.figure(key, stage)
    assert each is not None
    return each


def digits(each: Figure) -> str:
    return Speaker().number(each.estimate.value, each.dimension)


# Which set is the worse in carbon monoxide must not matter, nor which in oxygen.
SETS: dict[str, tuple[tuple[str, str], tuple[str, str]]] = {
    "the first set is worse": (("4.8", "4.9"), ("40", "36")),
    "the second set is worse": (("4.8", "4.9"), ("36", "45")),
    "the first set is over the limit": (("4.8", "4.9"), ("330", "310")),
    "the second set is over the limit": (("4.9", "4.8"), ("310", "330")),
    "only one set is over": (("4.8", "4.8"), ("190", "120")),
    "one set stops": (("4.8", "4.8"), ("290", "330")),
    "one set has too little air": (("2.6", "1.5"), ("40", "40")),
    "the other set has": (("1.5", "2.6"), ("40", "40")),
    "one set has too much air": (("9.0", "15.0"), ("40", "40")),
    "so has the other": (("15.0", "9.0"), ("190", "40")),
}


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize("entered", ["in order", "second set first"])
def test_figure_sentence_and_gate_show_one_number(name: str, entered: str) -> None:
    (o2_1, o2_2), (co_1, co_2) = SETS[name]
    draft = good().drop("flue_o2", of=AS_FOUND).drop("flue_co", of=AS_FOUND)
    draft.edit("flue_o2", nth=1, shown=f"{o2_1} %").edit("flue_o2", nth=2, shown=f"{o2_2} %")
    draft.edit("flue_co", nth=1, shown=f"{co_1} ppm").edit("flue_co", nth=2, shown=f"{co_2} ppm")
    if entered == "second set first":
        draft.readings.reverse()
    found = judged(draft)
    for named in ("flue CO", "flue O2"):
        counted = gate(found, named).counted
        assert counted is not None
        shown = figure(found, counted.figure)
        assert shown.estimate == counted.estimate
        said = Speaker().say(gate(found, named).said)
        assert f" {digits(shown)}" in said or "is so much air that" in said
    # By hand: the worse air-free number where both sets can be judged so.
    free = [float(co) * 20.95 / (20.95 - float(o2)) for o2, co in ((o2_1, co_1), (o2_2, co_2))]
    if max(float(o2_1), float(o2_2)) <= 14:
        assert figure(found, "co_air_free").estimate.value == pytest.approx(max(free) * 1e-6)
        assert figure(found, "flue_o2").estimate.value == pytest.approx(min(float(o2_1), float(o2_2)) / 100)


OVER = {
    "flue_co": ("flue_co", "co_air_free", "co_at_reference_o2", "unburned_loss"),
    "smoke_number": ("smoke_number",),
    "living_space_co_running": ("living_space_co_rise",),
}


@pytest.mark.parametrize("key", OVER)
def test_no_milder_number_stands_beside_a_meter_at_its_top(key: str) -> None:
    draft = good()
    if key == "smoke_number":
        draft.add(key, 74, "9 smoke no.", instrument="smoke-pump", set_number=2)
    draft.edit(key, nth=2 if key != "living_space_co_running" else None, at_top=True, value=None)
    found = judged(draft)
    assert found.verdict.verdict is Verdict.NOT_FIT
    for figure_key in OVER[key]:
        assert found.figure(figure_key, AS_LEFT) is None
    assert any(why == "over the top" for name, _, why in found.absent if name in OVER[key])
    assert found.figure("flue_o2", AS_LEFT) is not None


def test_both_sets_are_there_to_be_seen() -> None:
    found = judged(good())
    for key in ("flue_o2", "flue_co2", "flue_co", "co_air_free", "air_ratio"):
        each = figure(found, key)
        assert len(each.sets) == 2
        assert each.estimate.value in {one.value for one in each.sets} or key == "co_air_free"
    assert [round(each.value, 3) for each in figure(found, "flue_o2").sets] == [0.06, 0.061]
    assert figure(found, "flue_o2", AS_FOUND).sets == ()


@pytest.mark.parametrize("gate_name", FIGURE_OF)
@pytest.mark.parametrize("seed", range(12))
def test_whatever_is_spoiled_they_stay_one(gate_name: str, seed: int) -> None:
    from random import Random

    from mutators import spoiled

    draft, _ = spoiled(Random(seed * 31 + 7), 2)
    found = judged(draft)
    counted = gate(found, gate_name).counted
    if counted is None:
        return
    stages = {each.stage for each in draft.readings if each.id == counted.readings[0]}
    shown = [figure(found, counted.figure, stage) for stage in stages if found.figure(counted.figure, stage)]
    assert all(each.estimate == counted.estimate for each in shown)


def test_an_old_test_does_not_lend_its_set() -> None:
    draft = good()
    for one in [each for each in draft.readings if each.key in ("flue_o2", "flue_co", "flue_co2")]:
        if one.stage is AS_LEFT:
            draft.readings.append(
                replace(one, id=f"old-{one.id}", test="test-0", taken_at=at(50), set_number=3)
            )
    draft.edit("flue_co", nth=3, shown="150 ppm")
    found = judged(draft)
    assert figure(found, "flue_co").estimate.value == pytest.approx(32e-6)
    assert len(figure(found, "flue_co").sets) == 2


def test_every_figure_that_is_held_against_a_row_carries_it() -> None:
    """No face has to look into gates or the triangle for a limit or a band."""
    draft = good()
    draft.add("after_run_time", 97, "120 s", instrument=None, test=None)
    draft.add("supply_voltage_rest", 61, "25.4 V", instrument=None, test=None)
    draft.add("supply_voltage_igniter", 61, "24.6 V", instrument=None, test=None)
    draft.add("fuel_volume", 62, "230 mL", instrument=None, test=None)
    draft.add("fuel_time", 62, "600 s", instrument=None, test=None)
    found = judged(draft, "generic_12_kw")
    sheet = SHELF.sheets["generic_12_kw"]
    o2 = figure(found, "flue_o2")
    assert (o2.limit and o2.limit.key, o2.expected and (o2.expected.low, o2.expected.high)) == (
        "flue_o2_floor",
        (sheet.o2_dry_low_fraction, sheet.o2_dry_high_fraction),
    )
    stack = figure(found, "stack_gas_temperature").limit
    assert stack is not None
    assert (str(stack.value), stack.unit) == ("430", "degC")
    assert stack.source == "sheet Generic 12 kW, metering pump"
    for key in ("co_air_free", "smoke_number", "living_space_co_rise", "after_run_time", "supply_sag"):
        assert figure(found, key).limit is not None, key
    after_run = figure(found, "after_run_time").limit
    assert after_run is not None
    assert (float(after_run.value or 0), after_run.unit) == (pytest.approx(0.8 * sheet.after_run_s), "s")
    for key in ("fuel_flow", "fuel_volume_flow"):
        expected, value = figure(found, key).expected, figure(found, key).estimate.value
        assert expected is not None
        assert expected.low < value < expected.high
        # The band is that of the table's two rows, 0.85 and 1.15.
        assert expected.high / expected.low == pytest.approx(1.15 / 0.85)


@pytest.mark.parametrize("checked", [True, False])
def test_that_co2_was_calculated_is_told_once(checked: bool) -> None:
    draft = good(Healthy(co2_basis="calculated"))
    found = judged(draft if checked else draft.drop("fresh_air_o2_before"))
    burn = next(area for area in found.areas if area.area is Area.BURN)
    for said in (burn.sentences, found.paragraph):
        told = " ".join(Speaker().say(each) for each in said)
        assert told.count("calculated") == 1, told
        assert ("fresh air was read right before and after" in told) is checked
    closing = Speaker().say(found.paragraph[-1])
    assert closing == (
        "Fit as tested: every limit that was checked was met." if checked else "Therefore still not proven."
    )


def test_the_makers_exhaust_limit_sees_the_hotter_set() -> None:
    draft = good()
    draft.add("stack_gas_temperature", 68.5, "470 degC", instrument=PROBE, set_number=1)
    found = judged(draft, "generic_12_kw")
    assert found.verdict.verdict is Verdict.NOT_FIT
    assert digits(figure(found, "stack_gas_temperature")) == "470"
    said = [Speaker().say(each.said) for each in found.verdict.gates if each.gate == "stack temperature"]
    assert said[0].startswith("The exhaust is 470\u00a0±\u00a05")
