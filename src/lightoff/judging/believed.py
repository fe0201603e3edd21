"""Which readings a gate may use: as numbers at all, and as evidence that a limit is met.

A reading that is *usable* has a finite number or a known state of this heater: it can count against the
heater. Only a *clean* one, without any doubt on it, can count for it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from lightoff.ground import units
from lightoff.ground.errors import Refusal
from lightoff.ground.values import dataclass
from lightoff.terms.case import Case
from lightoff.terms.people import Instrument
from lightoff.terms.shelf import Accuracy, Catalogue, CatalogueEntry
from lightoff.terms.visit import BY_PHOTOGRAPH, GROUPED, SMOKE_BY_PHOTOGRAPH, Reading, Slot, Stage, Visit

# What a gate of the verdict reads; everything else may be set aside without harm.
FLUE = ("flue_o2", "flue_co2", "flue_co")
# The numbers of the two sets of flue readings.
SETS = (1, 2)
LIVING_SPACE = ("living_space_co_running", "living_space_co_off", "outdoor_co")
FRESH_AIR = ("fresh_air_o2_before", "fresh_air_co_before", "fresh_air_o2_after", "fresh_air_co_after")
SEEN = (
    "smoke_spot_look",
    "sampling_line",
    "probe_zero",
    "exhaust_path",
    "inlet_path",
    "fuel_joints_1_min",
    "fuel_joints_10_min",
    "light_off",
    "after_run",
)
GATING = frozenset(
    (
        *FLUE,
        *LIVING_SPACE,
        *FRESH_AIR,
        *SEEN,
        "smoke_number",
        "co_response",
        "trials_without_flame",
        "chamber_look",
    )
)
# A meter at its top says "at least this": for these an upper limit is then crossed.
CROSSED_AT_TOP = frozenset(("flue_co", "living_space_co_running", "living_space_co_off", "smoke_number"))
# A visit that is begun on paper may be entered later; readings half a day older belong to another visit.
# Basis: common practice, no source.
BEFORE_THE_VISIT = timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A usable reading: exact SI number or state, class uncertainty, and every doubt on it."""

    reading: Reading
    entry: CatalogueEntry
    x: Fraction | None
    width: Fraction | None
    at_top: bool
    doubts: tuple[str, ...]

    @property
    def clean(self) -> bool:
        """Whether it may count for the heater."""
        return not self.doubts

    @property
    def number(self) -> Fraction:
        """The exact SI number. Raises TypeError for a state, which no gate asks for a number."""
        if self.x is None:
            raise TypeError(f"{self.reading.key} is a state, not a number")
        return self.x

    @property
    def u(self) -> Fraction:
        """Expanded uncertainty of the instrument's class; zero where none is needed."""
        return self.width if self.width is not None else Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Believed:
    """The readings of one visit, sorted for its gates.

    `foreign` belong to another heater, `junk` gating ones are no numbers or states at all; `test` is the
    name of the one test that can give fit: the as-left test read last.
    """

    case: Case
    catalogue: Catalogue
    judged: tuple[Judged, ...]
    foreign: tuple[Reading, ...]
    junk: tuple[Reading, ...]
    conflicts: frozenset[Slot]
    test: str | None

    def clean(self, key: str) -> tuple[Judged, ...]:
        """Clean readings of a gating `key` in the test."""
        return tuple(each for each in self.in_test() if each.reading.key == key and each.clean)

    def in_test(self) -> tuple[Judged, ...]:
        """Every gating reading of the test, clean or not."""
        return tuple(
            each
            for each in self.judged
            if each.reading.stage is Stage.AS_LEFT
            and self.test is not None
            and each.reading.test == self.test
            and each.reading.key in GATING
        )


