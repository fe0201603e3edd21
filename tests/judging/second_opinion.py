"""A second, independent reading of the verdict's rules, for comparison only.

Plain and slow on purpose: readings become sightings, sightings become a flat list of facts, each fact
speaks for one gate, and the worst fact of a gate is its judgement. A gate without a fact is not proven.
It shares with the first implementation the limits table, the catalogue and the nouns, nothing else: not
even the units, of which the few that gates read are written here once more, as exact fractions.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import product
from typing import Any

from lightoff.terms.case import Case
from lightoff.terms.shelf import Catalogue, Limit, Limits, Sheet
from lightoff.terms.visit import EventKind, Reading, Stage, Visit

WITHIN, UNPROVEN, OUTSIDE, STOP = 0, 1, 2, 3
JUDGEMENT = {WITHIN: "within limits", UNPROVEN: "not proven", OUTSIDE: "outside limits", STOP: "stop"}
VERDICT = {WITHIN: "fit as tested", UNPROVEN: "not proven", OUTSIDE: "not fit", STOP: "stop"}
STOPS_IN_ORDER = ("leave the vehicle", "do not fire", "do not energise", "do not drink")

GATES = (
    "flue O2", "flue CO", "CO2 agrees", "smoke", "smoke spot", "living-space CO", "response check",
    "two sets", "steady", "one test", "fresh air", "zero", "sampling line", "calibration", "exhaust path",
    "inlet", "fuel joints", "light-off", "after-run", "trials", "belongs here", "conflict",
)  # fmt: skip

GAS_SET = ("flue_o2", "flue_co", "flue_co2")
INDOORS = ("living_space_co_running", "living_space_co_off")
FRESH = ("fresh_air_o2_before", "fresh_air_co_before", "fresh_air_o2_after", "fresh_air_co_after")
CARBON_MONOXIDE = {
    "flue_co", *INDOORS, "outdoor_co", "co_response", "fresh_air_co_before", "fresh_air_co_after",
}  # fmt: skip
MAY_NOT_READ_ZERO_UNASKED = {"flue_co", *INDOORS, "outdoor_co"}
HAS_UPPER_LIMIT = {"flue_co", *INDOORS, "smoke_number"}
READ_BY_METER = {*GAS_SET, "smoke_number", *INDOORS, "outdoor_co", *FRESH, "co_response"}
READ_BY_EYE = {
    "smoke_spot_look", "sampling_line", "probe_zero", "chamber_look", "exhaust_path", "inlet_path",
    "fuel_joints_1_min", "fuel_joints_10_min", "light_off", "after_run",
}  # fmt: skip
USED_BY_A_GATE = READ_BY_METER | READ_BY_EYE | {"trials_without_flame"}
NEEDS_THE_FLAME = {*GAS_SET, "smoke_number", "smoke_spot_look", "living_space_co_running"}

# Written again, independently of the ground floor: unit -> (kind, size in the base of that kind).
SIZES = {
    "%": ("gas", Fraction(1, 100)),
    "ppm": ("gas", Fraction(1, 10**6)),
    "mg/m3 CO": ("gas", Fraction(4, 5) / 10**6),  # 1 ppm = 1.25 mg/m3 at 0 degC and 101.325 kPa
    "smoke no.": ("smoke", Fraction(1)),
    "count": ("count", Fraction(1)),
    "s": ("time", Fraction(1)),
    "min": ("time", Fraction(60)),
    "h": ("time", Fraction(3600)),
    "d": ("time", Fraction(86400)),
}


@dataclass(frozen=True)
class Sighting:
    """A reading after a first look. `number` is exact; `doubts` say why it may only count against."""

    reading: Reading
    number: Fraction | None
    at_top: bool
    width: Fraction
    taken_at: datetime | None
    doubts: tuple[str, ...]
    misplaced: bool  # late, or at no believable time
    junk: bool

    @property
    def sound(self) -> bool:
        return not self.doubts and not self.junk and not self.at_top

    @property
    def slot(self) -> tuple[object, ...]:
        r = self.reading
        meter = r.instrument if r.key == "co_response" else None
        return (r.key, r.stage, r.test, r.set_number, meter)

    @property
    def content(self) -> tuple[object, ...]:
        r = self.reading
        number = (str(r.value), r.unit) if self.number is None else self.number
        return (number, r.state, r.basis, r.at_top, r.instrument)


@dataclass(frozen=True)
class Fact:
    gate: str
    worth: int
    stops: str = ""


Slot = Sequence[Sighting]  # what was seen in one slot; more than one is a conflict


def second_verdict(
    case: Case,
    *,
    limits: Limits,
    catalogue: Catalogue,
    sheet: Sheet,
    co2_largest_fraction: float,
    now: datetime,
) -> tuple[str, dict[str, str], tuple[str, ...]]:
    """Verdict, judgement of every gate, and what is stopped in the fixed order."""
    bench = Bench(case, limits, catalogue, sheet, co2_largest_fraction, now)
    facts: list[Fact] = []
    for gate, witness in WITNESSES:
        try:
            told = []
            for fact in witness(bench):
                told.append(fact)  # noqa: PERF402 - what was told before a crash still counts
        except Exception:  # noqa: BLE001 - an unknown in one witness is not proven and silences no other
            told.append(Fact(gate, UNPROVEN))
        facts += told or [Fact(gate, UNPROVEN)]
    worst = {gate: max((f.worth for f in facts if f.gate == gate), default=UNPROVEN) for gate in GATES}
    named = {f.stops for f in facts if f.worth == STOP}
    stops = tuple(each for each in STOPS_IN_ORDER if each in named)
    return VERDICT[max(worst.values())], {gate: JUDGEMENT[w] for gate, w in worst.items()}, stops


# --- A first look at each reading -----------------------------------------------------------------


def size_of(key: str, unit: str) -> Fraction:
    kind, size = SIZES[unit]
    wanted = {"smoke_number": "smoke", "trials_without_flame": "count"}.get(key, "gas")
    if kind != wanted or (unit == "mg/m3 CO" and key not in CARBON_MONOXIDE):
        raise ValueError(unit)
    return size


def is_decimal(value: object) -> bool:
    return isinstance(value, Decimal) and value.is_finite()


class Bench:
    """All sightings of this visit laid out, and the rows of the table that apply to it."""

    def __init__(
        self,
        case: Case,
        limits: Limits,
        catalogue: Catalogue,
        sheet: Sheet,
        co2_largest: float,
        now: datetime,
    ) -> None:
        self.case, self.limits, self.catalogue, self.sheet = case, limits, catalogue, sheet
        self.co2_largest, self.now = co2_largest, now
        self.visit = case.visit
        mine = [r for r in self.visit.readings if r.heater == self.visit.heater]
        self.foreign = len(mine) != len(self.visit.readings) or case.heater.id != self.visit.heater
        self.seen = [self.look_at(r) for r in mine if r.key in USED_BY_A_GATE]
        self.good = [s for s in self.seen if not s.junk]
        self.the_test = self.latest_test()
        self.events = [e for e in self.visit.events if e.heater == self.visit.heater]

    def look_at(self, r: Reading) -> Sighting:
        taken_at = self.placed(r)
        late = self.late(r)
        doubts = [*(["late"] if late else []), *(["no believable time"] if taken_at is None else [])]
        misplaced = bool(doubts)
        if r.basis == "grouped":
            doubts.append("a grouped answer")
        if r.basis == "by photograph":
            doubts.append("off a picture")
        entry = self.catalogue.entries[r.key]
        if r.key in READ_BY_EYE:
            known = r.state is not None and r.state in entry.states
            return Sighting(r, None, False, Fraction(0), taken_at, tuple(doubts), misplaced, not known)
        number, top, junk = self.number_of(r)
        width = Fraction(0)
        if r.key in READ_BY_METER:
            no_meter = self.doubts_of_meter(r)
            doubts += no_meter
            known = self.accuracy_of(r) is not None  # without a class the bare number counts, for the worse
            width = self.width_of(r, number) if known else Fraction(0)
            if entry.bases and r.basis not in entry.bases:
                doubts.append("no known basis")
            try:
                span = self.span_of(r)
            except (KeyError, ValueError):
                span = None
                doubts.append("a meter of unknown range")
            if number is not None and span is not None:
                top = top or number >= span[1]
                if number < span[0]:
                    doubts.append("below the range of the meter")
            doubts += self.doubts_of_typed_width(r, width)
        return Sighting(r, number, top, width, taken_at, tuple(doubts), misplaced, junk)

    def late(self, r: Reading) -> bool:
        closed_at, entered_at = self.visit.closed_at, r.entered_at
        if closed_at is None or entered_at is None:
            return False
        return (entered_at.tzinfo is None or entered_at > closed_at) and not r.accepted_by

    def placed(self, r: Reading) -> datetime | None:
        at = r.taken_at
        if at is None or at.tzinfo is None:
            return None
        return at if self.visit.started_at - timedelta(hours=12) <= at <= self.now else None

    def number_of(self, r: Reading) -> tuple[Fraction | None, bool, bool]:
        """The exact number, whether it is at or over the top, whether it is junk."""
        if r.value is None:
            return None, r.at_top, not r.at_top
        if not is_decimal(r.value):
            return None, False, True
        try:
            number = Fraction(r.value) * size_of(r.key, r.unit)
        except (KeyError, ValueError):
            return None, False, True
        entry = self.catalogue.entries[r.key]
        size = SIZES[entry.unit][1]
        if number < 0 or (entry.possible_low is not None and number < Fraction(entry.possible_low) * size):
            return None, False, True
        if entry.possible_high is not None and number > Fraction(entry.possible_high) * size:
            # More CO or smoke than there can be is still no better than the top of the range.
            return (number, True, False) if r.key in HAS_UPPER_LIMIT else (None, False, True)
        return number, r.at_top, False

    def accuracy_of(self, r: Reading) -> Any:
        meter = self.case.instruments.get(r.instrument or "")
        kind = self.catalogue.classes.get(meter.kind) if meter else None
        return kind.accuracies.get(r.key) if kind else None

    def doubts_of_meter(self, r: Reading) -> list[str]:
        meter = self.case.instruments.get(r.instrument or "")
        if meter is None:
            return ["no known meter"]
        doubts = ["retired meter"] if meter.retired else []
        if meter.kind not in self.catalogue.entries[r.key].classes or self.accuracy_of(r) is None:
            doubts.append("a meter that does not read this")
        return doubts

    def width_of(self, r: Reading, number: Fraction | None) -> Fraction:
        """U of the class of the meter."""
        a = self.accuracy_of(r)
        whole_step = Fraction(r.key == "smoke_number" and r.basis == "by photograph")
        return max(
            Fraction(a.absolute) * size_of(r.key, a.unit), Fraction(a.relative) * (number or 0), whole_step
        )

    def span_of(self, r: Reading) -> tuple[Fraction, Fraction] | None:
        a = self.accuracy_of(r)
        if a is None:
            return None
        size = size_of(r.key, a.unit)
        low, high = Fraction(a.low) * size, Fraction(a.high) * size
        for span in self.case.instruments[r.instrument or ""].spans:
            if span.key == r.key:
                size = size_of(r.key, span.unit)
                low, high = max(low, Fraction(span.low) * size), min(high, Fraction(span.high) * size)
        return low, high

    def doubts_of_typed_width(self, r: Reading, width: Fraction) -> list[str]:
        if r.typed_uncertainty is None:
            return []
        try:
            believable = is_decimal(r.typed_uncertainty) and r.typed_uncertainty >= 0
            believable = believable and Fraction(r.typed_uncertainty) * size_of(r.key, r.unit) <= width
        except (KeyError, ValueError):
            believable = False
        return [] if believable else ["typed uncertainty"]

    # --- Which test, which slots ------------------------------------------------------------------

    def latest_test(self) -> str | None:
        last: dict[str, datetime] = {}
        for s in self.good:
            test = s.reading.test
            if s.reading.stage == Stage.AS_LEFT and test and s.taken_at is not None:
                last[test] = max(last.get(test, s.taken_at), s.taken_at)
        return max(last, key=lambda test: (last[test], test)) if last else None

    def in_the_test(self, s: Sighting) -> bool:
        left = s.reading.stage == Stage.AS_LEFT
        return left and self.the_test is not None and s.reading.test == self.the_test

    def test_sightings(self, *keys: str) -> list[Sighting]:
        return [s for s in self.good if self.in_the_test(s) and (not keys or s.reading.key in keys)]

    def slots(self, key: str, keep: Callable[[Sighting], bool]) -> list[list[Sighting]]:
        """Different contents of each slot of this key; the same thing said twice counts once."""
        gathered: dict[object, dict[object, Sighting]] = {}
        for s in self.good:
            if s.reading.key == key and keep(s):
                said = gathered.setdefault(s.slot, {})
                if s.content not in said or said[s.content].sound:
                    said[s.content] = s  # of two that say the same, the doubtful one is kept
        return [list(contents.values()) for contents in gathered.values()]

    def slots_of_test(self, key: str) -> list[list[Sighting]]:
        return self.slots(key, self.in_the_test)

    def elsewhere(
        self,
        key: str,
        replaced: "Callable[[str, bool], bool]",
        tell: "Callable[[list[Sighting]], Iterable[Fact]]",
    ) -> "Iterator[Fact]":
        """Facts of what stands outside the test and still counts: nothing believable has taken its place.

        What was seen as left, and not before the test saw this key itself, counts for the worse in any case.
        """
        beside = self.slots(key, lambda s: s.reading.stage == Stage.AS_LEFT and not self.in_the_test(s))
        past = replaced(key, True)
        seen = [s.taken_at for s in self.test_sightings(key) if s.sound and s.taken_at is not None]
        for slot in beside:
            told = list(tell(slot))
            over = past and all(s.taken_at is not None and s.taken_at < max(seen) for s in slot)
            yield from () if over else [f for f in told if f.worth > UNPROVEN] if past else told
        if not replaced(key, False):
            for slot in self.slots(key, lambda s: s.reading.stage != Stage.AS_LEFT):
                yield from tell(slot)

    def believed(self, key: str, only_the_test: bool) -> bool:
        """A sound, undisputed as-left reading of this key is there."""
        slots = self.slots(key, lambda s: s.reading.stage == Stage.AS_LEFT)
        return any(
            len(slot) == 1 and slot[0].sound and (self.in_the_test(slot[0]) or not only_the_test)
            for slot in slots
        )

    def the_one(self, key: str, set_number: int | None = None) -> Sighting | None:
        """The undisputed sound sighting of a key in the test (and set), or None."""
        slots = [
            slot
            for slot in self.slots_of_test(key)
            if set_number is None or slot[0].reading.set_number == set_number
        ]
        one = slots[0][0] if len(slots) == 1 and len(slots[0]) == 1 else None
        return one if one and one.sound else None

    # --- The table --------------------------------------------------------------------------------

    def rows(self, quantity: str) -> list[Limit]:
        kind = str(self.case.vehicle.kind)
        rows = [
            row
            for row in self.limits.rows.values()
            if row.quantity == quantity and (not row.kinds or kind in [str(k) for k in row.kinds])
        ]
        return [self.tightened(row) for row in rows]

    def tightened(self, row: Limit) -> Limit:
        typed = self.sheet.tightens.get(row.key)
        if not is_decimal(typed) or row.value is None:
            return row
        if row.comparison in ("at most", "below") and typed < row.value:
            return replace(row, value=typed)
        if row.comparison == "at least" and typed > row.value:
            return replace(row, value=typed)
        return row

    def seconds(self, key: str) -> timedelta:
        row = self.tightened(self.limits.rows[key])
        assert row.value is not None
        whole = Fraction(row.value) * SIZES[row.unit][1]
        return timedelta(microseconds=float(whole * 10**6))

    def air_o2(self) -> Fraction:
        row = self.limits.rows["air_o2"]
        assert row.value is not None
        return Fraction(row.value) * SIZES[row.unit][1]


def amount(row: Limit) -> Fraction:
    assert row.value is not None
    return Fraction(row.value) * SIZES[row.unit][1]


# --- Exact comparisons ----------------------------------------------------------------------------


def width_fits(square: Fraction, room: Fraction, *, touching: bool) -> bool:
    """Is the width, given by its square, below `room` (or equal to it, if touching counts)?"""
    if touching:
        return room >= 0 and square <= room * room
    return room > 0 and square < room * room


def stands(x: Fraction, square: Fraction, row: Limit) -> int:
    """Within, outside or neither, of one number with the square of its width against one row."""
    limit = amount(row)
    if row.comparison == "at most":
        inside, beyond = (
            width_fits(square, limit - x, touching=True),
            width_fits(square, x - limit, touching=False),
        )
    elif row.comparison == "below":
        inside, beyond = (
            width_fits(square, limit - x, touching=False),
            width_fits(square, x - limit, touching=True),
        )
    elif row.comparison == "at least":
        inside, beyond = (
            width_fits(square, x - limit, touching=True),
            width_fits(square, limit - x, touching=False),
        )
    else:
        raise ValueError(row.comparison)
    return WITHIN if inside else OUTSIDE if beyond else UNPROVEN


def against(row: Limit, x: Fraction, square: Fraction) -> int:
    """What one number is worth against one row; a stop compares the bare number."""
    if row.effect == "stop":
        return WITHIN if stands(x, Fraction(0), row) == WITHIN else STOP
    worth = stands(x, square, row)
    return min(worth, UNPROVEN) if row.effect == "not proven" else worth


def settle(gate: str, outcomes: Sequence[tuple[int, str]], *, doubted: bool) -> Fact:
    """One fact from all candidates of a slot: disputed or doubted it counts only where all are bad."""
    worth, stops = min(outcomes)
    if len(outcomes) > 1 or doubted:
        worth = max(worth, UNPROVEN)
    return Fact(gate, worth, stops if worth == STOP else "")


def worst(pairs: Iterable[tuple[int, str]]) -> tuple[int, str]:
    return max(pairs)


# --- Witnesses: each speaks for its gates ---------------------------------------------------------


def flue_o2(b: Bench) -> Iterator[Fact]:
    def outcome(s: Sighting) -> tuple[int, str]:
        if s.reading.basis != "dry" or s.at_top or s.number is None:
            return UNPROVEN, ""
        return worst((against(row, s.number, s.width**2), row.stops) for row in b.rows("flue_o2"))

    def replaced(key: str, only_the_test: bool) -> bool:
        slots = b.slots(
            key, lambda s: b.in_the_test(s) or (not only_the_test and s.reading.stage == Stage.AS_LEFT)
        )
        return any(len(slot) == 1 and slot[0].sound and slot[0].reading.basis == "dry" for slot in slots)

    needed = {"flue_o2_floor", "flue_o2_ceiling"} <= {row.key for row in b.rows("flue_o2")}
    had = any(s.sound and s.reading.basis == "dry" for s in b.test_sightings("flue_o2"))
    yield Fact("flue O2", WITHIN if needed and had else UNPROVEN)
    for slot in b.slots_of_test("flue_o2"):
        yield settle("flue O2", [outcome(s) for s in slot], doubted=not all(s.sound for s in slot))
    yield from b.elsewhere(
        "flue_o2", replaced, lambda slot: [settle("flue O2", [outcome(s) for s in slot], doubted=True)]
    )


def dry_o2(s: Sighting | None) -> Fraction | None:
    if s is None or s.at_top or s.reading.basis != "dry":
        return None
    return s.number


def air_free(b: Bench, co: Sighting, o2: Sighting | None) -> tuple[int, str]:
    """One CO with one O2 (or none): the worst over the rows of CO air-free."""
    air = b.air_o2()
    ceiling = amount(b.limits.rows["air_free_o2"])
    share = dry_o2(o2)
    outcomes = [(OUTSIDE, "")] if co.at_top else []
    c = co.number
    for row in b.rows("co_air_free"):
        if c is None:
            outcomes.append((UNPROVEN, ""))
        elif row.effect == "stop":
            x = c * air / (air - share) if share is not None and share <= ceiling else c
            outcomes.append((against(row, x, Fraction(0)), row.stops))
        else:
            outcomes.append((lower_bound(row, c, co), ""))  # undiluted there is at least as much
            if share is not None and o2 is not None and share < air:
                times = air / (air - share)
                square = (times * co.width) ** 2 + (c * air / (air - share) ** 2 * o2.width) ** 2
                worth = against(row, c * times, square)
                outcomes.append((max(worth, UNPROVEN) if share > ceiling else worth, ""))
            else:
                outcomes.append((UNPROVEN, ""))
    return worst(outcomes)


def lower_bound(row: Limit, c: Fraction, co: Sighting) -> int:
    return OUTSIDE if against(row, c, co.width**2) == OUTSIDE else WITHIN


def believable_sample(b: Bench, o2: Sighting) -> bool:
    """Dry, and so little diluted that it may take the place of a danger seen before."""
    number = dry_o2(o2)
    return number is not None and number <= amount(b.limits.rows["air_free_o2"])


def flue_co(b: Bench) -> Iterator[Fact]:
    effects = {row.effect for row in b.rows("co_air_free")}
    yield Fact("flue CO", WITHIN if {"stop", "not fit"} <= effects else UNPROVEN)

    def same_set(key: str, co: Sighting) -> list[Sighting]:
        r = co.reading
        same = [
            slot
            for slot in b.slots(key, lambda s: s.reading.stage == r.stage)
            if (slot[0].reading.test, slot[0].reading.set_number) == (r.test, r.set_number)
        ]
        return same[0] if same else []

    def told(slot: Slot, *, doubted: bool) -> Fact:
        o2 = same_set("flue_o2", slot[0])
        pairs = list(product(slot, o2 or [None]))
        doubted = doubted or not o2 or not all(s.sound for s in [*slot, *o2])
        return settle("flue CO", [air_free(b, c, o) for c, o in pairs], doubted=doubted)

    def pair_believed(only_the_test: bool) -> bool:
        for slot in b.slots("flue_co", lambda s: s.reading.stage == Stage.AS_LEFT):
            o2 = same_set("flue_o2", slot[0])
            one_each = len(slot) == 1 and len(o2) == 1 and slot[0].sound and o2[0].sound
            here = b.in_the_test(slot[0]) or not only_the_test
            co2 = same_set("flue_co2", slot[0])
            if one_each and here and len(co2) < 2 and believable_sample(b, o2[0]):
                return True
        return False

    had = any(b.the_one("flue_co", n) and b.the_one("flue_o2", n) for n in (1, 2))
    yield Fact("flue CO", WITHIN if had else UNPROVEN)
    for slot in b.slots_of_test("flue_co"):
        if len(same_set("flue_co2", slot[0])) > 1:
            yield Fact("flue CO", UNPROVEN)
    for slot in b.slots_of_test("flue_co"):
        yield told(slot, doubted=False)
    yield from b.elsewhere(
        "flue_co",
        lambda _, only_the_test: pair_believed(only_the_test),
        lambda slot: [told(slot, doubted=True)],
    )


def co2_agrees(b: Bench) -> Iterator[Fact]:
    air, largest = b.air_o2(), Fraction(b.co2_largest)
    if not 0 < largest < 1:
        yield Fact("CO2 agrees", UNPROVEN)
    for co2 in b.test_sightings("flue_co2"):
        if not co2.sound or co2.number is None:
            continue
        mates = [s for s in b.test_sightings("flue_o2") if s.reading.set_number == co2.reading.set_number]
        shares = [
            (s.number, s.width)
            for s in mates
            if s.sound and s.reading.basis == "dry" and s.number is not None
        ]
        if co2.reading.basis == "calculated":
            yield Fact("CO2 agrees", WITHIN if fresh_air_good(b, "before") else UNPROVEN)
        elif co2.reading.basis == "measured" and shares:
            share, width = max(shares)  # disputed ones are the business of another gate
            gap = abs(co2.number - largest * (1 - share / air))
            yield Fact("CO2 agrees", WITHIN if gap <= co2.width + width * largest / air else UNPROVEN)
        else:
            yield Fact("CO2 agrees", UNPROVEN)


def fresh_air_good(b: Bench, when: str) -> bool:
    """Bare fresh air within the row, by the probe of the flue readings, on the right side of them."""
    flue = b.test_sightings(*GAS_SET)
    times = [s.reading.taken_at for s in flue if s.reading.taken_at is not None]
    if not flue or len(times) < len(flue):
        return False
    probes = {s.reading.instrument for s in flue}
    for gas in ("o2", "co"):
        rows, checks = b.rows(f"fresh_air_{gas}"), b.test_sightings(f"fresh_air_{gas}_{when}")
        checks = [s for s in checks if s.sound]
        if not rows or not checks:
            return False
        for s in checks:
            if s.number is None or s.taken_at is None or {s.reading.instrument} != probes:
                return False
            if not (s.taken_at < min(times) if when == "before" else s.taken_at > max(times)):
                return False
            if not all(fresh(row, s.number) for row in rows):
                return False
    return True


def fresh(row: Limit, x: Fraction) -> bool:
    if row.comparison == "equals within":
        assert row.tolerance is not None
        return abs(x - amount(row)) <= Fraction(row.tolerance) * SIZES[row.unit][1]
    return stands(x, Fraction(0), row) == WITHIN


def fresh_air(b: Bench) -> Iterator[Fact]:
    yield Fact("fresh air", WITHIN if fresh_air_good(b, "after") else UNPROVEN)


def smoke(b: Bench) -> Iterator[Fact]:
    def outcome(s: Sighting) -> tuple[int, str]:
        told = [(OUTSIDE, "")] if s.at_top else []
        if s.number is None:
            return worst([*told, (UNPROVEN, "")])
        return worst(
            [*told, *((against(row, s.number, s.width**2), row.stops) for row in b.rows("smoke_number"))]
        )

    enough = any(row.effect == "not fit" for row in b.rows("smoke_number"))
    yield Fact("smoke", WITHIN if enough and b.the_one("smoke_number") else UNPROVEN)
    for slot in b.slots_of_test("smoke_number"):
        yield settle("smoke", [outcome(s) for s in slot], doubted=not all(s.sound for s in slot))
    yield from b.elsewhere(
        "smoke_number", b.believed, lambda slot: [settle("smoke", [outcome(s) for s in slot], doubted=True)]
    )


def living_space(b: Bench) -> Iterator[Fact]:
    effects = {row.effect for row in b.rows("living_space_co_rise")}
    yield Fact("living-space CO", WITHIN if {"stop", "not fit"} <= effects else UNPROVEN)
    outdoors = b.the_one("outdoor_co")
    yield Fact("living-space CO", WITHIN if outdoors else UNPROVEN)

    def rise(inside: Sighting, outside: Sighting | None) -> tuple[int, str]:
        told = [(OUTSIDE, "")] if inside.at_top else []
        if inside.number is None:
            return worst([*told, (UNPROVEN, "")])
        known = outside is not None and outside.sound and outside.number is not None
        x = inside.number - (outside.number if known else 0)  # type: ignore[union-attr, operator]
        square = inside.width**2 + (outside.width**2 if known else 0)  # type: ignore[union-attr]
        rows = b.rows("living_space_co_rise")
        return worst([*told, *((against(row, x, square), row.stops) for row in rows)])

    def told(slot: Slot, outdoor_slots: list[list[Sighting]], *, doubted: bool) -> Iterator[Fact]:
        for outdoor in outdoor_slots or [[]]:
            pairs = list(product(slot, outdoor or [None]))
            unsound = not outdoor or not all(s.sound for s in [*slot, *outdoor])
            yield settle("living-space CO", [rise(i, o) for i, o in pairs], doubted=doubted or unsound)

    def replaced(key: str, only_the_test: bool) -> bool:
        return b.believed(key, only_the_test) and b.believed("outdoor_co", only_the_test)

    def beside(slot: Slot) -> Iterator[Fact]:
        r = slot[0].reading
        same = b.slots("outdoor_co", lambda s: (s.reading.stage, s.reading.test) == (r.stage, r.test))
        return told(slot, same, doubted=True)

    for key in INDOORS:
        yield Fact("living-space CO", WITHIN if b.the_one(key) else UNPROVEN)
        for slot in b.slots_of_test(key):
            yield from told(slot, b.slots_of_test("outdoor_co"), doubted=False)
        yield from b.elsewhere(key, replaced, beside)


def response_check(b: Bench) -> Iterator[Fact]:
    seen = [s for s in b.test_sightings(*MAY_NOT_READ_ZERO_UNASKED) if s.number is not None and not s.at_top]
    for s in seen:
        if s.number != 0:
            yield Fact("response check", WITHIN)
            continue
        awake = [
            r
            for r in b.good
            if r.reading.key == "co_response"
            and r.sound
            and r.number is not None
            and r.number > 0
            and r.reading.instrument == s.reading.instrument
            and s.taken_at is not None
            and r.taken_at is not None
            and local_date(b.case.visit, r.taken_at) == local_date(b.case.visit, s.taken_at)
        ]
        yield Fact("response check", WITHIN if awake and s.reading.confirmed is True else UNPROVEN)


def two_sets(b: Bench) -> Iterator[Fact]:
    sets: list[list[Sighting]] = []
    for n in (1, 2):
        members = [s for s in b.test_sightings(*GAS_SET) if s.reading.set_number == n and s.sound]
        dry = all(s.reading.basis == "dry" for s in members if s.reading.key == "flue_o2")
        whole = dry and {s.reading.key for s in members} == set(GAS_SET)
        yield Fact("two sets", WITHIN if whole else UNPROVEN)
        sets.append(members)
    first, second = sets
    meters = {s.reading.instrument for s in [*first, *second]}
    yield Fact("two sets", WITHIN if len(meters) == 1 else UNPROVEN)
    starts = [min(s.taken_at for s in members if s.taken_at) for members in sets]
    apart = abs(starts[0] - starts[1]) >= b.seconds("sets_apart")
    yield Fact("two sets", WITHIN if apart else UNPROVEN)
    for one, two in product(first, second):
        if one.reading.key == two.reading.key and one.number is not None and two.number is not None:
            agree = abs(one.number - two.number) <= max(one.width, two.width)
            yield Fact("two sets", WITHIN if agree and one.reading.basis == two.reading.basis else UNPROVEN)


def steady(b: Bench) -> Iterator[Fact]:
    needed = b.seconds("steady_before_reading")
    flame = {EventKind.FLAME: True, EventKind.FLAME_OUT: False}
    if any(s.taken_at is None for s in b.test_sightings()):
        yield Fact("steady", UNPROVEN)  # which reading came first is not known
    for s in b.test_sightings(*NEEDS_THE_FLAME):
        if s.taken_at is None:
            continue
        at = s.taken_at
        burns = [(e.at, not flame[e.kind], e) for e in b.events if e.kind in flame and e.at <= at]
        last = max(burns, key=lambda each: each[:2], default=None)
        lit = last is not None and flame[last[2].kind] and at - last[0] >= needed
        moved = [e.at for e in b.events if e.kind not in flame and e.at <= at]
        settled = not moved or at - max(moved) >= needed
        yield Fact("steady", WITHIN if lit and settled else UNPROVEN)


def one_test(b: Bench) -> Iterator[Fact]:
    times = [s.taken_at for s in b.test_sightings() if s.taken_at is not None]
    if not times:
        return
    ends = b.test_sightings(*GAS_SET), b.test_sightings(*INDOORS)
    yield Fact("one test", WITHIN if all(ends) else UNPROVEN)  # of one end alone there is no length
    if any(s.taken_at is None for s in b.test_sightings()):
        yield Fact("one test", UNPROVEN)
    yield Fact("one test", WITHIN if max(times) - min(times) <= b.seconds("test_window") else UNPROVEN)
    touching = (EventKind.ADJUSTED, EventKind.OPENED, EventKind.CLOSED_UP)
    touched = any(e.kind in touching and e.at > min(times) for e in b.events)
    yield Fact("one test", UNPROVEN if touched else WITHIN)


def local_date(visit: Visit, at: datetime) -> date:
    """By the clock where the heater stands; Greenwich's where that is not known."""
    return (at.astimezone(UTC) + timedelta(minutes=visit.utc_offset_minutes or 0)).date()


