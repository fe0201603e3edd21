"""Another place, another season: the same heater burns richer the higher it is taken."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from lightoff.shelf import Shelf, open_shelf
from lightoff.work.elsewhere import Spot, elsewhere

if TYPE_CHECKING:
    from conftest import Bay

SHELF: Shelf = open_shelf()
HEIGHTS_M = (0.0, 500.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0)


def spot(altitude_m: float, air_temperature_k: float = 288.15) -> Spot:
    return Spot(
        altitude_m=altitude_m,
        air_temperature_k=air_temperature_k,
        rest_v=None,
        fuel="diesel_2",
        filter="clean",
    )


@pytest.mark.parametrize("sheet", SHELF.sheets)
def test_the_same_heater_runs_richer_as_altitude_rises(sheet: str) -> None:
    """Less air, less oxygen, more smoke, all the way up; it never burns better for being taken up."""
    seen = [elsewhere(SHELF.sheets[sheet], spot(0.0), spot(each), SHELF).there for each in HEIGHTS_M]
    ratios = [each.air_ratio.middle for each in seen]
    oxygen = [each.readings["flue_o2"].middle for each in seen]
    smoke = [each.smokes for each in seen]
    assert ratios == sorted(ratios, reverse=True)
    assert oxygen == sorted(oxygen, reverse=True)
    assert smoke == sorted(smoke)
    assert ratios[-1] < ratios[0] - 0.1
    assert smoke[-1] > smoke[0]


def test_a_metered_heater_loses_more_than_one_that_draws_its_fuel() -> None:
    falls = {}
    for sheet in SHELF.sheets.values():
        found = elsewhere(sheet, spot(0.0), spot(2500.0), SHELF)
        falls[sheet.feed.value] = found.there.air_ratio.middle / found.here.air_ratio.middle
    assert falls["metering pump"] < falls["siphon"] < 1.0


def test_what_is_hot_is_thin_too() -> None:
    sheet = SHELF.sheets["generic_12_kw"]
    cold, warm = (elsewhere(sheet, spot(0.0), spot(1500.0, air), SHELF).there for air in (268.0, 308.0))
    assert warm.air_ratio.middle < cold.air_ratio.middle


def numbers(html: str, name: str) -> list[float]:
    """The middle of here and of there in one row of the table."""
    row = re.search(rf'<th scope="row">{re.escape(name)}.*?</tr>', html, flags=re.DOTALL)
    assert row is not None, name
    cells = re.findall(r"<td>(.*?)</td>", row[0], flags=re.DOTALL)
    told = [re.search(r"[\d.,]*\d", re.sub("<[^>]+>", "", each)) for each in cells]
    return [float(each[0].replace(",", "")) for each in told if each]


def test_the_page_sets_both_side_by_side(bay: Bay) -> None:
    where = f"/heaters/{bay.ids['heater']}/elsewhere"
    low = bay.client.get(f"{where}?here_altitude=0&there_altitude=2500").text
    here, there = numbers(low, "Air ratio λ")
    assert there < here - 0.1
    assert numbers(low, "Chance that it smokes")[1] > numbers(low, "Chance that it smokes")[0]
    assert "likely to smoke" in bay.client.get(f"{where}?there_altitude=4000&there_air=30").text


def test_a_wrong_number_is_told_at_its_box(bay: Bay) -> None:
    answer = bay.client.get(f"/heaters/{bay.ids['heater']}/elsewhere?there_altitude=90000&here_air=x")
    assert answer.status_code == 200
    assert 'id="there_altitude-problem"' in answer.text
    assert 'id="here_air-problem"' in answer.text
    assert "<tbody>" not in answer.text, "nothing is shown for a place that was not understood"


def test_in_us_units_heights_are_feet(bay: Bay) -> None:
    bay.client.cookies.set("lightoff_units", "us")
    where = f"/heaters/{bay.ids['heater']}/elsewhere"
    feet = numbers(bay.client.get(f"{where}?here_altitude=0&there_altitude=8202.1").text, "Air ratio λ")
    bay.client.cookies.set("lightoff_units", "metric")
    metres = numbers(bay.client.get(f"{where}?here_altitude=0&there_altitude=2500").text, "Air ratio λ")
    assert feet == metres


def test_the_page_tells_the_chance_of_too_much_carbon_monoxide(bay: Bay) -> None:
    where = f"/heaters/{bay.ids['heater']}/elsewhere"
    html = bay.client.get(f"{where}?here_altitude=0&there_altitude=1000").text
    here, there = numbers(html, "Chance of CO above 200")
    assert there > here + 20
    assert "No visit of this heater has ended fit yet" in html


def test_no_number_is_told_beyond_what_helps(bay: Bay) -> None:
    html = bay.client.get(f"/heaters/{bay.ids['heater']}/elsewhere?here_altitude=0&there_altitude=2900").text
    row = re.search(r'<th scope="row">CO.*?</tr>', html, flags=re.DOTALL)
    assert row is not None
    assert "over 10,000" in row[0]
    assert max(float(each.replace(",", "")) for each in re.findall(r"[\d,]+\d", row[0])) <= 10_000
    assert "over 99 %" in html
