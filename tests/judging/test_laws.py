"""What must hold for every case, good or spoiled."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from random import Random
from typing import Any

import numpy as np
import pytest
from cases import (
    AS_LEFT,
    GATING_CO,
    METER,
    PROBE,
    Draft,
    Healthy,
    at,
    diluted,
    good,
    healthy_visit,
    in_other_units,
    limits,
)
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from mutators import JUNK, NEAR, as_reading, spoiled

from lightoff.judging.assessment import VerdictResult
from lightoff.judging.compare import Doubted, against
from lightoff.judging.verdict import judge
from lightoff.terms.visit import EventKind, Reading, Stage

VERDICTS = ("fit as tested", "not proven", "not fit", "stop")
JUDGEMENTS = ("within limits", "not proven", "outside limits", "stop")
NOT_NEEDED = {
    "co_response",
    "fresh_air_o2_before",
    "fresh_air_co_before",
    "trials_without_flame",
    "stack_gas_temperature",
}
searched = settings(
    max_examples=150, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True
)


def judged(draft: Draft) -> VerdictResult:
    return judge(draft.case(), **draft.facts())


def verdict(draft: Draft) -> str:
    return str(judged(draft).verdict)


def gate(draft: Draft, name: str) -> str:
    return next(str(each.judgement) for each in judged(draft).gates if each.gate == name)


def gates(draft: Draft) -> dict[str, str]:
    return {each.gate: str(each.judgement) for each in judged(draft).gates}


def as_left() -> list[int]:
    return [index for index, r in enumerate(good().readings) if r.stage is AS_LEFT]


def changed(index: int, **changes: Any) -> Draft:
    draft = good()
    draft.readings[index] = replace(draft.readings[index], **changes)
    return draft


def is_number(value: object) -> bool:
    return isinstance(value, Decimal) and value.is_finite()


# --- Missing, junk, contradictory -----------------------------------------------------------------


@pytest.mark.parametrize("index", as_left())
def test_without_any_one_needed_reading_nothing_is_fit(index: int) -> None:
    draft = good()
    gone = draft.readings.pop(index)
    assert (verdict(draft) == "fit as tested") == (gone.key in NOT_NEEDED)


@pytest.mark.parametrize("index", as_left())
def test_a_blank_is_no_reading(index: int) -> None:
    draft = changed(index, value=None, state=None)
    if draft.readings[index].key != "stack_gas_temperature":
        assert verdict(draft) == "not proven"


@pytest.mark.parametrize("junk", JUNK, ids=repr)
@pytest.mark.parametrize("index", [i for i in as_left() if good().readings[i].key in NEAR])
def test_junk_is_never_fit(index: int, junk: object) -> None:
    assert verdict(changed(index, value=junk)) != "fit as tested"


@pytest.mark.parametrize("index", [i for i in as_left() if good().readings[i].key in NEAR])
def test_two_readings_that_contradict_are_never_fit(index: int) -> None:
    draft = good()
    r = draft.readings[index]
    assert r.value is not None
    draft.readings.append(replace(r, id="again", value=r.value + Decimal("0.01")))
    assert verdict(draft) == "not proven"
    assert gate(draft, "conflict") == "not proven"


def test_the_same_reading_told_twice_is_no_contradiction() -> None:
    draft = good()
    draft.readings += [replace(r, id=f"again-{r.id}") for r in draft.readings]
    assert verdict(draft) == "fit as tested"


# --- Worse is never better ------------------------------------------------------------------------

WORSE = {
    "flue_co": "flue CO",
    "smoke_number": "smoke",
    "living_space_co_running": "living-space CO",
    "living_space_co_off": "living-space CO",
}


@given(
    rnd=st.randoms(use_true_random=False),
    edits=st.integers(0, 4),
    key=st.sampled_from(sorted(WORSE)),
    more=st.decimals("0.001", "5000", places=3),
)
@searched
def test_more_co_or_smoke_never_betters_its_gate(rnd: Random, edits: int, key: str, more: Decimal) -> None:
    draft, names = spoiled(rnd, edits)
    places = [i for i, r in enumerate(draft.readings) if r.key == key and is_number(r.value) and r.value >= 0]  # type: ignore[operator]
    assume(places)
    before = gate(draft, WORSE[key])
    index = rnd.choice(places)
    r = draft.readings[index]
    assert r.value is not None
    draft.readings[index] = replace(r, value=r.value + more)
    after = gate(draft, WORSE[key])
    assert JUDGEMENTS.index(after) >= JUDGEMENTS.index(before), (names, before, after)


@given(rnd=st.randoms(use_true_random=False), edits=st.integers(0, 3), older=st.integers(1, 1000))
@searched
def test_an_older_calibration_never_betters_a_verdict(rnd: Random, edits: int, older: int) -> None:
    draft, names = spoiled(rnd, edits)
    for key in (PROBE, METER):
        meter = draft.instruments[key]
        assume(meter.calibrated_on is not None and meter.calibrated_on <= at(0).date())
    before = verdict(draft)
    for key in (PROBE, METER):
        meter = draft.instruments[key]
        assert meter.calibrated_on is not None
        aged = meter.calibrated_on - timedelta(days=older)
        draft.instruments[key] = replace(meter, calibrated_on=aged)
    assert VERDICTS.index(verdict(draft)) >= VERDICTS.index(before), names


@given(rnd=st.randoms(use_true_random=False), edits=st.integers(0, 4), wide=st.decimals("0", "50", places=2))
@searched
def test_a_larger_typed_uncertainty_never_betters_a_verdict(rnd: Random, edits: int, wide: Decimal) -> None:
    draft, names = spoiled(rnd, edits)
    places = [i for i, r in enumerate(draft.readings) if is_number(r.value)]
    assume(places)
    index = rnd.choice(places)
    r = draft.readings[index]
    assume(r.typed_uncertainty is None or is_number(r.typed_uncertainty))
    before = verdict(draft)
    draft.readings[index] = replace(r, typed_uncertainty=(r.typed_uncertainty or Decimal(0)) + wide)
    assert VERDICTS.index(verdict(draft)) >= VERDICTS.index(before), (names, r.key)


# --- Dilution -------------------------------------------------------------------------------------


@given(
    o2=st.decimals("2.3", "12", places=2),
    co=st.decimals("1", "3000", places=0),
    smoke=st.decimals("0", "9", places=2),
    times=st.decimals("1", "8", places=3),
)
@settings(max_examples=400, deadline=None, derandomize=True)
def test_dilution_never_makes_fit_of_what_fails(
    o2: Decimal, co: Decimal, smoke: Decimal, times: Decimal
) -> None:
    co2 = str((Decimal("15.45") * (1 - o2 / Decimal("20.95"))).quantize(Decimal("0.001")))
    draft = good(Healthy(o2=(str(o2),) * 2, co=(str(co),) * 2, co2=(co2,) * 2, smoke=str(smoke)))
    fails = {gate(draft, "flue CO"), gate(draft, "smoke")} & {"outside limits", "stop"}
    assume(fails)
    assert verdict(diluted(draft, times)) != "fit as tested"


@pytest.mark.parametrize("times", [1, 1.25, 1.5, 1.75, 2, 2.25, 2.5, 3, 4, 5, 6, 7, 8])
@pytest.mark.parametrize("co", [150, 160, 200, 286, 400, 900, 1900])
def test_dilution_of_a_dirty_burn_on_a_grid(co: int, times: float) -> None:
    for o2 in ("2.4", "4", "6", "9", "11"):
        c = str((Decimal("15.45") * (1 - Decimal(o2) / Decimal("20.95"))).quantize(Decimal("0.001")))
        draft = good(Healthy(o2=(o2,) * 2, co=(str(co),) * 2, co2=(c,) * 2))
        if gate(draft, "flue CO") in ("outside limits", "stop"):
            assert verdict(diluted(draft, times)) != "fit as tested", (o2, co, times)


# --- Good cases are fit ---------------------------------------------------------------------------


def test_a_good_case_is_fit() -> None:
    result = judged(good())
    assert str(result.verdict) == "fit as tested"
    assert result.stops == ()


def test_a_good_case_with_calculated_co2_is_fit() -> None:
    assert verdict(good(Healthy(co2_basis="calculated"))) == "fit as tested"


def healthy_verdicts(count: int) -> Counter[str]:
    rng = np.random.default_rng(20260310)
    return Counter(verdict(healthy_visit(rng)) for _ in range(count))


def check_fatigue(verdicts: Counter[str], count: int) -> None:
    assert verdicts["stop"] <= count / 1000, verdicts
    assert verdicts["not fit"] <= count / 100, verdicts
    assert verdicts["fit as tested"] >= count * 0.9, verdicts


def test_healthy_visits_seldom_alarm() -> None:
    check_fatigue(healthy_verdicts(2000), 2000)


@pytest.mark.slow
def test_ten_thousand_healthy_visits_seldom_alarm() -> None:
    check_fatigue(healthy_verdicts(10_000), 10_000)


# --- Same state, other units ----------------------------------------------------------------------


@given(rnd=st.randoms(use_true_random=False), key=st.sampled_from(sorted(NEAR)), pick=st.integers(0, 12))
@searched
def test_the_same_state_in_other_units_is_judged_alike(rnd: Random, key: str, pick: int) -> None:
    draft = good()
    draft.edit(key, value=Decimal(NEAR[key][pick % len(NEAR[key])]), typed_uncertainty=Decimal("0.1"))
    other = in_other_units(draft, rnd)
    assert gates(other) == gates(draft)
    assert verdict(other) == verdict(draft)
    assert judged(other).stops == judged(draft).stops


# --- One unit in the last place either side of each limit -----------------------------------------

LAST = Decimal("0.000000001")


def shown(key: str, value: str | Decimal, *more: tuple[str, str]) -> Draft:
    draft = good().drop("flue_co", of=Stage.AS_FOUND)  # what was found would stand beside a diluted sample
    draft.edit(key, value=Decimal(value))
    for other, number in more:
        draft.edit(other, value=Decimal(number))
    return draft


HALF_AIR = (("flue_o2", "10.475"),)  # half of 20.95 %: CO air-free is twice the CO, exactly
EDGES: list[tuple[str, str, str, tuple[tuple[str, str], ...], str, str]] = [
    # key, last value of the better side, gate, the rest, judgement there, judgement one place beyond
    ("flue_o2", "13.7", "flue O2", (), "within limits", "not proven"),
    ("flue_co", "200", "flue CO", HALF_AIR, "outside limits", "stop"),
    ("flue_co", "400", "flue CO", (("flue_o2", "14.1"),), "outside limits", "stop"),
    ("smoke_number", "0.5", "smoke", (), "within limits", "not proven"),
    ("smoke_number", "1.5", "smoke", (), "not proven", "outside limits"),
    ("fresh_air_o2_after", "21.2", "fresh air", (), "within limits", "not proven"),
    ("fresh_air_co_after", "3", "fresh air", (), "within limits", "not proven"),
]


@pytest.mark.parametrize(("key", "value", "name", "rest", "there", "beyond"), EDGES)
def test_one_place_above_a_limit(
    key: str, value: str, name: str, rest: tuple[tuple[str, str], ...], there: str, beyond: str
) -> None:
    assert gate(shown(key, value, *rest), name) == there
    assert gate(shown(key, Decimal(value) + LAST, *rest), name) == beyond


@pytest.mark.parametrize(
    ("key", "value", "name", "there", "beyond"),
    [
        ("flue_o2", "2.3", "flue O2", "within limits", "not proven"),
        ("flue_o2", "1.7", "flue O2", "not proven", "outside limits"),
        ("fresh_air_o2_after", "20.6", "fresh air", "within limits", "not proven"),
    ],
)
def test_one_place_below_a_limit(key: str, value: str, name: str, there: str, beyond: str) -> None:
    assert gate(shown(key, value), name) == there
    assert gate(shown(key, Decimal(value) - LAST), name) == beyond


@pytest.mark.parametrize("key", ["living_space_co_running", "living_space_co_off"])
def test_one_place_below_the_rise_that_empties_the_vehicle(key: str) -> None:
    assert gate(shown(key, Decimal(36)), "living-space CO") == "stop"  # 1 ppm outdoors
    assert gate(shown(key, Decimal(36) - LAST), "living-space CO") == "outside limits"


def flip(judgement_at: Callable[[Decimal], str], low: Decimal, high: Decimal) -> Decimal:
    """Where the judgement leaves what it is at `low`, to twelve places."""
    first = judgement_at(low)
    assert judgement_at(high) != first
    while high - low > Decimal("1e-12"):
        middle = (low + high) / 2
        low, high = (middle, high) if judgement_at(middle) == first else (low, middle)
    return low


def test_the_rise_is_within_while_its_root_sum_of_squares_is_below_nine() -> None:
    edge = flip(
        lambda x: gate(shown("living_space_co_running", x), "living-space CO"), Decimal(3), Decimal(10)
    )
    # x - 1 + sqrt(2^2 + 2^2) = 9, by hand.
    assert abs(float(edge) - (10 - 8**0.5)) < 1e-10


def test_co_air_free_carries_the_uncertainty_of_oxygen() -> None:
    edge = flip(lambda x: gate(shown("flue_co", x, *HALF_AIR), "flue CO"), Decimal(60), Decimal(99))
    # x = 2c; its width: sqrt((2*10)^2 + (c*20.95/10.475^2*0.3)^2); by hand, x + width = 200.
    c = float(edge)
    width = ((2 * 10) ** 2 + (c * 20.95 / 10.475**2 * 0.3) ** 2) ** 0.5
    assert abs(2 * c + width - 200) < 1e-9


def moved_flame(seconds: float) -> Draft:
    draft = good()
    draft.events = [e for e in draft.events if e.kind is not EventKind.FLAME]
    first_flue = as_reading(draft, "flue_o2", 1).taken_at
    assert first_flue is not None
    minute = (first_flue - at(0)).total_seconds() / 60
    return draft.happen(EventKind.FLAME, minute - seconds / 60)


def test_five_minutes_of_steady_running_to_the_second() -> None:
    assert gate(moved_flame(300), "steady") == "within limits"
    assert gate(moved_flame(299), "steady") == "not proven"


def second_set_after(seconds: float) -> Draft:
    draft = good()
    for key in ("flue_o2", "flue_co", "flue_co2"):
        draft.edit(key, nth=2, taken_at=at(68) + timedelta(seconds=seconds))
    return draft


def test_sets_sixty_seconds_apart_to_the_microsecond() -> None:
    assert gate(second_set_after(60), "two sets") == "within limits"
    assert gate(second_set_after(59.999999), "two sets") == "not proven"


def test_sixty_minutes_from_first_to_last_to_the_microsecond() -> None:
    last = good().edit("after_run", taken_at=at(57) + timedelta(minutes=60))
    assert gate(last, "one test") == "within limits"
    later = good().edit("after_run", taken_at=at(57) + timedelta(minutes=60, microseconds=1))
    assert gate(later, "one test") == "not proven"


@pytest.mark.parametrize("key", [PROBE, METER])
def test_a_calibration_of_a_year_and_a_day(key: str) -> None:
    day = at(0).date()
    for age, expected in ((365, "within limits"), (366, "not proven")):
        draft = good()
        draft.instruments[key] = replace(draft.instruments[key], calibrated_on=day - timedelta(days=age))
        assert gate(draft, "calibration") == expected


def test_sets_agree_within_the_class_and_no_further() -> None:
    assert gate(good(Healthy(o2=("6.0", "6.3"))), "two sets") == "within limits"
    assert gate(good(Healthy(o2=("6.0", "6.300000001"))), "two sets") == "not proven"


def test_carbon_dioxide_contradicts_beyond_the_two_widths_added() -> None:
    largest = Fraction(0.1545)
    expected = 100 * largest * (1 - Fraction("6.0") / Fraction("20.95"))
    width = Fraction("0.3") * largest * 100 / Fraction("20.95")

    # Below the expected value: CO2 + max(0.3, 5 % of CO2) + width of oxygen's part = expected, by hand.
    edge = (expected - width) / Fraction("1.05")
    for off, judgement in ((Fraction(1, 10**9), "within limits"), (Fraction(-1, 10**9), "not proven")):
        exact = edge + off
        value = (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(Decimal("1e-15"))
        draft = good(Healthy(o2=("6.0", "6.0"))).edit("flue_co2", value=value)
        assert gate(draft, "CO2 agrees") == judgement


def test_stops_are_named_in_their_order() -> None:
    draft = good().edit("living_space_co_running", value=Decimal(60)).edit("flue_co", value=Decimal(900))
    assert judged(draft).stops == ("leave the vehicle", "do not fire")


def test_every_gate_that_is_not_proven_says_what_would_close_it() -> None:
    for index in as_left():
        draft = good()
        gone: Reading = draft.readings.pop(index)
        if gone.key in NOT_NEEDED:
            continue
        open_gates = [each for each in judged(draft).gates if str(each.judgement) == "not proven"]
        assert any(gone.key in each.missing for each in open_gates), gone.key


def test_gating_co_is_four_readings() -> None:
    assert {r.key for r in good().readings} >= set(GATING_CO)


# --- What a mutated judgement got past, until these were written ----------------------------------


def test_readings_of_no_test_are_no_test() -> None:
    draft = good()
    draft.readings = [replace(r, test=None) for r in draft.readings]
    assert verdict(draft) not in ("fit as tested", "not fit")
    assert gate(draft, "one test") == "not proven"


def test_readings_as_found_are_never_the_test() -> None:
    draft = good()
    draft.edit("flue_o2", of=Stage.AS_FOUND, taken_at=at(150)).edit(
        "flue_co", of=Stage.AS_FOUND, taken_at=at(150)
    )
    assert verdict(draft) == "fit as tested"


def test_what_is_entered_while_the_visit_is_open_or_as_it_closes_is_not_late() -> None:
    draft = good()
    draft.edit("smoke_number", entered_at=at(130))
    assert verdict(draft) == "fit as tested"
    draft.closed_at = at(130)
    assert verdict(draft) == "fit as tested"
    draft.edit("smoke_number", entered_at=at(130) + timedelta(microseconds=1))
    assert verdict(draft) == "not proven"


def test_a_reading_taken_this_instant_is_not_of_the_future() -> None:
    draft = good()
    draft.now = at(96)
    assert verdict(draft) == "fit as tested"
    draft.now = at(96) - timedelta(microseconds=1)
    assert verdict(draft) == "not proven"


@pytest.mark.parametrize(
    ("found", "left", "expected"), [(50, 51, "within limits"), (50, 50, "stop"), (51, 50, "stop")]
)
def test_a_wet_chamber_stands_until_a_later_dry_look(found: float, left: float, expected: str) -> None:
    draft = good().add("chamber_look", found, "wet", stage=Stage.AS_FOUND, test=None)
    draft.add("chamber_look", left, "dry", test=None)
    assert gate(draft, "trials") == expected


def test_a_wet_set_beside_a_dry_one_is_not_two_sets() -> None:
    draft = good().edit("flue_o2", nth=2, basis="wet")
    assert gate(draft, "two sets") == "not proven"


def test_an_adjustment_in_the_instant_of_a_reading_breaks_the_steady_running() -> None:
    assert gate(good().happen(EventKind.ADJUSTED, 68), "steady") == "not proven"


def test_much_air_proves_no_carbon_monoxide() -> None:
    draft = good(Healthy(o2=("15", "15"), co=("5", "5"))).drop("flue_co", of=Stage.AS_FOUND)
    assert gate(draft, "flue CO") == "not proven"


def test_a_limit_that_must_stay_below_is_not_met_by_touching_it() -> None:
    row = replace(limits().rows["living_space_co_fit"], value=Decimal(9))
    ppm = Fraction(1, 10**6)
    for x, judgement in ((Fraction(5), "not proven"), (Fraction(49999, 10000), "within limits")):
        assert str(against(row, Doubted(x=x * ppm, u_squared=(4 * ppm) ** 2))) == judgement
    for x, judgement in ((Fraction(13), "outside limits"), (Fraction(129999, 10000), "not proven")):
        assert str(against(row, Doubted(x=x * ppm, u_squared=(4 * ppm) ** 2))) == judgement
    assert str(against(row, Doubted(x=9 * ppm, u_squared=Fraction(0)))) == "outside limits"


def test_a_reading_that_no_gate_needs_is_set_aside_and_named() -> None:
    draft = good().add("coolant_temperature", 70, "70 degC", value=Decimal("NaN"))
    assert verdict(draft) == "fit as tested"
    assert judged(draft).set_aside
    assert not judged(good()).set_aside
