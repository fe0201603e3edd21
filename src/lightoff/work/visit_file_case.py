"""From the tables of a well-shaped visit file to a case, checked against the shelf."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta, tzinfo
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from pydantic import BaseModel

from lightoff.ground import units
from lightoff.ground.errors import Refusal
from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.part import Move, StepDone
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Span, Vehicle
from lightoff.terms.shelf import CatalogueEntry
from lightoff.terms.visit import MOST_OFFSET_MINUTES, NOT_HAD, Event, Photo, Place, Reading, Visit
from lightoff.work.plausible import POSSIBLE_OF_A_PLACE, doubts
from lightoff.work.typed_numbers import nearest, shortened
from lightoff.work.visit_file_conflicts import conflicts_in
from lightoff.work.visit_file_faults import Path, fault
from lightoff.work.visit_file_fitted import fitted_in
from lightoff.work.visit_file_shape import (
    Measure,
    PlaceTable,
    ReadingTable,
    SetTable,
    ShopTable,
    VisitFile,
    VisitTable,
)

_NAMESPACE = UUID("6f1d8f5e-0d4c-5a51-9d0e-6c0f5f1f0a11")  # of this format, drawn once
# A time of day alone is the first such moment from two hours before the visit's start on.
_BEFORE_START = timedelta(hours=2)


def case_of(
    file: VisitFile, shelf: Shelf, *, tables: Any, origins: Mapping[Path, Path]
) -> tuple[Case | None, tuple[Refusal, ...]]:
    """The case of the file's good rows, and the faults of the others; None where its head is bad."""
    reader = _Reader(file=file, shelf=shelf, tables=tables, origins=origins, faults=[])
    return reader.case(), tuple(reader.faults)


