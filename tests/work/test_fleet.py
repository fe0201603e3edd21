"""The fleet is kept up to date: what is said of one heater makes that one anew, to the same end."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.terms.part import MoveKind
from lightoff.work.fleet import Fleet, fleet
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.move_part import Exchange, move_part
from lightoff.work.start_visit import start_visit
from lightoff.work.units import units
from lightoff.work.workshop import open_shop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


def test_an_exchange_makes_its_heater_anew_and_leaves_the_others(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        before = fleet(shop, NOW)
        kinds = shop.shelf.part_types
        heater, other = sorted(before.units)[:2]
        unit, beside = before.units[heater], before.units[other]
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
        assert after.units[heater] == anew[heater]
        fresh = Fleet(shop, later)
        assert fresh.lives(kinds["igniter"]) == after.lives(kinds["igniter"])


def test_a_new_day_makes_all_ages_anew(tmp_path: Path) -> None:
    with open_shop(make_demo_shop(tmp_path / "shop", NOW)) as shop:
        today, tomorrow = fleet(shop, NOW), fleet(shop, NOW + timedelta(days=1))
        assert today is not tomorrow
