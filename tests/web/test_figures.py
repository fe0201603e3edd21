"""Every figure of the hand-over that was worked out opens to how, from what, and after whom."""

from __future__ import annotations

import ast
import html
import json
import re
from inspect import getsource
from typing import TYPE_CHECKING

from lightoff.ground.sources import SOURCES
from lightoff.judging import assessment, burn, firing_rate, living_space, practice
from lightoff.texts.speaker import templates
from lightoff.web.figures import AFTER

if TYPE_CHECKING:
    from conftest import Bay


def test_every_figure_that_is_worked_out_has_its_words_and_known_sources() -> None:
    known = templates("en")
    figures = {each.removeprefix("figure.") for each in known if each.startswith("figure.")}
    read = {each.removeprefix("reading.") for each in known if each.startswith("reading.")}
    told = {each.removeprefix("figure_how.") for each in known if each.startswith("figure_how.")}
    assert figures - read <= told - {"from", "source"} <= figures
    assert set(AFTER) <= told
    assert {each for keys in AFTER.values() for each in keys} <= set(SOURCES)
    written = {
        node.value
        for module in (assessment, burn, firing_rate, living_space, practice)
        for node in ast.walk(ast.parse(getsource(module)))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert told - {"from", "source"} <= written, "of figures that are no longer made nothing is told"


def test_a_figure_opens_to_how_it_was_had(bay: Bay, visit: str) -> None:
    probe = bay.ids["flue_gas_probe"]
    page = bay.client.get(f"/visits/{visit}").text
    about = json.loads(html.unescape(re.search(r'data-visit-body="([^"]*)"', page)[1]))  # type: ignore[index]
    bay.send(bay.entry({**about, "fuel": "diesel_2"}, named="visit", corrects=visit))
    bay.send(bay.reading("flue_o2", "4.8", "%", instrument=probe, basis="dry", set_number=1))
    bay.send(bay.reading("flue_co", "38", "ppm", instrument=probe, set_number=1))
    assert f'href="/visits/{visit}/hand-over#figures"' in bay.client.get(f"/visits/{visit}").text
    text = bay.client.get(f"/visits/{visit}/hand-over").text
    assert 'id="figures"' in text
    opened = re.findall(r'<details class="had">.*?</details>', text, re.DOTALL)
    told = next(each for each in opened if "<span>Air-free carbon monoxide" in each)
    words = re.sub(r"<[^>]+>", " ", told).replace("\u00a0", " ")
    assert "As read, times 20.95 / (20.95 − O" in words
    assert "4.8 %" in words
    assert "38 ppm" in words
    assert "After: " in words
    assert "40 CFR" in words
    assert not any("<span>Oxygen in" in each for each in opened), "what was read is not worked out"
