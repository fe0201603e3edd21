"""Every example of the handbook's page on the shelf is taken as it stands."""

import re
from pathlib import Path

from lightoff.shelf import open_shelf

PAGE = Path(__file__).parents[2] / "docs" / "shelf.md"


def test_the_examples_of_the_page_are_taken(tmp_path: Path) -> None:
    limits, fuels, sheet, catalogue, faults = re.findall(
        r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.DOTALL
    )
    (tmp_path / "sheets").mkdir()
    for name, text in (
        ("limits", limits),
        ("fuels", fuels),
        ("sheets/plate", sheet),
        ("catalogue", catalogue),
        ("faults", faults),
    ):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    shelf = open_shelf(tmp_path)
    assert not shelf.problems
    assert {"depot_diesel", "depot_winter"} <= shelf.fuels.keys()
    assert shelf.sheets["plate_10_kw"].tightens
    assert shelf.limits.version.endswith("+shop")
    assert "roof_vent" in shelf.catalogue.entries
    assert shelf.faults["roof_vent_taped"].shows["roof_vent"] == {"taped over": 0.95}
    assert shelf.faults["check_valve_passing"].weight == 4


def test_the_page_names_every_file_that_ships() -> None:
    data = Path(__file__).parents[2] / "src" / "lightoff" / "shelf" / "data"
    text = PAGE.read_text(encoding="utf-8")
    assert all(f"`{path.name}`" in text for path in data.glob("*.toml"))
