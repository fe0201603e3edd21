"""A heater type from its plate: kept whole or not at all, and on the shelf at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from lightoff.ground.errors import Refusal, Refusals
from lightoff.shelf import SHEET_TEXTS, open_shelf
from lightoff.texts import Speaker
from lightoff.work.keep_sheet import FIELDS, NEEDED, PlateText, keep_sheet
from lightoff.work.workshop import Workshop, open_shop

PLATE = PlateText(
    name="10 kW, as on the plate",
    source="plate and manual, 2019",
    feed="unknown",
    trials="",
    numbers={"heat_output_kw": "10", "supply_v": "12"},
    units={},
    words={},
)


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    with open_shop(tmp_path / "shop") as opened:
        yield opened


def files(workshop: Workshop) -> list[str]:
    return sorted(
        path.name for path in workshop.folder.rglob("*") if "book" not in path.name and path.is_file()
    )


def refused(workshop: Workshop, plate: PlateText) -> dict[str, str]:
    """What stands at each box; nothing was written."""
    there = files(workshop)
    with pytest.raises(Refusal) as caught:
        keep_sheet(workshop, plate)
    assert files(workshop) == there
    each = caught.value.refusals if isinstance(caught.value, Refusals) else (caught.value,)
    return {one.field or "": Speaker().say(one.message) for one in each}


def test_two_numbers_are_enough_and_the_rest_is_estimated(workshop: Workshop) -> None:
    before = workshop.shelf
    sheet = keep_sheet(workshop, PLATE)
    assert workshop.shelf.sheets["10_kw_as_on_the_plate"] == sheet
    assert "10_kw_as_on_the_plate" not in before.sheets, "a job that holds the old shelf ends with it"
    assert sheet.heat_output_w == 10_000
    assert {"fuel_flow_kg_s", "igniter_w", "after_run_s"} <= set(sheet.estimated)
    assert not {"heat_output_w", "supply_v"} & set(sheet.estimated)
    assert not sheet.invented
    assert files(workshop) == ["10_kw_as_on_the_plate.toml"]
    # Another start reads the same.
    assert open_shelf(workshop.folder / "shelf").sheets[sheet.key] == sheet
    assert not workshop.shelf.problems


def test_what_the_plate_says_stands_as_it_was_typed(workshop: Workshop) -> None:
    numbers = {**PLATE.numbers, "igniter_w": "110,5", "coolant_volume_l": "15", "high_limit_degc": "118"}
    words = {field: f"“{field}” with a \\ and\na line" for field in SHEET_TEXTS}
    sheet = keep_sheet(workshop, replace(PLATE, numbers=numbers, words=words, feed="siphon", trials="3"))
    assert (sheet.igniter_w, sheet.trials, sheet.feed.value) == (110.5, 3, "siphon")
    assert sheet.inlet == "“inlet” with a \\ and a line"
    assert "igniter_w" not in sheet.estimated


def test_a_number_may_bring_its_own_unit(workshop: Workshop) -> None:
    numbers = {"heat_output_kw": "41000 Btu/h", "supply_v": "12", "thermostat_off_degc": "176"}
    units = {"thermostat_off_degc": "degF"}
    sheet = keep_sheet(workshop, replace(PLATE, numbers=numbers, units=units))
    assert sheet.heat_output_w == pytest.approx(41_000 * 0.29307107, rel=1e-5)
    assert sheet.thermostat_off_k == pytest.approx(273.15 + 80.0)


def test_every_box_that_is_wrong_has_its_sentence_and_nothing_is_written(workshop: Workshop) -> None:
    numbers = {
        "heat_output_kw": "900", "supply_v": "", "igniter_w": "much", "coolant_volume_l": "5 kPa",
        "after_run_s": "99999",
    }  # fmt: skip
    said = refused(workshop, replace(PLATE, source="maker", numbers=numbers, trials="0"))
    assert set(said) == {
        "heat_output_kw", "supply_v", "igniter_w", "coolant_volume_l", "after_run_s", "source", "trials",
    }  # fmt: skip
    assert "900" in said["heat_output_kw"]
    assert "1 to 60" in said["heat_output_kw"]
    assert "much" in said["igniter_w"]
    assert "kPa" in said["coolant_volume_l"]


def test_what_does_not_fit_an_estimate_is_told_where_something_was_typed(workshop: Workshop) -> None:
    """The upper end alone was typed, and lies below the estimated lower one."""
    said = refused(workshop, replace(PLATE, numbers={**PLATE.numbers, "light_off_high_s": "10"}))
    assert set(said) == {"light_off_high_s"}
    said = refused(workshop, replace(PLATE, numbers={**PLATE.numbers, "fuel_flow_kg_h": "0.2"}))
    assert set(said) == {"heat_output_kw"}


@pytest.mark.parametrize("field", NEEDED)
def test_without_heat_or_supply_there_is_no_sheet(workshop: Workshop, field: str) -> None:
    numbers = {name: value for name, value in PLATE.numbers.items() if name != field}
    assert set(refused(workshop, replace(PLATE, numbers=numbers))) == {field}


@pytest.mark.parametrize("name", ["generic 9 kW", "new", "", "  "])
def test_no_name_takes_the_place_of_another(workshop: Workshop, name: str) -> None:
    assert set(refused(workshop, replace(PLATE, name=name))) == {"name"}


def test_a_file_that_is_there_is_left_as_it_is(workshop: Workshop) -> None:
    folder = workshop.folder / "shelf" / "sheets"
    folder.mkdir(parents=True)
    (folder / "10_kw_as_on_the_plate.toml").write_text("not a sheet", encoding="utf-8")
    workshop.reread_shelf()
    assert set(refused(workshop, PLATE)) == {"name"}
    assert (folder / "10_kw_as_on_the_plate.toml").read_text(encoding="utf-8") == "not a sheet"


def test_a_folder_that_cannot_be_written_says_so(workshop: Workshop) -> None:
    (workshop.folder / "shelf").write_text("a file in the way", encoding="utf-8")
    said = refused(workshop, PLATE)
    assert "cannot be written" in said[""]


def test_the_form_asks_for_every_number_of_a_sheet() -> None:
    from lightoff.web.sheets import GROUPS

    asked = {field for _, fields in GROUPS for field in fields} | set(NEEDED)
    assert asked == set(FIELDS)
