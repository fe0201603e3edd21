"""What lies on the shelf: limits, the readings catalogue, instrument classes, sheets of heater types.

Only the frozen nouns; reading and checking the files is the work of `lightoff.shelf`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field, replace
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import TypeAlias

from lightoff.ground.errors import Refusal
from lightoff.ground.message import AsWritten, message
from lightoff.ground.units import exact_si, unit
from lightoff.ground.values import dataclass


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

    def speaks_to(self, kind: str) -> bool:
        """True where the row holds for this kind of vehicle."""
        return not self.kinds or kind in self.kinds

    def is_as_strict_as(self, other: Limit) -> bool:
        """True where nothing that this numeric row lets through would be stopped by `other`.

        Rows of one quantity only; a ceiling is never as strict as a floor, nor the other way round.
        """
        low, high = self._bounds()
        other_low, other_high = other._bounds()
        return _as_high(low, other_low) and _as_high(_turned(high), _turned(other_high))

    def tightened(self, value: Decimal, *, source: str, basis: str = "maker") -> Limit:
        """The row with a stricter number, in the row's own unit; of "equals within" it is the tolerance.

        Raises Refusal for a number that is not finite, for one that would loosen the row, and for a row
        that cannot be tightened: a constant of the method, or a list of states.
        """
        if self.value is None or self.basis == "method":
            raise Refusal(message("error.limit_fixed", limit=self.key), field=self.key)
        if not value.is_finite():
            raise Refusal(message("error.limit_not_finite", limit=self.key, value=str(value)), field=self.key)
        changed = (
            replace(self, tolerance=value, source=source, basis=basis)
            if self.comparison is Comparison.EQUALS_WITHIN
            else replace(self, value=value, source=source, basis=basis)
        )
        if (changed.tolerance or 0) < 0 or not changed.is_as_strict_as(self):
            raise Refusal(
                message(
                    "error.limit_loosened",
                    limit=self.key,
                    value=AsWritten(value=value, unit=self.unit),
                    stands=AsWritten(value=self._number(), unit=self.unit),
                    comparison=self.comparison.value,
                ),
                field=self.key,
            )
        return changed

    def _number(self) -> Decimal:
        number = self.tolerance if self.comparison is Comparison.EQUALS_WITHIN else self.value
        if number is None:
            raise TypeError(f"{self.key} carries no number")
        return number

    def _bounds(self) -> tuple[_Bound | None, _Bound | None]:
        """Lowest and highest number within the row, exact SI; None is open."""
        if self.value is None:
            raise TypeError(f"{self.key} carries no number")
        exact = exact_si(self.value, self.unit)
        match self.comparison:
            case Comparison.AT_LEAST:
                return (exact, False), None
            case Comparison.AT_MOST:
                return None, (exact, False)
            case Comparison.BELOW:
                return None, (exact, True)
            case Comparison.EQUALS_WITHIN:
                width = Fraction(self.tolerance or 0) * unit(self.unit).factor
                return (exact - width, False), (exact + width, False)
            case _:
                raise TypeError(f"{self.key} carries no number")


_Bound: TypeAlias = tuple[Fraction, bool]
"""An end of what a row lets through, and whether the end itself is shut out."""


def _turned(bound: _Bound | None) -> _Bound | None:
    return None if bound is None else (-bound[0], bound[1])


def _as_high(bound: _Bound | None, other: _Bound | None) -> bool:
    """True where the lower end `bound` shuts out at least what `other` shuts out."""
    return other is None or (bound is not None and bound >= other)


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The limits table with its version and the hash that judgements carry."""

    version: str
    sha256: str
    rows: Mapping[str, Limit]

    def of(self, quantity: str) -> tuple[Limit, ...]:
        """All rows that speak of this quantity."""
        return tuple(row for row in self.rows.values() if row.quantity == quantity)

    def strictest(self, quantity: str, effect: str, *, kind: str, sheet: Sheet | None = None) -> Limit | None:
        """The strictest numeric row of a quantity with this effect, for this kind of vehicle.

        The heater's sheet tightens a row first; a number on the sheet that would loosen it changes
        nothing. None where no numeric row applies. Raises ValueError where the rows bound different
        sides, which a shelf that was checked on reading never holds.
        """
        tightens = sheet.tightens if sheet is not None else {}
        rows = [
            _tightened_or_same(row, tightens.get(row.key), source=f"sheet {sheet.name}" if sheet else "")
            for row in self.of(quantity)
            if row.effect == effect and row.value is not None and row.speaks_to(kind)
        ]
        if not rows:
            return None
        if len(rows) == 1:
            return rows[0]
        for row in rows:
            if all(row.is_as_strict_as(other) for other in rows):
                return row
        raise ValueError(f"the limits of {quantity} with effect {effect} bound different sides")


