"""The book: what people entered, for good."""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Literal, Self, overload

from sqlalchemy import Connection, insert, select

from lightoff.ground.errors import LightoffError, NotFound, Refusal, Refusals, WouldOverwrite
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.records import looking, pieces, tables
from lightoff.records.checking import Checkup, check
from lightoff.records.codec import PHOTO_MEDIA_TYPES
from lightoff.records.entries import Checked, check_entry
from lightoff.records.looking import HeaterLine, HistoryLine, StandsAgain
from lightoff.records.making import many
from lightoff.records.opening import Opened, close_engines, copy_file, open_engines
from lightoff.records.pieces import News, VisitHead
from lightoff.records.projecting import chunks, project, rebuild
from lightoff.records.trouble import told
from lightoff.records.unchanged import Unchanged
from lightoff.records.visits import OF_HEATER, OPEN, Remembered, visits
from lightoff.terms.case import Case
from lightoff.terms.conflict import Conflict
from lightoff.terms.entry import Entry
from lightoff.terms.part import Bin, Move, Part
from lightoff.terms.people import Heater, Instrument, Owner, Planning, Shop, Vehicle
from lightoff.terms.trace import Trace
from lightoff.terms.visit import Reading, Visit

LARGEST_PHOTO_BYTES = 40_000_100  # what a page lets in, and the few bytes that keep it upright
_PHOTO_STARTS = {"image/jpeg": b"\xff\xd8\xff", "image/png": b"\x89PNG\r\n\x1a\n", "image/webp": b"RIFF"}
# The connection of a book by which this thread reads what belongs together.
_moment: ContextVar[tuple[Book | None, Connection | None]] = ContextVar("moment", default=(None, None))


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The book's word that an entry stands on the disk: now, or since it was first sent."""

    id: str
    outcome: Literal["kept", "already kept"]


