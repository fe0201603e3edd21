"""Edits that spoil, stain or merely shuffle a case, for random comparison of both implementations."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from cases import (
    AS_FOUND,
    AS_LEFT,
    GAS,
    GATING_CO,
    METER,
    NOW,
    PROBE,
    TEST,
    Draft,
    Healthy,
    at,
    catalogue,
    diluted,
    good,
    in_other_units,
    sheet,
)

from lightoff.terms.conflict import Candidate, Conflict
from lightoff.terms.people import Instrument, Span, VehicleKind
from lightoff.terms.visit import EventKind, Place, Reading

Mutator = Callable[[Draft, Random], None]

NEAR = {
    "flue_o2": ("1.6", "1.7", "2.0", "2.3", "2.31", "13.7", "13.71", "14", "14.01", "16", "20.95", "21", "0"),
    "flue_co": (
        "0",
        "3",
        "120",
        "133",
        "136",
        "140",
        "190",
        "200",
        "211",
        "285",
        "286",
        "400",
        "401",
        "2500",
    ),
    "flue_co2": ("0", "5", "10.3", "10.5", "11.5", "11.9", "15", "20"),
    "smoke_number": ("0", "0.5", "1", "1.1", "1.5", "2", "3", "9"),
    "living_space_co_running": ("0", "6", "7", "9", "10", "12", "13", "35", "36", "37", "500", "999"),
    "living_space_co_off": ("0", "3", "9", "12", "13", "36", "40"),
    "outdoor_co": ("0", "2", "5", "20", "500"),
    "fresh_air_o2_after": ("20.59", "20.6", "20.95", "21.2", "21.21", "18", "0"),
    "fresh_air_co_after": ("0", "3", "3.01", "4", "50"),
    "fresh_air_o2_before": ("20.59", "20.6", "21.2", "21.21", "18"),
    "fresh_air_co_before": ("0", "3", "3.01", "4"),
    "co_response": ("0", "0.1", "20", "5000"),
    "trials_without_flame": ("0", "1", "2", "3"),
}
MINUTES = (-721.3, -719.2, -300.2, -61.7, -25.3, -4.4, -1.2, -0.6, 0.9, 2.3, 7.7, 25.3, 61.7, 130.1, 2000.7)
JUNK: tuple[Any, ...] = (
    Decimal("NaN"), Decimal("sNaN"), Decimal("Infinity"), Decimal("-Infinity"), Decimal(-1),
    Decimal("-0.001"), True, False, "text", 3.5, float("nan"), None,
)  # fmt: skip


def pick(draft: Draft, rnd: Random, keys: tuple[str, ...] = (), left: bool = True) -> int | None:
    at = [
        i
        for i, r in enumerate(draft.readings)
        if (not keys or r.key in keys) and (r.stage is AS_LEFT or not left)
    ]
    return rnd.choice(at) if at else None


def change(draft: Draft, rnd: Random, keys: tuple[str, ...] = (), **changes: Any) -> None:
    index = pick(draft, rnd, keys)
    if index is not None:
        draft.readings[index] = replace(draft.readings[index], **changes)


def number_near(draft: Draft, rnd: Random) -> None:
    key = rnd.choice(list(NEAR))
    value = Decimal(rnd.choice(NEAR[key]))
    unit = catalogue().entries[key].unit
    if rnd.random() < 0.5:
        draft.edit(key, value=value, unit=unit)
    else:
        change(draft, rnd, (key,), value=value, unit=unit)


def number_anywhere(draft: Draft, rnd: Random) -> None:
    key = rnd.choice(list(NEAR))
    change(draft, rnd, (key,), value=Decimal(str(round(rnd.uniform(0, 60), 2))))


def delete(draft: Draft, rnd: Random) -> None:
    index = pick(draft, rnd)
    if index is not None:
        del draft.readings[index]


def delete_key(draft: Draft, rnd: Random) -> None:
    draft.drop(rnd.choice([r.key for r in draft.readings] or ["flue_co"]), of=AS_LEFT)


def blank(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, value=None, state=None)


def junk(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, tuple(NEAR), value=rnd.choice(JUNK))


def impossible(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, tuple(NEAR), value=Decimal("1e9"))


def unit_wrong(draft: Draft, rnd: Random) -> None:
    change(
        draft,
        rnd,
        tuple(NEAR),
        unit=rnd.choice(["", "furlong", "degC", "kPa", "ppm", "%", "mg/m3 CO", "count"]),
    )


def state_other(draft: Draft, rnd: Random) -> None:
    keys = [r.key for r in draft.readings if r.state is not None and r.stage is AS_LEFT]
    if keys:
        key = rnd.choice(keys)
        change(draft, rnd, (key,), state=rnd.choice([*catalogue().entries[key].states, "odd"]))


def shift(draft: Draft, rnd: Random) -> None:
    index = pick(draft, rnd)
    if index is not None and draft.readings[index].taken_at is not None:
        moved = draft.readings[index].taken_at + timedelta(minutes=rnd.choice(MINUTES))  # type: ignore[operator]
        draft.readings[index] = replace(draft.readings[index], taken_at=moved)


def no_time(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, taken_at=None)


def sets_close(draft: Draft, rnd: Random) -> None:
    seconds = rnd.choice([-60, -59, 0, 20, 59, 60, 61])
    for key in GAS:
        for r in [r for r in draft.readings if r.key == key and r.set_number == 1 and r.taken_at]:
            draft.edit(key, nth=2, taken_at=r.taken_at + timedelta(seconds=seconds))  # type: ignore[operator]


def no_test(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, test=rnd.choice([None, "test-0"]))


def second_test(draft: Draft, rnd: Random) -> None:
    """Some readings once more in another test, sooner or later, alike or not."""
    offset, share = rnd.choice([-20.3, 20.7, 35.1]), rnd.choice([0.2, 0.6, 1.0])
    for r in list(draft.readings):
        if r.test == TEST and r.taken_at is not None and rnd.random() < share:
            twin = replace(
                r, id=draft.next_id(), test="test-2", taken_at=r.taken_at + timedelta(minutes=offset)
            )
            if isinstance(twin.value, Decimal) and twin.value.is_finite() and rnd.random() < 0.2:
                twin = replace(twin, value=twin.value * rnd.choice([2, 8, 30]))
            draft.readings.append(twin)


def stage_flip(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, stage=AS_FOUND)


def set_number(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, GAS, set_number=rnd.choice([None, 1, 2, 3]))


def basis(draft: Draft, rnd: Random) -> None:
    change(
        draft, rnd, ("flue_o2", "flue_co2"), basis=rnd.choice(["wet", "dry", "calculated", "measured", None])
    )


def grouped(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, basis="grouped")


def photographed(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, ("smoke_number", "smoke_spot_look"), basis="by photograph")


def all_calculated(draft: Draft, rnd: Random) -> None:
    draft.edit("flue_co2", basis="calculated")


def meter_other(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, tuple(NEAR), instrument=rnd.choice([None, "nobody's", PROBE, METER, "second-probe"]))


def meter_retired(draft: Draft, rnd: Random) -> None:
    key = rnd.choice([PROBE, METER])
    draft.instruments[key] = replace(draft.instruments[key], retired=True)


def meter_age(draft: Draft, rnd: Random) -> None:
    key = rnd.choice([PROBE, METER])
    on = rnd.choice(
        [None, date(2025, 3, 9), date(2025, 3, 10), date(2025, 3, 11), date(2026, 3, 10), date(2026, 3, 11)]
    )
    draft.instruments[key] = replace(draft.instruments[key], calibrated_on=on)


def meter_earlier(draft: Draft, rnd: Random) -> None:
    """Calibrated again since, and once before."""
    key, before = rnd.choice([PROBE, METER]), rnd.choice([date(2025, 3, 9), date(2025, 9, 1)])
    on = rnd.choice([date(2026, 3, 11), date(2026, 3, 9)])
    draft.instruments[key] = replace(draft.instruments[key], calibrated_on=on, earlier_calibrations=(before,))


def meter_span(draft: Draft, rnd: Random) -> None:
    key, what, unit = rnd.choice(
        [(PROBE, "flue_co", "ppm"), (METER, "living_space_co_running", "ppm"), (PROBE, "flue_o2", "%")]
    )
    high = Decimal(rnd.choice(["1", "6", "10", "30", "90000"]))
    span = Span(key=what, low=Decimal(0), high=high, unit=rnd.choice([*[unit] * 6, "furlong"]))
    draft.instruments[key] = replace(draft.instruments[key], spans=(span,))


def top(draft: Draft, rnd: Random) -> None:
    empty = {"value": None} if rnd.random() < 0.5 else {}
    change(draft, rnd, tuple(NEAR), at_top=True, **empty)


def zero_co(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, GATING_CO, value=Decimal(0), confirmed=rnd.random() < 0.6)


def response(draft: Draft, rnd: Random) -> None:
    kind = rnd.choice(["drop", "zero", "day"])
    if kind == "drop":
        draft.drop("co_response")
    elif kind == "zero":
        change(draft, rnd, ("co_response",), value=Decimal(0))
    else:
        change(draft, rnd, ("co_response",), taken_at=NOW - timedelta(hours=rnd.uniform(1.0, 20.0)))
        draft.utc_offset_minutes = rnd.choice([None, 0, 120, 345, 765, -480, -540])


def typed_width(draft: Draft, rnd: Random) -> None:
    change(
        draft,
        rnd,
        tuple(NEAR),
        typed_uncertainty=rnd.choice([Decimal(v) for v in ("0", "0.1", "0.3", "2", "11", "NaN")]),
    )


def stranger(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, heater="heater-2")


def twice(draft: Draft, rnd: Random) -> None:
    index = pick(draft, rnd)
    if index is not None:
        draft.readings.append(replace(draft.readings[index], id=draft.next_id()))


def dispute(draft: Draft, rnd: Random) -> None:
    index = pick(draft, rnd, tuple(NEAR))
    if index is not None:
        r = draft.readings[index]
        value = Decimal(rnd.choice(NEAR[r.key]))
        draft.readings.append(replace(r, id=draft.next_id(), value=value))


def dispute_state(draft: Draft, rnd: Random) -> None:
    states = [r for r in draft.readings if r.state is not None]
    if states:
        r = rnd.choice(states)
        other = rnd.choice(catalogue().entries[r.key].states)
        draft.readings.append(replace(r, id=draft.next_id(), state=other))


def late(draft: Draft, rnd: Random) -> None:
    draft.closed_at = NOW - timedelta(hours=1)
    entered = draft.closed_at + timedelta(minutes=rnd.choice([-1, 1]))
    change(draft, rnd, entered_at=entered, accepted_by=rnd.choice([None, None, "Invented Person"]))


def event(draft: Draft, rnd: Random) -> None:
    draft.happen(
        rnd.choice(list(EventKind)), rnd.choice([20.1, 55.1, 58.3, 62.9, 63.1, 66.2, 69.7, 77.3, 90.3, 120.7])
    )


def no_flame(draft: Draft, rnd: Random) -> None:
    draft.events = [e for e in draft.events if e.kind is not EventKind.FLAME]


def dilute(draft: Draft, rnd: Random) -> None:
    if all(
        isinstance(r.value, Decimal) and r.value.is_finite() for r in draft.readings if r.value is not None
    ):
        draft.readings = diluted(draft, rnd.choice([1, 1.5, 2, 3, 4, 8])).readings


def tighten(draft: Draft, rnd: Random) -> None:
    typed = {
        "co_air_free_fit": ("20", "60", "5000"),
        "co_air_free_stop": ("40", "100", "9999"),
        "smoke_number_fit": ("0.2", "9"),
        "living_space_co_fit": ("2", "5", "99"),
        "living_space_co_stop": ("1", "10", "900"),
        "flue_o2_floor": ("5", "6", "0.5"),
        "flue_o2_ceiling": ("6", "7", "20"),
        "calibration_age": ("30", "9000"),
        "test_window": ("20", "600"),
        "steady_before_reading": ("10", "1"),
        "ran_before_joints_1": ("3", "0.5"),
        "ran_before_joints_10": ("20", "1"),
        "sets_apart": ("600", "5"),
        "trials_before_looking": ("1", "9"),
        "fresh_air_co": ("0.5", "50"),
    }
    key = rnd.choice(list(typed))
    draft.sheet = sheet(**{key: rnd.choice(typed[key])})


def boat(draft: Draft, rnd: Random) -> None:
    draft.kind = rnd.choice(list(VehicleKind))


def found_danger(draft: Draft, rnd: Random) -> None:
    key, shown, more = rnd.choice(
        [
            ("flue_co", "900 ppm", {"instrument": PROBE, "set_number": 1, "test": "found-2"}),
            ("living_space_co_running", "44 ppm", {"instrument": METER}),
            ("smoke_number", "6 smoke no.", {"instrument": "smoke-pump"}),
            ("exhaust_path", "leaking inside", {}),
            ("inlet_path", "restricted", {}),
            ("chamber_look", "wet", {}),
            ("fuel_joints_1_min", "dripping", {}),
            ("trials_without_flame", "3 count", {}),
            ("flue_o2", "1.0 %", {"instrument": PROBE, "basis": "dry", "set_number": 1, "test": "found-2"}),
        ]
    )
    words: dict[str, Any] = {"stage": AS_FOUND, "test": "found", **more}
    draft.add(key, 9.3, shown, **words)
    if rnd.random() < 0.5:
        draft.drop(key, of=AS_LEFT)


def looked(draft: Draft, rnd: Random) -> None:
    minute, stage = rnd.choice([5.2, 50.2, 50.2, 77.2]), rnd.choice([AS_LEFT, AS_LEFT, AS_FOUND])
    test = rnd.choice([None, TEST, "test-0"])
    draft.add("chamber_look", minute, rnd.choice(["dry", "wet"]), test=test, stage=stage)


def shuffle(draft: Draft, rnd: Random) -> None:
    rnd.shuffle(draft.readings)
    rnd.shuffle(draft.events)


def place_blank(draft: Draft, rnd: Random) -> None:
    draft.edit("probe_zero", place=rnd.choice(["", "  "]))


def units_other(draft: Draft, rnd: Random) -> None:
    if all(
        isinstance(r.value, Decimal) and r.value.is_finite() for r in draft.readings if r.value is not None
    ):
        draft.readings = in_other_units(draft, rnd).readings


def beside_the_point(draft: Draft, rnd: Random) -> None:
    """A reading that no gate needs and that cannot be believed."""
    draft.add("coolant_temperature", 70, "70 degC", value=Decimal("NaN"))


def two_devices(draft: Draft, rnd: Random) -> None:
    """Entries of two devices that contradict each other, in something that matters or that does not."""
    case = draft.case()
    meter = rnd.choice(list(draft.instruments.values()))
    reading = rnd.choice(draft.readings) if draft.readings else None
    there = replace(case.visit, readings=(), events=(), photos=())
    apart: list[tuple[str, str, Any, Any]] = [
        ("heater", case.heater.id, case.heater, replace(case.heater, sheet="generic_16_kw")),
        ("heater", case.heater.id, case.heater, replace(case.heater, note="looked at")),
        ("heater", "another-heater", case.heater, replace(case.heater, sheet="generic_16_kw")),
        ("vehicle", case.vehicle.id, case.vehicle, replace(case.vehicle, kind=VehicleKind.BOAT)),
        ("vehicle", case.vehicle.id, case.vehicle, replace(case.vehicle, name="Another name")),
        ("owner", case.owner.id, case.owner, replace(case.owner, name="Somebody")),
        ("instrument", meter.id, meter, replace(meter, calibrated_on=date(2020, 1, 1))),
        ("instrument", meter.id, meter, replace(meter, name="Renamed")),
        ("visit", case.visit.id, there, replace(there, fuel="b100")),
        ("visit", case.visit.id, there, replace(there, place=Place(altitude_m=1800.0))),
        ("visit", case.visit.id, there, replace(there, place=Place(name="Elsewhere"))),
        ("visit", case.visit.id, there, replace(there, technician="Somebody")),
        ("visit", case.visit.id, there, None),
    ]
    if reading is not None:
        apart += [
            ("reading", case.visit.id, reading, replace(reading, note="as shown")),
            ("reading", case.visit.id, reading, replace(reading, place="elsewhere")),
            ("reading", case.visit.id, reading, None),
        ]
    noun, subject, one, other = rnd.choice(apart)
    draft.conflicts = (
        *draft.conflicts,
        Conflict(
            noun=noun,
            subject=subject,
            candidates=(
                Candidate(entry="one", author="A", at=at(1), says=one),
                Candidate(entry="other", author="B", at=at(2), says=other),
            ),
        ),
    )


MUTATORS: tuple[Mutator, ...] = (
    number_near, number_near, number_near, number_anywhere, delete, delete_key, blank, junk, impossible,
    unit_wrong, state_other, state_other, shift, shift, no_time, sets_close, no_test, second_test,
    stage_flip, set_number, basis, all_calculated, meter_other, meter_retired, meter_age, meter_earlier, top,
    meter_span, zero_co, response, typed_width, stranger, twice, dispute, dispute_state, late, event,
    no_flame, dilute, tighten, boat, found_danger, looked, shuffle, place_blank, units_other,
    beside_the_point, two_devices,
)  # fmt: skip


def spoiled(rnd: Random, edits: int | None = None) -> tuple[Draft, tuple[str, ...]]:
    """A good case with some random edits, and their names."""
    draft = good(Healthy(co2_basis=rnd.choice(["measured", "measured", "calculated"])))
    draft.instruments["second-probe"] = Instrument(
        id="second-probe", name="Second probe", kind="flue_gas_probe", calibrated_on=date(2025, 12, 1)
    )
    chosen = [
        rnd.choice(MUTATORS)
        for _ in range(rnd.choice([0, 1, 1, 1, 2, 2, 3, 4, 6]) if edits is None else edits)
    ]
    for mutate in chosen:
        try:
            mutate(draft, rnd)
        except TypeError:
            continue  # arithmetic of a mutator on what another made junk
    return draft, tuple(mutate.__name__ for mutate in chosen)


def as_reading(draft: Draft, key: str, nth: int | None = None) -> Reading:
    """The as-left reading of this key (and set)."""
    return next(r for r in draft.readings if draft.matches(r, key, nth, AS_LEFT))
