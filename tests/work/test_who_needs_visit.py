"""Who needs a visit: what was left open, what is a year old, and parts that may not last."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.judging.assessment import Verdict
from lightoff.records import SHOP, body_of
from lightoff.terms.entry import Entry
from lightoff.terms.people import Planning
from lightoff.terms.shelf import Interval
from lightoff.texts import Speaker
from lightoff.work.close_visit import close_visit
from lightoff.work.fleet import fleet
from lightoff.work.keep_sheet import PlateText, keep_sheet
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.reckoning import Reckoning, reckoning
from lightoff.work.running import MONTH
from lightoff.work.start_visit import start_visit
from lightoff.work.units import Unit
from lightoff.work.who_needs_visit import AT_ONCE, service_due, to_be_judged, who_needs_visit
from lightoff.work.workshop import Workshop, open_shop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def shop(demo_shop: Workshop) -> Workshop:
    return demo_shop


def test_every_heater_left_stopped_open_or_unserviced_is_on_it_with_its_reason(shop: Workshop) -> None:
    found = {each.line.heater.id: each for each in who_needs_visit(shop, NOW)}
    speaker = Speaker()
    for heater in shop.book.heaters():
        visits = shop.book.visits_of(heater.id)
        serviced = [each.started_at for each in visits if each.service_complete]
        if any(each.closed_at is None for each in visits) or not serviced:
            assert heater.id in found
        elif serviced[-1] + 12 * MONTH < NOW:
            assert found[heater.id].by <= NOW
    for each in found.values():
        assert each.reasons
        said = " ".join(speaker.say(reason) for reason in each.reasons)
        assert "{" not in said
        assert "@" not in said
        assert "nozzle_ring" in each.parts


def test_the_most_pressing_comes_first_and_time_only_adds(shop: Workshop) -> None:
    now = who_needs_visit(shop, NOW)
    rest = [each.by for each in now if each.verdict is None]
    assert rest == sorted(rest)
    later = {each.line.heater.id for each in who_needs_visit(shop, NOW + timedelta(days=400))}
    assert {each.line.heater.id for each in now} <= later
    assert len(later) == len(shop.book.heaters())


def test_a_page_of_the_list_is_a_piece_of_it(shop: Workshop) -> None:
    every = who_needs_visit(shop, NOW)
    assert who_needs_visit(shop, NOW, first=3, count=4) == every[3:7]


def test_run_hours_call_before_the_months_do(tmp_path: Path) -> None:
    """A shop that comes again after so many hours sees busy heaters sooner, and says what was run."""
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        before = {each.line.heater.id: each.by for each in who_needs_visit(shop, NOW)}
        named, said = time_ordered_id(NOW, bytes(RANDOM_BYTES)), body_of(Planning(service_hours=200))
        named, said = time_ordered_id(NOW, bytes(RANDOM_BYTES)), body_of(Planning(service_hours=200))
        entry = Entry(id=named, subject=SHOP, field="planning", value=said, author="ann", at=NOW)
        shop.book.keep([entry])
        after = {each.line.heater.id: each for each in who_needs_visit(shop, NOW)}
        assert set(before) < set(after)
        assert all(after[heater].by <= by for heater, by in before.items())
        said = " ".join(Speaker().say(reason) for each in after.values() for reason in each.reasons)
        assert "; due again after 200." in said


def test_a_part_that_is_renewed_by_use_calls_before_its_use_is_full(tmp_path: Path) -> None:
    folder = make_demo_shop(tmp_path / "shop", NOW)
    own = folder / "shelf"
    own.mkdir(exist_ok=True)
    with open_shop(folder) as shop:
        heaters = {each.line.heater.id for each in who_needs_visit(shop, NOW)}
        (own / "part_types.toml").write_text('[[edit]]\nkey = "flame_sensor"\nrenew_every = 400\n')
        shop.reread_shelf()
        found = who_needs_visit(shop, NOW)
    said = " ".join(Speaker().say(reason) for each in found for reason in each.reasons)
    assert "run hours; it is renewed after 400." in said
    assert heaters <= {each.line.heater.id for each in found}


def test_no_more_visits_are_judged_in_one_answer_than_allowed_and_the_rest_is_told(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        whole = to_be_judged(shop, NOW)
        assert whole > 40
        some = who_needs_visit(shop, NOW, most_judged=15)
        left = to_be_judged(shop, NOW)
        assert left in range(whole - 15, whole)
        every = who_needs_visit(shop, NOW)
        assert len(every) >= len(some)
        assert to_be_judged(shop, NOW) == 0
        assert who_needs_visit(shop, NOW, most_judged=0) == every


def test_a_stop_that_was_sealed_calls_before_its_visit_is_judged_again_and_is_judged_first(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    every = fleet(shop, NOW)
    who_needs_visit(shop, NOW)
    closed = [
        unit
        for unit in every.units.values()
        if unit.visits
        and all(each.closed_at for each in unit.visits)
        and every.last_verdict(shop, unit, NOW) not in AT_ONCE
    ]
    oldest, *_, newest = sorted(closed, key=lambda each: each.visits[-1].started_at)
    sealed = replace(
        oldest, visits=(*oldest.visits[:-1], replace(oldest.visits[-1], closed_with=Verdict.STOP.value))
    )
    monkeypatch.setattr(every, "units", {**every.units, oldest.heater.id: sealed})
    gone = {oldest.heater.id, newest.heater.id}
    verdicts = {each: told for each, told in every._verdicts.items() if each not in gone}
    monkeypatch.setattr(every, "_verdicts", verdicts)
    found = who_needs_visit(shop, NOW, most_judged=0)
    (called,) = (each for each in found if each.line.heater.id == oldest.heater.id)
    assert called.verdict is Verdict.STOP
    assert called.reasons[0].key == "due.stop_sealed"
    assert to_be_judged(shop, NOW) == 2
    again = who_needs_visit(shop, NOW, most_judged=1)  # the gravest first, and it ended with none
    assert to_be_judged(shop, NOW) == 1
    assert "due.stop_sealed" not in {reason.key for each in again for reason in each.reasons}


def test_the_book_tells_what_a_visit_was_closed_with(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        heater = next(each for each in shop.book.heaters() if shop.book.visit_heads(each.id))
        visit = start_visit(shop, heater.id, NOW, author="ann", randomness=bytes(RANDOM_BYTES))
        close_visit(shop, visit, NOW, author="ann", randomness=b"1" * RANDOM_BYTES)
        heads = {each.id: each for each in shop.book.visit_heads(heater.id)}
        assert heads[visit].closed_with == Verdict.NOT_PROVEN
        assert len(heads) == len(shop.book.visit_heads(heater.id))


def test_a_last_visit_that_ended_with_a_stop_calls_at_once(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    every = fleet(shop, NOW)
    unit = next(
        each
        for each in every.units.values()
        if each.visits and all(visit.closed_at is not None for visit in each.visits)
    )
    monkeypatch.setitem(every._verdicts, unit.heater.id, Verdict.STOP)
    found = who_needs_visit(shop, NOW)[0]
    assert found.line.heater.id == unit.heater.id, "a danger goes before what is only due, however long"
    assert found.reasons[0].key == "due.stop"
    assert found.verdict is Verdict.STOP
    assert found.by == unit.visits[-1].started_at
    monkeypatch.setitem(every._verdicts, unit.heater.id, Verdict.FIT)
    found_again = [each for each in who_needs_visit(shop, NOW) if each.line.heater.id == unit.heater.id]
    assert all(reason.key not in AT_ONCE.values() for each in found_again for reason in each.reasons)


def by_maker(shop: Workshop, unit: Unit, planning: Planning | None = None, **asks: float) -> Reckoning:
    """What is reckoned with where the maker of this unit asks for a service so often."""
    sheet = shop.shelf.sheets[unit.heater.sheet]
    own = replace(sheet, service=Interval(**asks))
    return replace(reckoning(shop), planning=planning or Planning(), sheets={sheet.key: own})


def serviced(shop: Workshop) -> Unit:
    return next(
        each for each in fleet(shop, NOW).units.values() if each.visits and each.visits[-1].service_complete
    )


def test_the_makers_months_stand_in_the_place_of_our_own(shop: Workshop) -> None:
    unit = serviced(shop)
    last = unit.visits[-1].started_at
    assert service_due(unit, by_maker(shop, unit), NOW) == last + 12 * MONTH
    assert service_due(unit, by_maker(shop, unit, months=24), NOW) == last + 24 * MONTH
    assert service_due(unit, by_maker(shop, unit, months=6), NOW) == last + 6 * MONTH
    # A shop that says less than we do means it.
    strict = Planning(service_months=8)
    assert service_due(unit, by_maker(shop, unit, strict, months=24), NOW) == last + 8 * MONTH


def test_the_makers_hours_and_starts_count_beside_the_months(shop: Workshop) -> None:
    unit = serviced(shop)
    for asks in ({"run_hours": 50.0}, {"starts": 80.0}):
        due = service_due(unit, by_maker(shop, unit, **asks), NOW)
        assert due < unit.visits[-1].started_at + 12 * MONTH
    assert by_maker(shop, unit, Planning(service_hours=300), run_hours=50.0).service(unit)[0].by_maker


def test_what_the_maker_asks_for_is_on_the_list_in_his_words(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        plate = PlateText(
            name="As the manual says",
            source="plate and manual, 2019",
            feed="unknown",
            trials="",
            numbers={"heat_output_kw": "10", "supply_v": "12", "service_hours": "60", "service_months": "9"},
            units={},
            words={},
            renewals={"nozzle_filter": "20"},
        )
        sheet = keep_sheet(shop, plate)
        assert sheet.service == Interval(run_hours=60.0, months=9.0)
        assert sheet.renewals == {"nozzle_filter": Interval(run_hours=20.0)}
        unit = serviced(shop)
        said = replace(unit.heater, sheet=sheet.key)
        (stands,) = shop.book.standing("heater", unit.heater.id)
        named = time_ordered_id(NOW, bytes(RANDOM_BYTES))
        entry = Entry(
            id=named,
            subject=unit.heater.id,
            field="heater",
            value=body_of(said),
            author="ann",
            at=NOW,
            corrects=stands.id,
        )
        shop.book.keep([entry])
        found = next(each for each in who_needs_visit(shop, NOW) if each.line.heater.id == unit.heater.id)
        told = " ".join(Speaker().say(each) for each in found.reasons)
        assert "the maker asks for one every 60." in told
        assert "run hours; the maker asks for a new one every 20." in told
        assert "nozzle_filter" in found.parts
