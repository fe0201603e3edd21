"""Whatever a shop's file holds, the shelf opens, and what shipped stands."""

import re
import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lightoff.shelf import open_shelf
from lightoff.texts import Speaker

SHIPPED = open_shelf()
DATA = Path(__file__).parents[2] / "src" / "lightoff" / "shelf" / "data"
ATTEMPTS = ("trial", "repair")  # made from the faults, not read from the catalogue's file
JUNK = st.sampled_from(
    ["nan", "-inf", "true", '""', '"x"', "0", "-1", '"-300"', "1e300", '"1e14"', "[]", "[[1, 2], [3, 4]]",
     '["0", "-1", "s"]', '["2", "3", "invented source"]', "{}", "{ a = 1 }", '"\\u0000"', "1979-05-27"]
)  # fmt: skip
QUIET = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def opened(folder: Path) -> Any:
    shelf = open_shelf(folder)
    for problem in shelf.problems:
        assert Speaker().say(problem.message)
    assert shelf.limits.sha256 == SHIPPED.limits.sha256
    assert SHIPPED.fuels.items() <= shelf.fuels.items()
    assert SHIPPED.sheets.items() <= shelf.sheets.items()
    assert SHIPPED.catalogue.entries.items() <= shelf.catalogue.entries.items()
    assert SHIPPED.faults.items() <= shelf.faults.items()
    return shelf


def renamed(text: str) -> str:
    """A shipped file under keys of a shop's own, so that only the junk can be at fault."""
    if "[[fault]]" in text:  # what a shop may write of it
        text = text[text.index("[[fault]]") : text.index("[[trial]]")]
    text = re.sub(r"\[(fuel|blend)\.(\w+)\]", r"[\1.own_\2]", text)
    return re.sub(r'^key = "', 'key = "own_', text, flags=re.MULTILINE)


@QUIET
@given(
    data=st.data(),
    name=st.sampled_from(["fuels.toml", "catalogue.toml", "faults.toml", "sheets/generic_9_kw.toml"]),
)
def test_one_value_of_junk(tmp_path: Path, data: st.DataObject, name: str) -> None:
    for stale in (*tmp_path.glob("*.toml"), *tmp_path.glob("sheets/*.toml")):
        stale.unlink()
    lines = renamed((DATA / name).read_text(encoding="utf-8")).splitlines()
    line = data.draw(st.sampled_from([at for at, text in enumerate(lines) if " = " in text]))
    lines[line] = f"{lines[line].split(' = ')[0]} = {data.draw(JUNK)}"
    (tmp_path / "sheets").mkdir(exist_ok=True)
    (tmp_path / name).write_text("\n".join(lines), encoding="utf-8")
    opened(tmp_path)


@QUIET
@given(
    text=st.binary(max_size=60),
    name=st.sampled_from(["limits.toml", "fuels.toml", "catalogue.toml", "faults.toml"]),
)
def test_bytes_of_junk(tmp_path: Path, text: bytes, name: str) -> None:
    (tmp_path / name).write_bytes(text)
    opened(tmp_path)


@pytest.mark.parametrize("name", ["limits", "fuels", "catalogue", "faults"])
def test_a_folder_in_the_place_of_a_file(tmp_path: Path, name: str) -> None:
    (tmp_path / f"{name}.toml").mkdir()
    opened(tmp_path)


def test_the_renamed_files_are_good_without_junk(tmp_path: Path) -> None:
    """Or the test above would prove nothing."""
    (tmp_path / "sheets").mkdir()
    for name in ("catalogue.toml", "faults.toml", "sheets/generic_9_kw.toml"):
        (tmp_path / name).write_text(renamed((DATA / name).read_text(encoding="utf-8")), encoding="utf-8")
    shelf = opened(tmp_path)
    assert not shelf.problems
    assert "own_generic_9_kw" in shelf.sheets
    readings = {key for key, entry in SHIPPED.catalogue.entries.items() if entry.area not in ATTEMPTS}
    assert {f"own_{key}" for key in readings} <= shelf.catalogue.entries.keys()
    assert len(shelf.faults) == 2 * len(SHIPPED.faults)


def test_numbers_of_what_ships_are_written_so_that_nothing_is_lost() -> None:
    for row in tomllib.loads((DATA / "limits.toml").read_text(encoding="utf-8"))["limit"]:
        for field in ("value", "tolerance"):
            assert isinstance(row.get(field, ""), str), row["key"]
            if field in row:
                assert Decimal(row[field]).is_finite()
