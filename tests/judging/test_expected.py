"""The bands to expect: they may lower a judgement to not proven, and nothing they hold ever raises one."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest
from cases import Draft, catalogue, good, limits, sheet, shelf
from mutators import spoiled

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount
from lightoff.judging import expected
from lightoff.judging.assess import assess
from lightoff.judging.assessment import WORST_FIRST, Area, Assessment, Judgement, Verdict
from lightoff.judging.expected import (
    GATED,
    SPREADS,
    Bands,
    far_from,
    limit_of,
    told,
    with_expected_o2,
)
from lightoff.judging.limit_gates import Rows
from lightoff.plant.band import COVERAGE, Band
from lightoff.plant.quantities import QUANTITIES
from lightoff.terms.visit import Stage

WIDE = Band(middle=0.06, low=0.05, high=0.07)


def judged(draft: Draft, bands: Bands | None) -> Assessment:
    facts: dict[str, Any] = {"limits": limits(), "catalogue": catalogue(), "now": draft.now}
    return assess(draft.case(), sheet=draft.sheet, fuel=shelf().fuels["diesel_2"], bands=bands, **facts)


def of(key: str, band: Band, *, stage: Stage = Stage.AS_LEFT) -> Bands:
    return {stage: {key: band}}


def around(draft: Draft, key: str, *, off: float, half: float = 0.01) -> Band:
    """A band whose middle lies `off` standard deviations below what was read."""
    read = next(each for each in judged(draft, None).figures(Stage.AS_LEFT) if each.key == key)
    spread = half * abs(read.estimate.value)
    middle = read.estimate.value - off * spread
    return Band(middle=middle, low=middle - COVERAGE * spread, high=middle + COVERAGE * spread)


def test_without_bands_nothing_changes() -> None:
    for seed in range(30):
        draft = good() if seed == 0 else spoiled(Random(seed), 1 + seed % 3)[0]
        assert judged(draft, None) == judged(draft, {}), "no bands at all, or none for any reading"


def test_a_reading_inside_its_band_changes_no_verdict() -> None:
    draft = good()
    assert judged(draft, None).verdict.verdict is Verdict.FIT
    found = judged(draft, of("flue_o2", around(draft, "flue_o2", off=0.0)))
    assert found.verdict == judged(draft, None).verdict
    figure = found.figure("flue_o2", Stage.AS_LEFT)
    assert figure is not None
    assert figure.expected is not None
    assert figure.expected.low <= figure.estimate.value <= figure.expected.high


@pytest.mark.parametrize("key", ["flue_o2", "stack_gas_temperature"])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_reading_far_off_is_not_proven_and_says_what_to_do(key: str, side: float) -> None:
    draft = good()
    band = around(draft, key, off=12.0 * side, half=0.03)
    found = judged(draft, of(key, band))
    assert found.verdict.verdict is Verdict.NOT_PROVEN
    gate = next(each for each in found.verdict.gates if each.gate == f"expected {key}")
    assert gate.judgement is Judgement.NOT_PROVEN
    assert gate.missing == (key,), "it is asked for again"
    assert gate.said.values["what"] == f"@reading.{key}"
    assert gate.said.values["low"].value == band.low  # type: ignore[union-attr]
    below = side < 0.0
    # Soot heats the exhaust; it never cools it.
    assert str(gate.said.values["do"]).endswith("_below") is below
    area = next(each for each in found.areas if each.area is GATED[key])
    assert area.judgement is Judgement.NOT_PROVEN
    assert gate.said in area.sentences


def test_a_little_beyond_the_band_is_no_evidence() -> None:
    """One in twenty lies beyond the band: only what lies far outside, its own doubt counted, is doubted."""
    draft = good()
    for off in (2.5, 3.4):
        assert judged(draft, of("flue_o2", around(draft, "flue_o2", off=off))).verdict.verdict is Verdict.FIT
    read = judged(draft, None).figure("flue_o2", Stage.AS_LEFT)
    assert read is not None
    half = read.estimate.half_width
    for beyond, verdict in ((0.9 * half, Verdict.FIT), (1.2 * half, Verdict.NOT_PROVEN)):
        value, spread = max(each.value for each in (read.estimate, *read.sets)), 1e-4
        middle = value - beyond - SPREADS * spread
        band = Band(middle=middle, low=middle - COVERAGE * spread, high=middle + COVERAGE * spread)
        assert judged(draft, of("flue_o2", band)).verdict.verdict is verdict


def test_what_was_found_lowers_nothing() -> None:
    draft = good()
    band = around(draft, "flue_o2", off=50.0)
    assert judged(draft, of("flue_o2", band, stage=Stage.AS_FOUND)).verdict.verdict is Verdict.FIT


def test_wet_oxygen_is_not_held_against_a_band_of_dry_gas() -> None:
    draft = good().edit("flue_o2", basis="wet")
    found = judged(draft, of("flue_o2", around(good(), "flue_o2", off=50.0)))
    assert not [each for each in found.verdict.gates if each.gate.startswith("expected")]


def drawn_bands(draw: Random) -> Bands:
    """Bands that know nothing of any heater."""
    bands: dict[Stage, dict[str, Band]] = {}
    for stage in Stage:
        bands[stage] = {}
        for key in QUANTITIES:
            middle = draw.choice([0.05, 0.001, 300.0, 550.0, 9.0, 40.0])
            ends = {"low": middle * draw.uniform(0.5, 1.0), "high": middle * draw.uniform(1.0, 1.5)}
            bands[stage][key] = Band(middle=middle, **ends)
    return bands


def test_no_band_whatever_raises_any_judgement() -> None:
    """Spoiled visits under drawn bands: verdict and areas are as bad as without, or worse."""
    draw = Random(7)
    rank = {judgement: at for at, judgement in enumerate(WORST_FIRST)}
    lowered = 0
    for seed in range(60):
        draft = good() if seed < 5 else spoiled(Random(seed), 1 + seed % 3)[0]
        plain, banded = judged(draft, None), judged(draft, drawn_bands(draw))
        assert all(each in banded.verdict.gates for each in plain.verdict.gates)
        extra = [each for each in banded.verdict.gates if each not in plain.verdict.gates]
        assert all(each.judgement is Judgement.NOT_PROVEN for each in extra)
        for one, other in zip(plain.areas, banded.areas, strict=True):
            assert rank[other.judgement] <= rank[one.judgement]
        lowered += plain.verdict.verdict is Verdict.FIT is not banded.verdict.verdict
    assert lowered, "or the law is empty"


def test_an_area_that_nobody_measured_gets_no_gate() -> None:
    draft = good().drop("igniter_current")
    found = judged(draft, of("igniter_current", Band(middle=9.0, low=8.9, high=9.1)))
    supply = next(each for each in found.areas if each.area is Area.SUPPLY)
    assert not [each for each in found.verdict.gates if each.gate == "expected igniter_current"]
    assert supply.figures == next(e for e in judged(draft, None).areas if e.area is Area.SUPPLY).figures


def test_the_wide_band_is_counted_on_the_scale_of_the_reading() -> None:
    low, high = far_from("flue_o2", WIDE)
    assert (low, high) == pytest.approx((0.06 - 0.0175, 0.06 + 0.0175))
    # Times are compared as logarithms: as many times longer as shorter.
    low, high = far_from("time_to_light", Band(middle=40.0, low=30.0, high=53.0))
    assert (41.0 / (low + 1.0)) == pytest.approx((41.0 / 31.0) ** (SPREADS / COVERAGE))
    assert ((high + 1.0) / 41.0) == pytest.approx((54.0 / 41.0) ** (SPREADS / COVERAGE))


def test_the_triangle_shows_the_oxygen_of_this_place() -> None:
    drawn = judged(good(), of("flue_o2", WIDE)).triangle
    assert drawn is not None
    assert drawn.expected_o2 == (WIDE.low, WIDE.high)
    plain = judged(good(), None).triangle
    assert plain is not None
    assert replace(drawn, expected_o2=plain.expected_o2) == plain


def test_no_band_is_told_that_reaches_past_the_limit_of_its_reading() -> None:
    """What a sound heater may read at worst is no word on how much carbon monoxide may be there."""
    for high, shown in ((199e-6, True), (201e-6, False)):
        found = judged(good(), of("flue_co", Band(middle=40e-6, low=15e-6, high=high)))
        figure = found.figure("flue_co", Stage.AS_LEFT)
        assert figure is not None
        assert (figure.expected is not None) is shown


@pytest.mark.parametrize(
    ("band", "ends"),
    [
        (Band(middle=0.05, low=0.021, high=0.084), (0.021, 0.084)),
        (Band(middle=0.05, low=0.009, high=0.084), (0.02, 0.084)),
        (Band(middle=0.015, low=0.009, high=0.084), (0.02, 0.084)),
        (Band(middle=0.012, low=0.005, high=0.02), None),
    ],
)
def test_no_oxygen_is_told_to_be_expected_below_its_floor(
    band: Band, ends: tuple[float, float] | None
) -> None:
    """On its figure and in the triangle."""
    found = judged(good(), of("flue_o2", band))
    figure = found.figure("flue_o2", Stage.AS_LEFT)
    assert figure is not None
    assert figure.limit is not None
    assert found.triangle is not None
    shown = (figure.expected.low, figure.expected.high) if figure.expected else None
    assert shown == ends
    assert found.triangle.expected_o2 == ends


def test_a_band_that_is_doubted_against_is_told_no_lower_than_its_floor() -> None:
    draft = good()
    band = Band(middle=0.014, low=0.009, high=0.021)
    gates = judged(draft, of("flue_o2", band)).verdict.gates
    said = next(each for each in gates if each.gate == "expected flue_o2").said
    assert said.values["low"].value == 0.02  # type: ignore[union-attr]
    assert said.values["high"].value == 0.021  # type: ignore[union-attr]


@pytest.mark.parametrize(("highest", "shown"), [("480", True), ("440", False)])
def test_nor_one_past_the_sheets_own_limit(highest: str, shown: bool) -> None:
    """The maker's highest exhaust temperature, and a limit of the table that a sheet makes stricter."""
    draft = good()
    draft.sheet = replace(
        sheet(co_air_free_fit=str(int(highest) - 300)), stack_temperature_highest_k=float(highest) + 273.15
    )
    hot = Band(middle=500.0 + 100.0, low=500.0, high=460.0 + 273.15)
    gas = Band(middle=40e-6, low=15e-6, high=160e-6)
    found = judged(draft, {Stage.AS_LEFT: {"stack_gas_temperature": hot, "flue_co": gas}})
    for key in ("stack_gas_temperature", "flue_co"):
        figure = found.figure(key, Stage.AS_LEFT)
        assert figure is not None
        assert (figure.expected is not None) is shown


