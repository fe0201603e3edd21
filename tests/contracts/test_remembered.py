"""A visit is made once while nothing new is said of it, and anew after whatever is said."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lightoff.records import Book
from lightoff.records.visits import Remembered
from lightoff.terms.entry import Entry
from lightoff.terms.visit import Acceptance, Event, EventKind, Photo, Visit

if TYPE_CHECKING:
    from conftest import Pen


def everything_that_can_be_said(pen: Pen, reading: Entry, visit: Entry) -> list[list[Entry]]:
    """One step of a visit's life after the other, each of another kind."""
    corrected = pen.reading("5.10", corrects=reading.id)
    close = pen.close()
    late = pen.reading("5.30")
    event = Event(id="", heater="heater-1", kind=EventKind.FLAME, at=pen.now)
    photo = Photo(id="", heater="heater-1", taken_at=pen.now, sha256="0" * 64, media_type="image/jpeg")
    moved = Visit(id="visit-1", heater="heater-2", started_at=pen.now)
    return [
        [pen.reading("4.90")],
        [corrected],
        [pen.withdrawal(corrected)],
        [pen.entry("event", event, subject="visit-1")],
        [pen.entry("photo", photo, subject="visit-1")],
        [close],
        [late],
        [pen.entry("accept", Acceptance(id="", reading=late.id), subject="visit-1")],
        [pen.withdrawal(close)],
        [pen.visit(corrects=visit.id)],
        [pen.entry("visit", moved, subject="visit-1", corrects=visit.id)],
    ]


def test_nothing_new_gives_the_very_same_visit(book: Book, pen: Pen) -> None:
    book.keep([*pen.household(), pen.visit(), pen.reading(), pen.visit("visit-2")])
    once, other = book.visits_of("heater-1")
    book.keep([pen.reading("4.90", visit="visit-2"), pen.owner(), *pen.household(2)])
    again, more = book.visits_of("heater-1")
    assert again is once
    assert more is not other
    assert book.case("visit-2").history[0] is once


def test_whatever_is_said_the_visit_is_as_a_book_opened_anew_tells_it(
    book: Book, address: str, pen: Pen
) -> None:
    reading, visit = pen.reading(), pen.visit()
    book.keep([*pen.household(), *pen.household(2), visit, reading])
    before = book.visit("visit-1")
    for step in everything_that_can_be_said(pen, reading, visit):
        book.keep(step)
        after = book.visit("visit-1")
        assert after is not before, step[0].field
        with Book.open(address) as fresh:
            assert fresh.visit("visit-1") == after, step[0].field
            for heater in ("heater-1", "heater-2"):
                assert fresh.visits_of(heater) == book.visits_of(heater), step[0].field
        before = after


def test_what_another_program_keeps_is_seen(book: Book, address: str, pen: Pen) -> None:
    book.keep([*pen.household(), pen.visit(), pen.reading()])
    assert len(book.visit("visit-1").readings) == 1
    with Book.open(address) as other:
        other.keep([pen.reading("4.90")])
    assert len(book.visit("visit-1").readings) == 2


def test_the_cases_of_a_heater_are_those_of_its_visits(book: Book, pen: Pen) -> None:
    book.keep(pen.household())
    for number in range(4):
        pen.later(days=30)
        name = f"visit-{number}"
        first = pen.reading(visit=name)
        fork = [pen.reading(value, visit=name, corrects=first.id) for value in ("4.70", "4.60")]
        book.keep([pen.visit(name), first, *fork])
    cases = book.cases_of("heater-1", latest=3)
    assert [case.visit.id for case in cases] == ["visit-1", "visit-2", "visit-3"]
    for case in cases:
        assert case.conflicts
        assert case == book.case(case.visit.id)
    assert book.cases_of("no such heater", latest=3) == ()


def test_no_more_are_remembered_than_agreed(pen: Pen) -> None:
    remembered = Remembered(2)
    visits = [Visit(id=f"visit-{number}", heater="heater-1", started_at=pen.now) for number in range(3)]
    for visit in visits:
        remembered.put(visit, 1)
    assert [remembered.get(each.id, 1) for each in visits] == [None, *visits[1:]]
    assert remembered.get("visit-2", 2) is None
