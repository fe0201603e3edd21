"""`lightoff burns`: a logger's file, its burns as sentences and as data, and kept with a heater."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lightoff.cli import main
from lightoff.records import body_of
from lightoff.terms.entry import Entry
from lightoff.terms.people import Heater
from lightoff.work.workshop import open_shop

HEATER = "0190a000-0000-7000-8000-000000000001"
LOG = "time [UTC],burning\n" + "".join(
    f"2026-01-05T{minute // 60:02}:{minute % 60:02}:00,{int(20 <= minute % 60 < 35)}\n"
    for minute in range(240)
)


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["burns", *words])


@pytest.fixture
def log(tmp_path: Path) -> str:
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    return str(path)


@pytest.fixture
def shop(tmp_path: Path) -> str:
    with open_shop(tmp_path / "shop") as workshop:
        heater = Heater(id=HEATER, vehicle="v", name="aft", sheet="generic_9_kw")
        at = datetime(2026, 1, 1, tzinfo=UTC)
        said = Entry(id=HEATER, subject=HEATER, field="heater", value=body_of(heater), author="", at=at)
        workshop.book.keep([said])
    return str(tmp_path / "shop")


def test_the_burns_of_a_file_in_a_sentence(log: str) -> None:
    answer = run(log, "--sheet", "generic_9_kw")
    assert answer.exit_code == 0
    assert "it burned 1.0 hours" in answer.output
    assert "started 4 times in 4.0 hours recorded" in answer.output


def test_the_burns_as_data(log: str) -> None:
    data = json.loads(run(log, "--sheet", "generic_9_kw", "--json").output)
    assert data["format"] == "lightoff burns 1"
    assert data["starts"] == len(data["burns"]) == 4
    assert data["burns"][0] == {"lit_s": 1200.0, "out_s": 2100.0}
    assert data["burned_s"]["value"] == 3600.0


def test_a_log_is_kept_with_its_heater_only_when_asked(log: str, shop: str) -> None:
    assert run(log, "--shop", shop, "--heater", HEATER).exit_code == 0
    assert "Kept with the heater." in run(log, "--shop", shop, "--heater", HEATER, "--keep").output
    again = run(log, "--shop", shop, "--heater", HEATER, "--keep")
    assert again.exit_code == 1
    assert "stands with this heater already" in again.output
    with open_shop(Path(shop), create=False) as workshop:
        assert [each.starts for each in workshop.book.traces(HEATER)] == [4]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, "--sheet"),
        (("--sheet", "flux"), 1, "flux"),
        (("--heater", HEATER), 2, "--shop"),
        (("--sheet", "generic_9_kw", "--keep"), 2, "--sheet"),
        (("--sheet", "generic_9_kw", "--channel", "supply current"), 1, "It has: burning."),
        (("--sheet", "generic_9_kw", "--start", "noon"), 1, "“noon” is no time"),
    ],
)
def test_a_wrong_call_says_what_to_do(log: str, words: tuple[str, ...], code: int, said: str) -> None:
    answer = run(log, *words)
    assert answer.exit_code == code
    assert said in answer.output


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    answer = run(str(tmp_path / "none.csv"), "--sheet", "generic_9_kw")
    assert answer.exit_code == 1
    assert "none.csv" in answer.output
