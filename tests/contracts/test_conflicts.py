"""Two devices that did not know of each other: every store finds what contradicts, and settles nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import permutations
from typing import TYPE_CHECKING

import pytest

from lightoff.records import Acceptance, Book, Close, Noun, in_place_of
from lightoff.terms.conflict import Conflict
from lightoff.terms.entry import Entry
from lightoff.terms.part import Outcome, StepDone
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Vehicle, VehicleKind
from lightoff.terms.visit import Event, EventKind, Photo, Place, Reading, Stage, Visit

if TYPE_CHECKING:
    from conftest import Pen

OF_VISIT = ("reading", "event", "photo", "step", "close", "accept")


def _heater(sheet: str) -> Heater:
    return Heater(id="heater-1", vehicle="vehicle-1", name="front", sheet=sheet)


def _visit(pen: Pen, fuel: str, altitude_m: float = 0.0) -> Visit:
    place = Place(altitude_m=altitude_m)
    return Visit(id="visit-1", heater="heater-1", started_at=pen.now, fuel=fuel, place=place)


def _reading(pen: Pen, value: str, **more: object) -> Reading:
    told = {"key": "flue_co", "stage": Stage.AS_LEFT, "test": "t1", "set_number": 1, "unit": "ppm"} | more
    return Reading(id="", heater="heater-1", taken_at=pen.now, value=Decimal(value), **told)  # type: ignore[arg-type]


def _pairs(pen: Pen) -> dict[str, tuple[Noun, Noun, tuple[str, ...]]]:
    """Of every noun two that contradict each other, and in what."""
    now = pen.now
    later = now + timedelta(minutes=7)
    probe = Instrument(id="probe-1", name="Probe", kind="flue_gas_probe", calibrated_on=date(2024, 1, 5))
    flame = Event(id="", heater="heater-1", kind=EventKind.FLAME, at=now)
    photo = Photo(id="", heater="heater-1", taken_at=now, sha256="0" * 64, media_type="image/png")
    dead = StepDone(id="", heater="heater-1", step="isolate", outcome=Outcome.DONE, at=now, state="dead")
    coach = Vehicle(id="vehicle-1", owner="owner-1", name="Blue", kind=VehicleKind.COACH)
    return {
        "owner": (Owner(id="owner-1", name="Ada"), Owner(id="owner-1", name="Eve"), ("name",)),
        "vehicle": (coach, replace(coach, kind=VehicleKind.BOAT), ("kind",)),
        "heater": (_heater("generic_9_kw"), _heater("generic_12_kw"), ("sheet",)),
        "instrument": (probe, replace(probe, calibrated_on=date(2026, 1, 5)), ("calibrated_on",)),
        "shop": (Shop(name="One"), Shop(name="Other"), ("name",)),
        "visit": (
            _visit(pen, "diesel_2"),
            _visit(pen, "b100", altitude_m=2500.0),
            ("fuel", "place.altitude_m"),
        ),
        "reading": (_reading(pen, "38"), _reading(pen, "380"), ("value",)),
        "event": (flame, replace(flame, at=later), ("at",)),
        "photo": (photo, replace(photo, caption="other"), ("caption",)),
        "step": (dead, replace(dead, state="still live", at=later), ("state",)),
        "close": (Close(id="", closed_at=now), Close(id="", closed_at=later), ("closed_at",)),
        "accept": (Acceptance(id="", reading="a"), Acceptance(id="", reading="b"), ("reading",)),
    }


NOUNS = ("owner", "vehicle", "heater", "instrument", "shop", "visit", *OF_VISIT)
_SUBJECTS = {"owner": "owner-1", "vehicle": "vehicle-1", "heater": "heater-1", "instrument": "probe-1"}


def _subject(noun: str) -> str:
    return _SUBJECTS.get(noun, "shop" if noun == "shop" else "visit-1")


def _two(pen: Pen, noun: str, *, corrects: str | None = None) -> tuple[Entry, Entry, tuple[str, ...]]:
    one, other, parts = _pairs(pen)[noun]
    told = {"subject": _subject(noun), "corrects": corrects}
    phone = pen.entry(noun, one, author="ann", **told)  # type: ignore[arg-type]
    laptop = pen.entry(noun, other, author="bob", **told)  # type: ignore[arg-type]
    return phone, laptop, parts


def _ids(conflicts: tuple[Conflict, ...]) -> list[set[str]]:
    return [{each.entry for each in one.candidates} for one in conflicts]


def _base(pen: Pen, noun: str) -> list[Entry]:
    """What must stand for the noun's visit to be found; not the noun itself where it stands for itself."""
    wanted = [*pen.household(), pen.visit()]
    return [each for each in wanted if each.field != noun]


