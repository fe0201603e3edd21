"""`lightoff due` and `lightoff spares`: lists and kits from a shop's book, as sentences and as data."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lightoff.cli import main
from lightoff.cli.carrying import limits_of
from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker
from lightoff.work.make_demo_shop import make_demo_shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_demo_shop(tmp_path_factory.mktemp("invented") / "shop", datetime.now(UTC))


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def test_the_most_pressing_visits_are_told_with_their_reasons(shop: Path) -> None:
    answer = run("due", "--shop", str(shop), "--most", "5")
    assert answer.exit_code == 0
    lines = answer.output.splitlines()
    assert len(lines) == 5
    assert all(line.startswith("now: ") for line in lines)
    assert "{" not in answer.output


def test_the_list_as_data(shop: Path) -> None:
    data = json.loads(run("due", "--shop", str(shop), "--json").output)
    assert data["format"] == "lightoff due 1"
    ranks = {"stop": 0, "not fit": 1, None: 2}
    places = [(ranks[each["last_verdict"]], each["by"]) for each in data["heaters"]]
    assert places == sorted(places)
    assert len({rank for rank, _ in places}) > 1, "a danger must be among them, or this test is empty"
    assert all(each["reasons"][0]["text"] for each in data["heaters"])


def test_a_kit_within_its_limits(shop: Path) -> None:
    answer = run("spares", "--shop", str(shop), "--limit", "money=600", "--limit", "kg=9", "--json")
    data = json.loads(answer.output)
    assert data["format"] == "lightoff spares 1"
    assert len(data["visits"]) == 4
    assert 0.0 < data["price"] <= 600.0
    assert data["mass_kg"] <= 9.0
    told = run("spares", "--shop", str(shop), "--limit", "money=600").output
    assert "Chance that no visit of the day (4) needs a second trip" in told
    assert "Carry" in told


def test_the_visits_named_are_those_of_the_day(shop: Path) -> None:
    first, second, *_ = (
        each["heater"] for each in json.loads(run("due", "--shop", str(shop), "--json").output)["heaters"]
    )
    data = json.loads(
        run("spares", "--shop", str(shop), "--heater", second, "--heater", first, "--json").output
    )
    assert [each["heater"] for each in data["visits"]] == [second, first]
    assert run("spares", "--shop", str(shop), "--heater", "nobody").exit_code == 1


def test_the_season(shop: Path) -> None:
    answer = run("spares", "--shop", str(shop), "--season")
    assert answer.exit_code == 0
    assert "Services that fall due till spring" in answer.output
    data = json.loads(run("spares", "--shop", str(shop), "--season", "--limit", "litres=20", "--json").output)
    assert data["volume_m3"] <= 0.020 + 1e-9
    assert {each["part"] for each in data["parts"]} >= {"igniter", "fuel_filter"}
    assert all(0.0 <= each["enough"] <= 1.0 for each in data["parts"])


@pytest.mark.parametrize("typed", ["money", "money=", "money=-3", "stones=4", "kg=nan", "litres=inf"])
def test_a_limit_that_is_none_is_said(typed: str) -> None:
    with pytest.raises(Refusal) as caught:
        limits_of([typed])
    said = Speaker().say(caught.value.message)
    assert (
        said
        == f"“{typed}” is no limit. Name one of money, kg, litres and a number above 0, such as money=300."
    )


def test_no_shop_is_made_by_asking(tmp_path: Path) -> None:
    for command in ("due", "spares"):
        answer = run(command, "--shop", str(tmp_path / "none"))
        assert answer.exit_code == 1
        assert "There is no folder" in answer.stderr
    assert not (tmp_path / "none").exists()