class Book:
    """An open book; may be used from many threads. Close it, or use it in a `with`.

    Every question sees one moment of the book. What `keep` returned is on the disk.
    """

    def __init__(self, opened: Opened) -> None:
        self._opened = opened
        self._remembered = Remembered()
        self._unchanged = Unchanged()

    @classmethod
    def open(cls, path_or_url: str | Path, *, create: bool = True) -> Book:
        """The book in a file, or on a PostgreSQL server by its URL; brought to this program's version.

        Raises NotFound for a missing file where `create` is false; Refusal for an address or file that
        is no book, or is newer than the program; BookTrouble for what disk and database refuse.
        """
        return cls(open_engines(path_or_url, create=create))

    @property
    def name(self) -> str:
        """The book as people know it: its file, or its address without the password."""
        return self._opened.name

    def close(self) -> None:
        """Close the book; on SQLite it is one plain file then."""
        close_engines(self._opened)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def at_one_moment(self) -> Iterator[None]:
        """All that is read within is of one moment, by one connection, without what is written meanwhile."""
        with self._reading() as connection:
            before = _moment.set((self, connection))
            try:
                yield
            finally:
                _moment.reset(before)

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        book, standing = _moment.get()
        with told(self.name):
            if standing is not None and book is self:
                yield standing
                return
            with self._opened.reader.begin() as connection:
                yield connection

    @contextmanager
    def _written(self) -> Iterator[Connection]:
        with told(self.name), self._opened.turns.turn(), self._opened.writer.begin() as connection:
            yield connection

    # Writing

    @overload
    def keep(self, entries: Sequence[Entry]) -> tuple[Kept, ...]: ...
    @overload
    def keep(self, entries: Sequence[Entry], *, each_by_itself: Literal[False]) -> tuple[Kept, ...]: ...
    @overload
    def keep(
        self, entries: Sequence[Entry], *, each_by_itself: Literal[True]
    ) -> tuple[Kept | LightoffError, ...]: ...
    def keep(
        self, entries: Sequence[Entry], *, each_by_itself: bool = False
    ) -> tuple[Kept | LightoffError, ...]:
        """Write entries, in one transaction that is on the disk when this returns.

        The same entry twice is one. Without `each_by_itself` it is all or nothing: Refusal (Refusals for
        several) or WouldOverwrite is raised and nothing is kept. With it good entries are kept beside bad
        ones, and each entry's answer, a Kept or what would have been raised, stands at its place.
        """
        checked = [_checked(each) for each in entries]
        if not each_by_itself:
            _raise_all(checked)
        with self._written() as connection:
            answers = _write(connection, checked)
            if not each_by_itself:
                _raise_all(answers)
        return tuple(answers)

    def keep_photo(self, data: bytes, media_type: str) -> str:
        """Keep a picture's bytes; returns their SHA-256, under which a photo entry names them.

        Raises Refusal for an empty or huge picture, or one that is not what its type says.
        """
        if not data or len(data) > LARGEST_PHOTO_BYTES:
            said = message("records.photo_size", size=len(data), largest=LARGEST_PHOTO_BYTES)
            raise Refusal(said, field="photo")
        if not data.startswith(_PHOTO_STARTS.get(media_type, b"\0\0\0\0\0")):
            said = message(
                "records.photo_type", got=f"“{media_type[:60]}”", possible=", ".join(PHOTO_MEDIA_TYPES)
            )
            raise Refusal(said, field="media_type")
        return self._keep_bytes(data, media_type)

    def keep_log(self, data: bytes) -> str:
        """Keep a logger's file, packed; returns the SHA-256 of the packed bytes, which its trace names."""
        return self._keep_bytes(gzip.compress(data, mtime=0), "application/gzip")

    def log_bytes(self, sha256: str) -> bytes:
        """A logger's file as it was sent. Raises NotFound."""
        return gzip.decompress(self.photo_bytes(sha256))

    def _keep_bytes(self, data: bytes, media_type: str) -> str:
        sha256 = hashlib.sha256(data).hexdigest()
        table = tables.photo_bytes
        with self._written() as connection:
            if connection.scalar(select(table.c.sha256).where(table.c.sha256 == sha256)) is None:
                row = {"sha256": sha256, "media_type": media_type, "data": data}
                connection.execute(insert(table), [row])
        return sha256

    def rebuild(self) -> None:
        """Make every projection anew from the entries."""
        with self._written() as connection:
            rebuild(connection)
        self._remembered.forget()
        self._unchanged.forget()

    def undoing(self, entry_id: str, *, id: str, author: str, at: datetime) -> Entry:  # noqa: A002
        """The entry that, once kept, undoes the entry `entry_id`: what stood before it stands again.

        Raises NotFound.
        """
        with self._reading() as connection:
            undone = looking.entry(connection, entry_id)
            before = looking.entry(connection, undone.corrects).value if undone.corrects else None
        return Entry(
            id=id,
            subject=undone.subject,
            field=undone.field,
            value=before,
            author=author,
            at=at,
            corrects=entry_id,
        )

    # Looking

    def shop(self) -> Shop:
        """The shop; a nameless one until somebody named it."""
        with self._reading() as connection:
            return self._unchanged.answer(connection, looking.shop)

    def planning(self) -> Planning:
        """What the shop reckons with; the stated judgement until somebody set it."""
        with self._reading() as connection:
            return self._unchanged.answer(connection, looking.planning)

    def owner(self, owner_id: str) -> Owner:
        """One owner. Raises NotFound."""
        with self._reading() as connection:
            return looking.by_id(connection, Owner, tables.owner, id=owner_id)

    def vehicle(self, vehicle_id: str) -> Vehicle:
        """One vehicle. Raises NotFound."""
        with self._reading() as connection:
            return looking.by_id(connection, Vehicle, tables.vehicle, id=vehicle_id)

    def heater(self, heater_id: str) -> Heater:
        """One heater. Raises NotFound."""
        with self._reading() as connection:
            return looking.by_id(connection, Heater, tables.heater, id=heater_id)

    def owners(self) -> tuple[Owner, ...]:
        """All owners by name."""
        table = tables.owner
        with self._reading() as connection:
            return many(connection, Owner, table, select(table).order_by(table.c.name, table.c.id))

    def vehicles_of(self, owner_id: str) -> tuple[Vehicle, ...]:
        """An owner's vehicles by name."""
        table = tables.vehicle
        found = select(table).where(table.c.owner == owner_id).order_by(table.c.name, table.c.id)
        with self._reading() as connection:
            return many(connection, Vehicle, table, found)

    def heaters_of(self, vehicle_id: str) -> tuple[Heater, ...]:
        """A vehicle's heaters by name."""
        table = tables.heater
        found = select(table).where(table.c.vehicle == vehicle_id).order_by(table.c.name, table.c.id)
        with self._reading() as connection:
            return many(connection, Heater, table, found)

    def heaters(self) -> tuple[Heater, ...]:
        """All heaters, in the order in which they became known."""
        table = tables.heater
        with self._reading() as connection:
            return many(connection, Heater, table, select(table).order_by(table.c.id))

    def instruments(self) -> Mapping[str, Instrument]:
        """All instruments by id, in the order of their names, retired ones too."""
        with self._reading() as connection:
            return self._unchanged.answer(connection, looking.instruments)

    def parts(self, heater_id: str | None = None) -> tuple[Part, ...]:
        """The pieces known with a heater, wherever they are now, or all."""
        with self._reading() as connection:
            return pieces.parts(connection, heater_id)

    def moves(self, heater_id: str | None = None) -> tuple[Move, ...]:
        """What happened to the pieces of a heater, or to all, in order of time."""
        with self._reading() as connection:
            return pieces.moves(connection, heater_id)

    def taken(self) -> tuple[Move, ...]:
        """What came out of a bin, in order of time: with the bins it tells the stock."""
        with self._reading() as connection:
            return self._unchanged.answer(connection, pieces.taken)

    def visit_heads(self, heater_id: str | None = None) -> tuple[VisitHead, ...]:
        """The visits of one heater or of all without what was read on them, oldest first."""
        with self._reading() as connection:
            return pieces.visit_heads(connection, heater_id)

    def listed(self) -> frozenset[str]:
        """Heaters whose vehicle and owner are known."""
        with self._reading() as connection:
            return pieces.listed(connection)

    def witness(self, mark: int) -> str:
        """What stands for all that was said up to a mark; "" where this book never had it."""
        with self._reading() as connection:
            return pieces.witness(connection, mark)

    def news(self, since: int = 0) -> News:
        """Which heaters were spoken of since the mark of earlier news."""
        with self._reading() as connection:
            return pieces.news(connection, since)

    def said_so_far(self) -> str:
        """What stands for all that was said so far: the same as long as nothing new is said."""
        with self._reading() as connection:
            return pieces.said_so_far(connection)

    def said_of(self, heater_id: str) -> frozenset[tuple[str, int]]:
        """How much was said of a heater and of each of its visits, pieces and logs."""
        with self._reading() as connection:
            return pieces.said_of(connection, heater_id)

    def bins(self) -> tuple[Bin, ...]:
        """All bins by place and type."""
        with self._reading() as connection:
            return self._unchanged.answer(connection, pieces.bins)

    def counters(self, heater_id: str | None = None) -> tuple[Reading, ...]:
        """What hour meters and start counters of a heater, or of all, showed, in order of time."""
        with self._reading() as connection:
            return pieces.counters(connection, heater_id)

    def traces(self, heater_id: str | None = None) -> tuple[Trace, ...]:
        """What was found in the logs of a heater, or of all, in order of time."""
        with self._reading() as connection:
            return pieces.traces(connection, heater_id)

    def trace(self, trace_id: str) -> Trace:
        """One log. Raises NotFound."""
        with self._reading() as connection:
            return looking.by_id(connection, Trace, tables.trace, id=trace_id)

    def visit(self, visit_id: str) -> Visit:
        """One visit with its live readings, events and photos. Raises NotFound."""
        with self._reading() as connection:
            return looking.visit(connection, self._remembered, visit_id)

    def visits_of(self, heater_id: str) -> tuple[Visit, ...]:
        """A heater's visits with their live parts, oldest first."""
        with self._reading() as connection:
            return visits(connection, self._remembered, OF_HEATER, heater=heater_id)

    def open_visits(self, limit: int = 20) -> tuple[Visit, ...]:
        """Visits that nobody closed, latest first."""
        with self._reading() as connection:
            return visits(connection, self._remembered, OPEN, limit=limit)

    def case(self, visit_id: str) -> Case:
        """Everything known about a visit, with the heater's earlier ones. Raises NotFound."""
        with self._reading() as connection:
            return looking.case(connection, self._remembered, self._unchanged, visit_id)

    def cases_of(self, heater_id: str, *, latest: int) -> tuple[Case, ...]:
        """The cases of a heater's `latest` visits, oldest first, each with all visits before it."""
        with self._reading() as connection:
            return looking.cases_of(connection, self._remembered, self._unchanged, heater_id, latest=latest)

    def conflicts(self, subjects: Sequence[str] | None = None) -> tuple[Conflict, ...]:
        """Entries of these subjects, or of all, that contradict each other until a person chooses."""
        with self._reading() as connection:
            return looking.conflicts_of(connection, subjects)

    def standing(self, field: str, subject: str) -> tuple[Entry, ...]:
        """The live entries that say what a noun is shown as, latest first; a correction names them all."""
        with self._reading() as connection:
            return looking.standing(connection, field, subject)

    def search(self, text: str = "", *, limit: int = 50, after: str | None = None) -> tuple[HeaterLine, ...]:
        """Heaters by words of vehicle, heater, owner, serial or registration, whatever the case.

        Never visited ones come first, then by latest visit. The next page follows `after`, the id of the
        last heater of this one.
        """
        with self._reading() as connection:
            return looking.search(connection, text, limit=limit, after=after)

    def line(self, heater_id: str) -> HeaterLine:
        """The line of one heater in the list. Raises NotFound."""
        with self._reading() as connection:
            return looking.line_of(connection, heater_id)

    def entry(self, entry_id: str) -> Entry:
        """One entry. Raises NotFound."""
        with self._reading() as connection:
            return looking.entry(connection, entry_id)

    def entries(self, subject: str) -> tuple[Entry, ...]:
        """All entries that speak of a subject, oldest first; a visit's readings speak of the visit."""
        with self._reading() as connection:
            return looking.entries(connection, subject)

    def history(self, subject: str) -> tuple[HistoryLine, ...]:
        """All entries that speak of a subject, newest first, each with what became of it."""
        with self._reading() as connection:
            return looking.history(connection, subject)

    def standing_again(self, field: str, subjects: Sequence[str]) -> Mapping[str, StandsAgain]:
        """Of these subjects those that were withdrawn and stand again, each as the last time."""
        with self._reading() as connection:
            return looking.standing_again(connection, field, subjects)

    def photo_bytes(self, sha256: str) -> bytes:
        """The bytes of a picture. Raises NotFound while they have not arrived."""
        table = tables.photo_bytes
        with self._reading() as connection:
            data = connection.scalar(select(table.c.data).where(table.c.sha256 == sha256))
        if data is None:
            raise NotFound(message("records.no_photo", sha256=sha256[:64]))
        return bytes(data)

    # Keeping house

    def check(self) -> Checkup:
        """Look for damage: the file itself, every entry's hash, and the projections against a rebuild."""
        with self._written() as connection:
            found = check(connection)
            connection.rollback()
        return found

    def copy_to(self, path: Path) -> None:
        """A consistent copy of the book, taken while it is in use. Raises Refusal for one on a server."""
        if self._opened.path is None:
            raise Refusal(message("records.copy_on_server", book=self.name))
        if path.exists():
            raise Refusal(message("records.copy_exists", path=str(path)))
        with told(str(path)):
            copy_file(self._opened, path)


