"""One piece out, another in, and what lies in the bins."""

from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from lightoff.ground.errors import Refusal
from lightoff.ground.ids import time_ordered_id
from lightoff.records import SHOP, body_of
from lightoff.terms.entry import Entry
from lightoff.terms.part import Bin, MoveKind
from lightoff.terms.people import Heater, Owner, Shop, Vehicle, VehicleKind
from lightoff.work.move_part import Exchange, move_part, stock_of
from lightoff.work.pieces import Where
from lightoff.work.start_visit import start_visit
from lightoff.work.units import unit_of
from lightoff.work.workshop import Workshop, open_shop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture
def new_id() -> Callable[[], str]:
    numbers = count(1)
    return lambda: time_ordered_id(NOW, next(numbers).to_bytes(10, "big"))


@pytest.fixture
def shop(tmp_path: Path, new_id: Callable[[], str]) -> Iterator[Workshop]:
    with open_shop(tmp_path / "shop") as opened:
        nouns = [
            ("shop", SHOP, Shop(name="Tern Lane Heat", technician="J. Aalto", invented=True)),
            ("owner", "o", Owner(id="o", name="Mira Oduya")),
            ("vehicle", "v", Vehicle(id="v", owner="o", name="Saltgrass", kind=VehicleKind.BOAT)),
            ("heater", "h", Heater(id="h", vehicle="v", name="aft", sheet="generic_9_kw")),
            ("bin", "b", Bin(id="b", kind="igniter", place="van", counted=2, counted_at=NOW)),
        ]
        opened.book.keep(
            [
                Entry(id=new_id(), subject=subject, field=field, value=body_of(noun), author="a", at=NOW)
                for field, subject, noun in nouns
            ]
        )
        yield opened


@pytest.fixture
def visit(shop: Workshop) -> str:
    return start_visit(shop, "h", NOW, author="J. Aalto", randomness=bytes(10))


def where(shop: Workshop, at: datetime) -> list[Where]:
    return [each.where for each in unit_of(shop, "h", at).pieces if each.part.kind == "igniter"]


def test_the_first_exchange_makes_the_old_piece_known(
    shop: Workshop, visit: str, new_id: Callable[[], str]
) -> None:
    done = Exchange(kind="igniter", fate=MoveKind.KEPT, bin="b", stamped_on=date(2024, 5, 1))
    move_part(shop, visit, done, NOW, author="J. Aalto", new_id=new_id)
    moves = shop.book.moves("h")
    assert [each.kind for each in moves] == [MoveKind.FOUND, MoveKind.KEPT, MoveKind.FITTED]
    assert where(shop, NOW + timedelta(days=1)) == [Where.SPARE, Where.FITTED]
    assert stock_of(shop.book.bins(), moves) == {"b": 1}


def test_the_spare_goes_back_in(shop: Workshop, visit: str, new_id: Callable[[], str]) -> None:
    move_part(shop, visit, Exchange(kind="igniter", fate=MoveKind.KEPT), NOW, author="a", new_id=new_id)
    later = NOW + timedelta(days=200)
    (spare,) = (each.part.id for each in unit_of(shop, "h", later).pieces if each.where is Where.SPARE)
    done = Exchange(kind="igniter", fate=MoveKind.FAILED, spare=spare)
    move_part(shop, visit, done, later, author="a", new_id=new_id)
    assert where(shop, later + timedelta(days=1)) == [Where.FITTED, Where.GONE]


def test_what_was_only_looked_at_is_found_in_place(
    shop: Workshop, visit: str, new_id: Callable[[], str]
) -> None:
    done = Exchange(kind="igniter", fits_new=False, condition="clean", stamped_on=date(2025, 1, 1))
    move_part(shop, visit, done, NOW, author="a", new_id=new_id)
    (move,) = shop.book.moves("h")
    assert (move.kind, move.condition) == (MoveKind.FOUND, "clean")


def test_nonsense_is_refused_and_nothing_is_kept(
    shop: Workshop, visit: str, new_id: Callable[[], str]
) -> None:
    for done in (Exchange(kind="flux capacitor"), Exchange(kind="igniter", spare="of another")):
        with pytest.raises(Refusal):
            move_part(shop, visit, done, NOW, author="a", new_id=new_id)
    assert shop.book.moves() == shop.book.parts() == ()