def _tightened_or_same(row: Limit, value: Decimal | None, *, source: str) -> Limit:
    if value is None:
        return row
    try:
        return row.tightened(value, source=source)
    except Refusal:
        return row


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


# Classes that are no purchase.
EVERYBODY_HAS = frozenset({"eyes", "stopwatch"})


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueEntry:
    """One thing a technician can read, see, hear or smell.

    `states` is empty for a number. `bases` lists the ways it can be had ("dry", "wet"; "measured",
    "calculated"); empty where there is one way only. `classes` are the instrument classes that read it;
    `needs` are those of which one must be at hand although the eyes read it.
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
    needs: tuple[str, ...] = ()
    possible_low: Decimal | None = None
    possible_high: Decimal | None = None
    plausible_low: Decimal | None = None
    plausible_high: Decimal | None = None
    label: str = ""  # what a shop calls a reading of its own, and how it is taken; ours stand in texts
    how: str = ""

    def can_be_taken_with(self, kinds: Iterable[str]) -> bool:
        """Whether somebody who owns instruments of these classes, eyes and a watch can take it."""
        have = EVERYBODY_HAS.union(kinds)
        reads = not self.classes or not have.isdisjoint(self.classes)
        return reads and (not self.needs or not have.isdisjoint(self.needs))


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """The readings catalogue and the instrument classes, with the hash that judgements carry."""

    sha256: str
    entries: Mapping[str, CatalogueEntry]
    classes: Mapping[str, InstrumentClass]

    @property
    def own_words(self) -> Mapping[str, str]:
        """What a shop calls its own readings and how they are taken, by the key of the text."""
        return {
            f"{kind}.{entry.key}": words
            for entry in self.entries.values()
            for kind, words in (("reading", entry.label), ("reading_how", entry.how))
            if words
        }


class Feed(StrEnum):
    """How the fuel comes to the nozzle; it decides what altitude does."""

    METERING_PUMP = "metering pump"
    SIPHON = "siphon"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """From one service or renewal to the next, whichever comes first; None where the maker says nothing."""

    run_hours: float | None = None
    starts: float | None = None
    months: float | None = None

    def told(self) -> Mapping[str, float]:
        """What is said, by the name of its clock."""
        every = {"run_hours": self.run_hours, "starts": self.starts, "months": self.months}
        return {clock: value for clock, value in every.items() if value is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Rated values of a heater type, SI. `estimated` names fields filled by judgement, not by the maker.

    What no law scales is None where neither plate nor manual says it: the highest and the rated exhaust
    temperature, the fan's flow and speed, the igniter's resistance when cold, the jacket's gas-side surface.
    `tightens` maps a key of the limits table to the maker's stricter value, in that row's unit. `service` is
    how often the maker asks for a complete service, `renewals` for a new part, by the key of its type; no law
    scales either, so that what is not on the plate stays unsaid.
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
    stack_temperature_highest_k: float | None = None
    stack_temperature_rated_k: float | None = None
    fan_flow_m3_s: float | None = None
    fan_speed_hz: float | None = None
    igniter_cold_ohm: float | None = None
    jacket_area_m2: float | None = None
    fastening: str
    igniter_holder: str
    window: str
    inlet: str
    tightens: Mapping[str, Decimal]
    estimated: tuple[str, ...] = ()
    service: Interval = Interval()
    renewals: Mapping[str, Interval] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that can be wrong with a heater, its supply or its circuit, or a cause in how it is run.

    `shifts` moves parameters of the plant at full severity; a fault of `severity` s moves them by s times as
    much, and s may lie anywhere between the two ends. `shows` gives, for signs that no physics predicts, the
    chance of a state at full severity. `weight` is how often it is met, relative to the others. `after` are
    kinds of work that bring it about, which raises the weight `after_factor` times; with `wears` age does
    too, as it does every fault that no work brings about. `part` is what the repair
    renews ("" for none), `uses` what it uses up where it cleans that part instead, `parts_minutes` the price
    of either as minutes of work; `needs` are instrument classes without which nobody can do it; `opens` is
    the path that the repair opens. `ground` says why, and on what authority.
    """

    key: str
    system: str
    operating: bool  # a cause in how it is set up or run: nothing is broken
    weight: float
    ground: str
    severity: tuple[float, float]
    shifts: Mapping[str, float]
    shows: Mapping[str, Mapping[str, float]]
    proves: tuple[str, ...]  # readings that prove or clear it
    after: tuple[str, ...]
    after_factor: float
    wears: bool
    part: str
    uses: str
    needs: tuple[str, ...]
    minutes: float
    parts_minutes: float
    opens: str  # "", "fuel", "exhaust", "coolant", "electric"
    cautions: tuple[str, ...]
    swap: bool  # a known-good part can be tried in its place

    @property
    def takes(self) -> str:
        """What its repair uses up, which somebody must have with him; "" for nothing."""
        return self.uses or self.part


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """A run with something known to be good in the place of what is doubted.

    `resets` are the parameters of the plant that are healthy during the trial; `needs` what it is done with.
    """

    key: str
    resets: tuple[str, ...]
    ground: str
    minutes: float
    opens: str
    cautions: tuple[str, ...]
    needs: str
    states: tuple[str, str]  # better first


