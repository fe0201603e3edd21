"""Invented visits for the tests of the judgement: one good case, a population of them, and its edits.

Every name, place and number here is invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from functools import cache
from random import Random
from typing import Any

import numpy as np

from lightoff.shelf import open_shelf
from lightoff.terms.case import Case
from lightoff.terms.conflict import Conflict
from lightoff.terms.people import Heater, Instrument, Owner, Vehicle, VehicleKind
from lightoff.terms.shelf import Catalogue, Limits, Sheet
from lightoff.terms.visit import Event, EventKind, Reading, Stage, Visit

START = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)
NOW = START + timedelta(hours=4)
CO2_LARGEST = 0.1545  # a diesel, near enough for invented cases
HEATER, TEST = "heater-1", "test-1"
PROBE, METER, PUMP, EYES = "probe", "room-meter", "smoke-pump", None
AS_LEFT, AS_FOUND = Stage.AS_LEFT, Stage.AS_FOUND

GATING_CO = ("flue_co", "living_space_co_running", "living_space_co_off", "outdoor_co")
GAS = ("flue_o2", "flue_co", "flue_co2")


@cache
def shelf() -> Any:
    """The shipped shelf, read once."""
    return open_shelf()


def limits() -> Limits:
    return shelf().limits  # type: ignore[no-any-return]


def catalogue() -> Catalogue:
    return shelf().catalogue  # type: ignore[no-any-return]


def sheet(**tightens: str) -> Sheet:
    plain: Sheet = shelf().sheets["generic_9_kw"]
    return replace(plain, tightens={key: Decimal(value) for key, value in tightens.items()})


def at(minutes: float) -> datetime:
    """So many minutes after the visit began."""
    return START + timedelta(minutes=minutes)


@dataclass
class Draft:
    """A visit that can still be edited; `case()` freezes it. Edits return the draft, so they chain."""

    readings: list[Reading]
    events: list[Event]
    instruments: dict[str, Instrument]
    kind: VehicleKind = VehicleKind.COACH
    sheet: Sheet = field(default_factory=sheet)
    closed_at: datetime | None = None
    utc_offset_minutes: int | None = None
    now: datetime = NOW
    count: int = 0
    conflicts: tuple[Conflict, ...] = ()

    def next_id(self) -> str:
        self.count += 1
        return f"extra-{self.count}"

    def add(self, key: str, minute: float | None, shown: Any = None, **more: Any) -> Draft:
        """One more reading; `shown` is "12 ppm" for a number, anything without a digit for a state."""
        words: dict[str, Any] = {"stage": AS_LEFT, "test": TEST, "heater": HEATER, **more}
        if isinstance(shown, str) and shown[:1].isdigit() and " " in shown and "try" not in shown:
            value, unit = shown.split(" ", 1)
            words = {"value": Decimal(value), "unit": unit, **words}
        elif shown is not None:
            words = {"state": shown, **words}
        words.setdefault("taken_at", None if minute is None else at(minute))
        words.setdefault("id", self.next_id())
        self.readings.append(Reading(key=key, **words))
        return self

    def matches(self, reading: Reading, key: str, set_number: int | None, stage: Stage | None) -> bool:
        return (
            reading.key == key
            and (set_number is None or reading.set_number == set_number)
            and (stage is None or reading.stage is stage)
        )

    def edit(
        self,
        key: str,
        *,
        nth: int | None = None,
        of: Stage | None = AS_LEFT,
        shown: str | None = None,
        **changes: Any,
    ) -> Draft:
        """Change every reading of this key (of set `nth`, of this stage)."""
        if shown is not None:
            value, unit = shown.split(" ", 1)
            changes |= {"value": Decimal(value), "unit": unit}
        self.readings = [replace(r, **changes) if self.matches(r, key, nth, of) else r for r in self.readings]
        return self

    def drop(self, key: str, *, nth: int | None = None, of: Stage | None = None) -> Draft:
        self.readings = [r for r in self.readings if not self.matches(r, key, nth, of)]
        return self

    def happen(self, kind: EventKind, minute: float, heater: str = HEATER) -> Draft:
        self.events.append(Event(id=self.next_id(), heater=heater, kind=kind, at=at(minute)))
        return self

    def copy(self) -> Draft:
        return replace(
            self, readings=list(self.readings), events=list(self.events), instruments=dict(self.instruments)
        )

    def case(self) -> Case:
        visit = Visit(
            id="visit-1",
            heater=HEATER,
            started_at=START,
            closed_at=self.closed_at,
            utc_offset_minutes=self.utc_offset_minutes,
            technician="Invented Person",
            fuel="diesel_2",
            readings=tuple(self.readings),
            events=tuple(self.events),
        )
        return Case(
            visit=visit,
            heater=Heater(id=HEATER, vehicle="vehicle-1", name="Bay heater", sheet="generic_9_kw"),
            vehicle=Vehicle(id="vehicle-1", owner="owner-1", name="Invented Heron", kind=self.kind),
            owner=Owner(id="owner-1", name="Invented Owner"),
            instruments=dict(self.instruments),
            conflicts=self.conflicts,
        )

    def facts(self) -> dict[str, Any]:
        """What both implementations are asked with, beside the case."""
        return {
            "limits": limits(),
            "catalogue": catalogue(),
            "sheet": self.sheet,
            "co2_largest_fraction": CO2_LARGEST,
            "now": self.now,
        }


@dataclass(frozen=True, kw_only=True)
class Healthy:
    """What a healthy heater and a careful technician would read; the shares in %, CO in ppm."""

    o2: tuple[str, str] = ("6.0", "6.1")
    co: tuple[str, str] = ("30", "32")
    co2: tuple[str, str] = ("11.0", "11.0")
    smoke: str = "0"
    spot: str = "no colour"
    running: str = "2"
    off: str = "1"
    outdoor: str = "1"
    fresh_o2: tuple[str, str] = ("20.9", "20.9")
    fresh_co: tuple[str, str] = ("0", "1")
    co2_basis: str = "measured"


def good(healthy: Healthy = Healthy()) -> Draft:
    """A whole visit of kit three, two sets, all gates closed: fit as tested."""
    calibrated = date(2025, 11, 3)
    draft = Draft(
        readings=[],
        events=[],
        instruments={
            PROBE: Instrument(id=PROBE, name="Probe", kind="flue_gas_probe", calibrated_on=calibrated),
            METER: Instrument(id=METER, name="Meter", kind="living_space_co_meter", calibrated_on=calibrated),
            PUMP: Instrument(id=PUMP, name="Pump", kind="smoke_pump"),
        },
    )
    draft.happen(EventKind.OPENED, 12.5).happen(EventKind.CLOSED_UP, 40.5).happen(EventKind.FLAME, 60.5)
    found: dict[str, Any] = {"stage": AS_FOUND, "test": "found", "instrument": PROBE, "set_number": 1}
    draft.add("flue_o2", 10, "9.5 %", basis="dry", **found).add("flue_co", 10, "310 ppm", **found)
    h = healthy
    draft.add("outdoor_co", 57, f"{h.outdoor} ppm", instrument=METER)
    draft.add("living_space_co_off", 58, f"{h.off} ppm", instrument=METER)
    draft.add("probe_zero", 59, "outdoors", place="ten steps upwind of the vehicle")
    draft.add("fresh_air_o2_before", 59.5, f"{h.fresh_o2[0]} %", instrument=PROBE)
    draft.add("fresh_air_co_before", 59.5, f"{h.fresh_co[0]} ppm", instrument=PROBE)
    draft.add("light_off", 60.6, "first try")
    draft.add("co_response", 60.9, "85 ppm", instrument=PROBE, test=None)
    draft.add("co_response", 60.9, "6 ppm", instrument=METER, test=None)
    draft.add("trials_without_flame", 61, "0 count", test=None)
    draft.add("fuel_joints_1_min", 61.5, "dry").add("sampling_line", 62, "tight")
    draft.add("fuel_joints_10_min", 70.5, "dry")
    for n, minute in ((1, 68), (2, 71)):
        gas: dict[str, Any] = {"instrument": PROBE, "set_number": n}
        draft.add("flue_o2", minute, f"{h.o2[n - 1]} %", basis="dry", **gas)
        draft.add("flue_co", minute, f"{h.co[n - 1]} ppm", confirmed=True, **gas)
        draft.add("flue_co2", minute, f"{h.co2[n - 1]} %", basis=h.co2_basis, **gas)
    draft.add("stack_gas_temperature", 71.5, "190 degC", instrument=PROBE, set_number=2)
    draft.add("smoke_number", 73, f"{h.smoke} smoke no.", instrument=PUMP)
    draft.add("smoke_spot_look", 73, h.spot)
    draft.add("exhaust_path", 75, "sound and clear").add("inlet_path", 75, "seated and clear")
    draft.add("living_space_co_running", 80, f"{h.running} ppm", instrument=METER)
    draft.add("fresh_air_o2_after", 85, f"{h.fresh_o2[1]} %", instrument=PROBE)
    draft.add("fresh_air_co_after", 85, f"{h.fresh_co[1]} ppm", instrument=PROBE)
    draft.add("after_run", 96, "ran its length")
    for key in GATING_CO:
        draft.edit(key, of=None, confirmed=True)
    return draft


def tenth(value: float) -> str:
    return f"{max(value, 0.0):.1f}"


def whole(value: float) -> str:
    return f"{max(value, 0.0):.0f}"


def healthy_visit(rng: np.random.Generator) -> Draft:
    """One visit to a healthy heater: lean clean burn, instruments within half their class, two sets.

    Not the judging model: the truth is drawn first, then what each instrument shows. Common practice,
    no source: O2 5 to 9 %, CO 5 to 80 ppm, smoke 0 or a trace, air indoors as outdoors and a little.
    """
    o2 = rng.uniform(5.0, 9.0)
    co = min(float(rng.lognormal(3.0, 0.6)), 70.0)
    fault_o2, fault_co2 = rng.normal(0.0, 0.08), rng.normal(0.0, 0.1)
    shown_o2 = [o2 + fault_o2 + rng.normal(0.0, 0.04) for _ in range(2)]
    shown_co2 = [100 * CO2_LARGEST * (1 - o2 / 20.95) + fault_co2 + rng.normal(0, 0.04) for _ in range(2)]
    shown_co = [co * (1 + rng.normal(0.0, 0.01)) + rng.normal(0.0, 1.0) for _ in range(2)]
    outdoor = float(rng.choice([0.0, 0.0, 1.0, 2.0]))
    return good(
        Healthy(
            o2=(tenth(shown_o2[0]), tenth(shown_o2[1])),
            co=(whole(shown_co[0]), whole(shown_co[1])),
            co2=(tenth(shown_co2[0]), tenth(shown_co2[1])),
            smoke=str(rng.choice(["0", "0", "0", "0.5"])),
            spot=str(rng.choice(["no colour", "no colour", "grey"])),
            running=whole(outdoor + abs(rng.normal(0.0, 0.8))),
            off=whole(outdoor + abs(rng.normal(0.0, 0.5))),
            outdoor=whole(outdoor),
            fresh_o2=(tenth(20.9 + fault_o2), tenth(20.9 + fault_o2)),
            fresh_co=(whole(rng.uniform(0, 1)), whole(rng.uniform(0, 2))),
            co2_basis=str(rng.choice(["measured", "measured", "calculated"])),
        )
    )


def diluted(draft: Draft, times: float | Decimal) -> Draft:
    """The same exhaust with air let in: `times` as much gas reaches the probe as without the leak.

    Numbers are recomputed exactly and written with four decimals, as a keen instrument would.
    """
    share = 1 / Decimal(str(times))
    air = Decimal("20.95")
    thinner = draft.copy()
    for index, r in enumerate(thinner.readings):
        if r.stage is not AS_LEFT or r.value is None or r.key not in (*GAS, "smoke_number"):
            continue
        value = r.value * share + (air * (1 - share) if r.key == "flue_o2" else 0)
        thinner.readings[index] = replace(r, value=value.quantize(Decimal("0.0001")))
    return thinner


def in_other_units(draft: Draft, rnd: Random) -> Draft:
    """The same physical state, each gas share written in a unit chosen anew."""
    from_unit = {"%": Decimal(10000), "ppm": Decimal(1), "mg/m3 CO": Decimal("0.8")}
    other = draft.copy()
    for index, r in enumerate(other.readings):
        if r.value is None or r.unit not in from_unit:
            continue
        is_co = "co" in r.key.split("_") or r.key.startswith("co_")
        unit = rnd.choice(["%", "ppm", *(["mg/m3 CO"] if is_co else [])])
        size = from_unit[r.unit] / from_unit[unit]
        wide = None if r.typed_uncertainty is None else r.typed_uncertainty * size
        other.readings[index] = replace(r, value=r.value * size, unit=unit, typed_uncertainty=wide)
    return other
