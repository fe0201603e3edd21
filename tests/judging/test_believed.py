"""Which readings may be used, at the edges of a meter, a catalogue and a visit; found by changed lines."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from cases import AS_FOUND, AS_LEFT, METER, NOW, PROBE, START, Draft, at, catalogue, good
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.judging import believed
from lightoff.judging.believed import (
    Believed,
    Judged,
    accuracy_of,
    believe,
    class_width,
    needs_instrument,
    same_day,
)
from lightoff.terms.people import Span
from lightoff.terms.visit import BY_PHOTOGRAPH, GROUPED, NOT_HAD, Reading


def sorted_out(draft: Draft) -> Believed:
    return believe(draft.case(), catalogue(), NOW)


def one(draft: Draft, key: str, nth: int | None = None) -> Judged | None:
    """The as-left reading of `key`, if it can be used at all."""
    found = [
        each
        for each in sorted_out(draft).judged
        if each.reading.key == key
        and each.reading.stage is AS_LEFT
        and (nth is None or each.reading.set_number == nth)
    ]
    return found[-1] if found else None


def doubts(draft: Draft, key: str, nth: int | None = None) -> tuple[str, ...]:
    found = one(draft, key, nth)
    assert found is not None
    return found.doubts


def with_span(key: str, low: str, high: str, unit: str = "ppm", of: str = METER) -> Draft:
    draft = good()
    span = Span(key=key, low=Decimal(low), high=Decimal(high), unit=unit)
    draft.instruments[of] = replace(draft.instruments[of], spans=(span,))
    return draft


RUNNING = "living_space_co_running"


# --- The meter ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("make", "expected"),
    [
        (good, ()),
        (lambda: good().edit(RUNNING, instrument=None), ("no_instrument",)),
        (lambda: good().edit(RUNNING, instrument="smoke-pump"), ("no_instrument",)),  # reads no gas
        (lambda: with_span(RUNNING, "0", "300", "parsec"), ("no_instrument",)),
        (lambda: good().edit(RUNNING, typed_uncertainty=Decimal("2")), ()),  # its class, to the last digit
        (lambda: good().edit(RUNNING, typed_uncertainty=Decimal("2.0001")), ("typed_uncertainty",)),
        (lambda: good().edit(RUNNING, typed_uncertainty=Decimal("0")), ()),
        (lambda: good().edit(RUNNING, typed_uncertainty=Decimal("0.5")), ()),
        (lambda: good().edit(RUNNING, typed_uncertainty=Decimal("-0.5")), ("typed_uncertainty",)),
        (lambda: good().edit(RUNNING, typed_uncertainty=Decimal("NaN")), ("typed_uncertainty",)),
        (lambda: good().edit(RUNNING, basis=GROUPED), ("grouped",)),
        (lambda: good().edit(RUNNING, basis=BY_PHOTOGRAPH), ("by_photograph",)),
    ],
)
def test_what_is_held_against_a_reading(make: Callable[[], Draft], expected: tuple[str, ...]) -> None:
    assert doubts(make(), RUNNING) == expected


def test_only_a_smoke_number_is_widened_by_a_photograph() -> None:
    plain, photographed = one(good(), RUNNING), one(good().edit(RUNNING, basis=BY_PHOTOGRAPH), RUNNING)
    assert photographed.width == plain.width
    spot = one(good().edit("smoke_number", basis=BY_PHOTOGRAPH), "smoke_number")
    assert spot.width == 1 != one(good(), "smoke_number").width


def test_a_smoke_number_off_a_photograph_without_a_pump_is_doubted_and_no_junk() -> None:
    spot = one(good().edit("smoke_number", basis=BY_PHOTOGRAPH, instrument=None), "smoke_number")
    assert spot.doubts == ("by_photograph", "no_instrument")
    assert spot.width is None


def test_a_meter_of_a_class_that_does_not_read_it_is_doubted_and_still_warns() -> None:
    kind = catalogue().classes["flue_gas_probe"]
    blind = replace(kind, accuracies={key: each for key, each in kind.accuracies.items() if key != "flue_co"})
    classes = replace(catalogue(), classes=dict(catalogue().classes) | {"flue_gas_probe": blind})
    found = [each for each in believe(good().case(), classes, NOW).judged if each.reading.key == "flue_co"]
    assert [each.doubts for each in found] == [("no_instrument",)] * 3
    assert [each.width for each in found] == [None] * 3


def test_a_meter_that_the_catalogue_does_not_name_for_a_quantity_is_doubted() -> None:
    entries = dict(catalogue().entries)
    entries["flue_co"] = replace(entries["flue_co"], classes=("another_probe",))
    case, other = good().case(), replace(catalogue(), entries=entries)
    found = [each for each in believe(case, other, NOW).judged if each.reading.key == "flue_co"]
    assert [each.doubts for each in found] == [("no_instrument",)] * 3


def test_a_meter_of_no_known_class_has_no_accuracy() -> None:
    probe = replace(good().instruments[PROBE], kind="crystal ball")
    assert accuracy_of(probe, "flue_co", catalogue()) is None


def test_a_retired_meter_still_warns_with_its_width() -> None:
    draft = good()
    draft.instruments[METER] = replace(draft.instruments[METER], retired=True)
    found = one(draft, RUNNING)
    assert found is not None
    assert (found.doubts, found.width) == (("no_instrument",), Fraction(2, 1_000_000))


@pytest.mark.parametrize(
    ("draft", "at_top"),
    [
        (with_span(RUNNING, "0", "3"), False),
        (with_span(RUNNING, "0", "2"), True),  # 2 ppm were read
        (with_span("outdoor_co", "0", "2"), False),  # of another quantity
        (with_span(RUNNING, "0", "1000000"), False),  # a sheet never widens
        (with_span(RUNNING, "0", "1000000").edit(RUNNING, shown="1000 ppm"), True),
        (good().edit(RUNNING, shown="999.99 ppm"), False),
        (good().edit(RUNNING, shown="1000 ppm"), True),
    ],
)
def test_the_top_of_a_meter(draft: Draft, at_top: bool) -> None:
    found = one(draft, RUNNING)
    assert found is not None
    assert found.at_top is at_top
    assert ("at_top" in found.doubts) is at_top


def test_a_state_has_no_top() -> None:
    found = one(good().edit("exhaust_path", at_top=True), "exhaust_path")
    assert found is not None
    assert not found.at_top


@pytest.mark.parametrize(("low", "usable"), [("1", True), ("2", True), ("2.001", False), ("-5", True)])
def test_below_its_meters_range_a_reading_is_none(low: str, usable: bool) -> None:
    assert (one(with_span(RUNNING, low, "300"), RUNNING) is not None) is usable


def test_a_sheet_never_widens_a_meter_downwards() -> None:
    draft = with_span("stack_gas_temperature", "-300", "2000", "degC", of=PROBE)
    assert one(draft.edit("stack_gas_temperature", shown="-41 degC"), "stack_gas_temperature") is None


def test_dashes_are_not_below_a_range_and_have_the_least_width_of_the_class() -> None:
    dashes = with_span(RUNNING, "2", "300").edit(RUNNING, value=None, unit="", at_top=True)
    found = one(dashes, RUNNING)
    assert found is not None
    assert (found.x, found.width) == (0, Fraction(2, 1_000_000))
    shown = one(good().edit(RUNNING, value=None, unit="ppm", at_top=True), RUNNING)
    assert shown is not None
    assert shown.width == Fraction(2, 1_000_000)


def test_dashes_of_a_temperature_take_their_width_in_its_own_unit() -> None:
    key = "stack_gas_temperature"
    found = one(good().edit(key, value=None, unit="", at_top=True), key)
    assert found is not None
    accuracy = catalogue().classes["flue_gas_probe"].accuracies[key]
    assert found.width == class_width(accuracy, Decimal(0), accuracy.unit)


def test_the_width_is_of_the_number_in_its_own_unit() -> None:
    found = one(good().edit("flue_co", shown="0.05 %"), "flue_co")  # 500 ppm, of which 5 %
    assert found is not None
    assert found.width == Fraction(25, 1_000_000)


def test_a_share_of_a_temperature_is_of_degrees_celsius() -> None:
    accuracy = catalogue().classes["flue_gas_probe"].accuracies["stack_gas_temperature"]
    assert class_width(accuracy, Decimal(500), "degC") == 5
    assert class_width(accuracy, Decimal("773.15"), "K") == 5
    assert class_width(accuracy, Decimal(-500), "degC") == 5
    assert class_width(accuracy, Decimal(100), "degC") == 2


def test_who_looks_or_counts_needs_no_meter() -> None:
    entries = catalogue().entries
    plain = entries["flue_co"]
    assert needs_instrument(plain)
    for classes in ((), ("eyes",), ("stopwatch",), ("stopwatch", "flue_gas_probe")):
        assert not needs_instrument(replace(plain, classes=classes))


def test_a_state_has_no_number_and_no_width() -> None:
    found = one(good(), "exhaust_path")
    assert found is not None
    assert found.u == 0
    with pytest.raises(TypeError, match=r"^exhaust_path is a state, not a number$"):
        assert found.number


# --- The catalogue --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "shown", "usable"),
    [
        ("flue_o2", "0 %", True),
        ("flue_o2", "-0.0001 %", False),
        ("flue_o2", "20.95 %", True),
        ("flue_o2", "20.9501 %", False),
        ("flue_co", "100000 ppm", True),
        ("flue_co", "100001 ppm", True),  # beyond what can be, and still crosses its limit
        ("living_space_co_running", "100001 ppm", True),
        ("living_space_co_off", "100001 ppm", True),
        ("smoke_number", "11 smoke no.", True),
        ("smoke_number", "-1 smoke no.", False),
        ("outdoor_co", "100001 ppm", False),
        ("flue_co", "3 parsec", False),
    ],
)
def test_what_can_be(key: str, shown: str, usable: bool) -> None:
    draft = good().edit(key, shown=shown)
    assert (one(draft, key) is not None) is usable
    assert (key in {each.key for each in sorted_out(draft).junk}) is not usable


def test_a_quantity_without_bounds_takes_any_number() -> None:
    entries = dict(catalogue().entries)
    entries["outdoor_co"] = replace(entries["outdoor_co"], possible_low=None, possible_high=None)
    wide = replace(catalogue(), entries=entries)
    for value in ("100001", "0"):
        draft = good().edit("outdoor_co", shown=f"{value} ppm")
        assert "outdoor_co" in {each.reading.key for each in believe(draft.case(), wide, NOW).judged}


@pytest.mark.parametrize("value", [True, Decimal("NaN"), Decimal("Infinity"), "text", 3.5])
def test_no_number_is_junk(value: Any) -> None:
    found = sorted_out(good().edit("flue_co", nth=2, value=value))
    assert [(each.key, each.set_number) for each in found.junk] == [("flue_co", 2)]


@pytest.mark.parametrize(
    "error",
    [
        ZeroDivisionError("planted"),
        AttributeError("planted"),
        Refusal(message("error.limit_fixed", limit="x"), field="x"),
        TypeError("planted"),
        ValueError("planted"),
    ],
)
def test_a_reading_that_breaks_the_sorting_is_junk_and_spoils_no_other(
    error: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    sort = believed._judged

    def breaks(reading: Reading, *more: Any) -> Judged | None:
        if reading.key == "flue_co2":
            raise error
        return sort(reading, *more)

    monkeypatch.setattr(believed, "_judged", breaks)
    found = sorted_out(good())
    assert [each.key for each in found.junk] == ["flue_co2", "flue_co2"]
    assert len(found.judged) == len(good().readings) - 2


def test_an_unknown_quantity_is_junk_and_an_unneeded_one_is_not() -> None:
    draft = good().add("moonlight", 70, "3 ppm").add("coolant_temperature", 70, "400 degC")
    assert [each.key for each in sorted_out(draft).junk] == ["moonlight"]


# --- The visit ------------------------------------------------------------------------------------


def test_what_another_heater_showed_is_foreign_and_what_was_not_had_is_nothing() -> None:
    draft = good().edit("flue_co", nth=1, heater="heater-2").drop("outdoor_co")
    draft.readings.insert(
        0, replace(draft.readings[0], id="none", value=None, unit="", basis="", note=NOT_HAD)
    )
    found = sorted_out(draft)
    assert [each.key for each in found.foreign] == ["flue_co"]
    assert found.junk == ()
    ids = {each.reading.id for each in found.judged}
    assert ids == {each.id for each in draft.readings if each not in found.foreign and each.id != "none"}


EARLIEST = START - timedelta(hours=12)
LATER = timedelta(microseconds=1)


@pytest.mark.parametrize(
    ("taken", "expected"),
    [
        (None, ("no_time",)),
        (EARLIEST, ()),
        (EARLIEST - LATER, ("no_time",)),
        (NOW, ()),
        (NOW + LATER, ("no_time",)),
    ],
)
def test_a_time_that_can_be(taken: datetime | None, expected: tuple[str, ...]) -> None:
    draft = good().edit("exhaust_path", taken_at=taken)
    assert doubts(draft, "exhaust_path") == expected
    ahead = believed.ahead_count(draft.case().visit, NOW)
    assert ahead == (1 if taken is not None and taken > NOW else 0)


@pytest.mark.parametrize(
    ("closed", "entered", "accepted", "expected"),
    [
        (120, 121, None, ("late",)),
        (120, 120, None, ()),
        (120, None, None, ()),
        (None, 121, None, ()),
        (120, 121, "Invented Person", ()),
    ],
)
def test_entered_after_the_visit_was_closed(
    closed: float | None, entered: float | None, accepted: str | None, expected: tuple[str, ...]
) -> None:
    draft = good().edit(
        "exhaust_path", entered_at=None if entered is None else at(entered), accepted_by=accepted
    )
    draft.closed_at = None if closed is None else at(closed)
    assert doubts(draft, "exhaust_path") == expected


def test_the_test_read_last_counts_by_its_last_reading() -> None:
    # test-1 begins first and ends last; test-a lies within it; a test of no gate comes last of all.
    draft = good().add("exhaust_path", 70, "sound and clear", test="test-a")
    draft.add("coolant_temperature", 200, "70 degC", test="test-z")
    assert sorted_out(draft).test == "test-1"
    draft.add("exhaust_path", 97, "sound and clear", test="test-a", set_number=2)
    assert sorted_out(draft).test == "test-a"


def test_a_tie_of_tests_is_broken_by_name_and_not_by_entry() -> None:
    for readings in (1, -1):
        draft = good().add("exhaust_path", 96, "sound and clear", test="test-0")
        draft.readings = draft.readings[::readings]
        assert sorted_out(draft).test == "test-1"


@pytest.mark.parametrize(
    "more",
    [
        {"test": "test-9", "stage": AS_FOUND},
        {"test": "test-9", "taken_at": NOW + LATER},
        {"test": None},
        {"test": ""},
        {"test": "test-9", "taken_at": None},
    ],
)
def test_what_makes_no_test(more: dict[str, Any]) -> None:
    draft = good()
    draft.readings.insert(0, draft.add("inlet_path", 100, "seated and clear", **more).readings.pop())
    found = sorted_out(draft)
    assert draft.readings[0] in [each.reading for each in found.judged]
    assert found.test == "test-1"


def test_without_a_test_nothing_is_in_it() -> None:
    draft = good()
    draft.readings = [replace(each, test=None) for each in draft.readings]
    found = sorted_out(draft)
    assert found.test is None
    assert found.in_test() == ()


DISPUTED: list[tuple[str, dict[str, Any]]] = [
    ("flue_o2", {"basis": "wet"}),
    ("flue_o2", {"instrument": METER}),
    ("flue_o2", {"value": Decimal("6.2")}),
    ("flue_co", {"at_top": True}),
    ("exhaust_path", {"state": "blocked"}),
]


@pytest.mark.parametrize(("key", "change"), DISPUTED)
def test_two_that_say_different_things_in_one_place_contradict(key: str, change: dict[str, Any]) -> None:
    draft = good()
    twin = next(each for each in draft.readings if each.key == key and each.stage is AS_LEFT)
    draft.readings.append(replace(twin, id="twin"))
    assert sorted_out(draft).conflicts == frozenset()
    draft.readings[-1] = replace(twin, id="twin", **change)
    assert sorted_out(draft).conflicts == {twin.slot}


def test_what_no_gate_uses_contradicts_nothing() -> None:
    draft = good().add("coolant_temperature", 70, "70 degC").add("coolant_temperature", 70, "75 degC")
    assert sorted_out(draft).conflicts == frozenset()


def test_a_day_is_a_day_of_the_clock_there() -> None:
    visit = good().case().visit
    assert same_day(visit, at(0), at(600))
    assert not same_day(visit, at(0), at(24 * 60))
    for some, other in ((None, at(0)), (at(0), None), (None, None)):
        assert same_day(visit, some, other) is False


@given(begun=st.integers(-3000, 3000), later=st.integers(0, 1439), ahead=st.integers(-14 * 60, 14 * 60))
def test_a_day_ends_at_midnight_of_its_clock(begun: int, later: int, ahead: int) -> None:
    visit = replace(good().case().visit, utc_offset_minutes=ahead)
    one, other = at(begun), at(begun + later)
    shown = (one + timedelta(minutes=ahead)).replace(tzinfo=None)
    left = 24 * 60 - (shown.hour * 60 + shown.minute)
    assert same_day(visit, one, other) == (later < left)
