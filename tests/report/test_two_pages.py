"""A report that can be two pages is two pages, on either paper."""

from __future__ import annotations

import io
from pathlib import Path

import pikepdf
import pytest
from click.testing import CliRunner

from lightoff.cli import main

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_each_example_prints_on_two_pages(example: Path, paper: str, tmp_path: Path) -> None:
    made = tmp_path / "report.pdf"
    told = CliRunner().invoke(main, ["report", str(example), "-o", str(made), "--paper", paper])
    assert told.exit_code == 0, told.output
    assert len(pikepdf.open(io.BytesIO(made.read_bytes())).pages) == 2
