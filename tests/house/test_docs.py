"""The handbook names every command and every page, and is made from data where it shows data."""

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest

from lightoff.shelf import open_shelf

ROOT = Path(__file__).parents[2]


def handbook(name: str) -> str:
    return (ROOT / "docs" / f"{name}.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def generated() -> ModuleType:
    """The module that makes the handbook's tables."""
    spec = importlib.util.spec_from_file_location("generated", ROOT / "docs" / "generated.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_command_is_in_the_handbook() -> None:
    from lightoff.cli import main

    commands = set(main.commands)
    assert {"demo", "serve", "assess", "report", "fuels", "doctor"} <= commands
    told = set(re.findall(r"^lightoff (\w+)", handbook("commands"), flags=re.MULTILINE))
    assert told == commands


def test_every_page_is_in_the_handbook() -> None:
    folder = ROOT / "src" / "lightoff" / "web"
    routes = {
        route
        for path in folder.rglob("*.py")
        for route in re.findall(r"@rooms\.get\(\"([^\"]+)\"", path.read_text(encoding="utf-8"))
    }
    assert len(routes) > 5
    told = set(re.findall(r"`(/[^`]*)`", handbook("pages")))
    for route in routes - {"/photos/{sha256}"}:  # a picture of a page, no page
        patterns = [route.replace("{kind}", kind) for kind in ("toml", "json")]
        assert told.issuperset(patterns), f"docs/pages.md does not name {route}"


def test_every_option_of_a_command_is_in_the_handbook() -> None:
    from lightoff.cli import main

    told = set(re.findall(r"`?(--[a-z][a-z-]*)", handbook("commands")))
    for name, command in main.commands.items():
        options = {each for parameter in command.params for each in parameter.opts if each.startswith("--")}
        assert options <= told, f"docs/commands.md does not tell every option of {name}"


def test_every_law_of_physics_is_in_the_reference() -> None:
    """But for the insides: the chain of a flue analysis, and what refuses its readings and a fuel's sheet."""
    insides = {"__init__", "flue_chain", "flue_problems", "fuel_problems"}
    modules = {path.stem for path in (ROOT / "src" / "lightoff" / "physics").glob("*.py")}
    told = set(re.findall(r"automodule:: lightoff\.physics\.(\w+)", handbook("reference")))
    assert told == modules - insides


def test_every_picture_of_the_handbook_is_there_small_and_told_in_words() -> None:
    shown = re.findall(r"```\{image\} (\S+)\n:alt: (.+)\n", handbook("first-visit"))
    assert len(shown) > 4
    for name, words in shown:
        assert (ROOT / "docs" / name).stat().st_size < 100_000
        assert len(words) > 30
    kept = {path.name for path in (ROOT / "docs" / "pictures").iterdir()}
    assert kept == {Path(name).name for name, _ in shown}, "a picture that no page shows"


def test_every_label_that_the_first_visit_names_stands_on_a_page() -> None:
    from lightoff.texts.speaker import templates

    labels = re.findall(r"(?<!\*)\*([A-Z][^*\n]+)\*(?!\*)", handbook("first-visit"))
    assert len(labels) > 8
    said = " ".join(templates("en").values())
    assert [each for each in labels if each not in said and each != "Saltgrass, aft heater"] == []


def test_the_example_of_the_handbook_tells_every_exit_code() -> None:
    codes = re.findall(r"^\| (\d+) \|", handbook("commands"), flags=re.MULTILINE)
    assert codes == ["0", "10", "20", "30", "1", "2"]


def test_no_limit_is_copied_into_the_words(generated: ModuleType) -> None:
    """The page of the verdict holds no number of the limits table outside the table that is made."""
    assert "{include} _generated/limits.md" in handbook("verdict")
    assert not re.search(r"\d+(\.\d+)? ?(?:%|(?:ppm|min|days)\b)", handbook("verdict"))


def test_the_limits_table_shows_each_row_in_words(generated: ModuleType) -> None:
    rows = open_shelf().limits.rows
    words = (
        "Air-free carbon monoxide",
        "at most 400\N{NO-BREAK SPACE}ppm",
        "stop: do not fire",
        "common practice, no source",
    )
    row = "| " + " | ".join((*words, "`co_air_free_stop`")) + " |"
    assert generated.limits_table([rows["co_air_free_stop"]]).splitlines() == [
        "### Limit gates",
        "",
        "| what | must be | otherwise | where it comes from | row |",
        "| --- | --- | --- | --- | --- |",
        row,
    ]
    whole = generated.limits_table(rows.values())
    assert all(f"`{key}`" in whole for key in rows)
    assert "(not seen)" in whole, "a source that nobody read says so beside its limit"


def test_the_checks_page_tells_expected_got_and_error(generated: ModuleType) -> None:
    row = {
        "id": "C1",
        "topic": "fuel",
        "quantity": "air need",
        "unit": "kg/kg",
        "expected": 14.5,
        "got": 14.4,
        "error": -0.1,
        "tolerance": 0.2,
        "relative": False,
        "source": "a book",
        "how_seen": "seen in table 3",
        "note": "",
        "passed": True,
    }
    page = generated.checks_page([row])
    assert page.startswith("1 comparisons (1 seen); 1 of them within their tolerance.")
    assert "## Fuel\n\na book. *Seen in table 3.*\n" in page
    assert "| air need | 14.5 | 14.4 | \N{MINUS SIGN}0.1 | 0.2 | kg/kg |" in page


def test_a_handbook_without_checks_says_so(generated: ModuleType) -> None:
    assert "have not been run" in generated.checks_page([])


def test_docstrings_are_laid_out_by_section() -> None:
    spec = importlib.util.spec_from_file_location("docstrings", ROOT / "docs" / "docstrings.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    plain = [
        "Heat up the exhaust.",
        "",
        "Parameters",
        "    stack_temperature_k: gas in the flue,",
        "        at the probe.",
        "Raises Refusal.",
        "Basis: a_book.",
    ]
    assert module.laid_out(plain) == [
        "Heat up the exhaust.",
        "",
        "",
        "Parameters",
        "",
        "* stack_temperature_k: gas in the flue,",
        "  at the probe.",
        "",
        "Raises Refusal.",
        "",
        "Basis: a_book.",
    ]
