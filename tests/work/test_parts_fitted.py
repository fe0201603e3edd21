"""The pieces that sat in a heater as a visit began: how old, in the visit file, and in the search."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from lightoff.ground.errors import Refusals
from lightoff.records import Book
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.terms.part import FittedPart, MoveKind
from lightoff.texts import Speaker
from lightoff.wear.lives import Clock
from lightoff.work.case_hash import case_hash
from lightoff.work.find_fault import find_fault, find_in_case
from lightoff.work.parts_fitted import with_parts
from lightoff.work.running import MONTH
from lightoff.work.units import unit_of
from lightoff.work.visit_file import read_good_rows, read_visit_file
from lightoff.work.visit_file_writing import write_visit_file
from lightoff.work.workshop import Workshop

CALL = (Path(__file__).parents[2] / "examples" / "no-heat-call.toml").read_text(encoding="utf-8")
OLD_FILTER = '\n[[fitted]]\nkind = "fuel_filter"\nmonths = 40\nrun_hours = 1900.0\n'


def read(text: str, shelf: Shelf) -> Case:
    return read_visit_file(text.encode(), "visit.toml", shelf)


def of_the_shop(workshop: Workshop) -> Iterator[Case]:
    """The visits of a few heaters."""
    for heater in workshop.book.heaters()[:6]:
        for visit in workshop.book.visits_of(heater.id):
            yield with_parts(workshop.book.case(visit.id), workshop)


def test_a_visit_file_of_the_shop_carries_the_ages_and_reads_back(demo_shop: Workshop) -> None:
    seen = 0
    for case in of_the_shop(demo_shop):
        again = read(write_visit_file(case).decode(), demo_shop.shelf)
        assert again.fitted == case.fitted
        assert case.fitted
        seen += any(each.months for each in case.fitted)
    assert seen > 5


def test_ages_are_those_of_before_the_work(demo_shop: Workshop) -> None:
    renewed = 0
    for case in of_the_shop(demo_shop):
        kinds = {each.id: each.kind for each in demo_shop.book.parts(case.heater.id)}
        known = {kinds[each.part] for visit in case.history for each in visit.moves}
        for move in case.visit.moves:
            if move.kind is MoveKind.FITTED and kinds[move.part] in known:
                # What was fitted on this visit was not there as anything was read as found.
                ages = [each.months for each in case.fitted if each.kind == kinds[move.part]]
                assert all(age is None or age > 0 for age in ages)
                renewed += 1
    assert renewed


def test_they_are_what_the_page_of_parts_reckons_with(demo_shop: Workshop, now: datetime) -> None:
    """A piece that nobody moved at the last visit is as old as the page of parts says, less what passed."""
    compared = 0
    for heater in demo_shop.book.heaters()[:6]:
        case = with_parts(demo_shop.book.case(demo_shop.book.visits_of(heater.id)[-1].id), demo_shop)
        moved = {each.part for each in case.visit.moves}
        since = (now - case.visit.started_at) / MONTH
        for piece in unit_of(demo_shop, heater.id, now).fitted:
            age = piece.age_on(Clock.MONTHS)
            if piece.part.id not in moved and age is not None:
                (told,) = (each for each in case.fitted if each.kind == piece.part.kind)
                assert float(told.months or -1) == pytest.approx(age - since, abs=0.06)
                compared += 1
    assert compared > 10


def test_nothing_later_moves_the_ages_of_a_visit(
    demo_shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A meter that runs wild after the visit tells nothing of it; read at the visit it does."""
    read_of = Book.counters
    case = next(each for each in of_the_shop(demo_shop) if read_of(demo_shop.book, each.heater.id))

    def read_at(at: datetime) -> Case:
        wild = replace(
            read_of(demo_shop.book, case.heater.id)[0],
            id="wild", key="hour_meter", value=Decimal(90_000), unit="h", taken_at=at,
        )  # fmt: skip
        monkeypatch.setattr(Book, "counters", lambda book, heater: (*read_of(book, heater), wild))
        return with_parts(case, demo_shop)

    began = case.visit.started_at
    assert read_at(began + timedelta(days=30)).fitted == case.fitted
    assert read_at(began + timedelta(minutes=30)).fitted != case.fitted


