"""An invented shop for the tests of the pages."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from lightoff.ground.ids import time_ordered_id
from lightoff.records import SHOP, body_of
from lightoff.terms.entry import Entry
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Vehicle, VehicleKind
from lightoff.web import gathering
from lightoff.web.app import create_app
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.workshop import Workshop, open_shop

START = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)
HOME = "http://127.0.0.1"
OWN = {"origin": HOME}


@dataclass
class Clock:
    """A clock that stands until it is moved."""

    at: datetime = START

    def __call__(self) -> datetime:
        return self.at

    def later(self, **span: float) -> datetime:
        self.at += timedelta(**span)
        return self.at


@dataclass
class Bay:
    """The app under test with its clock, its workshop and a client that is one of its own pages."""

    workshop: Workshop
    client: TestClient
    clock: Clock
    ids: dict[str, str] = field(default_factory=dict)
    count: int = 0

    def new_id(self) -> str:
        self.count += 1
        return time_ordered_id(self.clock(), self.count.to_bytes(10, "big"))

    def keep(self, noun: Any, named: str, *, subject: str) -> str:
        entry = Entry(
            id=self.new_id(),
            subject=subject,
            field=named,
            value=body_of(noun),
            author="J. Aalto",
            at=self.clock(),
        )
        self.workshop.book.keep([entry])
        return entry.id

    def entry(
        self, body: dict[str, Any] | None, *, named: str = "reading", corrects: str | None = None
    ) -> dict[str, Any]:
        """A line as the capture script makes it."""
        return {
            "id": self.new_id(),
            "subject": self.ids["visit"],
            "field": named,
            "value": body,
            "author": "J. Aalto",
            "at": self.clock().isoformat(),
            "corrects": corrects,
        }

    def reading(self, key: str, value: str, unit: str, **more: Any) -> dict[str, Any]:
        body = {
            "heater": self.ids["heater"],
            "key": key,
            "stage": "as left",
            "test": "1",
            "taken_at": self.clock().isoformat(),
            "value": value,
            "unit": unit,
            **more,
        }
        return self.entry(body)

    def send(self, *entries: dict[str, Any]) -> list[dict[str, Any]]:
        answer = self.client.post("/entries", json=list(entries), headers=OWN)
        assert answer.status_code == 200, answer.text
        return answer.json()["entries"]  # type: ignore[no-any-return]

    def start_visit(self) -> str:
        answer = self.client.post(
            f"/heaters/{self.ids['heater']}/visits", headers=OWN, follow_redirects=False
        )
        assert answer.status_code == 303
        self.ids["visit"] = answer.headers["location"].rsplit("/", 1)[1]
        return self.ids["visit"]


INSTRUMENTS = {
    "flue_gas_probe": "Probe A",
    "living_space_co_meter": "Room CO meter",
    "smoke_pump": "Smoke pump",
    "multimeter": "Multimeter",
}


@pytest.fixture
def bay(tmp_path: Path) -> Iterator[Bay]:
    clock = Clock()
    with open_shop(tmp_path / "shop") as workshop:
        app = create_app(workshop, now=clock)
        made = Bay(workshop=workshop, client=TestClient(app, base_url=HOME), clock=clock)
        ids = made.ids = {name: made.new_id() for name in ("owner", "vehicle", "heater", *INSTRUMENTS)}
        made.keep(Shop(name="Tern Lane Heat", technician="J. Aalto", invented=True), "shop", subject=SHOP)
        made.keep(Owner(id=ids["owner"], name="Mira Oduya"), "owner", subject=ids["owner"])
        vehicle = Vehicle(id=ids["vehicle"], owner=ids["owner"], name="Saltgrass", kind=VehicleKind.BOAT)
        made.keep(vehicle, "vehicle", subject=ids["vehicle"])
        heater = Heater(
            id=ids["heater"], vehicle=ids["vehicle"], name="aft heater", sheet="generic_12_kw", serial="0417"
        )
        made.keep(heater, "heater", subject=ids["heater"])
        for kind, name in INSTRUMENTS.items():
            owned = Instrument(id=ids[kind], name=name, kind=kind, calibrated_on=date(2026, 9, 1))
            made.keep(owned, "instrument", subject=ids[kind])
        yield made


@pytest.fixture
def visit(bay: Bay) -> str:
    return bay.start_visit()


@pytest.fixture(autouse=True)
def patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page over the whole shop is waited for, however busy the machine is."""
    monkeypatch.setattr(gathering, "PATIENCE_S", 120.0)


INVENTED_AT = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workshop]:
    """The invented shop, only to be looked at."""
    with open_shop(make_demo_shop(tmp_path_factory.mktemp("invented") / "shop", INVENTED_AT)) as opened:
        yield opened


@pytest.fixture(scope="session")
def client(shop: Workshop) -> TestClient:
    """A browser before its pages."""
    return TestClient(create_app(shop, now=lambda: INVENTED_AT), base_url=HOME)
