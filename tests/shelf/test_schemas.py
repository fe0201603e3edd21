"""The published schemas say what the reader takes, of what ships and of a shop's examples."""

import json
import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from lightoff.ground.units import DIMENSIONS, UNITS
from lightoff.plant.parameters import PARAMETERS
from lightoff.shelf.faults import NEVER_RESET, OPENS, SYSTEMS, WORK
from lightoff.shelf.part_types import CLOCKS
from lightoff.shelf.procedures import SECTIONS, SHEET_WORDS
from lightoff.terms.procedure import Phase, Photo
from lightoff.terms.shelf import Comparison, Feed

ROOT = Path(__file__).parents[2]
SHELF = files("lightoff.shelf")
SHIPPED = {
    "limits": "limits.toml",
    "catalogue": "catalogue.toml",
    "instruments": "instruments.toml",
    "fuels": "fuels.toml",
    "faults": "faults.toml",
    "part_types": "part_types.toml",
    "steps": "steps.toml",
}
PROCEDURES = sorted((ROOT / "src/lightoff/shelf/data/procedures").glob("*.toml"))
SHEETS = sorted((ROOT / "src/lightoff/shelf/data/sheets").glob("*.toml"))


def schema(name: str) -> Any:
    return json.loads((SHELF / "schema" / f"{name}.json").read_text(encoding="utf-8"))


def shipped(name: str) -> Any:
    return tomllib.loads((SHELF / "data" / name).read_text(encoding="utf-8"))


def faults(name: str, content: Any) -> list[str]:
    checker = jsonschema.Draft202012Validator(schema(name))
    return [fault.message for fault in checker.iter_errors(content)]


@pytest.mark.parametrize(
    "name", [*SHIPPED, "sheet", "procedure", "shop_limits", "shop_steps", "shop_procedure"]
)
def test_a_schema_is_one(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema(name))


@pytest.mark.parametrize("name", SHIPPED)
def test_what_ships_fits_its_schema(name: str) -> None:
    assert not faults(name, shipped(SHIPPED[name]))


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_every_sheet_fits_its_schema(path: Path) -> None:
    assert not faults("sheet", tomllib.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize("path", PROCEDURES, ids=lambda path: path.stem)
def test_every_procedure_fits_its_schema(path: Path) -> None:
    assert not faults("procedure", tomllib.loads(path.read_text(encoding="utf-8")))


def test_the_schemas_of_a_shops_steps_take_what_the_handbook_shows() -> None:
    page = (ROOT / "docs" / "procedures.md").read_text(encoding="utf-8")
    steps, procedure, parts = (
        tomllib.loads(each) for each in re.findall(r"```toml\n(.*?)```", page, flags=re.DOTALL)
    )
    assert not faults("shop_steps", steps)
    assert not faults("shop_procedure", procedure)
    assert not faults("part_types", parts)
    assert faults("shop_steps", {"step": [{**steps["step"][0], "required": True, "needs": ["multimeter"]}]})
    assert faults("shop_procedure", {**procedure, "order": {}})


def test_a_schema_refuses_what_the_reader_refuses() -> None:
    limits = shipped("limits.toml")
    limits["limit"][0]["remark"] = "mine"
    assert faults("limits", limits)
    limits = shipped("limits.toml")
    del limits["limit"][0]["value"]
    assert faults("limits", limits)
    sheet = tomllib.loads(SHEETS[0].read_text(encoding="utf-8"))
    assert faults("sheet", {**sheet, "heat_output_kw": "nan"})
    assert faults("shop_limits", {"tighten": [{"key": "smoke_number_fit"}]})
    fuel = {"name": "x", "hydrogen": 0.13, "density_15c_kg_m3": 840}
    assert faults("fuels", {"fuel": {"x": fuel}})
    assert not faults("fuels", {"fuel": {"x": {**fuel, "net_heat_mj_kg": 42.8}}})
    fault = shipped("faults.toml")["fault"][0]
    assert not faults("faults", {"fault": [fault]})
    for wrong in ({"weight": 0}, {"severity": [0.2, 2]}, {"shifts": {"no_such": 1}}, {"after": ["tea"]}):
        assert faults("faults", {"fault": [{**fault, **wrong}]}), wrong


def test_lists_of_a_schema_are_those_of_the_code() -> None:
    row = schema("limits")["properties"]["limit"]["items"]["properties"]
    assert row["comparison"]["enum"] == [each.value for each in Comparison]
    assert row["unit"]["enum"] == list(UNITS)
    reading = schema("catalogue")["properties"]["reading"]["items"]["properties"]
    assert reading["dimension"]["enum"] == list(DIMENSIONS)
    assert schema("sheet")["properties"]["feed"]["enum"] == [each.value for each in Feed]
    fault = schema("faults")["properties"]["fault"]["items"]["properties"]
    assert fault["system"]["enum"] == list(SYSTEMS)
    assert fault["shifts"]["propertyNames"]["enum"] == list(PARAMETERS)
    assert fault["after"]["items"]["enum"] == list(WORK)
    assert fault["opens"]["enum"] == list(OPENS)
    resets = schema("faults")["properties"]["trial"]["items"]["properties"]["resets"]
    assert resets["items"]["enum"] == [key for key in PARAMETERS if key not in NEVER_RESET]
    part = schema("part_types")["properties"]["part"]["items"]["properties"]
    assert part["clock"]["enum"] == list(CLOCKS)
    assert part["renewed_by"]["enum"] == ["", *WORK]
    assert part["opens"]["enum"] == list(OPENS)
    step = schema("steps")["properties"]["step"]["items"]["properties"]
    assert step["section"]["enum"] == ["", *SECTIONS]
    assert step["opens"]["enum"] == list(OPENS)
    assert step["photo"]["enum"] == [each.value for each in Photo]
    assert step["only_sheet"]["propertyNames"]["enum"] == list(SHEET_WORDS)
    order = schema("procedure")["properties"]["order"]["properties"]
    assert list(order) == [each.value for each in Phase]
