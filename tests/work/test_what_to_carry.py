"""What to carry rests on what each heater may need, what lies in the bins, and the limits."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from lightoff.terms.visit import Reading, Stage
from lightoff.texts import Speaker
from lightoff.wear.spares import Limits
from lightoff.work.fleet import fleet
from lightoff.work.order_of_visit import due_parts
from lightoff.work.parts_suspected import Suspected, parts_suspected, suspected_in
from lightoff.work.pieces import Where
from lightoff.work.reckoning import reckoning
from lightoff.work.what_to_carry import for_the_day, for_the_season, needs_of, season_demands
from lightoff.work.who_needs_visit import service_due
from lightoff.work.workshop import Workshop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def shop(demo_shop: Workshop) -> Workshop:
    return demo_shop


def test_annual_parts_are_needed_for_sure_and_others_by_their_chance(shop: Workshop) -> None:
    every = fleet(shop, NOW)
    for unit in list(every.units.values())[:12]:
        needs = needs_of(every, unit, NOW)
        due = due_parts(unit, shop.shelf, NOW)
        assert {key for key, chance in needs.items() if chance == 1.0} == due
        assert all(0.0 < chance <= 1.0 for chance in needs.values())
        carried = {each.part.kind for each in unit.pieces if each.where is Where.SPARE}
        assert not carried & (set(needs) - due)


def test_the_longer_nobody_looked_the_likelier_a_part_is_needed(shop: Workshop) -> None:
    now, later = fleet(shop, NOW), fleet(shop, NOW + timedelta(days=200))
    heater = sorted(now.units)[0]
    one = needs_of(now, now.units[heater], NOW)
    other = needs_of(later, later.units[heater], NOW + timedelta(days=200))
    shared = [key for key in one if one[key] < 1.0 and key in other]
    assert shared
    assert all(other[key] > one[key] for key in shared)


def test_with_the_kit_no_visit_is_worse_off_and_the_limit_holds(shop: Workshop) -> None:
    heaters = sorted(fleet(shop, NOW).units)[:3]
    found = for_the_day(shop, heaters, NOW, limits=Limits(price=900.0, mass_kg=8.0))
    assert found.served_count == 3
    assert found.kit.price <= 900.0
    assert found.kit.mass_kg <= 8.0
    for as_is, with_kit in zip(found.as_is.calls, found.with_kit.calls, strict=True):
        assert with_kit.chance >= as_is.chance - 1e-12
    for each in found.parts:
        assert each.to_load <= each.elsewhere
        assert each.on_van + each.to_load + each.to_buy >= each.wanted


def test_where_not_even_the_sure_parts_fit_the_first_visits_get_them(shop: Workshop) -> None:
    units = sorted(fleet(shop, NOW).units.items())
    due = {heater: due_parts(unit, shop.shelf, NOW) for heater, unit in units}
    heaters = [heater for heater, parts in due.items() if parts][:3]
    prices = {each.kind.key: each.price.amount
              for each in for_the_day(shop, heaters, NOW, limits=Limits()).parts}  # fmt: skip
    first, second, _ = (sum(prices[part] for part in due[heater]) for heater in heaters)
    found = for_the_day(shop, heaters, NOW, limits=Limits(price=first + 0.5 * second))
    assert found.served_count == 1
    assert due[heaters[0]] <= {each.kind.key for each in found.parts if each.wanted}


def test_the_season_counts_services_that_fall_due_and_pieces_that_may_fail(shop: Workshop) -> None:
    every, reckoned = fleet(shop, NOW), reckoning(shop)
    demands, services = season_demands(every, reckoned, NOW)
    spring = datetime(2027, 5, 1, tzinfo=UTC)
    due = [unit for unit in every.units.values() if service_due(unit, reckoned, NOW) <= spring]
    assert services == len(due) > 0
    assert demands["nozzle_ring"].mean >= services
    assert 0.0 < demands["compressor"].mean < len(every.units)
    season = for_the_season(shop, NOW, limits=Limits())
    assert season.services == services
    assert season.kit.enough_chance > 0.95
    tight = for_the_season(shop, NOW, limits=Limits(price=2000.0))
    assert tight.kit.price <= 2000.0
    assert tight.kit.shortage > season.kit.shortage
    # What is short is shared out among parts that help alike.
    yearly = [each.wanted for each in tight.parts if each.kind.annual]
    assert max(yearly) - min(yearly) <= 2


def calls_of(shop: Workshop) -> dict[str, str]:
    """Heaters by what their owner says, of the visits that are still open."""
    found = {}
    for visit in shop.book.open_visits():
        says = next((each.state for each in visit.readings if each.key == "owner_says"), "")
        found[says or ""] = visit.heater
    return found


def test_a_complaint_asks_for_the_parts_that_its_suspects_need(shop: Workshop) -> None:
    every = fleet(shop, NOW)
    open_case = shop.book.case(shop.book.open_visits()[0].id)
    bare = replace(open_case.visit, readings=(), events=(), complaint="")
    told = tuple(
        Reading(id=key, heater=bare.heater, key=key, stage=Stage.AS_FOUND, taken_at=bare.started_at, **said)
        for key, said in (
            ("owner_says", {"state": "tries without flame"}),
            ("supply_voltage_igniter", {"value": Decimal("12.4"), "unit": "V"}),
            ("igniter_current", {"value": Decimal("0.1"), "unit": "A"}),
            ("chamber_look", {"state": "wet"}),
        )
    )
    suspected = suspected_in(replace(open_case, visit=replace(bare, readings=told)), shop.shelf)
    assert suspected is not None
    assert suspected.says == "tries without flame"
    assert sum(chance for _, chance in suspected.sets) == pytest.approx(1.0)
    not_due = [unit for unit in every.units.values() if "igniter" not in due_parts(unit, shop.shelf, NOW)]
    for unit in not_due[:5]:
        named, alone = needs_of(every, unit, NOW, suspected), needs_of(every, unit, NOW)
        if any(each.part.kind == "igniter" and each.where is Where.SPARE for each in unit.pieces):
            continue  # it lies in the vehicle
        asked = {key: chance for key, chance in named.items() if chance < 1.0}
        assert max(asked, key=lambda key: asked[key]) == "igniter"  # how likely goes by how old its own is
        assert named["igniter"] > 0.3 + alone.get("igniter", 0.0)
        # What nothing speaks for is needed less than wear alone would say, not more.
        assert named.get("circulation_pump", 0.0) < 0.05
        assert {key for key, chance in named.items() if chance == 1.0} == due_parts(unit, shop.shelf, NOW)
    assert not_due


def test_the_chance_to_finish_rests_on_the_complaint_and_says_so(shop: Workshop) -> None:
    calls = calls_of(shop)
    chosen = [calls["tries without flame"], sorted(fleet(shop, NOW).units)[40]]
    found = for_the_day(shop, chosen, NOW, limits=Limits())
    said = [Speaker().say(each) for each in found.why]
    assert said[0].startswith("The owner says: tries, no flame. Parts count as likely as the suspects")
    assert said[1].startswith("No complaint: each part counts as likely as it has failed")
    wanted = {each.kind.key: each.wanted for each in found.parts}
    assert wanted["igniter"] >= 1
    assert wanted["connector"] >= 1
    # It may be something of which no stock is kept: no kit makes this visit sure.
    told = parts_suspected(shop, found.calls[0])
    assert told is not None
    assert 0.0 < told.unlisted(shop.shelf.part_types) < 0.5
    assert found.with_kit.calls[0].chance <= 1.0 - told.unlisted(shop.shelf.part_types) + 1e-12
    assert found.with_kit.calls[0].chance > found.as_is.calls[0].chance - 1e-12


def test_without_a_complaint_wear_alone_decides(shop: Workshop) -> None:
    every = fleet(shop, NOW)
    open_with_complaint = set(calls_of(shop).values()) - {calls_of(shop)[""]}
    for heater in sorted(every.units)[:30]:
        if heater not in open_with_complaint:
            assert parts_suspected(shop, every.units[heater]) is None


def test_words_alone_say_that_something_is_wrong_and_no_more(shop: Workshop) -> None:
    visit = shop.book.open_visits()[0]
    case = shop.book.case(visit.id)
    bare = replace(case, visit=replace(visit, readings=(), events=(), complaint="It smells a bit."))
    suspected = suspected_in(bare, shop.shelf)
    assert (suspected.says, suspected.complaint) == ("", "It smells a bit.")
    needs = suspected.needs({})
    assert 0.0 < max(needs.values()) < 0.4


def test_an_old_piece_is_suspected_more_and_a_fresh_one_less_within_bounds() -> None:
    found = Suspected(says="", complaint="x", sets=((("igniter",), 0.4), (("nozzle",), 0.4), ((), 0.2)))
    assert found.needs({})["igniter"] == pytest.approx(0.4)
    assert found.needs({"igniter": 3.0})["igniter"] == pytest.approx(1.2 / 1.8)
    assert found.needs({"igniter": 0.2})["nozzle"] == pytest.approx(0.4 / 0.68)
    assert found.needs({"igniter": 1e9}) == found.needs({"igniter": 5.0})
