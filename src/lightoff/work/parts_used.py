"""What became of parts on a visit, each with its name, its number and what the owner pays for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from lightoff.ground.values import dataclass
from lightoff.records import Book
from lightoff.shelf import Shelf
from lightoff.terms.part import Bin, Move, MoveKind, Part
from lightoff.terms.visit import Visit
from lightoff.wear.lives import Clock
from lightoff.work.pieces import Piece, Where

TOLD = (MoveKind.FITTED, MoveKind.KEPT, MoveKind.FAILED, MoveKind.SCRAPPED)
"""What is told, in this order; that a piece was found in place is no work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartUsed:
    """One piece, what became of it and why.

    `kind` is the key of its part type, "" where the book no longer knows the piece; `label` is what the shop
    calls it, `number` how it is ordered, `price` what the owner pays: None for what costs nothing, or where
    the shop wants no prices on its paper. `used` is the life that a kept spare has on `clock`: None where
    nobody can say, or where it is no spare any more.
    """

    move: MoveKind
    kind: str
    label: str = ""
    number: str = ""
    serial: str = ""
    why: str = ""
    price: Decimal | None = None
    used: float | None = None
    clock: str = ""


def parts_used(
    book: Book, shelf: Shelf, visit: Visit, *, with_prices: bool, pieces: Sequence[Piece] = ()
) -> tuple[PartUsed, ...]:
    """The pieces of a visit's moves, fitted ones first; a piece that was fitted new bears its price.

    A piece that was kept bears the life it has used, where it is one of `pieces` and still a spare.
    """
    if not visit.moves:
        return ()
    known = {each.id: each for each in book.parts(visit.heater)}
    bins = {each.id: each for each in book.bins()}
    new = _new_on(visit, book.moves(visit.heater))
    spares = {each.part.id: each for each in pieces if each.where is Where.SPARE}
    return tuple(
        _used(
            move,
            known,
            shelf,
            price=_price(move, known, bins, shelf, new) if with_prices else None,
            spare=spares.get(move.part) if move.kind is MoveKind.KEPT else None,
        )
        for kind in TOLD
        for move in visit.moves
        if move.kind is kind
    )


def total(used: Sequence[PartUsed]) -> Decimal | None:
    """What the parts cost together; None where none has a price."""
    prices = [each.price for each in used if each.price is not None]
    return sum(prices, Decimal(0)) if prices else None


def _new_on(visit: Visit, moves: Sequence[Move]) -> frozenset[str]:
    """The pieces whose life began on this visit: a spare that went in was paid for before."""
    first: dict[str, str] = {}
    for each in moves:
        first.setdefault(each.part, each.id)
    return frozenset(
        each.part for each in visit.moves if each.kind is MoveKind.FITTED and first.get(each.part) == each.id
    )


def _price(
    move: Move, known: Mapping[str, Part], bins: Mapping[str, Bin], shelf: Shelf, new: frozenset[str]
) -> Decimal | None:
    """What was said of this very piece, else its bin's price, else its type's."""
    if move.kind is not MoveKind.FITTED or move.part not in new:
        return move.price
    part, bin_ = known.get(move.part), bins.get(move.bin)
    kind = shelf.part_types.get(part.kind) if part else None
    said = (move.price, bin_.price if bin_ else None, kind.price if kind else None)
    return next((each for each in said if each is not None), None)


def _used(
    move: Move, known: Mapping[str, Part], shelf: Shelf, *, price: Decimal | None, spare: Piece | None
) -> PartUsed:
    part = known.get(move.part)
    kind = shelf.part_types.get(part.kind) if part else None
    clock = Clock(kind.clock) if kind else Clock.MONTHS
    return PartUsed(
        move=move.kind,
        kind=part.kind if part else "",
        label=kind.label if kind else "",
        number=kind.number if kind else "",
        serial=part.serial if part else "",
        why=move.why,
        price=price,
        used=spare.age_on(clock) if spare else None,
        clock=clock.value,
    )
