"""`lightoff find`: the same case, the same numbers as on the page."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from lightoff.cli import main
from lightoff.web.app import create_app
from lightoff.work.keep_visit_file import keep_visit_file
from lightoff.work.visit_file import read_visit_file
from lightoff.work.workshop import open_shop

EXAMPLE = Path(__file__).parents[2] / "examples" / "no-heat-call.toml"


@pytest.fixture(scope="module")
def found() -> dict[str, Any]:
    answer = CliRunner().invoke(main, ["find", str(EXAMPLE), "--json"])
    assert answer.exit_code == 0, answer.output
    data: dict[str, Any] = json.loads(answer.output)
    return data


def test_the_page_and_the_command_line_give_the_same_numbers(found: dict[str, Any], tmp_path: Path) -> None:
    with open_shop(tmp_path / "shop") as workshop:
        case = read_visit_file(EXAMPLE.read_bytes(), EXAMPLE.name, workshop.shelf)
        keep_visit_file(workshop, case)
        client = TestClient(create_app(workshop), base_url="http://127.0.0.1")
        html = client.get(f"/visits/{case.visit.id}/fault").text
    shown = re.findall(r'data-fault="(\w+)" data-chance="(\S+)" data-low="(\S+)" data-high="(\S+)"', html)
    assert [(fault, float(chance), float(low), float(high)) for fault, chance, low, high in shown] == [
        (each["fault"], each["chance"], each["low"], each["high"]) for each in found["suspects"]
    ]
    assert f">{found['next']['name']}</h2>" in html


def test_every_suspect_has_its_sentences_and_every_step_its_reason(found: dict[str, Any]) -> None:
    assert found["format"] == "lightoff finding 1"
    assert 3 <= len(found["suspects"]) <= 6
    for each in found["suspects"]:
        assert each["for"]
        assert each["against"]
        assert each["low"] <= each["chance"] <= each["high"]
    for step in found["steps"]:
        assert step["why"]
        assert step["how"]
    assert found["next"]["key"] in {step["key"] for step in found["steps"]}


def test_the_summary_says_it_in_words() -> None:
    answer = CliRunner().invoke(main, ["find", str(EXAMPLE)])
    assert answer.exit_code == 0
    for words in ("Suspects", "Next", "Else", "Invented data."):
        assert words in answer.output
    assert re.search(r"about \d+ in 10", answer.output)
    told = [line for line in answer.output.splitlines() if "{ key = " not in line]
    assert "_" not in "".join(told), "no key of the catalogue is shown but where it is to be written"
    assert re.search(r"Weighed for [\d,]+\sm and Diesel No. 2\.", answer.output)


def test_what_the_next_step_asks_for_can_be_written_into_the_file(tmp_path: Path) -> None:
    """Line by line as it is told: the answer of each step, what could not be had, and what a repair did."""
    file = tmp_path / "visit.toml"
    text = EXAMPLE.read_text(encoding="utf-8")

    def told() -> str:
        file.write_text(text, encoding="utf-8")
        answer = CliRunner().invoke(main, ["find", str(file)])
        assert answer.exit_code == 0, answer.output
        return answer.output

    key, state = re.findall(r'In the file: \{ key = "(\w+)", state = … \}, one of "([^"]+)"', told())[0]
    text = text.rstrip().removesuffix("]") + f'    {{ key = "{key}", state = "{state}" }},\n]\n'
    (row,) = re.findall(r"Where it cannot be had: (\{.*\})\.", told())
    assert key not in row, "answered, it is asked no more"
    text = text.rstrip().removesuffix("]") + f"    {row},\n]\n"
    assert row not in told(), "what cannot be had is asked no more"
    repair = '{ key = "repair_fuel_filter_not_primed", state = "runs well" }'
    text = text.rstrip().removesuffix("]") + f"    {repair},\n]\n"
    assert "It runs well after this repair" in told()


def test_two_runs_say_the_same() -> None:
    one, two = (CliRunner().invoke(main, ["find", str(EXAMPLE), "--json"]).output for _ in range(2))
    assert one == two


def test_what_would_be_read_elsewhere_is_richer_up_there() -> None:
    def oxygen(*more: str) -> float:
        answer = CliRunner().invoke(main, ["predict", "generic_12_kw", "--json", *more])
        assert answer.exit_code == 0, answer.output
        said = json.loads(answer.output)
        low, high = said["expected_air_ratio"]
        assert low < said["in_order"]["air_ratio"] < high, "of a heater nobody set, the answer is a band"
        return float(said["in_order"]["readings"]["flue_o2"])

    assert oxygen("--altitude", "2500") < oxygen("--altitude", "0")


def test_a_fault_that_nobody_wrote_down_is_told() -> None:
    answer = CliRunner().invoke(main, ["predict", "generic_12_kw", "--fault", "gremlins"])
    assert answer.exit_code == 1
    assert "gremlins" in answer.output
    assert "igniter_open" in answer.output


@pytest.mark.parametrize(
    "more",
    [("--air", "inf"), ("--volts", "nan"), ("--volts", "400"), ("--altitude", "nan"), ("--severity", "nan")],
)
def test_a_place_that_is_no_number_is_refused_in_a_sentence(more: tuple[str, str]) -> None:
    answer = CliRunner().invoke(main, ["predict", "generic_12_kw", *more])
    assert answer.exit_code != 0
    assert "nobody foresaw" not in answer.output
    assert "outside what the model can say" in answer.output


def test_what_is_expected_is_a_band_and_a_sound_heater_does_not_stop() -> None:
    said = CliRunner().invoke(main, ["predict", "generic_12_kw"]).output
    assert re.search(r"O₂ in the exhaust +\d+\.\d+ % to \d+\.\d+ %", said.replace("\u00a0", " "))
    assert "Burned before it stopped" not in said
    head = "Generic 12 kW, metering pump, sound, at 0 m, air 15 °C, Diesel No. 2: nineteen in twenty"
    assert said.replace("\u00a0", " ").startswith(head)
    assert re.search(r"chance to light +over 0\.99", said)
    assert re.search(r"air ratio +\d\.\d\d to \d\.\d\d", said.replace("\u00a0", " "))
    dying = CliRunner().invoke(
        main, ["predict", "generic_12_kw", "--fault", "suction_air_leak", "--severity", "1"]
    )
    assert "Burned before it stopped" in dying.output
