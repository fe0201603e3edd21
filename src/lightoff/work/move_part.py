"""Take a piece out and put one in: what became of the old one, and where the new one came from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from lightoff.ground.errors import NotFound, Refusal, WouldOverwrite
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.records import Book, body_of, field_of
from lightoff.terms.entry import Entry
from lightoff.terms.part import Bin, Move, MoveKind, Part
from lightoff.work.part_lines import newest_of
from lightoff.work.pieces import Where
from lightoff.work.units import unit_of
from lightoff.work.workshop import Workshop

ENDS = (MoveKind.SCRAPPED, MoveKind.KEPT, MoveKind.FAILED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Exchange:
    """What was done with the part of one type on a visit.

    `fate` is what became of the old piece, None where it stays (it was only looked at and written down).
    `spare` is the piece that goes in where it is a spare of the vehicle, `bin` where a new one comes from.
    """

    kind: str
    fate: MoveKind | None = None
    spare: str = ""
    bin: str = ""
    fits_new: bool = True
    why: str = ""
    condition: str = ""
    cause: str = ""
    stamped_on: date | None = None
    price: Decimal | None = None


def move_part(
    workshop: Workshop,
    visit_id: str,
    done: Exchange,
    now: datetime,
    *,
    author: str,
    new_id: Callable[[], str],
    exchange_id: str = "",
) -> None:
    """Keep an exchange in the book, all of it or nothing; one of the same `exchange_id` is kept once.

    A heater in which no piece of this type was known gets one first, found in place with the stamp that it
    bears. Raises NotFound for a visit; Refusal for a type that the shelf has not, another's spare,
    or a bin that holds something else.
    """
    visit, book = workshop.book.visit(visit_id), workshop.book
    if exchange_id and _is_kept(book, exchange_id):
        return
    kinds = workshop.shelf.part_types
    if done.kind not in kinds:
        raise Refusal(message("part_move.unknown_kind", kind=done.kind[:60]), field="kind")
    if done.cause and done.cause not in kinds[done.kind].faults:
        raise Refusal(message("part_move.unknown_cause", cause=done.cause[:60]), field="cause")
    line = newest_of(done.kind, kinds)
    alike = [each for each in unit_of(workshop, visit.heater, now).pieces if each.part.kind == line]
    fitted = next((each for each in alike if each.where is Where.FITTED), None)
    spares = {each.part.id for each in alike if each.where is Where.SPARE}
    if done.spare and done.spare not in spares:
        raise Refusal(message("part_move.no_such_spare"), field="spare")
    taken = next((each for each in book.bins() if each.id == done.bin), None)
    if done.bin and (taken is None or newest_of(taken.kind, kinds) != line):
        raise Refusal(message("part_move.no_such_bin"), field="bin")
    entries: list[Entry] = []

    def say(noun: Part | Move, subject: str) -> None:
        entries.append(
            Entry(
                id=new_id(),
                subject=subject,
                field=field_of(noun),
                value=body_of(noun),
                author=author,
                at=now,
            )
        )

    def moved(part: str, kind: MoveKind, **more: object) -> None:
        # What was found comes before what became of it, though it is written down at once.
        at = now + timedelta(milliseconds=len(entries))
        say(Move(id="", heater=visit.heater, part=part, kind=kind, at=at, **more), visit_id)  # type: ignore[arg-type]

    old = fitted.part.id if fitted else ""
    if not old and (done.fate is not None or not done.fits_new):
        old = new_id()
        found = Part(id=old, kind=done.kind, heater=visit.heater, stamped_on=done.stamped_on)
        say(found, old)
        moved(old, MoveKind.FOUND, condition=done.condition if done.fate is None else "")
    if old and done.fate is not None:
        cause = done.cause if done.fate is MoveKind.FAILED else ""
        moved(old, done.fate, why=done.why, condition=done.condition, cause=cause)
    if done.fits_new:
        new = done.spare
        if not new:
            new = new_id()
            say(Part(id=new, kind=taken.kind if taken else done.kind, heater=visit.heater), new)
        moved(new, MoveKind.FITTED, bin=done.bin, price=done.price)
    if exchange_id and entries:
        entries[-1] = replace(entries[-1], id=exchange_id)
    try:
        book.keep(entries)
    except WouldOverwrite:
        if not exchange_id or not _is_kept(book, exchange_id):  # the same tap may have come twice at once
            raise


def _is_kept(book: Book, entry_id: str) -> bool:
    try:
        book.entry(entry_id)
    except NotFound:
        return False
    return True


def stock_of(bins: tuple[Bin, ...], moves: tuple[Move, ...]) -> dict[str, int]:
    """How many pieces lie in each bin: those counted, less those taken since."""
    left = {each.id: each.counted for each in bins}
    counted_at = {each.id: each.counted_at for each in bins}
    for move in moves:
        at = counted_at.get(move.bin)
        if at is not None and move.kind is MoveKind.FITTED and move.at > at:
            left[move.bin] -= 1
    return left
