"""Heater types on the pages: added from a plate, used at once, shown with what is estimated."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}
PLATE = {
    "name": "10 kW, as on the plate",
    "source": "plate and manual, 2019",
    "feed": "metering pump",
    "heat_output_kw": "10",
    "supply_v": "12",
}


def test_a_type_from_its_plate_is_there_at_once(bay: Bay) -> None:
    """The running server has it: to look at, to choose for a heater, and to judge by."""
    assert "/sheets/new" in bay.client.get("/settings").text
    assert "/sheets/new" in bay.client.get("/heaters/new").text
    answer = bay.client.post("/sheets/new", data=PLATE, headers=OWN, follow_redirects=False)
    assert answer.status_code == 303
    where = answer.headers["location"]
    shown = bay.client.get(where).text
    assert "10 kW, as on the plate" in shown
    assert shown.count("<i>estimated</i>") > 10
    assert "plate and manual, 2019" in shown
    key = where.rsplit("/", 1)[1]
    assert f'value="{key}"' in bay.client.get("/heaters/new").text
    assert f'href="{where}"' in bay.client.get("/settings").text
    form = {
        "vehicle": bay.ids["vehicle"],
        "heater_name": "new heater",
        "heater_sheet": key,
        "heater_id": "h-new",
        "heater_entry": bay.new_id(),
    }
    made = bay.client.post("/heaters/new", data=form, headers=OWN, follow_redirects=False)
    assert made.status_code == 303, made.text
    bay.ids["heater"] = "h-new"
    visit = bay.start_visit()
    assert bay.client.get(f"/visits/{visit}").status_code == 200
    assert bay.client.get(f"/visits/{visit}/fault").status_code == 200


def test_what_is_wrong_stands_at_its_box_and_what_was_typed_stays(bay: Bay) -> None:
    typed = {**PLATE, "heat_output_kw": "900", "after_run_s": "long", "coolant_volume_l": "15"}
    answer = bay.client.post("/sheets/new", data=typed, headers=OWN, follow_redirects=False)
    assert answer.status_code == 422
    for box in ("heat_output_kw", "after_run_s"):
        assert f'id="{box}-problem"' in answer.text
    assert "possible is 1 kW to 60 kW" in answer.text
    assert 'value="900"' in answer.text
    assert 'value="15"' in answer.text
    assert 'id="coolant_volume_l-problem"' not in answer.text
    assert ".toml" not in answer.text, "a plate is no file"
    assert not (bay.workshop.folder / "shelf").exists()


def test_a_reader_of_us_units_types_and_reads_them(bay: Bay) -> None:
    bay.client.cookies.set("lightoff_units", "us")
    assert "Btu/h" in bay.client.get("/sheets/new").text
    typed = {**PLATE, "heat_output_kw": "40000", "high_limit_degc": "230"}
    answer = bay.client.post("/sheets/new", data=typed, headers=OWN, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    sheet = bay.workshop.shelf.sheets["10_kw_as_on_the_plate"]
    assert 11_600 < sheet.heat_output_w < 11_800
    assert 383.1 < sheet.high_limit_k < 383.3
    shown = bay.client.get(answer.headers["location"]).text
    assert "e+0" not in shown
    assert "<b>230</b>" in shown


def test_a_type_that_is_not_there_is_not_found(bay: Bay) -> None:
    assert bay.client.get("/sheets/nothing_of_the_kind").status_code == 404


def test_what_the_maker_asks_for_is_typed_shown_and_used(bay: Bay) -> None:
    typed = {**PLATE, "service_hours": "500", "service_months": "12", "renew_igniter": "3000"}
    answer = bay.client.post("/sheets/new", data=typed, headers=OWN)
    assert answer.status_code == 200
    assert "<b>500</b> run hours" in answer.text
    assert "New: igniter" in answer.text
    assert "<b>3,000</b> starts" in answer.text
    assert answer.text.count("<i>not on the plate</i>") == 1  # starts
    key = next(key for key in bay.workshop.shelf.sheets if key.startswith("10_kw"))
    assert bay.workshop.shelf.sheets[key].renewals["igniter"].starts == 3000.0


def test_bounds_are_told_in_the_unit_in_which_they_are_asked(bay: Bay) -> None:
    bay.client.cookies.set("lightoff_units", "us")
    answer = bay.client.post("/sheets/new", data={**PLATE, "high_limit_degc": "-400"}, headers=OWN)
    said = answer.text.partition('id="high_limit_degc-problem"')[2].partition("</p>")[0]
    assert "-400 °F is too little or too much: possible is 140 °F to 284 °F." in said


def test_an_interval_that_cannot_be_stands_at_its_box(bay: Bay) -> None:
    typed = {**PLATE, "service_months": "400", "renew_igniter": "many", "renew_nozzle": "2"}
    answer = bay.client.post("/sheets/new", data=typed, headers=OWN)
    assert answer.status_code == 422
    for box in ("service_months", "renew_igniter", "renew_nozzle"):
        assert f'id="{box}-problem"' in answer.text
    assert "possible is 1 to 120" in answer.text
    assert 'value="many"' in answer.text
    assert not (bay.workshop.folder / "shelf").exists()