def calibration(b: Bench) -> Iterator[Fact]:
    row = b.tightened(b.limits.rows["calibration_age"])
    oldest = amount(row) / 86400
    dated = False
    for s in b.test_sightings(*READ_BY_METER):
        meter = b.case.instruments.get(s.reading.instrument or "")
        kind = b.catalogue.classes.get(meter.kind) if meter else None
        if meter is None or kind is None:
            yield Fact("calibration", UNPROVEN)
        elif kind.electronic:
            dated = True
            taken_at = s.reading.taken_at
            if meter.calibrated_on is None or taken_at is None:
                yield Fact("calibration", UNPROVEN)
                continue
            day = local_date(b.case.visit, taken_at)
            ages = [(day - on).days for on in (meter.calibrated_on, *meter.earlier_calibrations) if on <= day]
            yield Fact("calibration", WITHIN if ages and min(ages) <= oldest else UNPROVEN)
    if not dated:
        yield Fact("calibration", UNPROVEN)


def by_eye(gate: str, *keys: str) -> Callable[[Bench], Iterator[Fact]]:
    """A gate of states: each key must be seen in the test, and every row of it be met."""

    def witness(b: Bench) -> Iterator[Fact]:
        for key in keys:
            rows = b.rows(key)

            def outcome(s: Sighting, rows: list[Limit] = rows) -> tuple[int, str]:
                effect = {"stop": STOP, "not fit": OUTSIDE, "not proven": UNPROVEN}
                told = [(WITHIN, "")]
                for row in rows:
                    met = (s.reading.state in row.states) == (row.comparison == "one of")
                    told.append((WITHIN, "") if met else (effect[row.effect], row.stops))
                return worst(told)

            yield Fact(gate, WITHIN if rows and b.the_one(key) else UNPROVEN)
            for slot in b.slots_of_test(key):
                yield settle(gate, [outcome(s) for s in slot], doubted=not all(s.sound for s in slot))
            yield from b.elsewhere(
                key,
                b.believed,
                lambda slot, tell=outcome: [settle(gate, [tell(s) for s in slot], doubted=True)],
            )

    return witness


