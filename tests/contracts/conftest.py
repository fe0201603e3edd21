"""A fresh book of each kind, and a pen to write entries with."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
import sqlalchemy

from lightoff.ground.ids import time_ordered_id
from lightoff.records import Book, Close, Noun, body_of
from lightoff.terms.entry import Entry, Json
from lightoff.terms.people import Heater, Owner, Vehicle, VehicleKind
from lightoff.terms.visit import Reading, Stage, Visit

START = datetime(2026, 3, 1, 9, tzinfo=UTC)


@dataclass
class Pen:
    """Writes entries at a steady pace: the same seed, the same ids."""

    dice: random.Random = field(default_factory=lambda: random.Random(7))
    now: datetime = START
    author: str = "ann"

    def later(self, **span: float) -> datetime:
        self.now += timedelta(**span) if span else timedelta(seconds=1)
        return self.now

    def id(self) -> str:
        return time_ordered_id(self.now, self.dice.randbytes(10))

    def entry(
        self, field: str, value: Noun | Json, *, subject: str, corrects: str | None = None, author: str = ""
    ) -> Entry:
        at = self.later()
        body = value if value is None or isinstance(value, (dict, str, int, list)) else body_of(value)
        author = author or self.author
        return Entry(
            id=self.id(), subject=subject, field=field, value=body, author=author, at=at, corrects=corrects
        )

    def owner(self, owner_id: str = "owner-1", name: str = "Ada Invented") -> Entry:
        return self.entry("owner", Owner(id=owner_id, name=name), subject=owner_id)

    def vehicle(self, vehicle_id: str = "vehicle-1", *, owner: str = "owner-1", **parts: str) -> Entry:
        told = {"name": "Blue coach", "registration": "IN 123"} | parts
        noun = Vehicle(id=vehicle_id, owner=owner, kind=VehicleKind.COACH, **told)
        return self.entry("vehicle", noun, subject=vehicle_id)

    def heater(self, heater_id: str = "heater-1", *, vehicle: str = "vehicle-1", **parts: str) -> Entry:
        told = {"name": "front", "sheet": "generic_9_kw", "serial": "SN-77"} | parts
        return self.entry("heater", Heater(id=heater_id, vehicle=vehicle, **told), subject=heater_id)

    def household(self, number: int = 1) -> list[Entry]:
        """An owner with one vehicle and its heater."""
        return [
            self.owner(f"owner-{number}", f"Owner {number}"),
            self.vehicle(f"vehicle-{number}", owner=f"owner-{number}", name=f"Vehicle {number}"),
            self.heater(f"heater-{number}", vehicle=f"vehicle-{number}"),
        ]

    def visit(
        self, visit_id: str = "visit-1", *, heater: str = "heater-1", corrects: str | None = None
    ) -> Entry:
        noun = Visit(id=visit_id, heater=heater, started_at=self.now)
        return self.entry("visit", noun, subject=visit_id, corrects=corrects)

    def reading(
        self, value: str = "4.80", *, visit: str = "visit-1", corrects: str | None = None, author: str = ""
    ) -> Entry:
        noun = Reading(
            id="",
            heater="heater-1",
            key="flue_o2",
            stage=Stage.AS_LEFT,
            taken_at=self.now,
            value=Decimal(value),
            unit="%",
            test="t1",
            set_number=1,
            basis="dry",
        )
        return self.entry("reading", noun, subject=visit, corrects=corrects, author=author)

    def close(self, *, visit: str = "visit-1") -> Entry:
        return self.entry("close", Close(id="", closed_at=self.now), subject=visit)

    def withdrawal(self, of: Entry) -> Entry:
        return self.entry(of.field, None, subject=of.subject, corrects=of.id)


@pytest.fixture
def pen() -> Pen:
    return Pen()


def _emptied(url: str) -> str:
    engine = sqlalchemy.create_engine(sqlalchemy.make_url(url).set(drivername="postgresql+psycopg"))
    with engine.begin() as connection:
        connection.exec_driver_sql("DROP SCHEMA public CASCADE")
        connection.exec_driver_sql("CREATE SCHEMA public")
    engine.dispose()
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a fresh book may be made; PostgreSQL only where LIGHTOFF_TEST_POSTGRES names a throw-away one."""
    if request.param == "sqlite":
        return str(tmp_path / "shop.book")
    url = os.environ.get("LIGHTOFF_TEST_POSTGRES")
    if not url:
        pytest.skip("LIGHTOFF_TEST_POSTGRES names no throw-away database")
    return _emptied(url)


@pytest.fixture
def book(address: str) -> Iterator[Book]:
    with Book.open(address) as opened:
        yield opened