def rows(**tightens: str) -> Rows:
    return Rows(limits=limits(), sheet=sheet(**tightens), kind="coach")


def test_what_is_told_ends_at_the_limit_itself() -> None:
    def band(low: float, high: float) -> Estimate:
        return Estimate(value=low, low=low, high=high, coverage=0.95)

    assert told("smoke_number", band(0.2, 1.0), rows()) == band(0.2, 1.0)
    assert told("smoke_number", band(0.2, 1.01), rows()) is None
    assert told("flue_o2", band(0.019, 0.05), rows()) == band(0.02, 0.05)
    assert told("flue_o2", band(0.019, 0.05), rows(flue_o2_floor="2.5")) == band(0.025, 0.05)
    assert limit_of("time_to_light", rows()) is None
    assert told("time_to_light", band(20.0, 90.0), rows()) == band(20.0, 90.0)


def test_the_triangle_without_a_band_shows_the_makers_own_range_above_the_floor() -> None:
    assert with_expected_o2(None, {}) is None
    plain = judged(good(), None).triangle
    assert plain is not None
    assert with_expected_o2(plain, {}) == plain
    low = replace(plain, expected_o2=(0.01, 0.05))
    assert with_expected_o2(low, {}) == replace(plain, expected_o2=(0.02, 0.05))
    bare = replace(plain, expected_o2=None)
    assert with_expected_o2(bare, of("flue_o2", WIDE)) == bare