def zero(b: Bench) -> Iterator[Fact]:
    yield from by_eye("zero", "probe_zero")(b)
    one = b.the_one("probe_zero")
    yield Fact("zero", WITHIN if one and one.reading.place.strip() else UNPROVEN)


def trials(b: Bench) -> Iterator[Fact]:
    few = b.rows("trials_without_flame")
    counted = [s for s in b.good if s.reading.key == "trials_without_flame"]
    looked_dry = [s for s in b.good if s.reading.key == "chamber_look" and s.reading.state == "dry"]
    told = [*counted, *looked_dry, *b.test_sightings("light_off")]
    yield Fact("trials", WITHIN if any(s.sound for s in told) else UNPROVEN)
    looks = [s for s in b.good if s.reading.key == "chamber_look"]
    for s in b.good:
        if s.reading.key != "trials_without_flame":
            continue
        if s.doubts or s.number is None or s.at_top:
            yield Fact("trials", UNPROVEN)
        if s.number is None:
            continue
        looked = [look for look in looks if look.sound and look.reading.state == "dry"]
        too_many = not few or any(stands(s.number, Fraction(0), row) != WITHIN for row in few)
        if too_many and not looked:
            yield Fact("trials", UNPROVEN)
        at_once = [o for o in b.test_sightings("light_off") if o.sound and o.reading.state == "first try"]
        if s.number > 0 and at_once and s.reading.stage == Stage.AS_LEFT:
            yield Fact("trials", UNPROVEN)
    if not few:
        yield Fact("trials", UNPROVEN)
    rows = b.rows("chamber_look")

    def crossed(look: Sighting) -> list[Limit]:
        return [row for row in rows if (look.reading.state in row.states) != (row.comparison == "one of")]

    dry = [look for look in looks if look.sound and not crossed(look)]
    for slot in b.slots("chamber_look", lambda _: True):
        for wet in slot:
            seen, now = wet.reading.taken_at, [look.reading.taken_at for look in dry]
            if crossed(wet) and not any(seen and each and each > seen for each in now):
                yield (
                    Fact("trials", STOP, crossed(wet)[0].stops)
                    if len(slot) == 1
                    else Fact("trials", UNPROVEN)
                )


