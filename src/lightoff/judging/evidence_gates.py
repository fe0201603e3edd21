"""Evidence gates: may the readings be believed? None of them can make a heater worse than not proven."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from fractions import Fraction

from lightoff.ground.message import Amount, AsWritten, Message, message
from lightoff.judging.assessment import GateResult, Judgement
from lightoff.judging.believed import (
    FLUE,
    GATING,
    SETS,
    Believed,
    Judged,
    needs_instrument,
    same_day,
)
from lightoff.judging.compare import crosses, threshold
from lightoff.judging.disputed import disputes, names_of, said_of_all
from lightoff.judging.limit_gates import Rows
from lightoff.judging.unbelieved import why_not, why_open, why_partner_open, why_set_open
from lightoff.judging.weighing import allows
from lightoff.terms.people import Instrument
from lightoff.terms.shelf import Catalogue, Limit
from lightoff.terms.visit import Event, EventKind

BURNING = (*FLUE, "smoke_number", "smoke_spot_look", "living_space_co_running")
INDOORS = ("living_space_co_running", "living_space_co_off")
CARBON_MONOXIDE = ("flue_co", *INDOORS, "outdoor_co")
MOVED = (EventKind.ADJUSTED, EventKind.OPENED, EventKind.CLOSED_UP)


def gate_co2(believed: Believed, rows: Rows, co2_largest: Fraction) -> GateResult:
    """Carbon dioxide measured agrees with oxygen for this fuel; calculated proves nothing by itself."""
    gate = "CO2 agrees"
    carbon = believed.clean("flue_co2")
    if not carbon:
        return _not_proven(gate, why_open(believed, "flue_co2"), ("flue_co2",))
    if co2_largest <= 0:
        return _not_proven(gate, message("judging.fuel_unknown"), ())
    measured = [one for one in carbon if one.reading.basis == "measured"]
    oxygen = [one for one in believed.clean("flue_o2") if one.reading.basis == "dry"]
    air_o2 = rows.number("air_o2")
    for one in measured:
        partners = [each for each in oxygen if each.reading.set_number == one.reading.set_number]
        if not partners:
            said = why_partner_open(believed, "flue_o2", one.reading.set_number)
            return _not_proven(gate, said, ("flue_o2",), carbon)
        for each in partners:
            expected = co2_largest * (1 - each.number / air_o2)
            width = one.u + each.u * co2_largest / air_o2
            if abs(one.number - expected) > width:
                return _not_proven(gate, _disagree(one, each, expected, width), ("flue_co2",), (one, each))
    if len(measured) == len(carbon):
        return _within(gate, message("judging.co2_agrees"), carbon)
    before = _fresh_air(believed, rows, "before")
    if before is not None:
        key, why = before
        return _not_proven(gate, message("judging.co2_calculated", why=why), (key,), carbon)
    return _within(gate, message("judging.co2_calculated_checked"), carbon)


def _disagree(carbon: Judged, oxygen: Judged, expected: Fraction, width: Fraction) -> Message:
    return message(
        "judging.co2_disagrees",
        co2=Amount(value=float(carbon.number), dimension="gas_fraction"),
        o2=Amount(value=float(oxygen.number), dimension="gas_fraction"),
        expected=Amount(value=float(expected), dimension="gas_fraction", half_width=float(width)),
    )


def gate_two_sets(believed: Believed, rows: Rows) -> GateResult:
    """Two sets of flue readings apart in time, with one instrument, that agree within its class."""
    gate = "two sets"
    sets: dict[int, dict[str, list[Judged]]] = {
        number: {
            key: [one for one in believed.clean(key) if one.reading.set_number == number] for key in FLUE
        }
        for number in SETS
    }
    used = [one for each in sets.values() for found in each.values() for one in found]
    for number, key in ((number, key) for number in SETS for key in FLUE):
        found = sets[number][key]
        if not found or (key == "flue_o2" and any(one.reading.basis != "dry" for one in found)):
            said = why_set_open(believed, key, number)
            return _not_proven(gate, said, (key,), used)
    if len({one.reading.instrument for one in used}) > 1:
        return _not_proven(gate, message("judging.sets_other_instrument"), ("flue_o2",), used)
    for key in FLUE:
        for one, other in ((a, b) for a in sets[1][key] for b in sets[2][key]):
            name = ""
            if one.reading.basis != other.reading.basis:
                name = "sets_other_basis"
            elif abs(one.number - other.number) > max(one.u, other.u):
                name = "sets_disagree"
            if name:
                said = message(f"judging.{name}", what=f"@reading.{key}")
                return _not_proven(gate, said, (key,), (one, other))
    row = rows.row("sets_apart")
    starts = [_earliest(one for found in sets[number].values() for one in found) for number in SETS]
    if crosses(row, abs(_seconds(starts[1] - starts[0]))):
        said = message("judging.sets_too_near", limit=_written(row))
        return _not_proven(gate, said, ("flue_o2",), used, (row,))
    return _within(gate, message("judging.sets_agree"), used, (row,))


def gate_steady(believed: Believed, rows: Rows) -> GateResult:
    """The heater had burned long enough, untouched, before it was read."""
    gate, row = "steady", rows.row("steady_before_reading")
    in_test = believed.in_test()
    burning = [one for one in in_test if one.reading.key in BURNING]
    timeless = any("no_time" in one.doubts for one in in_test)
    if timeless or not burning:
        said = message("judging.steady_no_time" if timeless else "judging.steady_no_readings")
        return _not_proven(gate, said, ("flue_o2",), burning)
    steady = []
    for at in sorted({_time(one) for one in burning}):
        before = [each for each in _events(believed) if each.at <= at]
        flames = [each.at for each in before if each.kind is EventKind.FLAME]
        if not flames:
            return _not_proven(gate, message("judging.no_flame_time"), ("time_to_light",), burning)
        if any(each.kind is EventKind.FLAME_OUT and each.at >= max(flames) for each in before):
            return _not_proven(gate, message("judging.flame_out_before"), ("flue_o2",), burning)
        steady.append(_seconds(at - max(each.at for each in before)))
    if crosses(row, min(steady)):
        said = message(
            "judging.read_too_early",
            ran=Amount(value=float(min(steady)), dimension="time"),
            limit=_written(row),
        )
        return _not_proven(gate, said, ("flue_o2",), burning, (row,))
    return _within(gate, message("judging.steady", limit=_written(row)), burning, (row,))


def _events(believed: Believed) -> list[Event]:
    visit = believed.case.visit
    return [each for each in visit.events if each.heater == visit.heater]


def gate_one_test(believed: Believed, rows: Rows) -> GateResult:
    """All as-left readings belong to one test, within its window."""
    gate, row = "one test", rows.row("test_window")
    in_test = believed.in_test()
    if not in_test:
        return _not_proven(gate, message("judging.no_test"), ("flue_o2",))
    if any("no_time" in one.doubts for one in in_test):
        return _not_proven(gate, message("judging.no_time"), (), in_test)
    keys = {one.reading.key for one in in_test}
    if keys.isdisjoint(FLUE) or keys.isdisjoint(INDOORS):
        missing = "flue_o2" if keys.isdisjoint(FLUE) else INDOORS[0]
        return _not_proven(gate, message("judging.test_not_whole"), (missing,), in_test)
    first = _earliest(in_test)
    touched = [each for each in _events(believed) if each.kind in MOVED and each.at > first]
    if touched:
        said = message("judging.touched_after_reading", at=touched[0].at)
        return _not_proven(gate, said, ("flue_o2",), in_test)
    window = _seconds(max(_time(one) for one in in_test) - first)
    if crosses(row, window):
        said = message(
            "judging.window_too_long", took=Amount(value=float(window), dimension="time"), limit=_written(row)
        )
        return _not_proven(gate, said, (), in_test, (row,))
    return _within(gate, message("judging.window", limit=_written(row)), in_test, (row,))


def gate_fresh_air(believed: Believed, rows: Rows) -> GateResult:
    """After the test the probe reads fresh air as fresh air."""
    keys = ("fresh_air_o2_after", "fresh_air_co_after")
    used = [one for key in keys for one in believed.clean(key)]
    after = _fresh_air(believed, rows, "after")
    if after is not None:
        first, why = after
        unread = (key for key in keys if not believed.clean(key))
        return _not_proven("fresh air", why, tuple(dict.fromkeys((first, *unread))), used)
    return _within("fresh air", message("judging.fresh_air_good"), used, (rows.row("fresh_air_o2"),))


def _fresh_air(believed: Believed, rows: Rows, when: str) -> tuple[str, Message] | None:
    """The reading for which the check before or after the test does not hold, and why; None if it does."""
    flue = [one for one in believed.in_test() if one.reading.key in FLUE]
    probes = {one.reading.instrument for one in flue}
    if not flue or any(one.reading.taken_at is None for one in flue):
        key = f"fresh_air_o2_{when}"
        key = "flue_o2" if believed.clean(key) else key
        return key, why_open(believed, key)
    first, last = _earliest(flue), max(_time(one) for one in flue)
    for gas in ("o2", "co"):
        key = f"fresh_air_{gas}_{when}"
        row = rows.row(f"fresh_air_{gas}")
        found = believed.clean(key)
        if not found:
            return key, why_open(believed, key)
        for one in found:
            if crosses(row, one.number):
                return key, message("judging.fresh_air_bad", what=f"@reading.{key}", limit=_written(row))
            if {one.reading.instrument} != probes:
                return key, message("judging.fresh_air_other_instrument", what=f"@reading.{key}")
            in_order = _time(one) < first if when == "before" else _time(one) > last
            if not in_order:
                return key, message("judging.fresh_air_order", what=f"@reading.{key}")
    return None


def gate_zero(believed: Believed, rows: Rows) -> GateResult:
    """The probe was zeroed outdoors, and the place was noted."""
    gate, table = "zero", rows.states("probe_zero")
    found = believed.clean("probe_zero")
    if not found:
        return _not_proven(gate, why_open(believed, "probe_zero"), ("probe_zero",))
    if not all(allows(row, one.reading.state) for row in table for one in found):
        return _not_proven(gate, message("judging.zeroed_indoors"), ("probe_zero",), found, table)
    if not all(one.reading.place.strip() for one in found):
        return _not_proven(gate, message("judging.zero_no_place"), ("probe_zero",), found)
    return _within(gate, message("judging.zeroed"), found, table)


def gate_sampling_line(believed: Believed, rows: Rows) -> GateResult:
    """The sampling line was found tight."""
    gate, table = "sampling line", rows.states("sampling_line")
    found = believed.clean("sampling_line")
    if not found:
        return _not_proven(gate, why_open(believed, "sampling_line"), ("sampling_line",))
    if not all(allows(row, one.reading.state) for row in table for one in found):
        return _not_proven(gate, message("judging.line_leaks"), ("sampling_line",), found, table)
    return _within(gate, message("judging.line_tight"), found, table)


def gate_response(believed: Believed) -> GateResult:
    """A 0 of carbon monoxide is confirmed, and the same cell answered to gas that day."""
    gate = "response check"
    read = [one for one in believed.in_test() if one.reading.key in CARBON_MONOXIDE and not one.at_top]
    if not read:
        return _not_proven(gate, message("judging.no_carbon_monoxide"), ("flue_co", INDOORS[0]))
    zeros = [one for one in read if one.number == 0]
    for zero in zeros:
        if not zero.reading.confirmed:
            said = message("judging.zero_not_confirmed", what=f"@reading.{zero.reading.key}")
            return _not_proven(gate, said, (zero.reading.key,), (zero,))
        answers = [
            one
            for one in believed.judged
            if one.reading.key == "co_response"
            and one.reading.instrument == zero.reading.instrument
            and same_day(believed.case.visit, one.reading.taken_at, zero.reading.taken_at)
            and one.clean
        ]
        if not answers or any(one.number <= 0 for one in answers):
            said = message("judging.no_response", what=f"@reading.{zero.reading.key}")
            return _not_proven(gate, said, ("co_response",), (zero,))
    return _within(gate, message("judging.response_good" if zeros else "judging.no_zero"), zeros)


def gate_calibration(believed: Believed, rows: Rows, catalogue: Catalogue) -> GateResult:
    """Every electronic instrument of the test is in date on the day it read."""
    gate, row = "calibration", rows.row("calibration_age")
    metered = [one for one in believed.in_test() if needs_instrument(one.entry)]
    if not metered:
        return _not_proven(gate, message("judging.no_test"), ("flue_o2",))
    electronic, visit = False, believed.case.visit
    for one in metered:
        instrument = believed.case.instruments.get(one.reading.instrument or "")
        if instrument is None or instrument.kind not in catalogue.classes:
            said = message("judging.no_instrument", what=f"@reading.{one.reading.key}")
            return _not_proven(gate, said, (one.reading.key,), (one,))
        if not catalogue.classes[instrument.kind].electronic:
            continue
        electronic = True
        taken_at = one.reading.taken_at
        age = None if taken_at is None else _calibration_age_s(instrument, visit.day_of(taken_at))
        if age is None:
            said = message("judging.calibration_unknown", instrument=instrument.name)
            return _not_proven(gate, said, (), (one,))
        if crosses(row, age):
            said = message("judging.calibration_old", instrument=instrument.name, limit=_written(row))
            return _not_proven(gate, said, (), (one,), (row,))
    if not electronic:
        return _not_proven(gate, message("judging.nothing_electronic"), ("flue_o2",), metered)
    return _within(gate, message("judging.calibration_good"), metered, (row,))


def _calibration_age_s(instrument: Instrument, day: date) -> Fraction | None:
    """Since the last calibration till that day; None where there was none."""
    calibrated = instrument.calibrated_by(day)
    return Fraction((day - calibrated).days * 86_400) if calibrated else None


def gate_belongs(believed: Believed) -> GateResult:
    """Every reading is of this heater and this visit, and is a number or state that can be."""
    gate = "belongs here"
    if believed.foreign:
        return _not_proven(gate, message("judging.other_heater", count=len(believed.foreign)), ())
    if believed.junk:
        junk = believed.junk[0]
        return _not_proven(gate, why_not(believed, junk) or why_open(believed, junk.key), (junk.key,))
    for doubt in ("late", "no_time"):
        for one in believed.judged:
            if doubt in one.doubts and one.entry.key in GATING:
                said = why_not(believed, one.reading) or why_open(believed, one.reading.key)
                return _not_proven(gate, said, (one.reading.key,), (one,))
    if not _anything_read(believed):
        return _not_proven(gate, message("judging.nothing_read"), ())
    return _within(gate, message("judging.all_belong"), ())


def _anything_read(believed: Believed) -> bool:
    """Whether there is a reading of this heater that a gate uses: without any, nothing is within."""
    return any(one.entry.key in GATING for one in believed.judged)


def gate_conflict(believed: Believed) -> GateResult:
    """No two readings contradict each other in one place, nor two entries of anything that a gate uses."""
    said = said_of_all(disputes(believed.case), names_of(believed.case))
    readings = sorted({place[0] for place in believed.conflicts})
    if said is None and readings:
        said = message("judging.conflict", what=f"@reading.{readings[0]}")
    if said is not None:
        return _not_proven("conflict", said, tuple(readings[:1]))
    if not _anything_read(believed):
        return _not_proven("conflict", message("judging.nothing_to_contradict"), ())
    return _within("conflict", message("judging.no_conflict"), ())


def _seconds(span: timedelta) -> Fraction:
    return Fraction(span // timedelta(microseconds=1), 1_000_000)


def _time(one: Judged) -> datetime:
    if one.reading.taken_at is None:
        raise ValueError(f"{one.reading.key} has no time")
    return one.reading.taken_at


def _earliest(readings: Iterable[Judged]) -> datetime:
    return min(_time(one) for one in readings)


def _written(row: Limit) -> AsWritten:
    threshold(row)  # raises where the row has no number
    assert row.value is not None
    return AsWritten(value=row.value, unit=row.unit)


def _within(gate: str, said: Message, used: Iterable[Judged], limits: tuple[Limit, ...] = ()) -> GateResult:
    return GateResult(gate=gate, judgement=Judgement.WITHIN, said=said, limits=limits, readings=_ids(used))


def _not_proven(
    gate: str,
    said: Message,
    missing: tuple[str, ...],
    used: Iterable[Judged] = (),
    limits: tuple[Limit, ...] = (),
) -> GateResult:
    return GateResult(
        gate=gate,
        judgement=Judgement.NOT_PROVEN,
        said=said,
        limits=limits,
        missing=missing,
        readings=_ids(used),
    )


def _ids(used: Iterable[Judged]) -> tuple[str, ...]:
    return tuple(one.reading.id for one in used)