@dataclass(slots=True, kw_only=True)
class _Reader:
    file: VisitFile
    shelf: Shelf
    tables: Any
    origins: Mapping[Path, Path]
    faults: list[Refusal]

    @property
    def set_aside(self) -> frozenset[str]:
        """Names and ids of all instruments that the file tells of, good or bad."""
        rows = self.tables.get("instrument")
        told = (each for each in rows if isinstance(each, dict)) if isinstance(rows, list) else ()
        return frozenset(str(each.get(key)) for each in told for key in ("name", "id") if each.get(key))

    def case(self) -> Case | None:
        file, visit = self.file, self.file.visit
        zone, started = self._start(visit)
        head = len(self.faults)
        owner_id = file.owner.id or _id_of("owner", file.owner)
        vehicle_id = file.vehicle.id or _id_of("vehicle", file.vehicle, owner_id)
        told = file.heater.model_copy(update={"note": "", "fitted_on": None})
        heater_id = file.heater.id or _id_of("heater", told, vehicle_id)
        self._known(("heater", "sheet"), file.heater.sheet, self.shelf.sheets)
        if visit.fuel:
            self._known(("visit", "fuel"), visit.fuel, self.shelf.fuels)
        place = self._place(("visit", "place"), visit.place)
        destination = (
            None if visit.destination is None else self._place(("visit", "destination"), visit.destination)
        )
        closed = None
        if visit.closed_at is not None and started is not None:
            closed = self._moment(("visit", "closed_at"), visit.closed_at, started=started, zone=zone)
            if closed is not None and closed < started:
                self._note(("visit", "closed_at"), message("visit_file.closed_before_start"))
        head_is_good = len(self.faults) == head and started is not None
        instruments = self._instruments()
        # With a bad start the rows are still checked, so that every fault is told at once.
        begun = started or datetime(2000, 1, 1, tzinfo=UTC)
        visit_id = visit.id or _timed_id(begun, "visit", heater_id, begun.isoformat())
        rows = _Rows(reader=self, visit_id=visit_id, heater_id=heater_id, zone=zone, started=begun)
        readings = self._believable(rows.readings(instruments))
        events, photos = rows.events(), rows.photos()
        fitted = fitted_in(file.fitted, note=self._note, known=self._known, part_types=self.shelf.part_types)
        conflicts = conflicts_in(file.conflict, note=self._note, when=rows.when)
        head_is_good = head_is_good and len(conflicts) == len(file.conflict)
        if not head_is_good:
            return None
        shop = {name: getattr(file.shop, name) for name in ShopTable.model_fields}
        return Case(
            shop=Shop(**shop),
            owner=Owner(id=owner_id, **_plain(file.owner)),
            vehicle=Vehicle(id=vehicle_id, owner=owner_id, **_plain(file.vehicle)),
            heater=Heater(id=heater_id, vehicle=vehicle_id, **_plain(file.heater)),
            instruments={each.id: each for each in instruments.values()},
            visit=Visit(
                id=visit_id,
                heater=heater_id,
                started_at=begun,
                closed_at=closed,
                utc_offset_minutes=_offset_minutes(visit),
                technician=visit.technician,
                reason=visit.reason,
                complaint=visit.complaint,
                work_done=tuple(visit.work_done),
                service_complete=visit.service_complete,
                fuel=visit.fuel,
                place=place,
                destination=destination,
                readings=readings,
                events=events,
                photos=photos,
                moves=rows.moves(),
                steps=rows.steps(),
                note=visit.note,
                sealed_verdict=visit.sealed_verdict,
                sealed_stops=tuple(visit.sealed_stops),
                sealed_content=visit.sealed_content,
            ),
            conflicts=conflicts,
            fitted=fitted,
        )

    def note(self, path: Path, said: Message) -> None:
        """Note a fault at a place of the trimmed file, told by its place in the file as written."""
        self._note(path, said)

    def _note(self, path: Path, said: Message) -> None:
        for length in (4, 2):
            if path[:length] in self.origins:
                path = (*self.origins[path[:length]], *path[length:])
                break
        self.faults.append(fault(path, said, self.tables))

    def _known(self, path: Path, word: str, known: Iterable[str]) -> bool:
        words = tuple(known)
        if word in words:
            return True
        near = nearest(word, words)
        key = "visit_file.word_near" if near else "visit_file.word_unknown"
        self._note(path, message(key, got=word[:60], near=near, possible=", ".join(words)))
        return False

    def _start(self, visit: VisitTable) -> tuple[tzinfo | None, datetime | None]:
        zone: tzinfo | None = visit.utc_offset
        begun = visit.started_at
        if isinstance(begun, time):
            self._note(("visit", "started_at"), message("visit_file.start_needs_day", got=begun.isoformat()))
            return zone, None
        zone = zone or begun.tzinfo
        if zone is None:
            self._note(("visit", "started_at"), message("visit_file.no_offset", got=begun.isoformat()))
            return None, None
        return zone, (begun if begun.tzinfo else begun.replace(tzinfo=zone)).astimezone(UTC)

    def _moment(
        self, path: Path, when: datetime | time, *, started: datetime, zone: tzinfo | None
    ) -> datetime | None:
        if isinstance(when, datetime) and when.tzinfo is not None:
            return when.astimezone(UTC)
        if zone is None:
            if self.file.visit.started_at and not self._start_is_bad():
                self._note(path, message("visit_file.no_offset", got=when.isoformat()))
            return None
        if isinstance(when, datetime):
            return when.replace(tzinfo=zone).astimezone(UTC)
        first = started.astimezone(zone) - _BEFORE_START
        moment = datetime.combine(first.date(), when, tzinfo=zone)
        return (moment if moment >= first else moment + timedelta(days=1)).astimezone(UTC)

    def _start_is_bad(self) -> bool:
        begun = self.file.visit.started_at
        return isinstance(begun, time) or (begun.tzinfo is None and self.file.visit.utc_offset is None)

    def _place(self, path: Path, place: PlaceTable) -> Place:
        return Place(
            name=place.name,
            altitude_m=self._si((*path, "altitude"), place.altitude, "length"),
            air_temperature_k=self._si((*path, "air_temperature"), place.air_temperature, "temperature"),
            relative_humidity_fraction=self._si(
                (*path, "relative_humidity"), place.relative_humidity, "fraction"
            ),
        )

    def _si(self, path: Path, measure: Measure | None, dimension: str) -> float | None:
        if measure is None:
            return None
        possible = units.units_of(dimension)
        if measure.unit not in possible:
            said = message(
                "visit_file.wrong_unit", unit=measure.unit, possible=", ".join(filter(None, possible))
            )
            self._note((*path, "unit"), said)
            return None
        value = units.to_si(measure.value, measure.unit)
        low, high = POSSIBLE_OF_A_PLACE[dimension]
        if not low <= value <= high:
            key = f"visit_file.place_{dimension}"
            self._note(path, message(key, got=f"{measure.value} {measure.unit}"))
        return value

    def _instruments(self) -> dict[str, Instrument]:
        found: dict[str, Instrument] = {}
        for index, each in enumerate(self.file.instrument):
            path: Path = ("instrument", index)
            if each.name in found and each.id is None:
                self._note((*path, "name"), message("visit_file.name_twice", name=each.name[:60]))
                continue
            if not self._known((*path, "kind"), each.kind, self.shelf.catalogue.classes):
                continue
            told = each.model_copy(update=_OF_THE_DAY)
            spans = []
            for number, span in enumerate(each.span):
                if self._known((*path, "span", number, "key"), span.key, self.shelf.catalogue.entries):
                    spans.append(Span(key=span.key, low=span.low, high=span.high, unit=span.unit))
            # Readings refer to it by name; by its id where two have one name.
            found[each.id if each.id and each.name in found else each.name] = Instrument(
                id=each.id or _id_of("instrument", told),
                name=each.name,
                kind=each.kind,
                serial=each.serial,
                calibrated_on=each.calibrated_on,
                earlier_calibrations=tuple(each.earlier_calibrations),
                spans=tuple(spans),
                retired=each.retired,
                o2_basis=each.o2_basis,
            )
        return found

    def _believable(self, read: list[tuple[Path, Reading]]) -> tuple[Reading, ...]:
        """Set aside what must be looked at again, unless the person was asked and kept it.

        A book asks at the field: what it kept, answered or not, stands in its file as it stands in the book.
        """
        fuel = self.shelf.fuels.get(self.file.visit.fuel)
        paths = {reading.id: path for path, reading in read}
        readings = [reading for _, reading in read]
        doubted = set()
        sheet = self.shelf.sheets.get(self.file.heater.sheet)
        for doubt in doubts(readings, self.shelf.catalogue, fuel, sheet=sheet):
            reading = next(each for each in readings if each.id == doubt.reading)
            asked = reading.confirmed or reading.entered_at is not None
            if not asked and not doubt.unusual:
                said = message("visit_file.doubt", said=doubt.said)
                self._note((*paths[doubt.reading], "value"), said)
                doubted.add(doubt.reading)
        return tuple(each for each in readings if each.id not in doubted)


