"""A judgement that was made before is handed out only where judging anew would give the very same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5

import pytest

from lightoff.ground.errors import Refusal
from lightoff.judging.assessment import Assessment, Verdict
from lightoff.judging.outline import outline
from lightoff.records import SHOP, Book, Noun, body_of
from lightoff.shelf import Shelf, open_shelf
from lightoff.terms.case import Case
from lightoff.terms.entry import Entry
from lightoff.terms.people import Span, VehicleKind
from lightoff.terms.visit import Acceptance, Event, EventKind
from lightoff.work import judged
from lightoff.work.assess_case import assess_case, assess_cases
from lightoff.work.assess_visit import assess_visit
from lightoff.work.heater_history import heater_history
from lightoff.work.judge_shop import judge_shop
from lightoff.work.judged import Judged
from lightoff.work.keep_visit_file import keep_visit_file
from lightoff.work.preview_visit import preview_visit
from lightoff.work.visit_file import read_visit_file
from lightoff.work.workshop import BOOK, Workshop, open_shop

NAMES = UUID("7d1f4d52-5c0e-4f0e-9a51-0d0c5d9b7c11")
EARLIER = timedelta(days=200)


def named(*parts: object) -> str:
    return str(uuid5(NAMES, " ".join(map(str, parts))))


def a_season_before(case: Case) -> Case:
    """The same visit half a year earlier, under other ids."""
    visit = case.visit
    return replace(
        case,
        visit=replace(
            visit,
            id=named("earlier", visit.id),
            started_at=visit.started_at - EARLIER,
            closed_at=visit.closed_at - EARLIER if visit.closed_at else None,
            readings=tuple(
                replace(
                    each,
                    id=named("earlier", each.id),
                    taken_at=each.taken_at - EARLIER if each.taken_at else None,
                    entered_at=each.entered_at - EARLIER if each.entered_at else None,
                )
                for each in visit.readings
            ),
            events=tuple(
                replace(each, id=named("earlier", each.id), at=each.at - EARLIER) for each in visit.events
            ),
        ),
    )


@pytest.fixture
def case(with_probe: str, shelf: Shelf) -> Case:
    return read_visit_file(with_probe.encode(), "visit.toml", shelf)


@pytest.fixture
def workshop(tmp_path: Path, case: Case) -> Iterator[Workshop]:
    with open_shop(tmp_path / "shop") as opened:
        keep_visit_file(opened, a_season_before(case))
        keep_visit_file(opened, case)
        yield opened


def judged_anew(workshop: Workshop, visit_id: str, now: datetime) -> Assessment:
    """The judgement by a book that remembers nothing."""
    with Book.open(workshop.folder / BOOK) as book:
        return assess_case(book.case(visit_id), workshop.shelf, now)


def assert_as_anew(workshop: Workshop, case: Case, now: datetime, after: object = "") -> Assessment:
    """Each way to a judgement gives what judging anew gives, field by field; the judgement of the visit."""
    history = heater_history(workshop, case.heater.id, now)
    for one, drawn in zip(history.cases, history.outlines, strict=True):
        anew = judged_anew(workshop, one.visit.id, now)
        assert drawn == outline(anew), after
        ways = [
            assess_visit(workshop, one.visit.id, now)[1],
            preview_visit(workshop, one.visit.id, [], now)[1],
            Judged(workshop.derived).assessments([one], workshop.shelf, now)[0],
        ]
        if one is history.cases[-1]:
            ways.append(history.last)
        for told in ways:
            for field in fields(Assessment):
                assert getattr(told, field.name) == getattr(anew, field.name), (after, field.name)
    return assess_visit(workshop, case.visit.id, now)[1]


def test_a_shop_that_was_judged_whole_judges_nothing_when_it_is_looked_at(
    workshop: Workshop, case: Case, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    judge_shop(workshop, now)
    asked = []

    def watched(cases: Sequence[Case], *rest: Any) -> tuple[Assessment, ...]:
        asked.extend(cases)
        return assess_cases(cases, *rest)

    monkeypatch.setattr(judged, "assess_cases", watched)
    with open_shop(workshop.folder) as again:
        assert heater_history(again, case.heater.id, now).last is not None
        assert assess_visit(again, case.visit.id, now)[1].verdict.verdict is Verdict.FIT
        assert not asked


def test_a_second_look_judges_nothing_anew(
    workshop: Workshop, case: Case, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = assert_as_anew(workshop, case, now)
    assert first.verdict.verdict is Verdict.FIT

    def never(cases: list[Case], *_: object) -> tuple[Assessment, ...]:
        assert not cases, "judged anew"
        return ()

    monkeypatch.setattr(judged, "assess_cases", never)
    again = assess_visit(workshop, case.visit.id, now + timedelta(seconds=3))[1]
    assert again == replace(first, judged_at=now + timedelta(seconds=3))
    heater_history(workshop, case.heater.id, now)
    with pytest.raises(AssertionError, match="judged anew"):
        assess_visit(workshop, case.visit.id, case.visit.started_at)  # the readings are still to come


def steps(case: Case) -> Iterator[tuple[str, str, Noun | None, str | None]]:
    """What may be said, one after the other: field, subject, noun, and the entry that it corrects.

    Each changes one thing alone, so that nothing else gives the change away.
    """
    visit, probe = case.visit, next(each for each in case.instruments.values() if "probe" in each.kind)
    reading = next(each for each in visit.readings if each.key == "flue_co" and each.value is not None)
    flame = next(each for each in visit.events if each.kind is EventKind.FLAME)
    other = replace(reading, value=Decimal("900"), confirmed=True)
    yield "reading", visit.id, replace(other, set_number=9), None
    yield "reading", visit.id, other, reading.id
    yield "reading", visit.id, None, named("reading", 1)
    yield "event", visit.id, Event(id="", heater=flame.heater, kind=EventKind.OPENED, at=flame.at), None
    yield "accept", visit.id, Acceptance(id="", reading=visit.readings[-1].id), None
    earlier = a_season_before(case).visit
    yield "reading", earlier.id, replace(earlier.readings[0], set_number=7), None
    for calibrated_on in (date(2021, 5, 1), date(2026, 6, 1)):
        yield "instrument", probe.id, replace(probe, calibrated_on=calibrated_on), STANDING
    for low in ("4.8", "4.80"):
        span = Span(key="flue_o2", low=Decimal(low), high=Decimal(21), unit="%")
        yield "instrument", probe.id, replace(probe, spans=(span,)), STANDING
    yield "instrument", probe.id, replace(probe, retired=True), STANDING
    yield "heater", case.heater.id, replace(case.heater, sheet="generic_16_kw"), STANDING
    yield "vehicle", case.vehicle.id, replace(case.vehicle, kind=VehicleKind.WORKSHOP), STANDING
    yield "owner", case.owner.id, replace(case.owner, name="Another name"), STANDING
    yield "shop", SHOP, replace(case.shop, technician="Another"), STANDING
    yield "heater", case.heater.id, replace(case.heater, sheet="generic_6_kw"), OLDER
    yield "visit", visit.id, replace(visit, fuel="", readings=(), events=(), photos=()), STANDING


STANDING = "the entry that stands"
OLDER = "none, and an older time: both stand, and the book goes on showing the other"


def test_after_whatever_is_said_it_is_as_judged_anew(workshop: Workshop, case: Case, now: datetime) -> None:
    after = assert_as_anew(workshop, case, now)
    changes = 0
    for number, (field, subject, noun, corrects) in enumerate(steps(case)):
        standing = workshop.book.standing(field, subject)[0].id if corrects is STANDING else None
        entry = Entry(
            id=named(field, number),
            subject=subject,
            field=field,
            value=None if noun is None else body_of(noun),
            author="ann",
            at=case.visit.started_at - EARLIER if corrects is OLDER else now + timedelta(seconds=number),
            corrects=standing or (None if corrects is OLDER else corrects),
        )
        workshop.book.keep([entry])
        before, after = after, assert_as_anew(workshop, case, now, (number, field))
        changes += before.inputs_sha256 != after.inputs_sha256
    assert changes >= number - 1, "each step but those of owner and shop must matter, or this test is empty"
    assert after.verdict.verdict is not Verdict.FIT


def test_whatever_the_clock_does_it_is_as_judged_anew(workshop: Workshop, case: Case, now: datetime) -> None:
    times = sorted(each.taken_at for each in case.visit.readings if each.taken_at)
    moment = timedelta(microseconds=1)
    verdicts = set()
    for at in (now, times[0], times[0] - moment, times[9], times[9] - moment, times[-1], now, times[0]):
        verdicts.add(assert_as_anew(workshop, case, at, at).verdict.verdict)
    assert verdicts == {Verdict.FIT, Verdict.NOT_PROVEN}


def test_a_stricter_limit_is_judged_by_at_once(
    workshop: Workshop, case: Case, now: datetime, tmp_path: Path
) -> None:
    assert assert_as_anew(workshop, case, now).verdict.verdict is Verdict.FIT
    own = tmp_path / "stricter"
    own.mkdir()
    (own / "limits.toml").write_text('[[tighten]]\nkey = "co_air_free_fit"\nvalue = "5"\n', encoding="utf-8")
    stricter = replace(workshop, shelf=open_shelf(own))
    assert not stricter.shelf.problems
    assert assert_as_anew(stricter, case, now).verdict.verdict is Verdict.NOT_FIT
    assert assert_as_anew(workshop, case, now).verdict.verdict is Verdict.FIT


def test_no_more_are_kept_than_agreed(workshop: Workshop, case: Case, now: datetime) -> None:
    few = replace(workshop, judged=Judged(most=1))
    for _ in range(2):
        assert_as_anew(few, case, now)
    assert len(few.judged._found) == 1


def test_a_server_that_starts_again_judges_nothing_anew(
    workshop: Workshop, case: Case, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = heater_history(workshop, case.heater.id, now)
    with open_shop(workshop.folder) as again:

        def never(cases: list[Case], *_: object) -> tuple[Assessment, ...]:
            assert not cases, "judged anew"
            return ()

        monkeypatch.setattr(judged, "assess_cases", never)
        after = heater_history(again, case.heater.id, now)
        assert (after.outlines, after.last) == (before.outlines, before.last)
        doubtful = replace(again.shelf, problems=(_lost_limit(workshop.folder.parent / "doubtful"),))
        with pytest.raises(AssertionError, match="judged anew"):
            heater_history(replace(again, shelf=doubtful), case.heater.id, now)


def _lost_limit(own: Path) -> Refusal:
    own.mkdir()
    (own / "limits.toml").write_text('[[tighten]]\nkey = "co_air_free_fit"\nvalue = "x"\n', encoding="utf-8")
    shelf = open_shelf(own)
    assert shelf.limits_in_doubt
    return shelf.problems[0]