@pytest.mark.parametrize("noun", [each for each in NOUNS if each not in ("event", "photo", "accept")])
def test_two_live_entries_of_one_noun_are_a_conflict(book: Book, pen: Pen, noun: str) -> None:
    phone, laptop, parts = _two(pen, noun)
    book.keep([*_base(pen, noun), laptop, phone])
    (found,) = book.conflicts()
    assert (found.noun, found.subject, found.parts) == (noun, _subject(noun), parts)
    assert [(each.entry, each.author, each.at) for each in found.candidates] == [
        (phone.id, "ann", phone.at),
        (laptop.id, "bob", laptop.at),
    ]
    assert book.case("visit-1").conflicts == (found,)


@pytest.mark.parametrize("noun", NOUNS)
def test_two_corrections_of_one_entry_are_a_conflict(book: Book, pen: Pen, noun: str) -> None:
    one, _, _ = _pairs(pen)[noun]
    first = pen.entry(noun, one, subject=_subject(noun))
    phone, laptop, parts = _two(pen, noun, corrects=first.id)
    book.keep([*_base(pen, noun), first, phone, laptop])
    (found,) = book.conflicts()
    assert (found.noun, found.parts) == (noun, parts)
    assert _ids(book.conflicts([_subject(noun)])) == [{phone.id, laptop.id}]
    assert book.conflicts(["somebody else"]) == ()


@pytest.mark.parametrize("noun", NOUNS)
def test_corrected_here_and_withdrawn_there_is_a_conflict(book: Book, pen: Pen, noun: str) -> None:
    one, _, _ = _pairs(pen)[noun]
    first = pen.entry(noun, one, subject=_subject(noun))
    _, laptop, _ = _two(pen, noun, corrects=first.id)
    gone = pen.withdrawal(first)
    book.keep([*_base(pen, noun), first, laptop, gone])
    (found,) = book.conflicts()
    assert [each.says is None for each in found.candidates] == [False, True]
    assert found.parts


@pytest.mark.parametrize("noun", NOUNS)
def test_what_says_the_same_twice_is_none(book: Book, pen: Pen, noun: str) -> None:
    one, _, _ = _pairs(pen)[noun]
    twins = [pen.entry(noun, one, subject=_subject(noun), author=each) for each in ("ann", "bob")]
    book.keep([*_base(pen, noun), *twins])
    assert book.conflicts() == ()


def test_two_moments_two_pictures_and_two_acceptances_are_none(book: Book, pen: Pen) -> None:
    book.keep([*pen.household(), pen.visit()])
    for noun in ("event", "photo", "accept"):
        book.keep(_two(pen, noun)[:2])
    assert book.conflicts() == ()


def test_readings_of_different_places_are_none(book: Book, pen: Pen) -> None:
    entries = [
        pen.entry("reading", _reading(pen, value, **more), subject="visit-1")
        for value, more in (
            ("38", {}),
            ("40", {"set_number": 2}),
            ("41", {"test": "t2"}),
            ("42", {"stage": Stage.AS_FOUND}),
            ("43", {"key": "outdoor_co"}),
        )
    ]
    book.keep([*pen.household(), pen.visit(), *entries])
    assert book.conflicts() == ()


def test_answers_of_different_steps_and_the_same_answer_given_in_another_way_are_none(
    book: Book, pen: Pen
) -> None:
    answer, _, _ = _pairs(pen)["step"]
    assert isinstance(answer, StepDone)
    others = [
        answer,
        replace(answer, step="let_cool", state=""),
        replace(answer, at=pen.later(minutes=9), note="grouped"),
    ]
    book.keep([*pen.household(), pen.visit()])
    book.keep([pen.entry("step", each, subject="visit-1") for each in others])
    book.keep([pen.entry("step", replace(answer, state="still live"), subject="visit-2")])
    assert book.conflicts() == ()
    shown = {each.step: each.note for each in book.visit("visit-1").steps}
    assert shown == {"isolate": "", "let_cool": ""}, "looked at by itself before answered with others"


def test_one_moment_moved_on_two_devices_and_once_more_on_one(book: Book, pen: Pen) -> None:
    first, _, _ = _pairs(pen)["event"]
    flame = pen.entry("event", first, subject="visit-1")
    phone, laptop, _ = _two(pen, "event", corrects=flame.id)
    again = pen.entry("event", phone.value, subject="visit-1", corrects=phone.id)
    book.keep([*pen.household(), pen.visit(), flame, phone, laptop, again])
    assert _ids(book.conflicts()) == [{again.id, laptop.id}]