def belongs_here(b: Bench) -> Iterator[Fact]:
    odd = b.foreign or not b.good or any(s.misplaced or s.junk for s in b.seen)
    yield Fact("belongs here", UNPROVEN if odd else WITHIN)


def conflict(b: Bench) -> Iterator[Fact]:
    seen: dict[object, set[object]] = {}
    for s in b.good:
        seen.setdefault(s.slot, set()).add(s.content)
    disputed = any(len(contents) > 1 for contents in seen.values())
    two_minds = any(matters(b, each) for each in b.case.conflicts)
    yield Fact("conflict", UNPROVEN if disputed or two_minds or not b.good else WITHIN)


MATTERS = {
    "heater": {"sheet", "vehicle"},
    "vehicle": {"kind"},
    "instrument": {"kind", "calibrated_on", "earlier_calibrations", "spans", "retired"},
    "visit": {
        "heater", "started_at", "fuel",
        "place.altitude_m", "place.air_temperature_k", "place.relative_humidity_fraction",
    },
}  # fmt: skip
NEVER = {"owner", "shop", "photo", "close"}


def matters(b: Bench, conflict: Any) -> bool:
    """Whether what two devices contradict each other in could move this judgement."""
    case = b.case
    used = {r.instrument for r in b.visit.readings if r.key in USED_BY_A_GATE and r.instrument}
    about = {case.visit.id, case.heater.id, case.vehicle.id, case.owner.id, *used}
    if conflict.subject not in about or conflict.noun in NEVER:
        return False
    said = [each.says for each in conflict.candidates]
    apart = unlike(said)
    if conflict.noun == "reading":
        keys = {each.key for each in said if each is not None}
        return bool(keys & USED_BY_A_GATE) and bool(apart - {"note", "photo"})
    if conflict.noun == "event":
        return bool(apart - {"note"})
    if conflict.noun == "accept":
        return True
    return bool(apart & MATTERS[conflict.noun])


