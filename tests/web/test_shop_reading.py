"""A reading that a shop put on its own shelf: on card, heater page, hand-over, report and command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner

from lightoff.cli import main
from lightoff.report.content import content
from lightoff.texts import Speaker
from lightoff.work.assess_visit import assess_visit

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}
SHELF = """
[[reading]]
key = "roof_vent"
label = "Roof {vent} & hatch"
how = "Look up from the bunk; {two} bars lit mean taped."
area = "safety"
states = ["open", "taped over"]
classes = ["eyes"]
place = "above the bunk"
minutes = 1
kit = 1

[[reading]]
key = "dongle_voltage"
area = "supply"
dimension = "voltage"
unit = "V"
classes = ["multimeter"]
place = "plug"
minutes = 1
kit = 1
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shop = tmp_path / "shop"
    (shop / "shelf").mkdir(parents=True)
    (shop / "shelf" / "catalogue.toml").write_text(SHELF, encoding="utf-8")
    return shop


@pytest.fixture
def own_bay(folder: Path, bay: Bay) -> Bay:
    """The bay, opened after its shelf was laid down."""
    return bay


def noted(bay: Bay) -> None:
    """Both readings as found."""
    state = {"heater": bay.ids["heater"], "key": "roof_vent", "stage": "as found", "state": "taped over"}
    volts = bay.reading("dongle_voltage", "12.6", "V", stage="as found", instrument=bay.ids["multimeter"])
    bay.send(bay.entry({**state, "taken_at": bay.clock().isoformat()}), volts)


def test_card_preview_and_history_call_it_by_its_own_words(own_bay: Bay, visit: str) -> None:
    noted(own_bay)
    card = own_bay.client.get(f"/visits/{visit}").text
    assert "Roof {vent} &amp; hatch" in card
    assert "Look up from the bunk; {two} bars lit mean taped." in card
    assert "dongle voltage" in card
    assert "Take it as your shop does: its catalogue says no more." in card
    assert "taped over" in card
    answer = own_bay.client.post(f"/visits/{visit}/preview", json=[], headers=OWN)
    assert answer.status_code == 200
    assert own_bay.client.get(f"/visits/{visit}/history/roof_vent-as_found").status_code == 200


def test_heater_page_and_hand_over_show_it(own_bay: Bay, visit: str) -> None:
    noted(own_bay)
    heater = own_bay.client.get(f"/heaters/{own_bay.ids['heater']}").text
    assert "Roof {vent} &amp; hatch" in heater
    handed = own_bay.client.get(f"/visits/{visit}/hand-over").text
    table = handed[handed.index("Also noted") : handed.index("What the verdict rests on")]
    for words in ("Roof {vent} &amp; hatch", "taped over", "Dongle voltage", "12.6"):
        assert words in table
    # What a gate or a figure tells is not told a second time.
    own_bay.send(
        own_bay.reading("flue_co", "38", "ppm", set_number=1, instrument=own_bay.ids["flue_gas_probe"])
    )
    handed = own_bay.client.get(f"/visits/{visit}/hand-over").text
    assert (
        "CO in the exhaust" not in handed[handed.index("Also noted") : handed.index("What the verdict rests")]
    )


def test_report_prints_it(own_bay: Bay, visit: str) -> None:
    noted(own_bay)
    workshop = own_bay.workshop
    case, assessment = assess_visit(workshop, visit, own_bay.clock())
    speaker = Speaker(own=workshop.shelf.catalogue.own_words)
    told: dict[str, Any] = content(case, assessment, shelf=workshop.shelf, speaker=speaker, photos={})
    assert ["Roof {vent} & hatch", "taped over", ""] in told["measured"]["noted"]
    assert ["dongle voltage", "12.6\u00a0V", ""] in told["measured"]["noted"]
    assert own_bay.client.get(f"/visits/{visit}/report.pdf").content.startswith(b"%PDF-")


def test_command_line_tells_it(own_bay: Bay, visit: str, folder: Path, tmp_path: Path) -> None:
    noted(own_bay)
    file = tmp_path / "visit.toml"
    file.write_bytes(own_bay.client.get(f"/visits/{visit}.toml").content)
    found = CliRunner().invoke(main, ["assess", str(file), "--shop", str(folder)])
    assert found.exit_code == 10, found.output
    assert "Roof {vent} & hatch, as found: taped over" in found.stdout
    assert "dongle voltage, as found: 12.6" in found.stdout
    told = CliRunner().invoke(main, ["assess", str(file), "--shop", str(folder), "--json"])
    assert json.loads(told.stdout)["verdict"]["verdict"] == "not proven"
    written = CliRunner().invoke(
        main, ["report", str(file), "--shop", str(folder), "-o", str(tmp_path / "report.pdf")]
    )
    assert written.exit_code == 0, written.output
