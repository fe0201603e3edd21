"""What a page costs beyond its answer: garbage that must be looked for, templates compiled again."""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from jinja2 import Environment, FileSystemLoader

from lightoff.web.compiled import CompiledTemplates

if TYPE_CHECKING:
    from conftest import Bay


def test_a_card_leaves_next_to_no_garbage_that_must_be_looked_for(bay: Bay, visit: str) -> None:
    """Macros made anew for each page held all that it showed in a circle: a heap at every look."""
    address = f"/visits/{visit}"

    def left() -> int:
        gc.collect()
        gc.disable()
        try:
            bay.client.get(address)
            return gc.collect()
        finally:
            gc.enable()

    left()
    floor = min(_garbage_of(bay, "/healthz") for _ in range(3))
    assert min(left() for _ in range(3)) - floor < 200


def _garbage_of(bay: Bay, address: str) -> int:
    gc.collect()
    bay.client.get(address)
    return gc.collect()


@pytest.fixture
def templates(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(sys, "dont_write_bytecode", False)
    (tmp_path / "one.html").write_text("{{ 6 * 7 }} lamps")
    return tmp_path


def _shown(templates: Path) -> str:
    made = Environment(loader=FileSystemLoader(templates), bytecode_cache=CompiledTemplates(templates))
    return made.get_template("one.html").render()


def _kept(templates: Path) -> list[Path]:
    return sorted((templates / "__pycache__").glob("*"))


def test_a_template_is_compiled_once_and_again_when_it_changes(templates: Path) -> None:
    assert _shown(templates) == "42 lamps"
    (kept,) = _kept(templates)
    before = kept.read_bytes()
    assert _shown(templates) == "42 lamps"
    assert kept.read_bytes() == before
    (templates / "one.html").write_text("{{ 6 * 7 }} fuses")
    assert _shown(templates) == "42 fuses"
    assert _kept(templates) == [kept]
    assert kept.read_bytes() != before


def test_what_is_kept_and_spoiled_is_compiled_again(templates: Path) -> None:
    _shown(templates)
    (kept,) = _kept(templates)
    kept.write_bytes(b"spoiled")
    assert _shown(templates) == "42 lamps"


def test_a_folder_that_cannot_be_written_costs_nothing_but_time(templates: Path) -> None:
    (templates / "__pycache__").write_text("a file where the folder would be")
    assert _shown(templates) == "42 lamps"


def test_no_compiled_templates_where_python_keeps_none(
    templates: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    assert _shown(templates) == "42 lamps"
    assert not (templates / "__pycache__").exists()


def test_pages_of_every_day_go_without_the_library_of_fits(
    bay: Bay, visit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Loading it takes longer than any of them."""
    monkeypatch.setitem(sys.modules, "surpyval", None)
    heater = bay.ids["heater"]
    for page in ("/", f"/visits/{visit}", f"/visits/{visit}/fault", f"/heaters/{heater}", "/wear", "/due"):
        assert bay.client.get(page).status_code == 200, page
