"""A file that a page wrote is judged like the page: with the heater's past, or not proven without it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from lightoff.cli.as_data import data_of
from lightoff.cli.commands import main
from lightoff.judging.assessment import Assessment, Verdict
from lightoff.terms.case import Case
from lightoff.texts import Speaker
from lightoff.work.assess_case import assess_case
from lightoff.work.find_fault import find_fault
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.parts_fitted import with_parts
from lightoff.work.visit_file_writing import write_visit_file
from lightoff.work.workshop import Workshop, open_shop

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_demo_shop(tmp_path_factory.mktemp("invented") / "shop", NOW)


@pytest.fixture(scope="module")
def workshop(shop: Path) -> Iterator[Workshop]:
    with open_shop(shop) as opened:
        yield opened


def latest(workshop: Workshop) -> Iterator[tuple[Case, Assessment]]:
    """The last closed visits of heaters with a past, as the page judges them."""
    for heater in workshop.book.heaters():
        for case in workshop.book.cases_of(heater.id, latest=1):
            if case.history and case.visit.closed_at:
                yield case, assess_case(case, workshop.shelf, NOW)


def asked(*words: str) -> tuple[int, Any]:
    answer = CliRunner().invoke(main, list(words))
    return answer.exit_code, json.loads(answer.stdout)


def test_with_its_shop_a_file_is_judged_to_the_last_digit_like_the_page(
    shop: Path, workshop: Workshop, tmp_path: Path
) -> None:
    seen = 0
    for case, page in latest(workshop):
        file = tmp_path / f"{case.visit.id}.toml"
        file.write_bytes(write_visit_file(case))
        _, told = asked("assess", str(file), "--json", "--shop", str(shop))
        speaker = Speaker(language=case.shop.language, units=case.shop.units)
        on_the_page = json.loads(json.dumps(data_of(page, speaker)))
        assert told["areas"] == on_the_page["areas"], "figures, limits and bands"
        assert told["verdict"] == on_the_page["verdict"]
        seen += 1
        if seen == 6:
            break
    assert seen == 6


def test_without_its_past_a_file_never_ends_fit(workshop: Workshop, tmp_path: Path) -> None:
    case, _ = next(each for each in latest(workshop) if each[1].verdict.verdict is Verdict.FIT)
    file = tmp_path / "visit.toml"
    file.write_bytes(write_visit_file(case))
    code, told = asked("assess", str(file), "--json")
    assert code == 10
    assert told["verdict"]["verdict"] == "not proven"
    said = CliRunner().invoke(main, ["assess", str(file)]).output
    assert "--shop" in said
    assert f"{len(case.history)} earlier visit" in " ".join(said.split()) or "One earlier visit" in said


def test_a_file_of_a_book_that_lost_its_count_never_ends_fit(workshop: Workshop, tmp_path: Path) -> None:
    case, _ = next(each for each in latest(workshop) if each[1].verdict.verdict is Verdict.FIT)
    file = tmp_path / "visit.toml"
    lines = write_visit_file(case).decode().splitlines()
    file.write_text(
        "\n".join(each for each in lines if not each.startswith("earlier_visits")), encoding="utf-8"
    )
    code, told = asked("assess", str(file), "--json")
    assert (code, told["verdict"]["verdict"]) == (10, "not proven")
    said = " ".join(CliRunner().invoke(main, ["assess", str(file)]).output.split())
    assert "does not say how many visits of this heater came before" in said
    first = replace(case, history=(), visit=replace(case.visit, sealed_verdict="", sealed_content=""))
    file.write_bytes(write_visit_file(first))
    assert b"earlier_visits = 0" in file.read_bytes()
    assert "earlier visits" not in json.dumps(asked("assess", str(file), "--json")[1]["verdict"])


def test_with_its_shop_a_fault_is_found_like_on_the_page(
    shop: Path, workshop: Workshop, tmp_path: Path
) -> None:
    bare = next(case for case, _ in latest(workshop))
    case = with_parts(bare, workshop)
    page = find_fault(workshop, case.visit.id).finding
    file = tmp_path / "visit.toml"
    for written in (bare, case):  # the ages of its parts come from the book where the file has none
        file.write_bytes(write_visit_file(written))
        _, told = asked("find", str(file), "--json", "--shop", str(shop))
        assert [(each["fault"], each["chance"]) for each in told["suspects"]] == [
            (each.fault, each.chance) for each in page.suspects
        ]
    alone = CliRunner().invoke(main, ["find", str(file), "--json"])
    assert "--shop" in alone.stderr