def test_a_file_gives_the_figures_of_the_book(demo_shop: Workshop) -> None:
    case = next(each for each in of_the_shop(demo_shop) if len(each.history) >= 1)
    page = find_fault(demo_shop, case.visit.id)
    again = read(write_visit_file(case).decode(), demo_shop.shelf)
    told = find_in_case(replace(again, history=case.history), demo_shop.shelf)
    assert told.finding.suspects == page.finding.suspects
    assert (told.finding.sound, told.next_step) == (page.finding.sound, page.next_step)
    bare = find_in_case(replace(case, fitted=()), demo_shop.shelf)
    assert bare.finding.suspects != page.finding.suspects, "the ages moved nothing"


def test_by_hand_an_old_filter_is_suspected_more(shelf: Shelf) -> None:
    def chance(text: str) -> float:
        return find_in_case(read(text, shelf), shelf).finding.posterior.of("fuel_filter_restricted")

    case = read(CALL + OLD_FILTER, shelf)
    assert case.fitted == (FittedPart(kind="fuel_filter", months=Decimal(40), run_hours=Decimal("1900.0")),)
    new = OLD_FILTER.replace("1900.0", "20")
    assert chance(CALL + new) < chance(CALL) < chance(CALL + OLD_FILTER)
    assert chance(CALL + OLD_FILTER.replace("run_hours = 1900.0\n", "")) == chance(CALL)


def test_the_order_of_the_rows_changes_nothing(shelf: Shelf) -> None:
    igniter = '\n[[fitted]]\nkind = "igniter"\nstarts = 9000\n'
    one, other = read(CALL + OLD_FILTER + igniter, shelf), read(CALL + igniter + OLD_FILTER, shelf)
    other = replace(other, visit=one.visit)
    assert case_hash(one, shelf) == case_hash(other, shelf)
    assert case_hash(one, shelf) != case_hash(replace(one, fitted=()), shelf)
    suspects = [find_in_case(each, shelf).finding.suspects for each in (one, other)]
    assert suspects[0] == suspects[1]


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("1900.0", "-3", "fitted 1 (fuel_filter), run_hours: No part is -3 old."),
        ("months = 40", "months = 4000", "from 0 to 1,200, or leave it out."),
        ("1900.0", "true", "“true” is not a number."),
        ("1900.0", "nan", "is not a number"),
        ('"fuel_filter"', '"fuel_filtr"', "Did you mean fuel_filter?"),
        ("run_hours", "run_hour", "Did you mean run_hours?"),
        ("[[fitted]]", "[fitted]", "[fitted] can come more than once."),
        ('kind = "fuel_filter"\n', "", "fitted 1, kind: This is missing."),
    ],
)
def test_a_bad_row_is_refused_with_a_sentence(old: str, new: str, sentence: str, shelf: Shelf) -> None:
    assert old in OLD_FILTER
    with pytest.raises(Refusals) as refused:
        read(CALL + OLD_FILTER.replace(old, new), shelf)
    (told,) = (Speaker().say(each.message) for each in refused.value.refusals)
    assert sentence in told


@pytest.mark.parametrize("bad", ["run_hours = -3", "run_hours = true", 'kind = "hat"'])
def test_good_rows_beside_a_bad_one_are_kept(bad: str, shelf: Shelf) -> None:
    old = "run_hours = 1900.0" if "run_hours" in bad else 'kind = "fuel_filter"'
    row = OLD_FILTER.replace(old, bad)
    got = read_good_rows((CALL + row + OLD_FILTER).encode(), "visit.toml", shelf)
    assert len(got.faults) == 1
    assert got.case is not None
    assert [each.run_hours for each in got.case.fitted] == [Decimal("1900.0")]