def believe(case: Case, catalogue: Catalogue, now: datetime) -> Believed:
    """Sort the readings of a visit: usable, doubted, foreign, junk, in conflict; and find the test."""
    foreign = tuple(each for each in case.visit.readings if each.heater != case.visit.heater)
    judged: list[Judged] = []
    junk: list[Reading] = []
    for reading in case.visit.readings:
        if reading.heater != case.visit.heater or reading.not_had:
            continue
        try:
            one = _judged(reading, case, catalogue, now)
        except (ArithmeticError, AttributeError, Refusal, TypeError, ValueError):
            one = None  # a value of a kind that no number or state has
        if one is not None:
            judged.append(one)
        elif reading.key in GATING or reading.key not in catalogue.entries:
            junk.append(reading)
    return Believed(
        case=case,
        catalogue=catalogue,
        judged=tuple(judged),
        foreign=foreign,
        junk=tuple(junk),
        conflicts=_conflicts(judged),
        test=_test(judged),
    )


@lru_cache(maxsize=4096)
def exact_width(value: Decimal, unit: str) -> Fraction:
    """Exact SI size of a difference."""
    return Fraction(value) * units.unit(unit).factor


@lru_cache(maxsize=4096)
def class_width(accuracy: Accuracy, value: Decimal, unit: str) -> Fraction:
    """Expanded uncertainty of the class at this reading, SI; relative temperatures are of degC."""
    absolute = exact_width(accuracy.absolute, accuracy.unit)
    x = units.exact_si(value, unit)
    size = abs(x - Fraction("273.15")) if units.unit(unit).dimension == "temperature" else abs(x)
    return max(absolute, Fraction(accuracy.relative) * size)


def accuracy_of(instrument: Instrument, key: str, catalogue: Catalogue) -> Accuracy | None:
    """How well an instrument's class reads `key`; None if it does not."""
    kind = catalogue.classes.get(instrument.kind)
    return kind.accuracies.get(key) if kind else None


def _judged(reading: Reading, case: Case, catalogue: Catalogue, now: datetime) -> Judged | None:
    entry = catalogue.entries.get(reading.key)
    if entry is None:
        return None
    doubts = list(_doubts_of_time(reading, case, now))
    if reading.basis == GROUPED:
        doubts.append("grouped")
    if reading.basis == BY_PHOTOGRAPH:
        doubts.append("by_photograph")
    if entry.states:
        if reading.state not in entry.states:
            return None
        return Judged(reading=reading, entry=entry, x=None, width=None, at_top=False, doubts=tuple(doubts))
    x = _number(reading, entry)
    if x is None:
        return None
    instrument, accuracy = _instrument(reading, entry, case.instruments, catalogue)
    width = None
    at_top = reading.at_top
    if needs_instrument(entry):
        if instrument is None or accuracy is None:
            doubts.append("no_instrument")
        else:
            # A number that was shown as "----" has no width of its own but the least of its class.
            width = exact_width(accuracy.absolute, accuracy.unit)
            if reading.value is not None:
                width = class_width(accuracy, reading.value, reading.unit)
            if instrument.retired:
                doubts.append("no_instrument")
            try:
                low, high = span(instrument, accuracy)
            except Refusal:  # a range in a unit that is none: the meter is doubted, the number still warns
                doubts.append("no_instrument")
            else:
                if reading.value is not None and x < low:
                    return None
                at_top = at_top or x >= high
            if _typed_is_wider(reading, width):
                doubts.append("typed_uncertainty")
    if width is not None and reading.basis == BY_PHOTOGRAPH and reading.key == "smoke_number":
        width = max(width, exact_width(SMOKE_BY_PHOTOGRAPH, "smoke no."))
    if at_top:
        doubts.append("at_top")
    if entry.bases and reading.basis not in entry.bases:
        doubts.append("no_basis")
    return Judged(reading=reading, entry=entry, x=x, width=width, at_top=at_top, doubts=tuple(doubts))


def needs_instrument(entry: CatalogueEntry) -> bool:
    """Whether the number comes from a meter, and not from counting or looking."""
    return bool(entry.classes) and not {"eyes", "stopwatch"} & set(entry.classes)


