"""What each gate says of its own case: the sentence, what would close it, the rows that bit, the readings.

Each case is good but for one thing, so that the sentence can be held against what was done to it.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

import pytest
from cases import AS_FOUND, AS_LEFT, METER, PROBE, Draft, Healthy, at, good

from lightoff.judging.assessment import GateResult
from lightoff.judging.verdict import judge
from lightoff.terms.visit import EventKind, Reading
from lightoff.texts import Speaker

FOUND: dict[str, Any] = {"stage": AS_FOUND, "test": "found"}
FLUE_1 = ("flue_o2 1", "flue_co2 1", "flue_co 1")
FLUE_2 = ("flue_o2 2", "flue_co2 2", "flue_co 2")
BURNING = {*FLUE_1, *FLUE_2, "smoke_number", "smoke_spot_look", "living_space_co_running"}
INDOORS = ("living_space_co_running", "living_space_co_off")
FRESH = ("fresh_air_o2_after", "fresh_air_co_after")
METERED = {
    *FLUE_1, *FLUE_2, *INDOORS, *FRESH, "outdoor_co", "smoke_number", "fresh_air_o2_before",
    "fresh_air_co_before",
}  # fmt: skip
OF_NO_TEST = {"co_response", "trials_without_flame", "stack_gas_temperature 2"}


class Told(NamedTuple):
    """What a gate says, with the things it names."""

    case: Callable[[], Draft]
    gate: str
    judgement: str
    said: str
    missing: tuple[str, ...] = ()
    rows: tuple[str, ...] = ()
    readings: tuple[str, ...] | set[str] = ()


def second_probe(key: str, **of: Any) -> Draft:
    draft = good()
    draft.instruments["probe-2"] = replace(draft.instruments[PROBE], id="probe-2", name="Probe 2")
    return draft.edit(key, instrument="probe-2", **of)


def calibrated(key: str, on: date | None) -> Draft:
    draft = good()
    draft.instruments[key] = replace(draft.instruments[key], calibrated_on=on)
    return draft


def close_sets() -> Draft:
    draft = good()
    for key in ("flue_o2", "flue_co", "flue_co2"):
        draft.edit(key, nth=2, taken_at=at(68.5))
    return draft


def no_events() -> Draft:
    draft = good()
    draft.events = []
    return draft


def late() -> Draft:
    draft = good()
    draft.closed_at = at(120)
    return draft.edit("smoke_number", entered_at=at(130))


def without(*keys: str) -> Draft:
    """Not even as found."""
    draft = good()
    for key in keys:
        draft.drop(key)
    return draft


def unlit() -> Draft:
    return without("flue_o2", "flue_co", "flue_co2", "smoke_number", "smoke_spot_look", INDOORS[0])


def whole_test() -> set[str]:
    return {shown(r) for r in good().readings if r.stage is AS_LEFT} - OF_NO_TEST


def shown(reading: Reading) -> str:
    """ "flue_o2 1", "exhaust_path as found"."""
    number = f" {reading.set_number}" if reading.set_number else ""
    return f"{reading.key}{number}" + ("" if reading.stage is AS_LEFT else " as found")


W, N, O, S = "within limits", "not proven", "outside limits", "stop"  # noqa: E741
OPEN: dict[str, Told] = {
    # --- CO2 agrees
    "no CO2": Told(
        lambda: without("flue_co2"), "CO2 agrees", N, "Not read yet: CO₂ in the exhaust.", ("flue_co2",)
    ),
    "no O2 beside CO2": Told(
        lambda: good().drop("flue_o2", nth=2),
        *("CO2 agrees", N, "O₂ in the exhaust is missing from set 2 of two.", ("flue_o2",)),
        readings=("flue_co2 1", "flue_co2 2"),
    ),
    "wet O2 beside CO2": Told(
        lambda: good().edit("flue_o2", nth=2, basis="wet"),
        *("CO2 agrees", N),
        (
            "O₂ in the exhaust was read wet, as 6.1 %; the verdict needs it dry. "
            "Read it with a probe that dries the gas."
        ),
        ("flue_o2",),
        readings=("flue_co2 1", "flue_co2 2"),
    ),
    "a third set without O2": Told(
        lambda: good().add("flue_co2", 74, "11.0 %", basis="measured", instrument=PROBE, set_number=3),
        *("CO2 agrees", N, "O₂ in the exhaust has not been read in set 3.", ("flue_o2",)),
        readings=("flue_co2 1", "flue_co2 2", "flue_co2 3"),
    ),
    "CO2 contradicts": Told(
        lambda: good(Healthy(co2=("11.0", "12.5"))),
        *("CO2 agrees", N),
        (
            "O₂ of 6.1 % and CO₂ of 12.5 % do not belong together for this fuel; CO₂ should be 11.0 ± 0.8 %. "
            "Look for a leaking hose, a wet reading or the wrong fuel."
        ),
        ("flue_co2",),
        readings=("flue_co2 2", "flue_o2 2"),
    ),
    "calculated unchecked": Told(
        lambda: good(Healthy(co2_basis="calculated")).drop("fresh_air_co_before"),
        *("CO2 agrees", N),
        (
            "CO₂ was calculated by the instrument, so it proves nothing by itself. "
            "Not read yet: CO in fresh air, before."
        ),
        ("fresh_air_co_before",),
        readings=("flue_co2 1", "flue_co2 2"),
    ),
    # --- two sets
    "no CO in set 2": Told(
        lambda: good().drop("flue_co", nth=2),
        *("two sets", N, "CO in the exhaust is missing from set 2 of two.", ("flue_co",)),
        readings=(*FLUE_1, "flue_o2 2", "flue_co2 2"),
    ),
    "no CO2 in set 1": Told(
        lambda: good().drop("flue_co2", nth=1),
        *("two sets", N, "CO₂ in the exhaust is missing from set 1 of two.", ("flue_co2",)),
        readings=("flue_o2 1", "flue_co 1", *FLUE_2),
    ),
    "two probes": Told(
        lambda: second_probe("flue_co", nth=2),
        *("two sets", N, "The two sets were not read with one instrument.", ("flue_o2",)),
        readings=(*FLUE_1, *FLUE_2),
    ),
    "sets disagree": Told(
        lambda: good(Healthy(co=("30", "60"))),
        *("two sets", N),
        "CO in the exhaust differs between the two sets by more than the instrument's class.",
        ("flue_co",),
        readings=("flue_co 1", "flue_co 2"),
    ),
    "sets had in two ways": Told(
        lambda: good().edit("flue_co2", nth=2, basis="calculated"),
        *("two sets", N),
        (
            "CO₂ in the exhaust was had in two ways in the two sets, such as measured and calculated: "
            "read both in one way."
        ),
        ("flue_co2",),
        readings=("flue_co2 1", "flue_co2 2"),
    ),
    "sets too near": Told(
        close_sets,
        *("two sets", N, "The two sets lie less than 60 s apart.", ("flue_o2",), ("sets_apart",)),
        readings=(*FLUE_1, *FLUE_2),
    ),
    # --- steady
    "nothing burned": Told(unlit, "steady", N, "No reading of the burn was taken as left.", ("flue_o2",)),
    "an untimed reading": Told(
        lambda: good().edit("exhaust_path", taken_at=None),
        *("steady", N, "A reading of the test bears no time, so steady running is not shown.", ("flue_o2",)),
        readings=BURNING,
    ),
    "no time of the flame": Told(
        no_events,
        *("steady", N, "The time of the flame has not been noted, so steady running is not shown."),
        ("time_to_light",),
        readings=BURNING,
    ),
    "the flame went out": Told(
        lambda: good().happen(EventKind.FLAME_OUT, 64),
        *("steady", N, "The flame went out before a reading of the test, and no new one was noted."),
        ("flue_o2",),
        readings=BURNING,
    ),
    "read too early": Told(
        lambda: good().happen(EventKind.ADJUSTED, 66),
        *("steady", N, "Read after 120 s of steady running; it takes at least 5 min.", ("flue_o2",)),
        ("steady_before_reading",),
        BURNING,
    ),
    # --- one test
    "no reading of a test": Told(
        lambda: without(*{r.key for r in good().readings}),
        *("one test", N, "None of the readings that the verdict needs was taken as left.", ("flue_o2",)),
    ),
    "no time in the test": Told(
        lambda: good().edit("exhaust_path", taken_at=None),
        *("one test", N, "A reading of the test has no time that can be."),
        readings=whole_test(),
    ),
    "opened after the first reading": Told(
        lambda: good().happen(EventKind.OPENED, 76),
        *("one test", N),
        "Something was moved or opened at 09:16, after the first reading of the test: read again.",
        ("flue_o2",),
        readings=whole_test(),
    ),
    "a long test": Told(
        lambda: good().edit("after_run", taken_at=at(57 + 61)),
        *("one test", N, "The test took 3,660 s; it must fit in 60 min.", (), ("test_window",)),
        whole_test(),
    ),
    # --- fresh air
    "no O2 in fresh air": Told(
        lambda: without("fresh_air_o2_after"),
        *("fresh air", N, "Not read yet: O₂ in fresh air, after.", ("fresh_air_o2_after",)),
        readings=("fresh_air_co_after",),
    ),
    "no CO in fresh air": Told(
        lambda: without("fresh_air_co_after"),
        *("fresh air", N, "Not read yet: CO in fresh air, after.", ("fresh_air_co_after",)),
        readings=("fresh_air_o2_after",),
    ),
    "no fresh air": Told(
        lambda: without(*FRESH), "fresh air", N, "Not read yet: O₂ in fresh air, after.", FRESH
    ),
    "CO in fresh air": Told(
        lambda: good().edit("fresh_air_co_after", value=Decimal(4)),
        *("fresh air", N),
        (
            "CO in fresh air, after is not that of fresh air; allowed is 3 ppm. "
            "Purge the probe, zero it outdoors and test again."
        ),
        ("fresh_air_co_after",),
        readings=FRESH,
    ),
    "fresh air by another probe": Told(
        lambda: second_probe("fresh_air_o2_after"),
        *("fresh air", N),
        "O₂ in fresh air, after was read with another instrument than the flue gas.",
        ("fresh_air_o2_after",),
        readings=FRESH,
    ),
    "fresh air too soon": Told(
        lambda: good().edit("fresh_air_co_after", taken_at=at(71)),
        *("fresh air", N),
        (
            "CO in fresh air, after was not read at the right time: "
            "before the first or after the last flue reading."
        ),
        ("fresh_air_co_after",),
        readings=FRESH,
    ),
    "no flue gas at all": Told(
        unlit, "fresh air", N, "Not read yet: O₂ in the exhaust.", ("flue_o2",), readings=FRESH
    ),
    # --- zero, sampling line, response, calibration
    "not zeroed": Told(
        lambda: without("probe_zero"), "zero", N, "Not read yet: Where the probe was zeroed.", ("probe_zero",)
    ),
    "zeroed indoors": Told(
        lambda: good().edit("probe_zero", state="indoors"),
        *("zero", N, "The probe was zeroed indoors: its zero may hide carbon monoxide.", ("probe_zero",)),
        ("zeroed_outdoors",),
        ("probe_zero",),
    ),
    "zeroed nowhere": Told(
        lambda: good().edit("probe_zero", place=" "),
        *("zero", N, "The place where the probe was zeroed has not been noted.", ("probe_zero",)),
        readings=("probe_zero",),
    ),
    "line unchecked": Told(
        lambda: without("sampling_line"),
        *("sampling line", N, "Not read yet: Leak check of the line.", ("sampling_line",)),
    ),
    "line leaks": Told(
        lambda: good().edit("sampling_line", state="leaking"),
        *("sampling line", N, "The sampling line leaks: what was read is diluted.", ("sampling_line",)),
        ("sampling_line_tight",),
        ("sampling_line",),
    ),
    "an unconfirmed 0": Told(
        lambda: good().edit("living_space_co_off", value=Decimal(0), confirmed=False),
        *("response check", N, "CO inside, burner off was entered as 0 and not confirmed."),
        ("living_space_co_off",),
        readings=("living_space_co_off",),
    ),
    "an unanswered 0": Told(
        lambda: good().edit("living_space_co_off", value=Decimal(0)).drop("co_response"),
        *("response check", N),
        (
            "CO inside, burner off is 0 and the same meter has not shown today that it answers "
            "to carbon monoxide."
        ),
        ("co_response",),
        readings=("living_space_co_off",),
    ),
    "never calibrated": Told(
        lambda: calibrated(METER, None),
        *("calibration", N, "The calibration date of Meter is not known or cannot be."),
        readings=("outdoor_co",),
    ),
    "calibrated long ago": Told(
        lambda: calibrated(METER, date(2025, 3, 1)),
        *("calibration", N, "The calibration of Meter is older than 365 d.", (), ("calibration_age",)),
        ("outdoor_co",),
    ),
    "no instrument": Told(
        lambda: good().edit("smoke_number", instrument=None),
        *("calibration", N, "Smoke number does not say with which instrument it was read."),
        ("smoke_number",),
        readings=("smoke_number",),
    ),
    "nothing read by a meter": Told(
        lambda: without(*(name.split()[0] for name in METERED)),
        *("calibration", N, "None of the readings that the verdict needs was taken as left.", ("flue_o2",)),
    ),
    # --- belongs here, conflict
    "of another heater": Told(
        lambda: good().add("flue_co", 69, "20 ppm", heater="heater-2").add("smoke", 69, heater="heater-3"),
        *("belongs here", N, "2 of the readings belong to another heater."),
    ),
    "no number": Told(
        lambda: good().edit("smoke_number", value=Decimal("NaN")),
        *("belongs here", N),
        (
            "Smoke number was entered as “NaN” and cannot be believed: that is no number. "
            "Type the figure that the instrument shows."
        ),
        ("smoke_number",),
    ),
    "entered late": Told(
        late,
        *("belongs here", N),
        (
            "Smoke number was read as 0 and does not count yet: it was entered after the visit was closed. "
            "Somebody has to accept it."
        ),
        ("smoke_number",),
        readings=("smoke_number",),
    ),
    "a conflict": Told(
        lambda: (
            good()
            .add("smoke_number", 73, "0.2 smoke no.", instrument="smoke-pump")
            .add("exhaust_path", 76, "blocked")
        ),
        *("conflict", N, "Exhaust path: two readings contradict each other; choose the one that stands."),
        ("exhaust_path",),
    ),
    # --- numbers against limits
    "much smoke": Told(
        lambda: good(Healthy(smoke="4")),
        *("smoke", O, "Smoke number is 4.0 ± 0.5; the limit is at most 1.", (), ("smoke_number_fit",)),
        ("smoke_number",),
    ),
    "smoke beyond the paper": Told(
        lambda: good().edit("smoke_number", at_top=True, value=None),
        *("smoke", O, "Smoke number is beyond what the meter can show; the limit is at most 1."),
        *((), ("smoke_number_fit",), ("smoke_number",)),
    ),
    "smoke near its limit": Told(
        lambda: good(Healthy(smoke="0.8")),
        *("smoke", N, "Smoke number is 0.8 ± 0.5, which does not prove a limit of at most 1."),
        *(("smoke_number",), ("smoke_number_fit",), ("smoke_number",)),
    ),
    "smoke in conflict": Told(
        lambda: good().add("smoke_number", 73, "0.2 smoke no.", instrument="smoke-pump"),
        *("smoke", N, "Smoke number: two readings contradict each other; choose the one that stands."),
        *(("smoke_number",), ("smoke_number_fit",), ("smoke_number", "smoke_number")),
    ),
    "no smoke": Told(
        lambda: without("smoke_number"), "smoke", N, "Not read yet: Smoke number.", ("smoke_number",)
    ),
    "deadly flue gas": Told(
        lambda: good(Healthy(co=("900", "910"))),
        *("flue CO", S),
        "Air-free carbon monoxide is 1,284 ± 69 ppm; there is danger unless it is at most 400 ppm.",
        *((), ("co_air_free_stop",), ("flue_co 1", "flue_co 2")),
    ),
    "much CO": Told(
        lambda: good(Healthy(co=("250", "240"))),
        *("flue CO", O, "Air-free carbon monoxide is 350 ± 19 ppm; the limit is at most 200 ppm."),
        *((), ("co_air_free_fit",), ("flue_co 1", "flue_co 2")),
    ),
    "CO without O2": Told(
        lambda: good().drop("flue_co", of=AS_FOUND).drop("flue_o2"),
        *("flue CO", N, "Not read yet: O₂ in the exhaust."),
        *(("flue_o2",), ("co_air_free_fit",), ("flue_co 1", "flue_co 2")),
    ),
    "CO without O2 in one set": Told(
        lambda: good().drop("flue_o2", nth=2),
        *("flue CO", N, "O₂ in the exhaust is missing from set 2 of two."),
        *(("flue_o2",), ("co_air_free_fit",), ("flue_co 1", "flue_co 2")),
    ),
    "CO with wet O2 in one set": Told(
        lambda: good().edit("flue_o2", nth=2, basis="wet"),
        *("flue CO", N),
        (
            "O₂ in the exhaust was read wet, as 6.1 %; the verdict needs it dry. "
            "Read it with a probe that dries the gas."
        ),
        *(("flue_o2",), ("co_air_free_fit",), ("flue_co 1", "flue_co 2")),
    ),
    "no CO": Told(lambda: without("flue_co"), "flue CO", N, "Not read yet: CO in the exhaust.", ("flue_co",)),
    "little O2": Told(
        lambda: good(Healthy(o2=("1.0", "1.1"))),
        *("flue O2", O, "Oxygen in the exhaust is 1.0 ± 0.3 %; the limit is at least 2.0 %."),
        *((), ("flue_o2_floor",), ("flue_o2 1", "flue_o2 2")),
    ),
    "no O2": Told(lambda: without("flue_o2"), "flue O2", N, "Not read yet: O₂ in the exhaust.", ("flue_o2",)),
    "gas indoors": Told(
        lambda: good(Healthy(running="20")),
        *("living-space CO", O, "Carbon monoxide above outdoors is 19 ± 3 ppm; the limit is below 9 ppm."),
        *((), ("living_space_co_fit",), INDOORS),
    ),
    "deadly gas indoors": Told(
        lambda: good(Healthy(off="50")),
        *("living-space CO", S),
        "Carbon monoxide above outdoors is 49 ± 3 ppm; there is danger unless it is below 35 ppm.",
        *((), ("living_space_co_stop",), INDOORS),
    ),
    "gas indoors near its limit": Told(
        lambda: good(Healthy(off="9")),
        *("living-space CO", N),
        "Carbon monoxide above outdoors is 8 ± 3 ppm, which does not prove a limit of below 9 ppm.",
        *((), ("living_space_co_fit",), INDOORS),
    ),
    "indoors unread": Told(
        lambda: without("living_space_co_off"),
        *("living-space CO", N, "Not read yet: CO inside, burner off.", ("living_space_co_off",)),
        readings=("living_space_co_running",),
    ),
    "indoors unread with the burner on": Told(
        lambda: without("living_space_co_running"),
        *("living-space CO", N, "Not read yet: CO inside, burner running.", ("living_space_co_running",)),
        readings=("living_space_co_off",),
    ),
    "outdoors unread": Told(
        lambda: without("outdoor_co"),
        *("living-space CO", N, "Not read yet: CO outdoors.", ("outdoor_co",), ("living_space_co_fit",)),
        INDOORS,
    ),
    "gas indoors as found": Told(
        lambda: without("living_space_co_off").add(
            "living_space_co_off", 9, "50 ppm", instrument=METER, **FOUND
        ),
        *("living-space CO", S),
        "Carbon monoxide above outdoors is 50 ± 2 ppm; there is danger unless it is below 35 ppm.",
        *((), ("living_space_co_stop",), ("living_space_co_running", "living_space_co_off as found")),
    ),
    # --- what was seen
    "an oily spot": Told(
        lambda: good(Healthy(spot="oily")),
        *("smoke spot", O, "Look of the smoke spot: oily.", (), ("smoke_spot_clean",)),
        ("smoke_spot_look",),
    ),
    "exhaust indoors": Told(
        lambda: good().edit("exhaust_path", state="leaking inside"),
        *("exhaust path", S, "Exhaust path: leaking inside.", (), ("exhaust_not_inside",)),
        ("exhaust_path",),
    ),
    "exhaust indoors as found": Told(
        lambda: without("exhaust_path").add("exhaust_path", 9, "leaking inside", **FOUND),
        *("exhaust path", S, "Exhaust path: leaking inside.", ("exhaust_path",), ("exhaust_not_inside",)),
        ("exhaust_path as found",),
    ),
    "a damp joint": Told(
        lambda: good().edit("fuel_joints_10_min", state="damp"),
        *("fuel joints", O, "Fuel joints after 10 minutes: damp.", (), ("fuel_joints_dry_10",)),
        ("fuel_joints_1_min", "fuel_joints_10_min"),
    ),
    "a joint unseen": Told(
        lambda: without("fuel_joints_10_min"),
        *("fuel joints", N, "Not read yet: Fuel joints after 10 minutes.", ("fuel_joints_10_min",)),
        readings=("fuel_joints_1_min",),
    ),
    "two looks that differ": Told(
        lambda: good().add("exhaust_path", 76, "blocked"),
        *("exhaust path", N, "Exhaust path: two readings contradict each other; choose the one that stands."),
        *((), ("exhaust_not_inside",), ("exhaust_path", "exhaust_path")),
    ),
    # --- trials
    "a wet chamber": Told(
        lambda: good().add("chamber_look", 90, "wet"),
        *("trials", S, "The chamber is wet with fuel: it may light with a blast.", (), ("chamber_dry",)),
        ("chamber_look", "trials_without_flame"),
    ),
    "wet or dry": Told(
        lambda: good().add("chamber_look", 90, "wet").add("chamber_look", 90, "dry"),
        *(
            "trials",
            N,
            "Chamber, looked into: two readings contradict each other; choose the one that stands.",
        ),
        *(("chamber_look",), ("chamber_dry",), ("chamber_look", "chamber_look", "trials_without_flame")),
    ),
    "nobody looked": Told(
        lambda: good().edit("trials_without_flame", value=Decimal(3)),
        *("trials", N),
        "There were two or more starts without flame and nobody has looked into the chamber.",
        *(("chamber_look",), ("trials_before_looking",), ("trials_without_flame",)),
    ),
    "lit at once and not": Told(
        lambda: good().edit("trials_without_flame", value=Decimal(1)),
        *("trials", N),
        "It is said to have lit at the first try, yet starts without flame were counted.",
        ("trials_without_flame",),
        readings=("trials_without_flame",),
    ),
    "trials at no time": Told(
        lambda: good().edit("trials_without_flame", taken_at=None),
        *("trials", N),
        (
            "Starts without flame was read as 0 and cannot be believed: it has no time, or one that cannot "
            "belong to this visit. Put its time right, or read it again."
        ),
        ("trials_without_flame",),
        readings=("trials_without_flame",),
    ),
}
CLOSED: dict[str, Told] = {
    each.gate: each
    for each in (
        Told(
            good,
            *("living-space CO", W, "Carbon monoxide above outdoors is 1 ± 3 ppm; the limit is below 9 ppm."),
            *((), ("living_space_co_fit",), INDOORS),
        ),
        Told(
            good,
            *("flue CO", W, "Air-free carbon monoxide is 45 ± 14 ppm; the limit is at most 200 ppm."),
            *((), ("co_air_free_fit",), ("flue_co 1", "flue_co 2")),
        ),
        Told(
            good,
            *("flue O2", W, "Oxygen in the exhaust is 6.0 ± 0.3 %; the limit is at least 2.0 %."),
            *((), ("flue_o2_floor",), ("flue_o2 1", "flue_o2 2")),
        ),
        Told(good, "CO2 agrees", W, "O₂ and CO₂ agree for this fuel.", readings=("flue_co2 1", "flue_co2 2")),
        Told(
            good,
            *("smoke", W, "Smoke number is 0.0 ± 0.5; the limit is at most 1.", (), ("smoke_number_fit",)),
            ("smoke_number",),
        ),
        Told(
            good,
            *("smoke spot", W, "Seen and in order: look of the smoke spot.", (), ("smoke_spot_clean",)),
            ("smoke_spot_look",),
        ),
        Told(
            good,
            *("exhaust path", W, "Seen and in order: exhaust path.", (), ("exhaust_sound",)),
            ("exhaust_path",),
        ),
        Told(good, "inlet", W, "Seen and in order: air inlet.", (), ("inlet_clear",), ("inlet_path",)),
        Told(
            good,
            *("fuel joints", W, "Seen and in order: fuel joints."),
            (),
            ("fuel_joints_dry_1", "fuel_joints_dry_10", "ran_before_joints_1", "ran_before_joints_10"),
            ("fuel_joints_1_min", "fuel_joints_10_min"),
        ),
        Told(
            good,
            *("trials", W, "No start without flame is open.", (), ("trials_before_looking",)),
            ("trials_without_flame",),
        ),
        Told(good, "light-off", W, "Seen and in order: light-off.", (), ("light_off_first",), ("light_off",)),
        Told(good, "after-run", W, "Seen and in order: after-run.", (), ("after_run_full",), ("after_run",)),
        Told(
            good,
            *("two sets", W, "Two sets of flue readings agree.", (), ("sets_apart",), (*FLUE_1, *FLUE_2)),
        ),
        Told(
            good,
            *("steady", W, "It ran at least 5 min untouched before it was read."),
            *((), ("steady_before_reading",), BURNING),
        ),
        Told(
            good,
            *("one test", W, "The test lies within 60 min.", (), ("test_window",), whole_test()),
        ),
        Told(
            good,
            *("fresh air", W, "After the test the probe read fresh air as fresh air."),
            *((), ("fresh_air_o2",), FRESH),
        ),
        Told(
            good,
            *("zero", W, "The probe was zeroed outdoors.", (), ("zeroed_outdoors",), ("probe_zero",)),
        ),
        Told(
            good,
            *("sampling line", W, "The sampling line was found tight.", (), ("sampling_line_tight",)),
            ("sampling_line",),
        ),
        Told(
            lambda: good().edit("living_space_co_off", value=Decimal(0)),
            *("response check", W, "Every 0 of carbon monoxide is confirmed by a meter that answers."),
            readings=("living_space_co_off",),
        ),
        Told(
            good,
            *(
                "calibration",
                W,
                "Every instrument of the test is in date.",
                (),
                ("calibration_age",),
                METERED,
            ),
        ),
        Told(good, "belongs here", W, "Every reading is of this heater and this visit."),
        Told(good, "conflict", W, "No two readings and no two entries contradict each other."),
    )
}


def gate(draft: Draft, name: str) -> GateResult:
    return next(each for each in judge(draft.case(), **draft.facts()).gates if each.gate == name)


def check(told: Told) -> None:
    draft = told.case()
    found = gate(draft, told.gate)
    by_id = {each.id: shown(each) for each in draft.readings}
    names = [by_id[each] for each in found.readings]
    assert str(found.judgement) == told.judgement
    assert Speaker().say(found.said).replace("\u00a0", " ") == told.said
    assert found.missing == told.missing
    assert tuple(row.key for row in found.limits) == told.rows
    if isinstance(told.readings, set):
        assert len(names) == len(set(names))
        assert set(names) == told.readings
    else:
        assert tuple(names) == told.readings


@pytest.mark.parametrize("name", OPEN)
def test_what_a_gate_says_of_its_case(name: str) -> None:
    check(OPEN[name])


@pytest.mark.parametrize("name", CLOSED)
def test_what_a_closed_gate_says(name: str) -> None:
    check(CLOSED[name])


def test_every_gate_is_told_closed() -> None:
    assert set(CLOSED) == {each.gate for each in judge(good().case(), **good().facts()).gates}
    assert set(CLOSED) - {each.gate for each in OPEN.values()} == {"inlet", "light-off", "after-run"}


def test_calculated_and_checked_before_and_after() -> None:
    found = gate(good(Healthy(co2_basis="calculated")), "CO2 agrees")
    assert Speaker().say(found.said).startswith("CO₂ was calculated by the instrument")
    assert found.readings == gate(good(), "CO2 agrees").readings


def test_a_fuel_that_nobody_knows() -> None:
    draft = good()
    facts = draft.facts() | {"co2_largest_fraction": 0.0}
    found = next(each for each in judge(draft.case(), **facts).gates if each.gate == "CO2 agrees")
    assert str(found.judgement) == "not proven"
    assert Speaker().say(found.said) == Speaker().text("judging.fuel_unknown")
    assert found.missing == found.readings == ()