def test_the_wide_band_of_a_small_number_is_counted_from_nought() -> None:
    floor = QUANTITIES["flue_co"].floor
    low, high = far_from("flue_co", Band(middle=40e-6, low=20e-6, high=80e-6))
    factor = SPREADS / COVERAGE
    assert low + floor == pytest.approx((40e-6 + floor) * ((20e-6 + floor) / (40e-6 + floor)) ** factor)
    assert high + floor == pytest.approx((40e-6 + floor) * ((80e-6 + floor) / (40e-6 + floor)) ** factor)
    below = far_from("flue_co", Band(middle=40e-6, low=-30e-6, high=80e-6))
    assert below == far_from("flue_co", Band(middle=40e-6, low=0.0, high=80e-6))


def bare() -> Draft:
    """With what a multimeter and a watch read as well."""
    draft = good().add("time_to_light", 60.6, "40 s").add("supply_voltage_igniter", 60.2, "12.2 V")
    return draft.add("igniter_current", 60.2, "9.0 A")


@pytest.mark.parametrize(
    ("key", "middle", "side"),
    [
        ("igniter_current", 14.0, ""),
        ("igniter_current", 4.0, ""),
        ("time_to_light", 200.0, ""),
        ("stack_gas_temperature", 273.15 + 400.0, "_below"),
        ("stack_gas_temperature", 273.15 + 60.0, ""),
        ("flue_o2", 0.12, "_below"),
    ],
)
def test_every_reading_that_a_sound_heater_repeats_lowers_its_own_area_and_no_other(
    key: str, middle: float, side: str
) -> None:
    band = Band(middle=middle, low=middle * 0.98, high=middle * 1.02)
    plain, found = judged(bare(), {}), judged(bare(), of(key, band))
    gates = [each for each in found.verdict.gates if each not in plain.verdict.gates]
    assert [(each.gate, each.judgement, each.missing) for each in gates] == [
        (f"expected {key}", Judgement.NOT_PROVEN, (key,))
    ]
    read = found.figure(key, Stage.AS_LEFT)
    assert read is not None
    assert gates[0].readings == read.readings[:1]
    said, dimension = gates[0].said, QUANTITIES[key].dimension
    assert said.key == "judging.far_from_expected"
    assert said.values["what"] == f"@reading.{key}"
    assert said.values["do"] == f"@judging.far_from_expected_{key}{side}"
    value = read.sets[-1].value if key == "flue_o2" and read.sets else read.estimate.value
    assert isinstance(said.values["value"], Amount)
    assert said.values["value"].dimension == dimension
    assert said.values["value"].value in (value, read.estimate.value)
    for area, before in zip(found.areas, plain.areas, strict=True):
        own = area.area is GATED[key]
        assert (gates[0].said in area.sentences) is own
        assert own or area.judgement is before.judgement