@dataclass(frozen=True, slots=True, kw_only=True)
class PartType:
    """One kind of part: which clock wears it, when it is renewed, and what is held of its life unseen.

    `clock` is "run_hours", "starts" or "months"; `life` is the median of the characteristic life in that
    clock's unit, `life_spread` the standard deviation of its logarithm; `shape` and `shape_spread` likewise
    of the Weibull shape. `renewed_by` is the kind of work that renews it ("" for none of the usual ones),
    `opens` the path that this opens, `minutes` how long it takes by itself and `minutes_when_open` how much
    longer another job takes that has opened the same. `price` has no currency: the shop's own. `renew_every`
    is the use after which it is renewed whatever its look, in its clock's unit, None where only its life and
    the year decide. `mass_kg` and `volume_m3` are what one takes of the van.
    """

    key: str
    clock: str
    annual: bool  # renewed once a year, worn or not
    renewed_by: str
    opens: str  # "", "fuel", "exhaust", "coolant", "electric"
    minutes: float
    minutes_when_open: float
    price: Decimal | None
    life: float
    life_spread: float
    shape: float
    shape_spread: float
    source: str
    stamped: bool  # may bear the date of its last renewal
    carried: bool  # a spare of it belongs on the van
    kept: bool  # a working one that is taken out becomes a spare
    supersedes: tuple[str, ...]
    readings: tuple[str, ...]  # catalogue keys that show its condition
    faults: tuple[str, ...]
    renew_every: float | None = None
    mass_kg: float = 0.0
    volume_m3: float = 0.0
    number: str = ""  # under which the shop orders it
    label: str = ""  # what a shop calls a part of its own; ours stand in texts
