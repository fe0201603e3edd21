"""Parts on the report: the name, the number and the price of what went in, and what became of the rest."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import count
from pathlib import Path

from lightoff.ground.ids import time_ordered_id
from lightoff.records import body_of
from lightoff.terms.entry import Entry
from lightoff.terms.part import Bin, MoveKind
from lightoff.terms.people import Heater, Owner, Vehicle, VehicleKind
from lightoff.work.move_part import Exchange, move_part
from lightoff.work.parts_used import parts_used, total
from lightoff.work.start_visit import start_visit
from lightoff.work.units import unit_of
from lightoff.work.workshop import open_shop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
PRICES = '[[edit]]\nkey = "igniter"\nprice = "84.50"\nnumber = "IG 7"\n'


def test_each_piece_is_told_by_name_and_price_and_a_spare_costs_nothing(tmp_path: Path) -> None:
    numbers = count(1)

    def new_id() -> str:
        return time_ordered_id(NOW, next(numbers).to_bytes(10, "big"))

    (tmp_path / "shelf").mkdir()
    (tmp_path / "shelf" / "part_types.toml").write_text(PRICES, encoding="utf-8")
    ring = Bin(id="b", kind="nozzle_ring", place="van", counted=2, counted_at=NOW, price=Decimal("3.20"))
    nouns = [
        ("owner", "o", Owner(id="o", name="Mira Oduya")),
        ("vehicle", "v", Vehicle(id="v", owner="o", name="Saltgrass", kind=VehicleKind.BOAT)),
        ("heater", "h", Heater(id="h", vehicle="v", name="aft", sheet="generic_9_kw")),
        ("bin", "b", ring),
    ]
    with open_shop(tmp_path) as shop:
        shop.book.keep(
            [
                Entry(id=new_id(), subject=subject, field=field, value=body_of(noun), author="a", at=NOW)
                for field, subject, noun in nouns
            ]
        )
        visit = start_visit(shop, "h", NOW, author="a", randomness=bytes(10))
        for done in (
            Exchange(kind="igniter", fate=MoveKind.KEPT),
            Exchange(kind="nozzle_ring", fate=MoveKind.SCRAPPED, bin="b", why="by plan"),
        ):
            move_part(shop, visit, done, NOW, author="a", new_id=new_id)
        used = parts_used(shop.book, shop.shelf, shop.book.visit(visit), with_prices=True)
        assert [(each.move, each.kind, each.number, each.price) for each in used] == [
            (MoveKind.FITTED, "igniter", "IG 7", Decimal("84.50")),
            (MoveKind.FITTED, "nozzle_ring", "", Decimal("3.20")),
            (MoveKind.KEPT, "igniter", "IG 7", None),
            (MoveKind.SCRAPPED, "nozzle_ring", "", None),
        ]
        assert total(used) == Decimal("87.70")
        assert all(each.used is None for each in used), "nobody handed in the pieces"
        lives = parts_used(
            shop.book,
            shop.shelf,
            shop.book.visit(visit),
            with_prices=True,
            pieces=unit_of(shop, "h", NOW).pieces,
        )
        (spare,) = (each for each in lives if each.move is MoveKind.KEPT)
        assert spare.clock == "starts"
        assert [each for each in lives if each.used is not None] in ([spare], [])
        silent = parts_used(shop.book, shop.shelf, shop.book.visit(visit), with_prices=False)
        assert total(silent) is None

        later = NOW + timedelta(days=300)
        again = start_visit(shop, "h", later, author="a", randomness=bytes(10))
        (spare,) = (each.part.id for each in unit_of(shop, "h", later).pieces if each.where == "spare")
        back = Exchange(kind="igniter", fate=MoveKind.FAILED, spare=spare)
        move_part(shop, again, back, later, author="a", new_id=new_id)
        used = parts_used(shop.book, shop.shelf, shop.book.visit(again), with_prices=True)
        assert [(each.move, each.price) for each in used] == [
            (MoveKind.FITTED, None),
            (MoveKind.FAILED, None),
        ]
        assert total(used) is None