# What changes over the life of an instrument does not make it another one.
_OF_THE_DAY: dict[str, object] = {
    "calibrated_on": None,
    "earlier_calibrations": [],
    "span": [],
    "retired": False,
    "o2_basis": "",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """The rows of the visit, each read by itself."""

    reader: _Reader
    visit_id: str
    heater_id: str
    zone: tzinfo | None
    started: datetime

    def readings(self, instruments: Mapping[str, Instrument]) -> list[tuple[Path, Reading]]:
        """All readings with their places; a row with a fault is noted and left out."""
        file = self.reader.file
        rows: list[tuple[Path, ReadingTable, SetTable | None]] = [
            (("set", index, "reading", number), row, group)
            for index, group in enumerate(file.set)
            for number, row in enumerate(group.reading)
        ]
        rows += [(("reading", index), row, None) for index, row in enumerate(file.reading)]
        found: list[tuple[Path, Reading]] = []
        seen: dict[str, int] = {}
        for path, row, group in rows:
            before = len(self.reader.faults)
            reading = self._reading(path, row, group, instruments)
            if reading is None or len(self.reader.faults) > before:
                continue
            if not reading.id:
                content = repr(replace(reading, id=""))
                seen[content] = seen.get(content, 0) + 1
                made = _timed_id(self.started, self.visit_id, content, str(seen[content]))
                reading = replace(reading, id=made)
            elif any(reading.id == each.id for _, each in found):
                self.reader.note((*path, "id"), message("visit_file.id_twice", id=reading.id))
                continue
            found.append((path, reading))
        return found

    def events(self) -> tuple[Event, ...]:
        """The moments of the visit."""
        found = []
        for index, row in enumerate(self.reader.file.event):
            at = self.when(("event", index, "at"), row.at)
            if at is not None:
                made = row.id or _timed_id(at, self.visit_id, "event", row.kind, str(index))
                found.append(Event(id=made, heater=self.heater_id, kind=row.kind, at=at, note=row.note))
        return tuple(found)

    def photos(self) -> tuple[Photo, ...]:
        """The pictures of the visit."""
        found = []
        for index, row in enumerate(self.reader.file.photo):
            at = self.when(("photo", index, "taken_at"), row.taken_at)
            if at is not None:
                told = _plain(row) | {"taken_at": at}
                made = row.id or _timed_id(at, self.visit_id, "photo", row.sha256, str(index))
                found.append(Photo(id=made, heater=self.heater_id, **told))
        return tuple(found)

    def moves(self) -> tuple[Move, ...]:
        """What happened to parts."""
        found = []
        for index, row in enumerate(self.reader.file.move):
            at = self.when(("move", index, "at"), row.at)
            if at is not None:
                told = _plain(row) | {"at": at}
                made = row.id or _timed_id(at, self.visit_id, "move", row.part, str(index))
                found.append(Move(id=made, heater=self.heater_id, **told))
        return tuple(found)

    def steps(self) -> tuple[StepDone, ...]:
        """How steps of the order of work ended."""
        found = []
        for index, row in enumerate(self.reader.file.step):
            at = self.when(("step", index, "at"), row.at)
            if at is not None:
                told = _plain(row) | {"at": at, "exchange": tuple(row.exchange)}
                made = row.id or _timed_id(at, self.visit_id, "step", row.step, str(index))
                found.append(StepDone(id=made, heater=self.heater_id, **told))
        return tuple(found)

    def when(self, path: Path, when: datetime | time | None) -> datetime | None:
        """A moment of the file, aware; None where there is none or it is at fault."""
        if when is None:
            return None
        return self.reader._moment(path, when, started=self.started, zone=self.zone)

    def _reading(
        self, path: Path, row: ReadingTable, group: SetTable | None, instruments: Mapping[str, Instrument]
    ) -> Reading | None:
        shared = {} if group is None else _plain(group)
        merged = {
            name: getattr(row, name) if getattr(row, name) is not None else shared.get(name)
            for name in ("stage", "test", "set_number", "instrument", "taken_at")
        }
        if not self.reader._known((*path, "key"), row.key, self.reader.shelf.catalogue.entries):
            return None
        entry = self.reader.shelf.catalogue.entries[row.key]
        self._check_answer(path, row, entry)
        if merged["stage"] is None:
            self.reader.note((*path, "stage"), message("visit_file.stage_missing"))
            return None
        instrument = merged["instrument"]
        if instrument is not None:
            by_id = {each.id: each.id for each in instruments.values()}
            known = by_id | {name: each.id for name, each in instruments.items()}
            if instrument not in known:
                # Readings of an instrument that was set aside go with it: its own fault says why.
                if instrument not in self.reader.set_aside:
                    self.reader._known((*path, "instrument"), instrument, instruments)
                return None
            instrument = known[instrument]
        return Reading(
            id=row.id or "",
            heater=row.heater or self.heater_id,
            key=row.key,
            stage=merged["stage"],
            taken_at=self.when((*path, "taken_at"), merged["taken_at"]),
            value=row.value,
            unit=self._unit(row, entry),
            state=row.state,
            test=merged["test"],
            set_number=merged["set_number"],
            basis=row.basis,
            instrument=instrument,
            at_top=row.at_top,
            confirmed=row.confirmed,
            typed_uncertainty=row.typed_uncertainty,
            place=row.place,
            note=row.note,
            entered_at=self.when((*path, "entered_at"), row.entered_at),
            corrects=row.corrects,
            accepted_by=row.accepted_by,
            photo=row.photo,
        )

    @staticmethod
    def _unit(row: ReadingTable, entry: CatalogueEntry) -> str:
        """The unit as written; a quantity that has one unit only needs none."""
        if row.unit is not None:
            return row.unit
        only = units.units_of(entry.dimension) if row.value is not None else ()
        return only[0] if len(only) == 1 else ""

    def _check_answer(self, path: Path, row: ReadingTable, entry: CatalogueEntry) -> None:
        note = self.reader.note
        blank = row.value is None and row.state is None and not row.at_top
        if blank and row.note == NOT_HAD:
            return  # asked for and not to be had
        if row.value is not None and row.state is not None:
            note(path, message("visit_file.two_answers"))
        elif entry.states:
            if row.state is None:
                note((*path, "state"), message("visit_file.needs_state", possible=", ".join(entry.states)))
            else:
                self.reader._known((*path, "state"), row.state, entry.states)
        elif row.value is None and not row.at_top:
            note((*path, "value"), message("visit_file.needs_value"))
        self._check_unit(path, row, entry)
        if entry.bases and not entry.states:
            if row.basis is not None:
                self.reader._known((*path, "basis"), row.basis, entry.bases)
            elif row.entered_at is None:
                said = message("visit_file.basis_missing", possible=", ".join(entry.bases))
                note((*path, "basis"), said)
        if row.typed_uncertainty is not None and row.typed_uncertainty < Decimal(0):
            note((*path, "typed_uncertainty"), message("visit_file.negative_uncertainty"))

    def _check_unit(self, path: Path, row: ReadingTable, entry: CatalogueEntry) -> None:
        is_known = row.unit is None or row.unit in units.UNITS
        if is_known and (row.value is None or entry.states):
            return
        possible = units.units_of(entry.dimension)
        shown = ", ".join(filter(None, possible))
        if row.unit is None and len(possible) > 1:
            self.reader.note((*path, "unit"), message("visit_file.unit_missing", possible=shown))
        elif row.unit is not None and row.unit not in possible:
            said = message("visit_file.wrong_unit", unit=shortened(row.unit), possible=shown)
            self.reader.note((*path, "unit"), said)


def _plain(table: BaseModel) -> dict[str, Any]:
    """The fields of a table by name, without its id."""
    return {name: getattr(table, name) for name in type(table).model_fields if name != "id"}


def _id_of(noun: str, table: BaseModel, *within: str) -> str:
    """The same noun in the same words has the same id in every file."""
    content = {name: str(value) for name, value in _plain(table).items()}
    return str(uuid5(_NAMESPACE, json.dumps([noun, *within, content], sort_keys=True)))


def _timed_id(at: datetime, *content: str) -> str:
    digest = hashlib.sha256(json.dumps(content).encode()).digest()
    return time_ordered_id(at, digest[:RANDOM_BYTES])


def _offset_minutes(visit: VisitTable) -> int | None:
    """As the file says, or as its start is written; a start told in UTC tells no clock."""
    begun = visit.started_at
    ahead = visit.utc_offset.utcoffset(None) if visit.utc_offset else None
    if ahead is None and isinstance(begun, datetime):
        ahead = begun.utcoffset() or None
    minutes = 0 if ahead is None else round(ahead.total_seconds() / 60.0)
    return None if ahead is None or abs(minutes) > MOST_OFFSET_MINUTES else minutes
