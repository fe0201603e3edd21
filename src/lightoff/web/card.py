"""The visit as one card: which step asks for which reading, and what stands in each field."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from lightoff.ground import units
from lightoff.ground.values import dataclass
from lightoff.terms.case import Case
from lightoff.terms.people import Instrument
from lightoff.terms.shelf import Catalogue, CatalogueEntry
from lightoff.terms.visit import EventKind, Reading, Stage, Visit


@dataclass(frozen=True, slots=True)
class Slot:
    """One place on the card for one reading."""

    key: str
    stage: Stage
    set_number: int | None = None
    kind: str = ""  # only instruments of this class, where each has its own reading
    id: str = dataclasses.field(init=False, compare=False)  # the name of the place in the page

    def __post_init__(self) -> None:
        parts = (self.key, self.stage.value.replace(" ", "_"), self.set_number or "", self.kind)
        object.__setattr__(self, "id", "-".join(str(part) for part in parts if part))


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of the card. `cautions` and its title are keys of texts."""

    key: str
    slots: tuple[Slot, ...] = ()
    cautions: tuple[str, ...] = ()
    events: tuple[EventKind, ...] = ()
    # What one tap answers: nothing that a gate reads, nor the CO alarm.
    together: tuple[tuple[str, str], ...] = ()


def _slots(stage: Stage, *keys: str, set_number: int | None = None) -> tuple[Slot, ...]:
    return tuple(Slot(key, stage, set_number) for key in keys)


_FLUE = ("flue_o2", "flue_co2", "flue_co", "stack_gas_temperature", "combustion_air_temperature")
_FOUND, _LEFT = Stage.AS_FOUND, Stage.AS_LEFT

