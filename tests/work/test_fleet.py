"""The fleet is kept up to date: what is said of one heater makes that one anew, to the same end."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.judging.assessment import Verdict
from lightoff.records import body_of
from lightoff.terms.entry import Entry
from lightoff.terms.part import MoveKind
from lightoff.terms.shelf import PartType
from lightoff.terms.visit import Visit
from lightoff.wear.clocks import BestClock
from lightoff.work import fleet as fleet_module
from lightoff.work import fleet_kept
from lightoff.work.fleet import Fleet, fleet, keep_known
from lightoff.work.last_few import LastFew
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.move_part import Exchange, move_part
from lightoff.work.start_visit import start_visit
from lightoff.work.units import Unit, unit_of, units
from lightoff.work.who_needs_visit import who_needs_visit
from lightoff.work.workshop import open_shop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def test_an_exchange_makes_its_heater_anew_and_leaves_the_others(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        before = fleet(shop, NOW)
        kinds = shop.shelf.part_types
        heater, other = sorted(before.units)[:2]
        unit, beside = before.units[heater], before.units[other]
        assert unit_of(shop, heater, NOW) == unit
        sheet = unit.heater.sheet
        igniters = before.possible(kinds["igniter"], sheet)
        pumps = before.possible(kinds["fuel_pump"], sheet)
        assert before.remembered("a", lambda: 1) == before.remembered("a", lambda: 2) == 1

        later = NOW + timedelta(hours=1)
        visit = start_visit(shop, heater, later, author="ann", randomness=bytes(RANDOM_BYTES))
        ids = iter(time_ordered_id(later, bytes([at] * RANDOM_BYTES)) for at in range(1, 20))
        done = Exchange(kind="igniter", fate=MoveKind.FAILED)
        move_part(shop, visit, done, later, author="ann", new_id=lambda: next(ids))
        after = fleet(shop, later)

        assert after is before
        assert after.units[heater] != unit
        assert after.units[other] is beside
        assert after.possible(kinds["igniter"], sheet).failure_count == igniters.failure_count + 1
        assert after.possible(kinds["fuel_pump"], sheet) is pumps
        assert after.remembered("a", lambda: 2) == 2
        anew = units(shop, later)
        assert after.units[heater] == anew[heater] == unit_of(shop, heater, later)
        by_evening = later + timedelta(hours=5)
        assert unit_of(shop, heater, by_evening) == units(shop, by_evening)[heater], "older by five hours"
        fresh = Fleet(shop, later)
        assert fresh.lives(kinds["igniter"]) == after.lives(kinds["igniter"])


def test_what_was_worked_out_while_something_was_said_is_not_remembered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        every, igniter = fleet(shop, NOW), shop.shelf.part_types["igniter"]
        heater = sorted(every.units)[0]
        sheet = every.units[heater].heater.sheet
        before = every.possible(igniter, sheet).failure_count
        every._possible.clear()
        work_out = fleet_module.possible
        later = NOW + timedelta(hours=1)

        def meanwhile(*asked: object) -> object:
            visit = start_visit(shop, heater, later, author="ann", randomness=bytes(RANDOM_BYTES))
            ids = iter(time_ordered_id(later, bytes([at] * RANDOM_BYTES)) for at in range(1, 20))
            done = Exchange(kind="igniter", fate=MoveKind.FAILED)
            move_part(shop, visit, done, later, author="ann", new_id=lambda: next(ids))
            every.refresh(shop, later)
            return work_out(*asked)  # type: ignore[arg-type]

        monkeypatch.setattr(fleet_module, "possible", meanwhile)
        assert every.possible(igniter, sheet).failure_count == before  # asked before it was said
        monkeypatch.undo()
        assert every.possible(igniter, sheet).failure_count == before + 1


def test_a_new_day_makes_all_ages_anew(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        today, tomorrow = fleet(shop, NOW), fleet(shop, NOW + timedelta(days=1))
        assert today is not tomorrow


def test_a_verdict_is_remembered_till_something_is_said_that_may_change_it(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        every = fleet(shop, NOW)
        units = [each for each in every.units.values() if each.visits]
        told = {each.heater.id: every.last_verdict(shop, each, NOW) for each in units}
        judged = {
            each.heater.id: shop.judged.assessments(
                shop.book.cases_of(each.heater.id, latest=1), shop.shelf, NOW
            )[0].verdict.verdict
            for each in units
        }
        assert told == judged
        one = next(each for each in units if told[each.heater.id] is not Verdict.NOT_PROVEN)
        undone = [
            shop.book.undoing(
                each.id, id=time_ordered_id(NOW, bytes([at] * RANDOM_BYTES)), author="ann", at=NOW
            )
            for at, each in enumerate(shop.book.entries(one.visits[-1].id), start=1)
            if each.field == "reading"
        ]
        assert undone
        shop.book.keep(undone)
        after = fleet(shop, NOW)
        assert after is every
        assert after.last_verdict(shop, after.units[one.heater.id], NOW) is Verdict.NOT_PROVEN


def test_verdicts_outlast_the_program_and_not_what_they_rest_on(tmp_path: Path) -> None:
    folder = make_demo_shop(tmp_path / "shop", NOW)
    with open_shop(folder) as shop:
        told = {each.line.heater.id: each.reasons for each in who_needs_visit(shop, NOW)}
        fleet(shop, NOW).keep(shop)
    with open_shop(folder) as shop:
        again = Fleet(shop, NOW)
        assert len(again._verdicts) > 50
        heater, verdict = next(iter(again._verdicts.items()))
        (stands,) = shop.book.standing("heater", heater)
        named = time_ordered_id(NOW, bytes(RANDOM_BYTES))
        noun = replace(shop.book.heater(heater), note="seen again")
        said = Entry(
            id=named,
            subject=heater,
            field="heater",
            value=body_of(noun),
            author="ann",
            at=NOW,
            corrects=stands.id,
        )
        shop.book.keep([said])
        anew = Fleet(shop, NOW)
        assert set(again._verdicts) - set(anew._verdicts) == {heater}
        assert anew.last_verdict(shop, anew.units[heater], NOW) is verdict
        assert {each.line.heater.id: each.reasons for each in who_needs_visit(shop, NOW)} == told


def test_a_heater_that_was_withdrawn_or_is_not_known_yet_is_left_out(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        every = fleet(shop, NOW)
        heater = sorted(every.units)[0]
        (stands,) = shop.book.standing("heater", heater)
        one, other = (time_ordered_id(NOW, bytes([at] * RANDOM_BYTES)) for at in (1, 2))
        shop.book.keep([shop.book.undoing(stands.id, id=one, author="ann", at=NOW)])
        visit = Visit(id="visit-early", heater="h-unknown", started_at=NOW)
        shop.book.keep(
            [
                Entry(
                    id=other,
                    subject=visit.id,
                    field="visit",
                    value=body_of(visit),
                    author="ann",
                    at=NOW,
                )
            ]
        )
        after = fleet(shop, NOW)
        assert after is every
        assert heater not in after.units
        assert "h-unknown" not in after.units
        assert who_needs_visit(shop, NOW, count=3)


def test_what_was_kept_is_what_is_made_anew(tmp_path: Path) -> None:
    folder = make_demo_shop(tmp_path / "shop", NOW)
    with open_shop(folder) as shop:
        first = Fleet(shop, NOW)
        kinds = shop.shelf.part_types
        for kind in kinds.values():
            first.possible(kind, "generic_9_kw")
        first.keep(shop)
    with open_shop(folder) as shop:
        later = NOW + timedelta(days=3)
        again, anew = Fleet(shop, later), units(shop, later)
        assert again.units == dict(anew)
        assert list(again.units) == list(anew)
        assert len(again._possible) == len(kinds)
        found = again.possible(kinds["igniter"], "generic_9_kw")
        assert found.life() == first.possible(kinds["igniter"], "generic_9_kw").life()
        assert again.lives(kinds["igniter"]) == first.lives(kinds["igniter"])


def test_a_visit_after_the_start_makes_one_box_anew_and_only_that(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fleet_kept, "A_BOX", 10)
    folder = make_demo_shop(tmp_path / "shop", NOW)
    with open_shop(folder) as shop:
        first = Fleet(shop, NOW)
        first.keep(shop)
        heater = list(first.units)[25]
    with open_shop(folder) as shop:
        start_visit(shop, heater, NOW, author="ann", randomness=bytes(RANDOM_BYTES))
        again = Fleet(shop, NOW)
        assert again.units == dict(units(shop, NOW))
        written: list[str] = []
        keep = shop.derived.keep
        monkeypatch.setattr(shop.derived, "keep", lambda told: (written.extend(told), keep(told)))
        again.keep(shop)
        assert sum(" " in each for each in written) == 1  # one box, and the head
        assert len(written) == 2
        again.keep(shop)
        assert len(written) == 2
    with open_shop(folder) as shop:
        assert Fleet(shop, NOW).units == dict(units(shop, NOW))


def test_at_the_end_what_is_known_is_kept_and_nothing_is_worked_out_for_it(tmp_path: Path) -> None:
    folder = make_demo_shop(tmp_path / "shop", NOW)
    with open_shop(folder) as shop:
        keep_known(shop)
        assert fleet_kept.find(shop, NOW) is None
        known = fleet(shop, NOW)
        possible = known.possible(shop.shelf.part_types["igniter"], "generic_9_kw")
        keep_known(shop)
    with open_shop(folder) as shop:
        kept = fleet_kept.find(shop, NOW)
        assert kept is not None
        assert kept.units == dict(known.units)
        (lives,) = kept.head.possible
        assert (lives.kind, lives.sheet) == ("igniter", "generic_9_kw")
        assert lives.opened().life() == possible.life()


def test_what_was_kept_of_another_book_is_not_believed(tmp_path: Path) -> None:
    folder = make_demo_shop(tmp_path / "shop", NOW)
    with open_shop(folder) as shop:
        Fleet(shop, NOW).keep(shop)
    derived = (folder / "derived.sqlite3").read_bytes()
    make_demo_shop(folder, NOW + timedelta(days=40), fresh=True)
    (folder / "derived.sqlite3").write_bytes(derived)
    with open_shop(folder) as shop:
        later = NOW + timedelta(days=40)
        assert fleet_kept.find(shop, later) is None
        assert Fleet(shop, later).units == dict(units(shop, later))


def test_one_exchange_makes_the_lives_of_its_part_type_anew_and_keeps_what_the_others_say(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_demo_shop(tmp_path / "shop", NOW)
    with open_shop(folder) as shop:
        kinds = shop.shelf.part_types
        igniter, pump = kinds["igniter"], kinds["fuel_pump"]
        first = Fleet(shop, NOW)
        before = {kind.key: (first.best_clock(kind), first.possible(kind, "")) for kind in (igniter, pump)}
        first.keep(shop)
        heater = next(each for each, unit in first.units.items() if _has(unit, "igniter"))
        visit = shop.book.visits_of(heater)[-1].id
    made: list[str] = []
    compared = fleet_module.best_clock

    def noted(every: Iterable[Unit], kind: PartType) -> BestClock | None:
        made.append(kind.key)
        return compared(every, kind)

    monkeypatch.setattr(fleet_module, "best_clock", noted)
    with open_shop(folder) as shop:
        again = Fleet(shop, NOW)
        assert again.best_clock(igniter) == before["igniter"][0]
        assert made == []  # it was kept for this start
        done = Exchange(kind="igniter", fate=MoveKind.FAILED)
        move_part(shop, visit, done, NOW, author="ann", new_id=iter_ids())
        again.refresh(shop, NOW)
        anew = Fleet(shop, NOW)
        for kind in (igniter, pump):
            for sheet in ("", *anew.lives(kind)):
                assert again.possible(kind, sheet).life() == anew.possible(kind, sheet).life()
        assert again.possible(pump, "").life() == before["fuel_pump"][1].life()
        assert again.best_clock(pump) == before["fuel_pump"][0]
        assert made == []
        assert again.possible(igniter, "").failure_count == before["igniter"][1].failure_count + 1
        again.best_clock(igniter)
        assert made == ["igniter"]


def test_what_is_worked_out_of_each_heater_is_made_anew_for_that_one_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        every, made = fleet(shop, NOW), list[str]()

        def counted(unit: Unit) -> int:
            made.append(unit.heater.id)
            return len(unit.visits)

        before = every.of_each("visits", counted)
        assert made == list(every.units)
        who_needs_visit(shop, NOW, most_judged=0)
        heater = made[25]
        start_visit(shop, heater, NOW, author="ann", randomness=bytes(RANDOM_BYTES))
        made.clear()
        after = fleet(shop, NOW).of_each("visits", counted)
        assert made == [heater]
        assert after == {**before, heater: before[heater] + 1}
        told = who_needs_visit(shop, NOW, most_judged=0)
    with open_shop(tmp_path / "shop") as shop:
        monkeypatch.setattr(fleet_module, "_fleets", LastFew(2))
        assert who_needs_visit(shop, NOW, most_judged=0) == told


def iter_ids() -> Callable[[], str]:
    numbers = count()
    return lambda: time_ordered_id(NOW, next(numbers).to_bytes(RANDOM_BYTES))


def _has(unit: Unit, kind: str) -> bool:
    return any(each.part.kind == kind for each in unit.fitted)
