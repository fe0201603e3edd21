"""A sheet that says little: what is missing is filled, marked, and of the right size."""

from pathlib import Path

import pytest

from lightoff.shelf import open_shelf
from lightoff.terms.shelf import Feed, Interval
from lightoff.texts import Speaker

SHORT = """
key = "from_plate"
name = "From a plate"
source = "plate, read on the heater"
heat_output_kw = "{heat}"
supply_v = "{supply}"
"""


def opened(tmp_path: Path, heat: str = "9", supply: str = "12"):  # type: ignore[no-untyped-def]
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "plate.toml").write_text(SHORT.format(heat=heat, supply=supply), encoding="utf-8")
    return open_shelf(tmp_path)


def test_heat_and_supply_are_enough_and_the_rest_is_marked(tmp_path: Path) -> None:
    shelf = opened(tmp_path)
    assert not shelf.problems
    sheet = shelf.sheets["from_plate"]
    assert sheet.feed is Feed.UNKNOWN
    assert sheet.trials == 2
    assert {"fuel_flow_kg_s", "igniter_w", "fan_current_a", "o2_dry_low_fraction"} <= set(sheet.estimated)
    assert not {"heat_output_w", "supply_v"} & set(sheet.estimated)


def test_24_volts_halve_the_currents(tmp_path: Path) -> None:
    low = opened(tmp_path, supply="12").sheets["from_plate"]
    (tmp_path / "other").mkdir()
    high = opened(tmp_path / "other", supply="24").sheets["from_plate"]
    assert high.fan_current_a == pytest.approx(low.fan_current_a / 2, abs=0.01)
    assert high.low_voltage_cut_out_v == pytest.approx(2 * low.low_voltage_cut_out_v)


@pytest.mark.parametrize("heat", ["1", "5", "16", "60"])
def test_what_is_filled_holds_together_at_any_size(tmp_path: Path, heat: str) -> None:
    assert not opened(tmp_path, heat=heat).problems


@pytest.mark.parametrize("sheet", [each for each in open_shelf().sheets.values() if each.invented])
def test_the_lines_run_near_the_sheets_that_ship(tmp_path: Path, sheet) -> None:  # type: ignore[no-untyped-def]
    filled = opened(tmp_path, heat=f"{sheet.heat_output_w / 1000:g}", supply=f"{sheet.supply_v:g}").sheets[
        "from_plate"
    ]
    for name in ("fuel_flow_kg_s", "igniter_w", "fan_current_a", "compressor_current_a", "coolant_volume_m3"):
        assert getattr(filled, name) == pytest.approx(getattr(sheet, name), rel=0.4)


def test_a_plate_without_its_heat_is_told(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    text = SHORT.format(heat="9", supply="12").replace('heat_output_kw = "9"\n', "")
    (tmp_path / "sheets" / "plate.toml").write_text(text, encoding="utf-8")
    problems = open_shelf(tmp_path).problems
    assert len(problems) == 1
    assert problems[0].message.values["field"] == "heat_output_kw"


def test_no_law_scales_a_service_interval(tmp_path: Path) -> None:
    sheet = opened(tmp_path).sheets["from_plate"]
    assert sheet.service == Interval()
    assert not sheet.renewals
    assert not {"service", "renewals"} & set(sheet.estimated)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('service_hours = "5"', "service_hours"),
        ('service_months = "many"', "service_months"),
        ('[renewals.igniter]\nyears = "2"', "years"),
        ('[renewals.flux]\nmonths = "2"', "flux"),
    ],
)
def test_an_interval_that_cannot_be_is_told(tmp_path: Path, more: str, said: str) -> None:
    (tmp_path / "sheets").mkdir()
    text = SHORT.format(heat="9", supply="12") + more
    (tmp_path / "sheets" / "plate.toml").write_text(text, encoding="utf-8")
    (problem,) = open_shelf(tmp_path).problems
    assert said in Speaker().say(problem.message)


def test_intervals_are_read_by_every_clock(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    more = 'service_starts = "900"\n[renewals.igniter]\nstarts = "3000"\nmonths = "48"\n'
    (tmp_path / "sheets" / "plate.toml").write_text(SHORT.format(heat="9", supply="12") + more)
    sheet = open_shelf(tmp_path).sheets["from_plate"]
    assert sheet.service == Interval(starts=900.0)
    assert sheet.renewals["igniter"] == Interval(starts=3000.0, months=48.0)