def _checked(said: Entry) -> Checked | LightoffError:
    try:
        return check_entry(said)
    except Refusal as fault:
        return fault


def _raise_all(answers: Sequence[object]) -> None:
    faults = [each for each in answers if isinstance(each, LightoffError)]
    if not faults:
        return
    refusals = tuple(each for each in faults if isinstance(each, Refusal))
    if len(refusals) > 1:
        raise Refusals(tuple(one for each in refusals for one in getattr(each, "refusals", (each,))))
    raise faults[0]


def _write(connection: Connection, checked: Sequence[Checked | LightoffError]) -> list[Kept | LightoffError]:
    """Insert what is new and project it; the answer for each."""
    good = [each for each in checked if isinstance(each, Checked)]
    stands = _hashes(connection, [each.entry.id for each in good])
    circular = _closing_a_circle(connection, good)
    answers: list[Kept | LightoffError] = []
    new: list[Checked] = []
    for each in checked:
        if isinstance(each, LightoffError):
            answers.append(each)
            continue
        entry_id = each.entry.id
        if entry_id in stands:
            answers.append(_again(each, stands[entry_id]))
        elif entry_id in circular:
            answers.append(Refusal(message("records.circle", id=entry_id), field="corrects"))
        else:
            stands[entry_id] = each.sha256
            new.append(each)
            answers.append(Kept(id=entry_id, outcome="kept"))
    if new:
        connection.execute(insert(tables.entry), [each.row() for each in new])
        project(connection, [each.entry.id for each in new])
    return answers


