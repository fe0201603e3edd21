"""Made-up visits, judged by hand, for looking at the report: invented data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from types import MappingProxyType

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, AsWritten, message
from lightoff.judging.assess import inputs_hash
from lightoff.judging.assessment import (
    Area,
    AreaJudgement,
    Assessment,
    BurnPoint,
    Figure,
    GateResult,
    Judgement,
    Triangle,
    Verdict,
    VerdictResult,
)
from lightoff.terms.case import Case
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Vehicle, VehicleKind
from lightoff.terms.procedure import Procedure
from lightoff.terms.shelf import (
    Accuracy,
    Catalogue,
    CatalogueEntry,
    Comparison,
    Feed,
    Gate,
    InstrumentClass,
    Limit,
    Limits,
    Sheet,
)
from lightoff.terms.visit import Photo, Place, Reading, Stage, Visit

START = datetime(2026, 11, 25, 13, 40, tzinfo=UTC)
JUDGED = datetime(2026, 11, 25, 15, 41, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallShelf:
    """As much of a shelf as a report asks for."""

    limits: Limits
    catalogue: Catalogue
    fuels: Mapping[str, object]
    sheets: Mapping[str, Sheet]
    procedures: Mapping[str, Procedure] = field(default_factory=dict)


def limit(
    key: str, quantity: str, comparison: Comparison, value: str | None, unit: str, **more: object
) -> Limit:
    fields: dict[str, object] = {
        "key": key,
        "quantity": quantity,
        "comparison": comparison,
        "gate": Gate.LIMIT,
        "effect": "not fit",
        "basis": "practice",
        "source": "common practice, no source",
        "value": None if value is None else Decimal(value),
        "unit": unit,
    }
    return Limit(**{**fields, **more})  # type: ignore[arg-type]


ROWS = {
    row.key: row
    for row in (
        limit("flue_o2_floor", "flue_o2", Comparison.AT_LEAST, "2.0", "%"),
        limit("co_air_free_fit", "co_air_free", Comparison.AT_MOST, "200", "ppm"),
        limit(
            "co_air_free_stop",
            "co_air_free",
            Comparison.AT_MOST,
            "400",
            "ppm",
            effect="stop",
            stops="do not fire",
        ),
        limit("smoke_number_fit", "smoke_number", Comparison.AT_MOST, "1", "smoke no."),
        limit("living_space_co_fit", "living_space_co_rise", Comparison.BELOW, "9", "ppm"),
        limit(
            "living_space_co_stop",
            "living_space_co_rise",
            Comparison.BELOW,
            "35",
            "ppm",
            effect="stop",
            stops="leave the vehicle",
            basis="health",
            source="a health authority, edition, table",
        ),
        limit(
            "fresh_air_o2",
            "fresh_air_o2",
            Comparison.EQUALS_WITHIN,
            "20.9",
            "%",
            tolerance=Decimal("0.3"),
            effect="not proven",
            gate=Gate.EVIDENCE,
        ),
        limit("exhaust_sound", "exhaust_path", Comparison.ONE_OF, None, "", states=("sound and clear",)),
        limit("calibration_age", "calibration_age", Comparison.AT_MOST, "365", "d", effect="not proven"),
        limit(
            "steady_before_reading", "steady_running", Comparison.AT_LEAST, "5", "min", effect="not proven"
        ),
    )
}


def accuracy(key: str, absolute: str, relative: str, unit: str) -> Accuracy:
    return Accuracy(
        key=key,
        absolute=Decimal(absolute),
        relative=Decimal(relative),
        unit=unit,
        low=Decimal(0),
        high=Decimal(2000),
        source="invented",
    )


CLASSES = {
    "flue_gas_probe": InstrumentClass(
        key="flue_gas_probe",
        electronic=True,
        accuracies={
            "flue_o2": accuracy("flue_o2", "0.3", "0", "%"),
            "flue_co": accuracy("flue_co", "10", "0.05", "ppm"),
            "stack_gas_temperature": accuracy("stack_gas_temperature", "2", "0.01", "degC"),
        },
    ),
    "smoke_pump": InstrumentClass(
        key="smoke_pump",
        electronic=False,
        accuracies={"smoke_number": accuracy("smoke_number", "0.5", "0", "smoke no.")},
    ),
    "living_space_co_meter": InstrumentClass(
        key="living_space_co_meter",
        electronic=True,
        accuracies={"living_space_co_running": accuracy("living_space_co_running", "2", "0.05", "ppm")},
    ),
}

SHEET = Sheet(
    key="generic_12_kw",
    name="Generic 12 kW",
    sha256="5" * 64,
    source="invented",
    invented=True,
    heat_output_w=12000,
    fuel_flow_kg_s=3.5e-4,
    feed=Feed.METERING_PUMP,
    supply_v=12,
    igniter_w=100,
    igniter_v=12,
    fan_current_a=4,
    compressor_current_a=3,
    pump_current_a=2,
    light_off_low_s=32,
    light_off_high_s=48,
    trials=2,
    pre_purge_s=10,
    after_run_s=180,
    coolant_volume_m3=0.012,
    thermostat_off_k=358,
    high_limit_k=378,
    o2_dry_low_fraction=0.041,
    o2_dry_high_fraction=0.059,
    atomising_gauge_pressure_pa=22000,
    low_voltage_cut_out_v=10.5,
    stack_temperature_highest_k=None,
    fastening="",
    igniter_holder="",
    window="",
    inlet="",
    tightens=MappingProxyType({}),
)


def shelf() -> SmallShelf:
    entries: dict[str, CatalogueEntry] = {}
    return SmallShelf(
        limits=Limits(version="12", sha256="1" * 64, rows=ROWS),
        catalogue=Catalogue(sha256="2" * 64, entries=entries, classes=CLASSES),
        fuels={},
        sheets={SHEET.key: SHEET},
    )


def reading(key: str, value: str, unit: str, instrument: str | None, stage: Stage = Stage.AS_LEFT) -> Reading:
    return Reading(
        id=f"{key}-{stage}",
        heater="h",
        key=key,
        stage=stage,
        taken_at=START + timedelta(minutes=52),
        value=Decimal(value),
        unit=unit,
        instrument=instrument,
    )


def case(**changes: object) -> Case:
    """A finished visit to a boat; `changes` replace fields of Case, or of its visit as visit_<field>."""
    visit = Visit(
        id="v",
        heater="h",
        started_at=START,
        closed_at=JUDGED,
        technician="J. Aalto",
        complaint="It lit and died after 11 minutes",
        work_done=(
            "Renewed the O-ring of the filter head, the fuel filter and the nozzle with its O-rings",
            "Cleaned the burn tube",
            "What was opened was closed again and ran without a leak",
        ),
        service_complete=True,
        fuel="",
        place=Place(name="Ferry Basin", altitude_m=420.0),
        readings=(
            reading("flue_o2", "4.8", "%", "probe"),
            reading("flue_co", "38", "ppm", "probe"),
            reading("stack_gas_temperature", "236", "degC", "probe"),
            reading("smoke_number", "0", "smoke no.", "pump"),
            reading("living_space_co_running", "1", "ppm", "meter"),
        ),
        note="The exhaust bracket is rusty; renew it next year",
    )
    for key in [key for key in changes if key.startswith("visit_")]:
        visit = replace(visit, **{key.removeprefix("visit_"): changes.pop(key)})  # type: ignore[arg-type]
    fields: dict[str, object] = {
        "visit": visit,
        "heater": Heater(id="h", vehicle="b", name="aft heater", sheet=SHEET.key, serial="0417"),
        "vehicle": Vehicle(id="b", owner="o", name="Saltgrass", kind=VehicleKind.BOAT),
        "owner": Owner(id="o", name="Mira Oduya"),
        "instruments": {
            "probe": Instrument(
                id="probe",
                name="Flue probe",
                kind="flue_gas_probe",
                serial="331",
                calibrated_on=date(2026, 3, 2),
            ),
            "pump": Instrument(id="pump", name="Smoke pump", kind="smoke_pump"),
            "meter": Instrument(id="meter", name="Cabin CO meter", kind="living_space_co_meter"),
        },
        "shop": Shop(
            name="Tern Lane Heat", address="3 Tern Lane\nQuay End", technician="J. Aalto", invented=True
        ),
    }
    return Case(**{**fields, **changes})  # type: ignore[arg-type]


def figure(
    key: str,
    value: float,
    half: float,
    dimension: str,
    stage: Stage = Stage.AS_LEFT,
    *,
    limit: str = "",
    expected: tuple[float, float] | None = None,
) -> Figure:
    band = None
    if expected is not None:
        band = Estimate(value=sum(expected) / 2, low=expected[0], high=expected[1], coverage=0.95)
    return Figure(
        key=key,
        estimate=Estimate.from_half_width(value, half),
        dimension=dimension,
        stage=stage,
        limit=ROWS[limit] if limit else None,
        expected=band,
    )


FOUND = Stage.AS_FOUND
BURN_FIGURES = (
    figure("flue_o2", 0.089, 0.003, "gas_fraction", FOUND, limit="flue_o2_floor", expected=(0.041, 0.059)),
    figure("co_air_free", 310e-6, 20e-6, "trace_gas_fraction", FOUND, limit="co_air_free_fit"),
    figure("stack_gas_temperature", 494.15, 3, "temperature", FOUND),
    figure("flue_o2", 0.048, 0.003, "gas_fraction", limit="flue_o2_floor", expected=(0.041, 0.059)),
    figure(
        "co_air_free", 49e-6, 13e-6, "trace_gas_fraction", limit="co_air_free_fit", expected=(5e-6, 90e-6)
    ),
    figure(
        "living_space_co_rise",
        1e-6,
        2.8e-6,
        "trace_gas_fraction",
        limit="living_space_co_fit",
        expected=(0, 2e-6),
    ),
    figure("smoke_number", 0, 0.5, "smoke_number", limit="smoke_number_fit"),
    figure("stack_gas_temperature", 509.15, 3, "temperature", expected=(487.15, 521.15)),
    figure("air_ratio", 1.28, 0.02, "ratio"),
    figure("excess_air", 0.28, 0.02, "fraction"),
    figure("stack_loss", 0.11, 0.003, "fraction"),
    figure("efficiency_net", 0.89, 0.003, "fraction"),
    figure("dew_point", 318.15, 1.0, "temperature"),
    figure("heat_input_net", 15300, 400, "power"),
    figure("fuel_volume_flow", 1.52e-3 / 3600, 2e-9, "volume_flow"),
)
LIGHT_FIGURES = (
    figure("time_to_light", 52, 1, "time", FOUND, expected=(32, 48)),
    figure("time_to_light", 43, 1, "time", expected=(32, 48)),
)


def point(o2: float, co2: float, stage: Stage = Stage.AS_LEFT, *, now: bool = True) -> BurnPoint:
    return BurnPoint(
        visit="v",
        at=JUDGED,
        stage=stage,
        o2_fraction=o2,
        o2_half_width=0.003,
        co2_fraction=co2,
        co2_half_width=0.006,
        co2_is_measured=True,
        air_ratio=1.28,
        now=now,
    )


def burn_triangle(*points: BurnPoint) -> Triangle:
    """A triangle of a fuel whose largest CO2 is 15.5 %, lines straight enough for a picture."""
    largest = 0.155

    def on_line(o2: float) -> float:
        return largest * (1 - o2 / 0.2095)

    ratios = []
    for ratio in (1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.7, 2.0, 2.5):
        o2 = 0.2095 * (ratio - 1) / (ratio - 0.06)
        ratios.append((ratio, o2, on_line(o2)))
    lines = []
    for share in (0.01, 0.02, 0.03, 0.04):
        steps = [0.2095 * step / 30 for step in range(31)]
        lines.append((share, tuple((o2, on_line(o2) - share) for o2 in steps if on_line(o2) > share)))
    return Triangle(
        fuel="diesel_2",
        co2_largest_fraction=largest,
        o2_floor_fraction=0.02,
        air_ratios=tuple(ratios),
        co_lines=tuple(lines),
        points=points,
        expected_o2=(0.041, 0.059),
    )


def gate(name: str, judgement: Judgement, said: str = "all_belong", **more: object) -> GateResult:
    stops = str(more.pop("stops", ""))
    rows = tuple(ROWS[key] for key in more.pop("rows", ()))  # type: ignore[attr-defined]
    missing = tuple(more.pop("missing", ()))  # type: ignore[call-overload]
    return GateResult(
        gate=name,
        judgement=judgement,
        said=message(f"judging.{said}", **more),
        limits=rows,
        stops=stops,
        missing=missing,
    )  # type: ignore[arg-type]


WITHIN, OPEN, OUTSIDE, STOP = (
    Judgement.WITHIN,
    Judgement.NOT_PROVEN,
    Judgement.OUTSIDE,
    Judgement.STOP,
)
GOOD_GATES = (
    gate("flue O2", WITHIN, rows=("flue_o2_floor",)),
    gate("flue CO", WITHIN, rows=("co_air_free_fit", "co_air_free_stop")),
    gate("CO2 agrees", WITHIN, "co2_agrees"),
    gate("smoke", WITHIN, rows=("smoke_number_fit",)),
    gate("living-space CO", WITHIN, rows=("living_space_co_fit", "living_space_co_stop")),
    gate("fresh air", WITHIN, "fresh_air_good", rows=("fresh_air_o2",)),
    gate("exhaust path", WITHIN, rows=("exhaust_sound",)),
    gate("calibration", WITHIN, "calibration_good", rows=("calibration_age",)),
    gate("steady", WITHIN, rows=("steady_before_reading",)),
)
ALL_OPEN = tuple(
    gate(name, OPEN, "missing", what=f"@gate.{name.replace(' ', '_')}", missing=("flue_o2",))
    for name in (
        "flue O2",
        "flue CO",
        "CO2 agrees",
        "smoke",
        "smoke spot",
        "living-space CO",
        "two sets",
        "steady",
        "one test",
        "fresh air",
        "zero",
        "sampling line",
        "exhaust path",
        "inlet",
        "fuel joints",
        "light-off",
        "after-run",
        "trials",
    )
)
CO_OVER = gate(
    "living-space CO",
    STOP,
    "crossed_stop",
    what="@figure.living_space_co_rise",
    amount=Amount(value=41e-6, dimension="trace_gas_fraction"),
    comparison="@comparison.below",
    limit=AsWritten(value=Decimal("35"), unit="ppm"),
    rows=("living_space_co_stop",),
    stops="leave the vehicle",
)
SMOKE_OVER = gate(
    "smoke",
    OUTSIDE,
    "crossed",
    what="@figure.smoke_number",
    amount=Amount(value=4.0, dimension="smoke_number"),
    comparison="@comparison.at most",
    limit=AsWritten(value=Decimal("1"), unit="smoke no."),
    rows=("smoke_number_fit",),
)


def judged(of: Case, verdict: Verdict, gates: tuple[GateResult, ...], **changes: object) -> Assessment:
    """An assessment of the case with these gates; its hash fits the case on `shelf()`."""
    on = shelf()
    stops = tuple(dict.fromkeys(each.stops for each in gates if each.stops))
    fields: dict[str, object] = {
        "visit": of.visit.id,
        "heater": of.heater.id,
        "judged_at": JUDGED,
        "verdict": VerdictResult(verdict=verdict, gates=gates, stops=stops, set_aside=()),
        "said": message(f"verdict_said.{verdict}"),
        "work_done": message("judging.work_complete"),
        "measured": message(
            "judging.measured", what=(message("judging.group_gas"), message("judging.group_smoke"))
        ),
        "kit": 3,
        "areas": (
            AreaJudgement(area=Area.BURN, judgement=WITHIN, sentences=(), figures=BURN_FIGURES),
            AreaJudgement(area=Area.LIGHT_OFF, judgement=WITHIN, sentences=(), figures=LIGHT_FIGURES),
        ),
        "paragraph": (
            message(
                "judging.lambda_and_loss",
                ratio=Amount(value=1.28, dimension="ratio", half_width=0.02),
                loss=Amount(value=0.11, dimension="fraction", half_width=0.003),
            ),
            message("judging.co2_agrees"),
            message("judging.closing_fit", state="@verdict.fit as tested"),
        ),
        "most_useful": None,
        "notices": (),
        "triangle": burn_triangle(
            point(0.051, 0.117, now=False),
            point(0.055, 0.113, now=False),
            point(0.089, 0.088, Stage.AS_FOUND),
            point(0.048, 0.119),
        ),
        "burn_time_left": None,
        "travel": (),
        "inputs_sha256": inputs_hash(
            of, sheet=on.sheets[of.heater.sheet], fuel=None, limits=on.limits, catalogue=on.catalogue
        ),
        "shelf_sha256": "7f3a19c2" * 8,
        "limits_version": on.limits.version,
    }
    return Assessment(**{**fields, **changes})  # type: ignore[arg-type]


NO_GAS: dict[str, object] = {
    "triangle": None,
    "kit": 1,
    "areas": (AreaJudgement(area=Area.LIGHT_OFF, judgement=WITHIN, sentences=(), figures=LIGHT_FIGURES),),
    "measured": message("judging.measured_without_gas", what=(message("judging.group_light_off"),)),
    "paragraph": (),
    "most_useful": None,
}
LONG = "Ærøskøbing–Łódź Ελλάδα Жемчужина 日本 " + "Vilhelmiina-Kukkakaali " * 6


def samples() -> dict[str, tuple[Case, Assessment]]:
    """Every kind of report, by name."""
    fit, bare = case(), case(visit_readings=())
    empty = case(
        visit_readings=(),
        visit_work_done=(),
        visit_complaint="",
        visit_note="",
        visit_technician="",
        visit_place=Place(),
        visit_closed_at=None,
        visit_service_complete=False,
        instruments={},
        shop=Shop(),
        owner=Owner(id="o", name=""),
    )
    long = case(
        owner=Owner(id="o", name=LONG),
        vehicle=Vehicle(id="b", owner="o", name=LONG, kind=VehicleKind.CABIN),
        visit_work_done=(LONG + "was cleaned and closed again",) * 8,
        visit_complaint=LONG * 2,
        visit_photos=tuple(
            Photo(id=f"p{n}", heater="h", taken_at=START, sha256=f"{n}", media_type="image/png", caption=LONG)
            for n in range(9)
        ),
    )
    nothing = {
        "areas": (),
        "triangle": None,
        "measured": message("judging.measured_nothing"),
        "kit": 1,
        "paragraph": (),
        "work_done": message("judging.work_none"),
    }
    return {
        "fit": (fit, judged(fit, Verdict.FIT, GOOD_GATES)),
        "stop": (fit, judged(fit, Verdict.STOP, (CO_OVER, SMOKE_OVER, *GOOD_GATES[:3]))),
        "not fit": (fit, judged(fit, Verdict.NOT_FIT, (SMOKE_OVER, ALL_OPEN[4], *GOOD_GATES))),
        "no probe": (bare, judged(bare, Verdict.NOT_PROVEN, (*ALL_OPEN, GOOD_GATES[6]), **NO_GAS)),
        "long": (long, judged(long, Verdict.NOT_FIT, (SMOKE_OVER, *ALL_OPEN))),
        "empty": (empty, judged(empty, Verdict.NOT_PROVEN, ALL_OPEN, **nothing)),
    }