STEPS: tuple[Step, ...] = (
    Step(
        key="arrive",
        slots=_slots(
            _FOUND,
            "co_alarm",
            "hour_meter",
            "starts_count",
            "tank_level",
            "fuel_smell",
            "coolant_level",
            "hoses",
            "exhaust_clearance",
        ),
        cautions=("arrive", "isolate"),
        together=(
            ("fuel_smell", "none"),
            ("coolant_level", "at the mark"),
            ("hoses", "sound"),
            ("exhaust_clearance", "clear"),
        ),
    ),
    Step(
        key="found",
        slots=_slots(
            _FOUND,
            "light_off",
            "trials_without_flame",
            "chamber_look",
            "time_to_light",
            "smoke_number",
            "smoke_spot_look",
            *_FLUE,
            "exhaust_path",
            "inlet_path",
        ),
        cautions=("failed_starts",),
        events=(EventKind.FLAME, EventKind.FLAME_OUT),
    ),
    Step(
        key="work",
        slots=_slots(_FOUND, "after_run", "after_run_time"),
        cautions=("fuel", "hot_coolant"),
        events=(EventKind.OPENED, EventKind.ADJUSTED, EventKind.CLOSED_UP),
    ),
    Step(
        key="light",
        slots=(
            *_slots(_LEFT, "chamber_look", "exhaust_path", "inlet_path", "sampling_line", "probe_zero"),
            *_slots(_LEFT, "fresh_air_o2_before", "fresh_air_co_before", "outdoor_co"),
            Slot("co_response", _LEFT, None, "flue_gas_probe"),
            *_slots(_LEFT, "light_off", "trials_without_flame", "time_to_light"),
            *_slots(_LEFT, "coolant_temperature_start", "fuel_joints_1_min"),
        ),
        cautions=("light", "failed_starts"),
        events=(EventKind.FLAME, EventKind.FLAME_OUT),
    ),
    Step(key="smoke", slots=_slots(_LEFT, "smoke_number", "smoke_spot_look"), cautions=("hot",)),
    Step(key="flue_1", slots=_slots(_LEFT, *_FLUE, set_number=1), cautions=("flue",)),
    Step(key="flue_2", slots=_slots(_LEFT, *_FLUE, set_number=2), cautions=("flue",)),
    Step(
        key="living_space",
        slots=(
            Slot("living_space_co_running", _LEFT),
            Slot("co_response", _LEFT, None, "living_space_co_meter"),
        ),
        cautions=("living_space",),
    ),
    Step(
        key="electrical",
        slots=_slots(
            _LEFT,
            "supply_voltage_rest",
            "supply_voltage_igniter",
            "igniter_current",
            "fan_current",
            "compressor_current",
        ),
        cautions=("electrical",),
    ),
    Step(
        key="warm_up",
        slots=_slots(
            _LEFT,
            "coolant_temperature_end",
            "warm_up_time",
            "coolant_temperature",
            "heat_load",
            "coolant_flow",
            "coolant_temperature_supply",
            "coolant_temperature_return",
        ),
        cautions=("hot_coolant",),
    ),
    Step(
        key="fuel_rate",
        slots=_slots(
            _LEFT, "fuel_volume", "fuel_time", "fuel_temperature", "atomising_air_pressure", "fuel_vacuum"
        ),
        cautions=("fuel",),
    ),
    Step(
        key="close",
        slots=_slots(
            _LEFT,
            "fuel_joints_10_min",
            "after_run",
            "after_run_time",
            "living_space_co_off",
            "fresh_air_o2_after",
            "fresh_air_co_after",
        ),
        cautions=("close",),
        events=(EventKind.FLAME_OUT,),
    ),
    Step(key="hand_over"),
)
AFTER_THE_FLAME = frozenset(
    ("light_off", "trials_without_flame", "time_to_light", "coolant_temperature_start", "fuel_joints_1_min")
)
"""Where the burner is proved again, these stand below the steps that fire it; the others come before."""
# Of these one a start is read, each kept beside those before it.
ONE_A_START = frozenset(("time_to_light", "igniter_current"))
# A nought of these counts only when it was meant.
ZERO_TO_CONFIRM = frozenset({"flue_co", "living_space_co_running", "living_space_co_off", "outdoor_co"})
# Readings that only finding a fault asks for: the card leaves them to the page that asks for one at a time.
NOT_ON_THE_CARD = frozenset({"fault finding", "trial", "repair"})
# Readings of the catalogue that no step above names stand in the step that looks before it touches.
_PLACED = frozenset(slot.key for step in STEPS for slot in step.slots)


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of the page: its slot, what the catalogue says of it, and what stands in it."""

    slot: Slot
    entry: CatalogueEntry
    instruments: tuple[Instrument, ...]
    owned: bool
    reading: Reading | None
    history: int  # how many other values this field has had
    beside: tuple[Reading, ...]  # those of the same test that stand beside it, one a start

    @property
    def is_number(self) -> bool:
        """A number is typed; a state is tapped."""
        return not self.entry.states

    @property
    def can_top(self) -> bool:
        """Whether "----" is a possible answer: electronic gas readings."""
        return self.is_number and units.DIMENSIONS[self.entry.dimension].key in {
            "gas_fraction",
            "trace_gas_fraction",
        }


FIRST_TEST = "1"
BEGINS_A_TEST = (EventKind.ADJUSTED, EventKind.OPENED)
_BEGUN_ON_A_PHONE = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.ASCII)


def current_test(visit: Visit) -> str:
    """The test that as-left readings belong to now: the one begun last, else that of the latest reading.

    Every test after the first is named by a time-ordered id, made on the phone where it was begun: two
    phones that are out of reach begin two tests, and never mix their readings in one. What is set or opened
    after a test's last reading begins the next one, which then bears the moment's own id.
    """
    tests = [(each.test, each.id) for each in visit.readings if each.stage is Stage.AS_LEFT and each.test]

    def begun(test: tuple[str, str]) -> tuple[str, str]:
        return (test[0] if _BEGUN_ON_A_PHONE.fullmatch(test[0]) else "", test[1])

    test = max(tests, key=begun, default=(FIRST_TEST, ""))[0]
    last = max((id_ for name, id_ in tests if name == test), default="")
    moved = (each.id for each in visit.events if each.kind in BEGINS_A_TEST and each.heater == visit.heater)
    return max((each for each in moved if each > last and _BEGUN_ON_A_PHONE.fullmatch(each)), default=test)


def steps_of(catalogue: Catalogue) -> tuple[tuple[Step, tuple[Slot, ...]], ...]:
    """Every step with the slots that the catalogue knows; what no step names is added where one looks."""
    return _placed(tuple((key, entry.area) for key, entry in catalogue.entries.items()))


@lru_cache(maxsize=8)
def _placed(areas: tuple[tuple[str, str], ...]) -> tuple[tuple[Step, tuple[Slot, ...]], ...]:
    known = dict(areas)
    unplaced = tuple(
        Slot(key, _FOUND) for key, area in areas if key not in _PLACED and area not in NOT_ON_THE_CARD
    )
    return tuple(
        (
            step,
            (*(slot for slot in step.slots if slot.key in known), *(unplaced if step.key == "found" else ())),
        )
        for step in STEPS
    )


def filled_steps(case: Case, catalogue: Catalogue) -> list[tuple[Step, tuple[Field, ...]]]:
    """Every step with its fields, filled from the visit."""
    here = _here(case)
    read: dict[tuple[str, Stage], list[Reading]] = {}
    for each in case.visit.readings:
        read.setdefault((each.key, each.stage), []).append(each)
    return [
        (
            step,
            tuple(_field(slot, here, catalogue, read.get((slot.key, slot.stage), ())) for slot in slots),
        )
        for step, slots in steps_of(catalogue)
    ]


def field_for(key: str, stage: Stage, case: Case, catalogue: Catalogue) -> Field:
    """The field of one reading by itself, filled from the visit."""
    read = [each for each in case.visit.readings if (each.key, each.stage) == (key, stage)]
    return _field(Slot(key, stage), _here(case), catalogue, read)


@dataclass(frozen=True, slots=True)
class _Here:
    """What every field of a visit asks for: the test it is in, all meters, and those in use."""

    test: str
    meters: Mapping[str, Instrument]
    in_use: tuple[Instrument, ...]
    kinds: frozenset[str]


def _here(case: Case) -> _Here:
    in_use = tuple(each for each in case.instruments.values() if not each.retired)
    return _Here(current_test(case.visit), case.instruments, in_use, frozenset(each.kind for each in in_use))


def _field(slot: Slot, here: _Here, catalogue: Catalogue, read: Sequence[Reading]) -> Field:
    entry = catalogue.entries[slot.key]
    fitting = tuple(
        each for each in here.in_use if each.kind in entry.classes and slot.kind in {"", each.kind}
    )
    owned = entry.can_be_taken_with(here.kinds) and (not slot.kind or slot.kind in here.kinds)
    had = [each for each in read if _fits(each, slot, here.meters)]
    now = [each for each in had if slot.stage is Stage.AS_FOUND or each.test in {here.test, None}]
    reading = max(now, key=lambda each: each.id, default=None)
    return Field(
        slot=slot,
        entry=entry,
        instruments=fitting,
        owned=owned or reading is not None,
        reading=reading,
        history=len(had) - (1 if reading else 0),
        beside=_beside(reading, now) if slot.key in ONE_A_START else (),
    )


def _beside(reading: Reading | None, here: Sequence[Reading]) -> tuple[Reading, ...]:
    if reading is None:
        return ()
    others = [each for each in here if each.set_number != reading.set_number]
    return tuple(sorted(others, key=lambda each: (each.set_number or 1, each.id)))


def _fits(reading: Reading, slot: Slot, instruments: Mapping[str, Instrument]) -> bool:
    if slot.set_number is not None and reading.set_number != slot.set_number:
        return False
    if slot.kind:
        instrument = instruments.get(reading.instrument or "")
        return instrument is None or instrument.kind == slot.kind
    return True


def place_of(key: str, fields: Sequence[Field]) -> Field | None:
    """The first empty field that asks for this reading, as left before as found; else the first at all."""
    asked = [each for each in fields if each.slot.key == key]
    asked.sort(key=lambda each: (each.reading is not None, each.slot.stage is not Stage.AS_LEFT))
    return asked[0] if asked else None


def shown_unit(entry: CatalogueEntry, preferred: str) -> str:
    """The unit a field opens with: the catalogue's own where the reader's habit is of the same kind."""
    possible = units_for(entry)
    if entry.dimension == "temperature":
        return "degF" if preferred == "us" else "degC"
    shown = units.DIMENSIONS[entry.dimension].us
    return shown if preferred == "us" and shown in possible else entry.unit


def units_for(entry: CatalogueEntry) -> tuple[str, ...]:
    """The units a field offers, the catalogue's own first; per cents of several things are one of them."""
    others = [each for each in units.units_of(entry.dimension) if each != entry.unit]
    per_cents = [each for each in (entry.unit, *others) if each.startswith("% ")]
    others = [each for each in others if each not in per_cents or each == per_cents[0]]
    if entry.dimension in {"gas_fraction", "trace_gas_fraction"}:
        carbon_monoxide = "_co" in entry.key and "co2" not in entry.key
        others = [each for each in others if carbon_monoxide or each != "mg/m3 CO"]
    return (entry.unit, *others)