def _again(each: Checked, sha256: str) -> Kept | WouldOverwrite:
    if each.sha256 == sha256:
        return Kept(id=each.entry.id, outcome="already kept")
    return WouldOverwrite(message("records.conflict", id=each.entry.id, noun=each.entry.field))


def _hashes(connection: Connection, ids: Sequence[str]) -> dict[str, str]:
    table = tables.entry
    found: dict[str, str] = {}
    for some in chunks(ids):
        rows = connection.execute(select(table.c.id, table.c.sha256).where(table.c.id.in_(some)))
        found.update((row.id, row.sha256) for row in rows)
    return found


def _closing_a_circle(connection: Connection, good: Sequence[Checked]) -> set[str]:
    """Entries that would correct, by way of others, themselves: no one of them could ever count.

    Only an entry that is corrected already, before it arrives, can close a circle.
    """
    table = tables.entry
    corrects = {each.entry.id: each.entry.corrects for each in good if each.entry.corrects}
    awaited = set(corrects.values())
    for some in chunks(corrects):
        awaited |= set(connection.scalars(select(table.c.corrects).where(table.c.corrects.in_(some))))
    found = set()
    for start in corrects.keys() & awaited:
        here: str | None = corrects[start]
        seen = {start}
        while here and here not in seen:
            seen.add(here)
            further = corrects.get(here)
            if further is None:
                further = connection.scalar(select(table.c.corrects).where(table.c.id == here))
            here = further
        if here == start:
            found.add(start)
    return found
