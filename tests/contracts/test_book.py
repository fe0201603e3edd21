"""What every store of a book must do, whatever the database beneath."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

import pytest
import sqlalchemy
from sqlalchemy.exc import DBAPIError

from lightoff.ground.errors import NotFound, Refusal, Refusals, WouldOverwrite
from lightoff.records import Acceptance, Book, Close, Kept, body_of
from lightoff.terms.entry import Entry
from lightoff.terms.people import Heater, Instrument, Shop, Span
from lightoff.terms.visit import Event, EventKind, Photo, Place, Visit
from lightoff.texts.speaker import Speaker

if TYPE_CHECKING:
    from conftest import Pen

PNG = b"\x89PNG\r\n\x1a\n" + bytes(40)
say = Speaker().say


def test_what_was_kept_is_there_after_opening_anew(address: str, pen: Pen) -> None:
    entries = [*pen.household(), pen.visit(), pen.reading()]
    with Book.open(address) as book:
        answers = book.keep(entries)
        before = book.case("visit-1")
    assert answers == tuple(Kept(id=each.id, outcome="kept") for each in entries)
    with Book.open(address, create=False) as book:
        assert book.case("visit-1") == before
        assert book.entries("visit-1") == tuple(entries[-2:])


def test_a_case_holds_the_nouns_around_the_visit(book: Book, pen: Pen) -> None:
    span = Span(key="flue_co", low=Decimal(0), high=Decimal("2000"), unit="ppm")
    probe = Instrument(id="probe-1", name="Probe", kind="flue_gas_probe", spans=(span,))
    shop = Shop(name="Invented Heat", units="us", invented=True)
    book.keep(
        [
            *pen.household(),
            pen.entry("instrument", probe, subject="probe-1"),
            pen.entry("shop", shop, subject="shop"),
            pen.visit("visit-0"),
            pen.reading("6.1", visit="visit-0"),
            pen.visit("visit-1"),
            pen.reading("4.80"),
            pen.visit("visit-2"),
        ]
    )
    case = book.case("visit-1")
    assert case.visit.readings[0].value == Decimal("4.80")
    assert str(case.visit.readings[0].value) == "4.80"
    assert [each.id for each in case.history] == ["visit-0"]
    assert case.history[0].readings[0].value == Decimal("6.1")
    assert case.instruments == {"probe-1": probe}
    assert (case.owner.name, case.vehicle.name, case.heater.name) == ("Owner 1", "Vehicle 1", "front")
    assert case.shop == shop
    assert [each.id for each in book.visits_of("heater-1")] == ["visit-0", "visit-1", "visit-2"]


def test_a_visit_comes_back_as_it_was_said(book: Book, pen: Pen) -> None:
    said = Visit(
        id="visit-1",
        heater="heater-1",
        started_at=pen.now + timedelta(microseconds=1),
        technician="Ann",
        reason="annual service",
        complaint="smokes at start \N{SNOWFLAKE}",
        work_done=("nozzle renewed", "chamber cleaned"),
        service_complete=True,
        fuel="diesel_2",
        place=Place(name="Yard", altitude_m=1650.5, air_temperature_k=284.15, relative_humidity_fraction=0.4),
        destination=Place(name="Pass", altitude_m=2500.0),
        note="two\nlines",
    )
    flame = Event(id="", heater="heater-1", kind=EventKind.FLAME, at=pen.now)
    sha256 = book.keep_photo(PNG, "image/png")
    photo = Photo(id="", heater="heater-1", taken_at=pen.now, sha256=sha256, media_type="image/png")
    entries = [
        pen.entry("visit", said, subject="visit-1"),
        pen.entry("event", flame, subject="visit-1"),
        pen.entry("photo", photo, subject="visit-1"),
    ]
    book.keep(entries)
    events = (replace(flame, id=entries[1].id),)
    photos = (replace(photo, id=entries[2].id),)
    assert book.visit("visit-1") == replace(said, events=events, photos=photos)
    assert book.photo_bytes(sha256) == PNG


def test_the_same_entry_twice_is_one(book: Book, pen: Pen) -> None:
    entry = pen.reading()
    book.keep([entry])
    assert book.keep([entry, entry]) == (Kept(id=entry.id, outcome="already kept"),) * 2
    assert len(book.entries("visit-1")) == 1
    twin = pen.reading()
    assert [each.outcome for each in book.keep([twin, twin])] == ["kept", "already kept"]


@pytest.mark.parametrize("part", ["author", "subject", "value", "at", "corrects"])
def test_the_same_id_with_another_body_is_refused(book: Book, pen: Pen, part: str) -> None:
    entry = pen.reading("4.80")
    book.keep([entry])
    assert isinstance(entry.value, dict)
    changed = {
        "author": replace(entry, author="bob"),
        "subject": replace(entry, subject="visit-2"),
        "value": replace(entry, value=entry.value | {"value": "4.8"}),
        "at": replace(entry, at=entry.at + timedelta(microseconds=1)),
        "corrects": replace(entry, corrects=pen.id()),
    }[part]
    with pytest.raises(WouldOverwrite) as caught:
        book.keep([pen.visit(), changed])
    assert say(caught.value.message) == (
        f"Entry {entry.id} is kept already and says something else. A reading once kept is not "
        "overwritten: send the change as a new entry that corrects it."
    )
    assert book.entries("visit-1") == (entry,), "nothing beside a conflict is kept"


def test_all_or_nothing_tells_every_fault(book: Book, pen: Pen) -> None:
    bad = pen.entry("reading", {"key": "flue_o2", "value": 4.8}, subject="visit-1")  # type: ignore[dict-item]
    with pytest.raises(Refusals) as caught:
        book.keep([pen.visit(), bad, replace(pen.owner(), id="1")])
    told = {each.field: say(each.message) for each in caught.value.refusals}
    assert told.keys() == {"heater", "stage", "taken_at", "value", "id"}
    assert told["heater"] == "“heater” is missing; the reading needs it. Add it."
    assert book.entries("visit-1") == ()


def test_good_entries_are_kept_beside_bad_ones(book: Book, pen: Pen) -> None:
    kept = pen.reading("5.0")
    book.keep([kept])
    bad = pen.entry("reading", {"key": "flue_o2"}, subject="visit-1")
    other = replace(kept, author="bob")
    good = pen.reading("4.9")
    answers = book.keep([pen.visit(), bad, other, good, kept], each_by_itself=True)
    kinds = [each.outcome if isinstance(each, Kept) else type(each).__name__ for each in answers]
    assert kinds == ["kept", "Refusals", "WouldOverwrite", "kept", "already kept"]
    assert [str(each.value) for each in book.visit("visit-1").readings] == ["5.0", "4.9"]


def test_a_reading_may_arrive_before_its_visit(book: Book, pen: Pen) -> None:
    visit, reading, household = pen.visit(), pen.reading(), pen.household()
    book.keep([reading])
    with pytest.raises(NotFound) as caught:
        book.visit("visit-1")
    assert say(caught.value.message) == (
        "There is no visit visit-1 in the book. It may not have arrived yet, or was withdrawn."
    )
    assert book.check().waiting_count == 1
    book.keep([visit])
    assert [each.id for each in book.visit("visit-1").readings] == [reading.id]
    assert book.check().waiting_count == 1, "the visit's heater has not arrived"
    book.keep(household)
    assert book.check().waiting_count == 0
    assert book.search()[0].last_visit_id == "visit-1"


def test_a_correction_takes_the_place_and_can_be_undone(book: Book, pen: Pen) -> None:
    visit, first = pen.visit(), pen.reading("48")
    second = pen.reading("4.8", corrects=first.id)
    book.keep([visit, first, second])
    reading = book.visit("visit-1").readings[0]
    assert (reading.id, reading.value, reading.corrects) == (second.id, Decimal("4.8"), first.id)
    assert reading.entered_at == second.at

    undo = book.undoing(second.id, id=pen.id(), author="ann", at=pen.later())
    book.keep([undo])
    assert [str(each.value) for each in book.visit("visit-1").readings] == ["48"]

    redo = book.undoing(undo.id, id=pen.id(), author="ann", at=pen.later())
    book.keep([redo])
    assert [str(each.value) for each in book.visit("visit-1").readings] == ["4.8"]

    lines = book.history("visit-1")
    assert [line.entry.id for line in lines[:4]] == [redo.id, undo.id, second.id, first.id]
    assert [line.is_live for line in lines] == [True, False, False, False, True]
    assert lines[3].corrected_by == (second.id,)


def test_undoing_a_first_entry_withdraws_it(book: Book, pen: Pen) -> None:
    first = pen.reading()
    book.keep([pen.visit(), first])
    undo = book.undoing(first.id, id=pen.id(), author="ann", at=pen.later())
    assert undo.value is None
    book.keep([undo])
    assert book.visit("visit-1").readings == ()
    book.keep([book.undoing(undo.id, id=pen.id(), author="ann", at=pen.later())])
    assert [str(each.value) for each in book.visit("visit-1").readings] == ["4.80"]


def test_two_corrections_of_one_reading_both_stay(book: Book, pen: Pen) -> None:
    first = pen.reading("48")
    phone = pen.reading("4.8", corrects=first.id, author="phone")
    laptop = pen.reading("4.9", corrects=first.id, author="laptop")
    book.keep([pen.visit(), first, laptop, phone])
    assert {str(each.value) for each in book.visit("visit-1").readings} == {"4.8", "4.9"}
    line = next(each for each in book.history("visit-1") if each.entry.id == first.id)
    assert line.corrected_by == (phone.id, laptop.id)
    book.keep([pen.withdrawal(laptop)])
    assert [str(each.value) for each in book.visit("visit-1").readings] == ["4.8"]


def test_a_correction_of_another_subject_or_field_changes_nothing(book: Book, pen: Pen) -> None:
    reading = pen.reading()
    stray = pen.reading("9.9", visit="visit-2", corrects=reading.id)
    event = pen.entry("event", None, subject="visit-1", corrects=reading.id)
    book.keep([pen.visit(), reading, stray, event])
    assert [each.id for each in book.visit("visit-1").readings] == [reading.id]


def test_entries_cannot_correct_each_other_in_a_circle(book: Book, pen: Pen) -> None:
    first, second, third = pen.reading("1"), pen.reading("2"), pen.reading("3")
    first = replace(first, corrects=third.id)
    second = replace(second, corrects=first.id)
    third = replace(third, corrects=second.id)
    book.keep([first, second])
    with pytest.raises(Refusal) as caught:
        book.keep([third])
    assert say(caught.value.message) == (
        f"Entry {third.id} would correct itself by way of other entries. Correct the latest of them instead."
    )
    with pytest.raises(Refusal) as caught:
        book.keep([replace(first, corrects=first.id)])
    assert "it must be the id of another entry, or nothing" in say(caught.value.message)


def test_close_and_reopen(book: Book, pen: Pen) -> None:
    book.keep([pen.visit()])
    assert book.visit("visit-1").closed_at is None
    assert [each.id for each in book.open_visits()] == ["visit-1"]
    close = pen.close()
    book.keep([close])
    assert isinstance(close.value, dict)
    assert book.visit("visit-1").closed_at == datetime.fromisoformat(str(close.value["closed_at"]))
    assert book.open_visits() == ()
    again = pen.close()
    book.keep([again])
    assert body_of(Close(id="", closed_at=book.visit("visit-1").closed_at or pen.now)) == close.value
    book.keep([pen.withdrawal(close), pen.withdrawal(again)])
    assert book.visit("visit-1").closed_at is None


def test_a_late_reading_is_accepted_by_a_person(book: Book, pen: Pen) -> None:
    late = pen.reading()
    accepted = pen.entry("accept", Acceptance(id="", reading=late.id), subject="visit-1", author="chief")
    book.keep([pen.visit(), accepted, late])
    assert book.visit("visit-1").readings[0].accepted_by == "chief"
    book.keep([pen.withdrawal(accepted)])
    assert book.visit("visit-1").readings[0].accepted_by is None


def test_the_latest_live_entry_says_what_a_noun_is(book: Book, pen: Pen) -> None:
    first = pen.owner(name="Ada")
    married = pen.entry("owner", {"name": "Ada B."}, subject="owner-1", corrects=first.id)
    book.keep([married])
    book.keep([first])
    assert book.owner("owner-1").name == "Ada B."
    book.keep([pen.withdrawal(married)])
    with pytest.raises(NotFound):
        book.owner("owner-1")


def test_search_finds_words_of_vehicle_heater_owner_serial_and_registration(book: Book, pen: Pen) -> None:
    book.keep(
        [
            pen.owner("o1", "Élise Straße"),
            pen.vehicle("v1", owner="o1", name="Sea 100% Otter", registration="AB_12"),
            pen.heater("h1", vehicle="v1", name="Aft unit", serial="XQ-9"),
            pen.owner("o2", "Bob"),
            pen.vehicle("v2", owner="o2", name="Seal", registration="ABX12"),
            pen.heater("h2", vehicle="v2", name="Bow unit"),
        ]
    )

    def found(text: str) -> set[str]:
        return {line.heater.id for line in book.search(text)}

    assert found("") == {"h1", "h2"}
    assert found("sea") == {"h1", "h2"}
    assert found("OTTER élise") == {"h1"}
    assert found("strasse") == {"h1"}
    assert found("xq-9") == found("aft") == found("100%") == found("ab_12") == {"h1"}
    assert found("otter bob") == set()
    assert found("a" * 5000) == set()


def test_the_list_is_paged_by_latest_visit(book: Book, pen: Pen) -> None:
    for number in range(1, 8):
        book.keep(pen.household(number))
    for number in (3, 1, 4, 3):
        pen.later(days=1)
        book.keep([pen.visit(f"visit-{pen.dice.random()}", heater=f"heater-{number}")])
    pages: list[str] = []
    after = None
    while page := book.search(limit=2, after=after):
        pages += [line.heater.id for line in page]
        after = pages[-1]
    assert pages[-3:] == ["heater-3", "heater-4", "heater-1"]
    assert sorted(pages) == [f"heater-{number}" for number in range(1, 8)]
    assert book.line("heater-3").visit_count == 2
    assert book.line("heater-7").last_visit_at is None


def test_a_line_follows_its_owner_vehicle_and_visits(book: Book, pen: Pen) -> None:
    household = pen.household()
    visit = pen.visit()
    book.keep([*household, visit])
    book.keep([pen.entry("owner", {"name": "New name"}, subject="owner-1", corrects=household[0].id)])
    assert [line.owner.name for line in book.search("new name")] == ["New name"]
    assert book.search("owner 1") == ()
    book.keep([*pen.household(2)])
    moved = Visit(id="visit-1", heater="heater-2", started_at=pen.now)
    book.keep([pen.entry("visit", moved, subject="visit-1", corrects=visit.id)])
    counts = {line.heater.id: line.visit_count for line in book.search()}
    assert counts == {"heater-1": 0, "heater-2": 1}
    book.keep([pen.withdrawal(household[1])])
    assert [line.heater.id for line in book.search()] == ["heater-2"]


def test_lists_of_owners_vehicles_and_heaters(book: Book, pen: Pen) -> None:
    book.keep([*pen.household(2), *pen.household(1)])
    assert [each.name for each in book.owners()] == ["Owner 1", "Owner 2"]
    assert [each.id for each in book.vehicles_of("owner-2")] == ["vehicle-2"]
    assert book.heaters_of("vehicle-1") == (
        Heater(id="heater-1", vehicle="vehicle-1", name="front", sheet="generic_9_kw", serial="SN-77"),
    )


def test_rebuild_makes_the_same_projections(book: Book, pen: Pen) -> None:
    first = pen.reading("48")
    book.keep([*pen.household(), pen.visit(), first, pen.reading("4.8", corrects=first.id), pen.close()])
    before = book.case("visit-1"), book.search(), book.history("visit-1")
    assert book.check().differing == ()
    book.rebuild()
    assert (book.case("visit-1"), book.search(), book.history("visit-1")) == before
    assert book.check().is_sound


def test_check_sees_a_projection_that_somebody_changed(book: Book, pen: Pen) -> None:
    book.keep([*pen.household(), pen.visit(), pen.reading()])
    with book._opened.writer.begin() as connection:
        connection.exec_driver_sql("UPDATE reading SET value = '2.0'")
        connection.exec_driver_sql("DELETE FROM heater_line")
    found = book.check()
    assert found.differing == ("reading", "heater_line")
    assert not found.is_sound
    assert found.counts["reading"] == 1
    assert book.check().differing == found.differing, "looking mends nothing"
    book.rebuild()
    assert book.check().is_sound


@pytest.mark.parametrize(
    "act",
    [
        "UPDATE entry SET author = 'eve'",
        "DELETE FROM entry",
        "UPDATE photo_bytes SET media_type = 'image/jpeg'",
        "DELETE FROM photo_bytes",
    ],
)
def test_the_database_itself_refuses_to_change_what_was_kept(book: Book, pen: Pen, act: str) -> None:
    book.keep([pen.owner()])
    book.keep_photo(PNG, "image/png")
    with (
        pytest.raises(DBAPIError, match="only grows: nothing in it is changed or deleted"),
        book._opened.writer.begin() as connection,
    ):
        connection.exec_driver_sql(act)
    assert book.check().is_sound


def test_readers_cannot_write(book: Book) -> None:
    with pytest.raises(DBAPIError), book._opened.reader.begin() as connection:
        connection.execute(sqlalchemy.text("DELETE FROM heater_line"))


def test_photos_are_kept_once_by_their_bytes(book: Book) -> None:
    assert book.keep_photo(PNG, "image/png") == book.keep_photo(PNG, "image/png")
    assert book.check().counts["photo_bytes"] == 1
    with pytest.raises(NotFound) as caught:
        book.photo_bytes("0" * 64)
    assert "has not arrived in the book yet" in say(caught.value.message)


@pytest.mark.parametrize(
    ("data", "media_type", "sentence"),
    [
        (b"", "image/png", "The picture has 0 bytes; it must have from 1 to 40,000,100."),
        (b"<svg/>", "image/svg+xml", "The picture is “image/svg+xml”; it must be one of: image/jpeg,"),
        (b"<html>", "image/png", "The picture is “image/png”; it must be one of: image/jpeg,"),
    ],
)
def test_a_picture_that_is_none(book: Book, data: bytes, media_type: str, sentence: str) -> None:
    with pytest.raises(Refusal) as caught:
        book.keep_photo(data, media_type)
    assert say(caught.value.message).startswith(sentence)


def test_many_threads_write_and_read_at_once(book: Book, pen: Pen) -> None:
    book.keep([*pen.household(), pen.visit()])
    shares = [[pen.reading(f"{number}.{thread}") for number in range(12)] for thread in range(6)]
    faults: list[BaseException] = []

    def write(share: list[Entry]) -> None:
        try:
            for entry in share:
                book.keep([entry])
                assert entry.id in {each.id for each in book.visit("visit-1").readings}
        except BaseException as error:  # noqa: BLE001 a thread's fault must reach the test
            faults.append(error)

    threads = [threading.Thread(target=write, args=(share,)) for share in shares]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert len(book.visit("visit-1").readings) == 72
    assert book.check().is_sound
