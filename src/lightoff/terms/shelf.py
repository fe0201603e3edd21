"""What lies on the shelf: limits, the readings catalogue, instrument classes, sheets of heater types.

Only the frozen nouns; reading and checking the files is the work of `lightoff.shelf`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Gate(StrEnum):
    """Two kinds: has a limit been crossed, and may the reading be believed."""

    LIMIT = "limit"
    EVIDENCE = "evidence"


class Comparison(StrEnum):
    """How a reading stands to its limit when it is within it."""

    AT_MOST = "at most"
    BELOW = "below"
    AT_LEAST = "at least"
    ONE_OF = "one of"
    NONE_OF = "none of"
    EQUALS_WITHIN = "equals within"  # value +- tolerance


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One row of the limits table.

    A numeric limit stands in `value` with `unit` (and `tolerance`, same unit, for "equals within");
    a list of states in `states`. `effect` is what crossing it means: "stop", "not fit", "not proven".
    `stops` names the object of a stop. `kinds` limits the row to these kinds of vehicle (empty: all).
    """

    key: str
    quantity: str
    comparison: Comparison
    gate: Gate
    effect: str
    basis: str  # "practice", "maker", "legal", "health", "method"
    source: str
    value: Decimal | None = None
    tolerance: Decimal | None = None
    unit: str = ""
    states: tuple[str, ...] = ()
    stops: str = ""
    kinds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The limits table with its version and the hash that judgements carry."""

    version: str
    sha256: str
    rows: Mapping[str, Limit]

    def of(self, quantity: str) -> tuple[Limit, ...]:
        """All rows that speak of this quantity."""
        return tuple(row for row in self.rows.values() if row.quantity == quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Expanded uncertainty U (coverage 2) of a class: the larger of `absolute` and `relative` x reading.

    `relative` of a temperature is of the reading in degC. `low` and `high` are the range of the class.
    """

    key: str
    absolute: Decimal
    relative: Decimal
    unit: str
    low: Decimal
    high: Decimal
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentClass:
    """A kind of meter: what it reads and how well. `electronic` ones need a calibration in date."""

    key: str
    electronic: bool
    accuracies: Mapping[str, Accuracy]  # by catalogue key


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueEntry:
    """One thing a technician can read, see, hear or smell.

    `states` is empty for a number. `bases` lists the ways it can be had ("dry", "wet"; "measured",
    "calculated"); empty where there is one way only. `classes` are the instrument classes that read it.
    `plausible_low` and `plausible_high` (in `unit`) are where a field asks "really?", not a limit.
    """

    key: str
    area: str
    dimension: str
    unit: str
    states: tuple[str, ...]
    bases: tuple[str, ...]
    classes: tuple[str, ...]
    place: str
    minutes: float
    opens: str  # "", "fuel", "exhaust", "coolant", "electric"
    caution: str  # key of a caution in texts, or ""
    kit: int  # 1, 2 or 3: the smallest kit that reads it
    twice: bool  # read in two sets
    possible_low: Decimal | None = None
    possible_high: Decimal | None = None
    plausible_low: Decimal | None = None
    plausible_high: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """The readings catalogue and the instrument classes, with the hash that judgements carry."""

    sha256: str
    entries: Mapping[str, CatalogueEntry]
    classes: Mapping[str, InstrumentClass]


class Feed(StrEnum):
    """How the fuel comes to the nozzle; it decides what altitude does."""

    METERING_PUMP = "metering pump"
    SIPHON = "siphon"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Rated values of a heater type, SI. `estimated` names fields filled by judgement, not by the maker.

    `tightens` maps a key of the limits table to the maker's stricter value, in that row's unit.
    """

    key: str
    name: str
    sha256: str
    source: str
    invented: bool
    heat_output_w: float
    fuel_flow_kg_s: float
    feed: Feed
    supply_v: float
    igniter_w: float
    igniter_v: float
    fan_current_a: float
    compressor_current_a: float
    pump_current_a: float
    light_off_low_s: float
    light_off_high_s: float
    trials: int
    pre_purge_s: float
    after_run_s: float
    coolant_volume_m3: float
    thermostat_off_k: float
    high_limit_k: float
    o2_dry_low_fraction: float
    o2_dry_high_fraction: float
    atomising_gauge_pressure_pa: float
    low_voltage_cut_out_v: float
    stack_temperature_highest_k: float | None
    fastening: str
    igniter_holder: str
    window: str
    inlet: str
    tightens: Mapping[str, Decimal]
    estimated: tuple[str, ...] = ()
