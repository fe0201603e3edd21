"""The jobs on a real book."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from lightoff.ground.errors import NotFound, Refusal
from lightoff.ground.ids import time_ordered_id
from lightoff.judging.assessment import Verdict
from lightoff.records import Book, body_of
from lightoff.shelf import Shelf
from lightoff.terms.entry import Entry
from lightoff.texts import Speaker
from lightoff.work.assess_case import assess_case
from lightoff.work.assess_visit import assess_visit
from lightoff.work.choose_entry import choose_entry
from lightoff.work.close_visit import close_visit
from lightoff.work.find_heaters import find_heaters
from lightoff.work.heater_history import heater_history
from lightoff.work.keep_visit_file import keep_visit_file
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.preview_visit import preview_visit
from lightoff.work.start_visit import start_visit
from lightoff.work.visit_file import read_visit_file
from lightoff.work.visit_file_writing import write_visit_file
from lightoff.work.workshop import BOOK, open_shop

DRAFT = "01f00000-0000-7000-8000-000000000001"


def test_a_file_kept_twice_is_kept_once_and_judged_the_same(
    tmp_path: Path, with_probe: str, shelf: Shelf, now: datetime
) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    with open_shop(tmp_path / "shop") as workshop:
        assert {each.outcome for each in keep_visit_file(workshop, case)} == {"kept"}
        keep_visit_file(workshop, case)
        kept, assessment = assess_visit(workshop, case.visit.id, now)
        assert len(kept.visit.readings) == len(case.visit.readings)
        from_file = assess_case(case, shelf, now)
        assert assessment.verdict.verdict is from_file.verdict.verdict is Verdict.FIT
        assert assessment.areas == from_file.areas
        written = read_visit_file(write_visit_file(kept), "written.toml", shelf)
        assert assess_case(written, shelf, now).areas == assessment.areas
        keep_visit_file(workshop, written)
        assert [line.heater.id for line in find_heaters(workshop, "saltgrass")] == [case.heater.id]


def test_a_file_that_says_something_else_overwrites_nothing(
    tmp_path: Path, with_probe: str, shelf: Shelf, now: datetime
) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    other = replace(case, heater=replace(case.heater, sheet="generic_16_kw"))
    with open_shop(tmp_path / "shop") as workshop:
        keep_visit_file(workshop, case)
        keep_visit_file(workshop, other)
        kept, assessment = assess_visit(workshop, case.visit.id, now)
        assert [(each.noun, each.parts) for each in kept.conflicts] == [("heater", ("sheet",))]
        assert assessment.verdict.verdict is Verdict.NOT_PROVEN
        chosen, over = kept.conflicts[0].candidates
        if chosen.says != case.heater:
            chosen, over = over, chosen
        ids = (time_ordered_id(now, bytes([number] * 10)) for number in range(9))
        for _ in range(2):
            choose_entry(workshop, chosen.entry, [over.entry], now, author="chief", new_id=lambda: next(ids))
        kept, assessment = assess_visit(workshop, case.visit.id, now)
        assert (kept.conflicts, kept.heater) == ((), case.heater)
        assert assessment.verdict.verdict is Verdict.FIT
        keep_visit_file(workshop, other)
        assert workshop.book.conflicts() == (), "words that a person replaced are no news"


def test_a_file_proves_no_more_than_the_book_it_came_from(
    tmp_path: Path, with_probe: str, shelf: Shelf, now: datetime
) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    probe = next(iter(case.instruments.values()))
    older = replace(probe, calibrated_on=date(2020, 1, 5))
    flame = case.visit.events[0]
    moved = [
        Entry(
            id=str(uuid4()),
            subject=case.visit.id,
            field="event",
            value=body,
            author="J. Aalto",
            at=now,
            corrects=flame.id,
        )
        for body in (body_of(replace(flame, at=flame.at - timedelta(minutes=1))), None)
    ]
    with open_shop(tmp_path / "shop") as workshop:
        keep_visit_file(workshop, case)
        keep_visit_file(workshop, replace(case, instruments={**case.instruments, probe.id: older}))
        workshop.book.keep(moved)
        kept, assessment = assess_visit(workshop, case.visit.id, now)
        assert [each.noun for each in kept.conflicts] == ["instrument", "event"]
        assert assessment.verdict.verdict is Verdict.NOT_PROVEN
        data = write_visit_file(kept)
        written = read_visit_file(data, "written.toml", shelf)
        assert written.conflicts == kept.conflicts
        from_file = assess_case(written, shelf, now)
        assert from_file.verdict == assessment.verdict
        keep_visit_file(workshop, written)
        assert workshop.book.case(case.visit.id).conflicts == kept.conflicts
    with open_shop(tmp_path / "another shop") as workshop:
        keep_visit_file(workshop, written)
        assert [each.noun for each in workshop.book.conflicts()] == ["instrument"]
        assert workshop.book.conflicts()[0].parts == ("calibrated_on",)


def test_a_draft_is_judged_and_not_kept(tmp_path: Path, with_probe: str, shelf: Shelf, now: datetime) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    living = next(each for each in case.visit.readings if each.key == "living_space_co_running")
    worse = replace(living, value=Decimal(80))
    draft = Entry(
        id=DRAFT,
        subject=case.visit.id,
        field="reading",
        value=body_of(worse),
        author="J. Aalto",
        at=living.taken_at or now,
        corrects=living.id,
    )
    with open_shop(tmp_path / "shop") as workshop:
        keep_visit_file(workshop, case)
        drafted, assessment = preview_visit(workshop, case.visit.id, [draft], now)
        assert assessment.verdict.verdict is Verdict.STOP
        assert len(drafted.visit.readings) == len(case.visit.readings)
        assert assess_visit(workshop, case.visit.id, now)[1].verdict.verdict is Verdict.FIT
        withdrawn = replace(draft, value=None)
        drafted, assessment = preview_visit(workshop, case.visit.id, [withdrawn], now)
        assert assessment.verdict.verdict is Verdict.NOT_PROVEN
        workshop.book.keep([draft])
        assert preview_visit(workshop, case.visit.id, [draft], now) == assess_visit(
            workshop, case.visit.id, now
        )


def test_a_draft_of_somebody_who_had_not_seen_another_entry_is_judged_as_the_conflict_that_it_is(
    tmp_path: Path, with_probe: str, shelf: Shelf, now: datetime
) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    with open_shop(tmp_path / "shop") as workshop:
        keep_visit_file(workshop, case)
        (first,) = workshop.book.standing("visit", case.visit.id)

        def about(corrects: str, **changes: Any) -> Entry:
            body = body_of(replace(case.visit, **changes))
            return replace(first, id=str(uuid4()), value=body, at=now, corrects=corrects)

        def verdict(*drafts: Entry) -> Verdict:
            return preview_visit(workshop, case.visit.id, drafts, now)[1].verdict.verdict

        draft = about(first.id, complaint="It smells")
        assert verdict(draft) is Verdict.FIT
        workshop.book.keep([about(first.id, fuel="b100")])
        assert verdict(draft) is Verdict.NOT_PROVEN
        assert verdict(draft, about(draft.id, complaint="It smells bad")) is Verdict.NOT_PROVEN
        workshop.book.keep([draft])
        assert preview_visit(workshop, case.visit.id, [draft], now)[0].conflicts == workshop.book.conflicts()


def test_a_visit_starts_and_ends_once(tmp_path: Path, with_probe: str, shelf: Shelf, now: datetime) -> None:
    case = read_visit_file(with_probe.encode(), "visit.toml", shelf)
    with open_shop(tmp_path / "shop") as workshop:
        keep_visit_file(workshop, case)
        visit = start_visit(workshop, case.heater.id, now, author="J. Aalto", randomness=bytes(10))
        assert workshop.book.visit(visit).closed_at is None
        for minutes in (30, 60):
            end = now + timedelta(minutes=minutes)
            close_visit(workshop, visit, end, author="J. Aalto", randomness=bytes([minutes] * 10))
        assert workshop.book.visit(visit).closed_at == now + timedelta(minutes=30)
        history = heater_history(workshop, case.heater.id, now)
        assert [each.visit.id for each in history.cases] == [case.visit.id, visit]
        assert history.last == assess_visit(workshop, visit, now)[1]
        with pytest.raises(NotFound):
            start_visit(workshop, "nobody", now, author="", randomness=bytes(10))


def test_a_shop_cannot_lie_in_a_file(tmp_path: Path) -> None:
    (tmp_path / "shop").write_text("")
    with pytest.raises(Refusal) as refused:
        open_shop(tmp_path / "shop")
    assert "is a file. Name the folder" in Speaker().say(refused.value.message)


def test_the_demo_shop_is_made_whole_and_left_alone_after(tmp_path: Path, now: datetime) -> None:
    folder = tmp_path / "demo"
    make_demo_shop(folder, now)
    made = (folder / BOOK).stat().st_mtime_ns
    make_demo_shop(folder, now + timedelta(days=1))
    assert (folder / BOOK).stat().st_mtime_ns == made
    assert [each.name for each in tmp_path.iterdir()] == ["demo"]
    with Book.open(folder / BOOK, create=False) as book:
        assert book.shop().invented
        assert len(book.search(limit=500)) >= 60
        assert len(book.open_visits()) == 4
        assert book.check().is_sound
        assert book.conflicts() == ()


def test_a_folder_with_other_things_is_no_demo_shop(tmp_path: Path, now: datetime) -> None:
    (tmp_path / "letter.txt").write_text("Dear owner")
    for fresh in (False, True):
        with pytest.raises(Refusal) as refused:
            make_demo_shop(tmp_path, now, fresh=fresh)
        assert "holds something that is no invented shop" in Speaker().say(refused.value.message)
    assert (tmp_path / "letter.txt").read_text() == "Dear owner"