def test_a_chain_of_corrections_is_none(book: Book, pen: Pen) -> None:
    first, second, _ = _two(pen, "heater")
    second = replace(second, corrects=first.id)
    undo = replace(pen.withdrawal(second), value=first.value)
    book.keep([*_base(pen, "heater"), first, second, undo])
    assert book.conflicts() == ()


@pytest.mark.parametrize("noun", NOUNS)
def test_a_choice_settles_it_whatever_it_is(book: Book, pen: Pen, noun: str) -> None:
    one, _, _ = _pairs(pen)[noun]
    first = pen.entry(noun, one, subject=_subject(noun))
    phone, laptop, _ = _two(pen, noun, corrects=first.id)
    book.keep([*_base(pen, noun), first, phone, laptop])
    said = pen.entry(noun, phone.value, subject=_subject(noun), author="chief")
    chosen = list(in_place_of([phone.id, laptop.id], said, new_id=pen.id))
    book.keep(chosen)
    assert book.conflicts() == ()
    assert [each.id for each in book.standing(noun, _subject(noun)) if each.value == phone.value] == [said.id]
    assert {each.id for each in book.entries(_subject(noun))} >= {first.id, phone.id, laptop.id}, (
        "all is kept"
    )
    book.keep([book.undoing(chosen[1].id, id=pen.id(), author="chief", at=pen.later())])
    assert len(book.conflicts()) == 1, "undoing the choice brings the conflict back"


def test_two_people_who_choose_differently_stand_against_each_other(book: Book, pen: Pen) -> None:
    phone, laptop, _ = _two(pen, "heater")
    book.keep([*_base(pen, "heater"), phone, laptop])
    for chosen, other in ((phone, laptop), (laptop, phone)):
        said = pen.entry("heater", chosen.value, subject="heater-1")
        book.keep(list(in_place_of([chosen.id, other.id], said, new_id=pen.id)))
    (found,) = book.conflicts()
    live = [each for each in found.candidates if each.says is not None]
    assert {each.says.sheet for each in live if isinstance(each.says, Heater)} == {
        "generic_9_kw",
        "generic_12_kw",
    }
    said = pen.entry("heater", phone.value, subject="heater-1")
    book.keep(list(in_place_of([each.entry for each in live], said, new_id=pen.id)))
    assert book.conflicts() == ()
    assert book.heater("heater-1").sheet == "generic_9_kw"


def test_the_order_of_arrival_changes_nothing(book: Book, pen: Pen) -> None:
    first = pen.heater()
    phone, laptop, _ = _two(pen, "heater", corrects=first.id)
    found = set()
    for number, order in enumerate(permutations((first, phone, laptop))):
        subject = f"heater-{number}"
        copies = {each.id: pen.id() for each in order}
        book.keep(
            [
                replace(each, id=copies[each.id], subject=subject, corrects=copies.get(each.corrects or ""))
                for each in order
            ]
        )
        (one,) = book.conflicts([subject])
        found.add((one.parts, tuple((each.author, each.at) for each in one.candidates)))
    assert len(found) == 1


def test_a_case_tells_the_conflicts_of_its_own_nouns_alone(book: Book, pen: Pen) -> None:
    phone, laptop, _ = _two(pen, "reading")
    strange = [pen.heater("heater-2", sheet=each) for each in ("generic_9_kw", "generic_12_kw")]
    book.keep([*pen.household(), pen.visit("visit-0"), pen.visit(), *strange])
    pen.later(days=1)
    book.keep([replace(each, subject="visit-0", id=pen.id()) for each in (phone, laptop)])
    assert [each.subject for each in book.case("visit-1").conflicts] == ["visit-0"], "an earlier visit's"
    assert len(book.conflicts()) == 2


def test_what_is_shown_meanwhile_is_the_latest_and_a_correction_of_it_settles_nothing(
    book: Book, pen: Pen
) -> None:
    phone, laptop, _ = _two(pen, "instrument")
    book.keep([phone, laptop])
    assert [each.id for each in book.standing("instrument", "probe-1")] == [laptop.id]
    body = laptop.value
    assert isinstance(body, dict)
    mended = pen.entry("instrument", body | {"serial": "7"}, subject="probe-1", corrects=laptop.id)
    book.keep([mended])
    assert _ids(book.conflicts()) == [{phone.id, mended.id}]
    twin = pen.entry("instrument", mended.value, subject="probe-1")
    book.keep([twin])
    assert [each.id for each in book.standing("instrument", "probe-1")] == [twin.id, mended.id]
