"""A part type that takes the place of another carries its lives on, its fitted pieces and its stock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from lightoff.ground.ids import time_ordered_id
from lightoff.records import body_of
from lightoff.terms.entry import Entry
from lightoff.terms.part import Bin, MoveKind
from lightoff.terms.people import Heater, Owner, Vehicle, VehicleKind
from lightoff.work.move_part import Exchange, move_part, stock_of
from lightoff.work.order_of_visit import due_parts
from lightoff.work.part_lines import newest_of
from lightoff.work.pieces import Where
from lightoff.work.start_visit import start_visit
from lightoff.work.units import unit_of
from lightoff.work.workshop import Workshop, open_shop

NOW = datetime(2025, 11, 25, 12, tzinfo=UTC)
LATER = NOW + timedelta(days=365)
OWN = """
[[part]]
key = "long_nozzle_ring"
label = "Nozzle ring, long life"
clock = "months"
annual = true
minutes = 3
life = 60
life_spread = 0.9
shape = 2
shape_spread = 0.4
source = "our own judgement"
supersedes = ["nozzle_ring"]
readings = ["nozzle_ring_look"]
"""


@pytest.fixture
def new_id() -> Callable[[], str]:
    numbers = count(1)
    return lambda: time_ordered_id(NOW, next(numbers).to_bytes(10, "big"))


@pytest.fixture
def folder(tmp_path: Path, new_id: Callable[[], str]) -> Path:
    nouns = [
        ("owner", "o", Owner(id="o", name="Mira Oduya")),
        ("vehicle", "v", Vehicle(id="v", owner="o", name="Saltgrass", kind=VehicleKind.BOAT)),
        ("heater", "h", Heater(id="h", vehicle="v", name="aft", sheet="generic_9_kw")),
        ("bin", "b", Bin(id="b", kind="nozzle_ring", place="van", counted=2, counted_at=NOW)),
    ]
    with open_shop(tmp_path / "shop") as shop:
        shop.book.keep(
            [
                Entry(id=new_id(), subject=subject, field=field, value=body_of(noun), author="a", at=NOW)
                for field, subject, noun in nouns
            ]
        )
        visit = start_visit(shop, "h", NOW, author="a", randomness=bytes(10))
        done = Exchange(kind="nozzle_ring")
        move_part(shop, visit, done, NOW + timedelta(hours=1), author="a", new_id=new_id)
    shelf = tmp_path / "shop" / "shelf"
    shelf.mkdir(exist_ok=True)
    (shelf / "part_types.toml").write_text(OWN, encoding="utf-8")
    return tmp_path / "shop"


@pytest.fixture
def shop(folder: Path) -> Iterator[Workshop]:
    with open_shop(folder) as opened:
        assert "long_nozzle_ring" in opened.shelf.part_types
        yield opened


def test_the_old_piece_is_the_one_that_is_renewed_with_the_new_type(
    shop: Workshop, new_id: Callable[[], str]
) -> None:
    (before,) = unit_of(shop, "h", LATER).pieces
    assert before.part.kind == "long_nozzle_ring"
    visit = start_visit(shop, "h", LATER, author="a", randomness=bytes(10))
    # The last rings of the old type are used up: a bin of the line serves.
    done = Exchange(kind="long_nozzle_ring", fate=MoveKind.SCRAPPED, bin="b")
    move_part(shop, visit, done, LATER, author="a", new_id=new_id)
    pieces = unit_of(shop, "h", LATER + timedelta(days=30)).pieces
    assert [each.where for each in pieces] == [Where.GONE, Where.FITTED]
    assert [each.part.kind for each in pieces] == ["long_nozzle_ring"] * 2
    assert [each.kind for each in shop.book.parts("h")] == ["nozzle_ring"] * 2  # what each piece is, stands
    assert stock_of(shop.book.bins(), shop.book.moves()) == {"b": 1}


def test_lives_of_both_are_one_line(shop: Workshop) -> None:
    for at in (NOW + timedelta(days=200), LATER):
        start_visit(shop, "h", at, author="a", randomness=bytes(10))
    unit = unit_of(shop, "h", LATER + timedelta(days=1))
    assert set(unit.lives) == {"long_nozzle_ring"}


def test_what_was_renewed_under_its_old_name_is_not_due_under_the_new(shop: Workshop) -> None:
    unit = unit_of(shop, "h", NOW + timedelta(days=60))
    due = due_parts(unit, shop.shelf, NOW + timedelta(days=60))
    assert not {"nozzle_ring", "long_nozzle_ring"} & due
    assert "fuel_filter" in due


def test_a_type_that_nothing_replaced_is_its_own_newest(shop: Workshop) -> None:
    kinds = shop.shelf.part_types
    assert newest_of("igniter", kinds) == "igniter"
    assert newest_of("nozzle_ring", kinds) == newest_of("long_nozzle_ring", kinds) == "long_nozzle_ring"
