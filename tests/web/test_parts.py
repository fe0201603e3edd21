"""Parts and stock in a browser's hands: what is typed wrong is said, and changes nothing."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from lightoff.terms.part import MoveKind

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}


@pytest.mark.parametrize(
    "typed",
    [
        {},
        {"kind": "flux capacitor"},
        {"kind": "igniter", "fate": "eaten"},
        {"kind": "igniter", "stamped": "17.5.2024"},
        {"kind": "igniter", "source": "spare of another"},
        {"kind": "igniter", "source": "bin of another"},
    ],
)
def test_a_wrong_exchange_is_said_and_changes_nothing(bay: Bay, typed: dict[str, str]) -> None:
    answer = bay.client.post(f"/visits/{bay.start_visit()}/parts", data=typed, headers=OWN)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert bay.workshop.book.moves() == bay.workshop.book.parts() == ()


def test_an_exchange_is_kept_and_shown(bay: Bay) -> None:
    typed = {"kind": "igniter", "fate": "kept as spare", "condition": "<b>clean</b>"}
    answer = bay.client.post(f"/visits/{bay.start_visit()}/parts", data=typed, headers=OWN)
    assert answer.status_code == 200
    assert "<b>clean</b>" not in answer.text
    kinds = [each.kind for each in bay.workshop.book.moves()]
    assert kinds == [MoveKind.FOUND, MoveKind.KEPT, MoveKind.FITTED]


def form_id(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]+)"', page)
    assert found is not None
    return found[1]


def test_a_double_tap_writes_one_exchange(bay: Bay) -> None:
    path = f"/visits/{bay.start_visit()}/parts"
    typed = {"kind": "igniter", "fate": "kept as spare", "source": "new"}
    typed["exchange"] = form_id(bay.client.get(path).text, "exchange")
    for _ in range(2):
        assert bay.client.post(path, data=typed, headers=OWN).status_code == 200
        bay.clock.later(seconds=1)
    assert len(bay.workshop.book.moves()) == 3
    # Back in the same page with other words it is another exchange, and nothing of it is lost.
    assert bay.client.post(path, data={**typed, "kind": "nozzle"}, headers=OWN).status_code == 200
    assert len(bay.workshop.book.moves()) == 6


def test_a_double_tap_puts_the_spare_in_once(bay: Bay) -> None:
    path = f"/visits/{bay.start_visit()}/parts"
    kept = {"kind": "igniter", "fate": "kept as spare", "source": "new", "exchange": "first"}
    assert bay.client.post(path, data=kept, headers=OWN).status_code == 200
    bay.clock.later(days=30)
    page = bay.client.get(path).text
    spare = re.search(r'value="(spare [^"]+)"', page)
    assert spare is not None
    typed = {"kind": "igniter", "fate": "failed", "source": spare[1], "exchange": form_id(page, "exchange")}
    for _ in range(2):
        assert bay.client.post(path, data=typed, headers=OWN).status_code == 200
    assert [each.kind for each in bay.workshop.book.moves()][-2:] == [MoveKind.FAILED, MoveKind.FITTED]


def test_a_double_tap_adds_one_bin(bay: Bay) -> None:
    typed = {"kind": "igniter", "place": "van", "counted": "2"}
    typed["new_bin"] = form_id(bay.client.get("/stock").text, "new_bin")
    for _ in range(2):
        assert bay.client.post("/stock", data=typed, headers=OWN).status_code == 200
    assert len(bay.workshop.book.bins()) == 1
    assert bay.client.post("/stock", data={**typed, "place": "shop"}, headers=OWN).status_code == 200
    assert len(bay.workshop.book.bins()) == 2


@pytest.mark.parametrize(
    "typed",
    [
        {"counted": "three"},
        {"counted": "-4"},
        {"counted": "9" * 30},
        {"counted": "4", "price": "NaN"},
        {"counted": "4", "price": "-3"},
        {"counted": "4", "price": "1e999"},
    ],
)
def test_a_wrong_count_is_said_and_changes_nothing(bay: Bay, typed: dict[str, str]) -> None:
    good = {"kind": "igniter", "place": "van", "counted": "2"}
    assert bay.client.post("/stock", data=good, headers=OWN).status_code == 200
    before = bay.workshop.book.bins()
    answer = bay.client.post("/stock", data={"bin": before[0].id, **typed}, headers=OWN)
    assert answer.status_code == 422
    assert bay.workshop.book.bins() == before


def test_parts_stand_by_name_on_hand_over_and_report_with_prices_only_where_wanted(bay: Bay) -> None:
    visit = bay.start_visit()
    bay.client.post("/stock", data={"kind": "igniter", "counted": "2", "price": "84.50"}, headers=OWN)
    bay.clock.later(minutes=5)
    where = bay.workshop.book.bins()[0].id
    typed = {"kind": "igniter", "fate": "kept as spare", "source": f"bin {where}"}
    assert bay.client.post(f"/visits/{visit}/parts", data=typed, headers=OWN).status_code == 200
    text = bay.client.get(f"/visits/{visit}/hand-over").text
    assert "kept as a spare aboard" in text
    assert "84.50" not in text
    assert bay.client.get(f"/visits/{visit}/report.pdf").status_code == 200
    shop = {"shop_name": "Tern Lane Heat", "shop_prices": "yes"}
    assert bay.client.post("/settings/shop", data=shop, headers=OWN).status_code == 200
    text = bay.client.get(f"/visits/{visit}/hand-over").text
    assert text.count("84.50") == 2  # the piece, and all together
    assert bay.client.get(f"/visits/{visit}/report.pdf").status_code == 200
    assert "1" in bay.client.get("/stock").text


def test_the_lives_of_its_parts_come_after_the_heaters_page(bay: Bay) -> None:
    heater = bay.ids["heater"]
    typed = {"kind": "igniter", "fate": "kept as spare", "condition": "clean"}
    bay.client.post(f"/visits/{bay.start_visit()}/parts", data=typed, headers=OWN)
    bay.clock.later(days=30)
    page = bay.client.get(f"/heaters/{heater}").text
    assert f'hx-get="/heaters/{heater}/lives" hx-trigger="load"' in page
    lives = bay.client.get(f"/heaters/{heater}/lives").text
    assert f'href="/heaters/{heater}/parts#kind-igniter"' in lives
    assert "one aboard" in lives
    assert "with nine chances in ten" in lives
    assert bay.client.get("/heaters/nobody/lives").status_code == 404
