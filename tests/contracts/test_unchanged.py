"""What the whole shop answers is asked once while nothing is said, and anew after whatever is said."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from lightoff.records import Book
from lightoff.terms.part import Bin, Move, MoveKind
from lightoff.terms.people import Instrument, Planning, Shop

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Pen
    from lightoff.terms.entry import Entry

ASKED: dict[str, Callable[[Book], object]] = {
    "shop": Book.shop,
    "planning": Book.planning,
    "instruments": Book.instruments,
    "bins": Book.bins,
    "taken": Book.taken,
}


def answers(book: Book) -> dict[str, object]:
    return {name: ask(book) for name, ask in ASKED.items()}


def one_of_each(pen: Pen) -> dict[str, Entry]:
    """What changes each of the answers."""
    meter = Instrument(id="meter-1", name="Flue-gas probe", kind="flue_probe")
    bin_ = Bin(id="bin-1", kind="nozzle", place="van", counted=3, counted_at=pen.now)
    fitted = Move(id="", heater="heater-1", part="part-1", kind=MoveKind.FITTED, at=pen.now, bin="bin-1")
    return {
        "shop": pen.entry("shop", Shop(name="Ferry Basin Heaters"), subject="shop"),
        "planning": pen.entry("planning", Planning(hour_rate=Decimal("95.00")), subject="shop"),
        "instruments": pen.entry("instrument", meter, subject="meter-1"),
        "bins": pen.entry("bin", bin_, subject="bin-1"),
        "taken": pen.entry("move", fitted, subject="visit-1"),
    }


def test_nothing_new_gives_the_very_same_answers(book: Book, pen: Pen) -> None:
    book.keep([*pen.household(), pen.visit(), *one_of_each(pen).values()])
    once, again = answers(book), answers(book)
    assert {name: again[name] is each for name, each in once.items()} == dict.fromkeys(ASKED, True)
    assert book.case("visit-1").instruments is once["instruments"]


def test_whatever_is_said_is_answered_by_every_open_book(book: Book, address: str, pen: Pen) -> None:
    book.keep([*pen.household(), pen.visit()])
    with Book.open(address) as other:
        before = answers(other)
        for name, said in one_of_each(pen).items():
            book.keep([said])
            told = answers(other)
            assert told == answers(book)
            changed = {each for each in ASKED if told[each] != before[each]}
            assert changed == {name}
            before = told
        assert other.case("visit-1").instruments == told["instruments"]
        assert other.case("visit-1").shop == told["shop"]


def test_one_moment_keeps_its_answer_and_leaves_it_to_no_other(book: Book, address: str, pen: Pen) -> None:
    book.keep(pen.household())
    with Book.open(address) as other:
        with other.at_one_moment():
            before = answers(other)
            book.keep([*one_of_each(pen).values(), pen.visit()])
            assert answers(other) == before
        assert answers(other) == answers(book) != before


def test_answers_can_be_changed_by_nobody(book: Book, pen: Pen) -> None:
    book.keep([*pen.household(), *one_of_each(pen).values()])
    meters = book.instruments()
    assert not hasattr(meters, "pop")
    assert isinstance(book.bins(), tuple)
    assert isinstance(book.taken(), tuple)


def test_projections_made_anew_are_asked_anew(book: Book, pen: Pen) -> None:
    book.keep([*pen.household(), *one_of_each(pen).values()])
    before = answers(book)
    book.rebuild()
    after = answers(book)
    assert after == before
    assert after["instruments"] is not before["instruments"]
