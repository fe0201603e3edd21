"""A field that was drawn before is drawn anew for everything that it shows."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from lightoff.plant.band import Band
from lightoff.terms.visit import Stage
from lightoff.web.expecting import _by_field
from lightoff.work import assess_case

if TYPE_CHECKING:
    from conftest import Bay


def field_of(bay: Bay, visit: str, slot: str) -> str:
    text = bay.client.get(f"/visits/{visit}").text
    return text[text.index(f'id="f-{slot}"') :].split("</details>", 1)[0]


def test_a_field_follows_the_reading_the_clock_of_the_place_and_the_units(bay: Bay, visit: str) -> None:
    slot = "stack_gas_temperature-as_left-1"
    assert 'data-entry=""' in field_of(bay, visit, slot)
    probe = bay.ids["flue_gas_probe"]
    sent = bay.reading("stack_gas_temperature", "236", "degC", set_number=1, instrument=probe)
    bay.send(sent)
    drawn = field_of(bay, visit, slot)
    assert f'data-entry="{sent["id"]}"' in drawn
    assert 'value="236"' in drawn
    for zone, clock in (("UTC", r"\b14:\d\d"), ("Asia/Kolkata", r"\b19:\d\d")):
        bay.client.cookies.set("lightoff_zone", zone)
        assert re.search(clock, field_of(bay, visit, slot)), zone
    empty = "stack_gas_temperature-as_left-2"
    for units, opens_with in (("metric", "degC"), ("us", "degF")):
        bay.client.cookies.set("lightoff_units", units)
        assert f'<option value="{opens_with}" selected>' in field_of(bay, visit, empty), units


def test_a_field_follows_the_instruments_of_the_shop(bay: Bay, visit: str) -> None:
    before = field_of(bay, visit, "flue_o2-as_left-1")
    data = {"kind": "flue_gas_probe", "instrument_name": "Second probe"}
    bay.client.post("/settings/instruments", data=data, headers={"origin": "http://127.0.0.1"})
    assert "Second probe" not in before
    assert "Second probe" in field_of(bay, visit, "flue_o2-as_left-1")


def test_what_stands_in_a_unit_that_is_not_offered_is_shown_in_it(bay: Bay, visit: str) -> None:
    bay.send(bay.reading("tank_level", "60", "% battery", stage="as found", test=None))
    assert re.search(r'<option value="% battery" selected', bay.client.get(f"/visits/{visit}").text)


def test_no_band_is_told_that_reaches_past_the_limit_of_its_reading(bay: Bay, visit: str) -> None:
    """What sound heaters may read at worst is no word on how much carbon monoxide may be there."""
    bands = {
        Stage.AS_FOUND: {"flue_co": Band(middle=40e-6, low=15e-6, high=0.015)},
        Stage.AS_LEFT: {"flue_co": Band(middle=40e-6, low=24e-6, high=166e-6)},
    }
    case = bay.workshop.book.case(visit)
    assert set(_by_field(case, bay.workshop.shelf, bands)) == {("flue_co", Stage.AS_LEFT)}


def test_oxygen_is_never_expected_below_its_floor(
    bay: Bay, visit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Under the empty field as under the number."""
    low = {stage: {"flue_o2": Band(middle=0.046, low=0.009, high=0.084)} for stage in Stage}
    monkeypatch.setattr(assess_case, "expect_readings", lambda *_, stage, **__: low[stage])
    words = "expected up to 8.4, never below 2"
    assert words in field_of(bay, visit, "flue_o2-as_left-1")
    probe = bay.ids["flue_gas_probe"]
    bay.send(bay.reading("flue_o2", "5.0", "%", instrument=probe, basis="dry", set_number=1))
    assert words in field_of(bay, visit, "flue_o2-as_left-1")