def test_gates_of_an_area_stay_beside_what_is_expected() -> None:
    draft = bare().edit("stack_gas_temperature", shown="470 degC")
    draft.sheet = replace(draft.sheet, stack_temperature_highest_k=430 + 273.15)
    for bands in ({}, of("igniter_current", Band(middle=14.0, low=13.9, high=14.1))):
        assert judged(draft, bands).verdict.verdict is Verdict.NOT_FIT, "hotter than the maker allows"


def test_a_figure_with_a_band_of_its_own_test_keeps_it() -> None:
    for key in ("time_to_light", "igniter_current"):
        band = Band(middle=40.0, low=1.0, high=90.0)
        own, found = (judged(bare(), bands).figure(key, Stage.AS_LEFT) for bands in ({}, of(key, band)))
        assert own is not None
        assert found is not None
        assert found.expected == own.expected
        assert own.expected is not None
        assert own.by_sheet
        assert found.by_sheet


def test_the_band_of_this_heater_and_that_of_its_type_are_told_apart() -> None:
    for key, by_sheet in (("flue_o2", True), ("stack_gas_temperature", False)):
        figure = judged(good(), {}).figure(key, Stage.AS_LEFT)
        assert figure is not None
        assert figure.by_sheet is by_sheet
        middle = figure.estimate.value
        here = judged(good(), of(key, Band(middle=middle, low=0.99 * middle, high=1.01 * middle)))
        banded = here.figure(key, Stage.AS_LEFT)
        assert banded is not None
        assert not banded.by_sheet
        assert banded.expected is not None
        assert banded.expected.high == pytest.approx(1.01 * middle)


def test_at_the_very_edge_nothing_is_doubted(monkeypatch: pytest.MonkeyPatch) -> None:
    figure = judged(good(), {}).figure("stack_gas_temperature", Stage.AS_LEFT)
    assert figure is not None
    edge = figure.estimate.low
    for high, count in ((edge, 0), (edge - 1e-9, 1)):
        monkeypatch.setattr(expected, "far_from", lambda *_, high=high: (0.0, high))
        found = judged(good(), of("stack_gas_temperature", Band(middle=300.0, low=290.0, high=310.0)))
        assert sum(each.gate.startswith("expected") for each in found.verdict.gates) == count