def unlike(said: Sequence[Any]) -> set[str]:
    """The fields in which they differ; all of them where one was withdrawn."""
    laid = [flat(each) for each in said if each is not None]
    names = {name for each in laid for name in each}
    if len(laid) < len(said):
        return names
    return {name for name in names if any(each.get(name) != laid[0].get(name) for each in laid)}


def flat(noun: Any) -> dict[str, Any]:
    told: dict[str, Any] = {}
    for name in noun.__dataclass_fields__:
        if name in {"id", "entered_at", "corrects", "accepted_by"}:
            continue
        value = getattr(noun, name)
        if hasattr(value, "__dataclass_fields__"):
            told |= {f"{name}.{inner}": each for inner, each in flat(value).items()}
        else:
            told[name] = value
    return told


LOOKS = {"fuel_joints_1_min": "ran_before_joints_1", "fuel_joints_10_min": "ran_before_joints_10"}


def leak(b: Bench, s: Sighting) -> tuple[int, str]:
    """What was seen at a joint, whenever and by whatever way it was told."""
    worth = {"not fit": OUTSIDE, "not proven": UNPROVEN, "stop": STOP}
    broken = [r for r in b.rows(s.reading.key) if (s.reading.state in r.states) != (r.comparison == "one of")]
    return max([(worth[r.effect], r.stops) for r in broken], default=(WITHIN, ""))


