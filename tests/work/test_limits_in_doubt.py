"""A shop's stricter limit that cannot be read proves nothing by the one that ships."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from lightoff.judging.assessment import Verdict
from lightoff.shelf import Shelf, open_shelf
from lightoff.work.assess_case import assess_case
from lightoff.work.visit_file import read_good_rows

FIT = Path(__file__).parents[2] / "examples" / "with-probe.toml"
NOW = datetime(2026, 3, 12, 18, 0, tzinfo=UTC)


def verdict(shelf: Shelf) -> Verdict:
    case = read_good_rows(FIT.read_bytes(), FIT.name, shelf).case
    assert case is not None
    return assess_case(case, shelf, NOW).verdict.verdict


def with_limits(folder: Path, text: str) -> Shelf:
    (folder / "limits.toml").write_text(text, encoding="utf-8")
    return open_shelf(folder)


def test_the_example_is_fit_by_what_ships() -> None:
    assert verdict(open_shelf()) is Verdict.FIT


@pytest.mark.parametrize(
    "text",
    [
        "[[tighten]\n",
        '[[tighten]]\nkey = "co_air_free_fit"\nvalue = "many"\n',
        '[[tighten]]\nkey = "co_air_fre_fit"\nvalue = "5"\n',
        '[[tighten]]\nkey = "co_air_free_fit"\nvalue = "5"\nunit = "%"\n',
        '[[tightn]]\nkey = "co_air_free_fit"\nvalue = "5"\n',
    ],
)
def test_a_row_that_cannot_be_read_is_never_fit(tmp_path: Path, text: str) -> None:
    shelf = with_limits(tmp_path, text)
    assert shelf.problems
    assert shelf.limits_in_doubt
    assert verdict(shelf) is Verdict.NOT_PROVEN


def test_a_limit_that_would_loosen_changes_nothing(tmp_path: Path) -> None:
    shelf = with_limits(tmp_path, '[[tighten]]\nkey = "co_air_free_fit"\nvalue = "5000"\n')
    assert shelf.problems
    assert not shelf.limits_in_doubt
    assert verdict(shelf) is Verdict.FIT


def test_other_files_of_the_shelf_touch_no_limit(tmp_path: Path) -> None:
    (tmp_path / "fuels.toml").write_text("[fuel\n", encoding="utf-8")
    shelf = open_shelf(tmp_path)
    assert shelf.problems
    assert verdict(shelf) is Verdict.FIT