def span(instrument: Instrument, accuracy: Accuracy) -> tuple[Fraction, Fraction]:
    """The range of an instrument for one quantity: its class's, narrowed by its own sheet."""
    low, high = units.exact_si(accuracy.low, accuracy.unit), units.exact_si(accuracy.high, accuracy.unit)
    for own in instrument.spans:
        if own.key == accuracy.key:
            low = max(low, units.exact_si(own.low, own.unit))
            high = min(high, units.exact_si(own.high, own.unit))
    return low, high


def _number(reading: Reading, entry: CatalogueEntry) -> Fraction | None:
    """The exact number, or None if there is none that a gate could use; "----" counts as zero or more."""
    if reading.value is None:
        return Fraction(0) if reading.at_top else None
    if isinstance(reading.value, bool) or not reading.value.is_finite():
        return None
    if reading.unit not in units.units_of(entry.dimension):
        return None
    x = units.exact_si(reading.value, reading.unit)
    if entry.possible_low is not None and x < units.exact_si(entry.possible_low, entry.unit):
        return None
    too_high = entry.possible_high is not None and x > units.exact_si(entry.possible_high, entry.unit)
    # More CO must never count as less evidence: beyond what is possible it still crosses its limit.
    if too_high and reading.key not in CROSSED_AT_TOP:
        return None
    return x


def _instrument(
    reading: Reading, entry: CatalogueEntry, instruments: Mapping[str, Instrument], catalogue: Catalogue
) -> tuple[Instrument | None, Accuracy | None]:
    instrument = instruments.get(reading.instrument or "")
    if instrument is None or instrument.kind not in entry.classes:
        return None, None
    return instrument, accuracy_of(instrument, reading.key, catalogue)


def ahead_count(visit: Visit, now: datetime) -> int:
    """How many readings bear a time that is still to come: all that a judgement takes from `now`.

    While it stays, and all else does, a judgement made before is the judgement of this moment.
    """
    return sum(_is_ahead(each, now) for each in visit.readings)


def _is_ahead(reading: Reading, now: datetime) -> bool:
    return reading.taken_at is not None and reading.taken_at > now


def _doubts_of_time(reading: Reading, case: Case, now: datetime) -> Iterable[str]:
    visit = case.visit
    if (
        reading.taken_at is None
        or _is_ahead(reading, now)
        or reading.taken_at < visit.started_at - BEFORE_THE_VISIT
    ):
        yield "no_time"
    late = (
        visit.closed_at is not None
        and reading.entered_at is not None
        and reading.entered_at > visit.closed_at
    )
    if late and reading.accepted_by is None:
        yield "late"


def _typed_is_wider(reading: Reading, width: Fraction) -> bool:
    typed = reading.typed_uncertainty
    if typed is None:
        return False
    return not typed.is_finite() or typed < 0 or exact_width(typed, reading.unit) > width


def content(one: Judged) -> tuple[object, ...]:
    """What a reading says; two that say different things in one slot are a conflict."""
    reading = one.reading
    return (one.x, reading.value is None, reading.state, reading.basis, one.at_top, reading.instrument)


def _conflicts(judged: Iterable[Judged]) -> frozenset[Slot]:
    contents: dict[Slot, set[tuple[object, ...]]] = defaultdict(set)
    for one in judged:
        if one.reading.key in GATING:
            contents[one.reading.slot].add(content(one))
    return frozenset(place for place, found in contents.items() if len(found) > 1)


def _test(judged: Iterable[Judged]) -> str | None:
    """The as-left test that was read last; its name breaks a tie so that order of entry does not."""
    last: dict[str, datetime] = {}
    for one in judged:
        reading = one.reading
        if "no_time" in one.doubts:  # a time that cannot be must not make an old test the latest
            continue
        if reading.stage is Stage.AS_LEFT and reading.test and reading.taken_at and reading.key in GATING:
            last[reading.test] = max(last.get(reading.test, reading.taken_at), reading.taken_at)
    return max(last, key=lambda name: (last[name], name)) if last else None


def same_day(visit: Visit, one: datetime | None, other: datetime | None) -> bool:
    """Whether both times lie on one day where the visit was."""
    if one is None or other is None:
        return False
    return visit.day_of(one) == visit.day_of(other)