def burnt_untouched(b: Bench, at: datetime, needed: timedelta) -> bool:
    """The burner had burnt on for so long at this moment; from there on, to this day, nothing was moved."""
    burning, since = False, at
    for e in sorted(b.events, key=lambda e: (e.at, e.kind == EventKind.FLAME_OUT)):
        if e.kind in (EventKind.FLAME, EventKind.FLAME_OUT):
            burning, since = (e.kind == EventKind.FLAME, e.at) if e.at <= at else (burning, since)
        elif e.at > at - needed:
            return False
    return burning and at - since >= needed


def good_look(b: Bench, slot: Slot) -> bool:
    """A look that nobody disputes or doubts, at its time. What cannot be worked out makes none."""
    told = [s for s in b.good if s.slot == slot[0].slot]  # the same said twice is as good as its worse time
    try:
        needed = b.seconds(LOOKS[slot[0].reading.key])
        timely = [s.taken_at is not None and burnt_untouched(b, s.taken_at, needed) for s in told]
    except Exception:  # noqa: BLE001 - of a table without the row, or of a moment without a zone
        return False
    return len(slot) == 1 and all(timely) and all(s.sound for s in told)


def joints(b: Bench) -> Iterator[Fact]:
    """Two looks with a light while it burns. Dry counts only at its time, a leak at any."""
    looked_at = []
    for key in LOOKS:
        left = b.slots(key, lambda s: s.reading.stage == Stage.AS_LEFT)
        good = [slot[0] for slot in left if good_look(b, slot)]
        here = [s for s in good if b.in_the_test(s)]
        for slot in b.slots(key, lambda _: True):
            found, inside = slot[0].reading.stage != Stage.AS_LEFT, b.in_the_test(slot[0])
            past = good if found else [g for g in here if all(later(g, s) for s in slot)]
            sound = inside and all(s.sound for s in slot)
            told = settle("fuel joints", [leak(b, s) for s in slot], doubted=not sound)
            if inside or not (past or (here and told.worth == UNPROVEN)):
                yield told
        look = b.the_one(key)
        yield Fact("fuel joints", WITHIN if b.rows(key) and look in here else UNPROVEN)
        looked_at += [look.taken_at] if look else []
    again = len(set(looked_at)) == len(LOOKS)  # one look is not two
    yield Fact("fuel joints", WITHIN if again else UNPROVEN)


def later(one: Sighting, than: Sighting) -> bool:
    return one.taken_at is not None and than.taken_at is not None and one.taken_at > than.taken_at


WITNESSES: tuple[tuple[str, Callable[[Bench], Iterator[Fact]]], ...] = (
    ("flue O2", flue_o2),
    ("flue CO", flue_co),
    ("CO2 agrees", co2_agrees),
    ("smoke", smoke),
    ("smoke spot", by_eye("smoke spot", "smoke_spot_look")),
    ("living-space CO", living_space),
    ("response check", response_check),
    ("two sets", two_sets),
    ("steady", steady),
    ("one test", one_test),
    ("fresh air", fresh_air),
    ("zero", zero),
    ("sampling line", by_eye("sampling line", "sampling_line")),
    ("calibration", calibration),
    ("exhaust path", by_eye("exhaust path", "exhaust_path")),
    ("inlet", by_eye("inlet", "inlet_path")),
    ("fuel joints", joints),
    ("light-off", by_eye("light-off", "light_off")),
    ("after-run", by_eye("after-run", "after_run")),
    ("trials", trials),
    ("belongs here", belongs_here),
    ("conflict", conflict),
)
