"""The writer, the glyphs and the flow of heat."""

from __future__ import annotations

import re

import pictures
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.drawing import PAPER, HeatFlow, glyph, heat_flow, heat_flow_words, svg
from lightoff.judging.assessment import Judgement, Verdict
from lightoff.texts import Speaker

SAY = Speaker()


@given(text=st.text(st.characters(exclude_categories=["Cc", "Cs", "Co", "Cn"]), max_size=60))
def test_whatever_people_type_is_escaped(text: str) -> None:
    drawn = svg.picture(
        [svg.words((0, 20), text, fill="#000", halo="#fff")],
        width=10,
        height=10,
        title=text,
        description=text,
        palette=PAPER,
    )
    root = pictures.parsed(drawn)
    assert root.get("aria-label") == (f"{text}. {text}" if text else "")
    title = root.find(f"{pictures.SVG}title")
    assert title is not None
    assert (title.text or "") == text


def test_markup_in_a_name_stays_text() -> None:
    drawn = svg.words((0, 0), "<script>&\"'", fill="#000")
    assert "<script>" not in drawn
    assert "&lt;script&gt;&amp;" in drawn


def test_subscripts_are_small_digits_and_the_line_goes_on() -> None:
    drawn = svg.words((0, 0), "CO₂ 4", fill="#000")
    assert "₂" not in drawn
    assert "".join(pictures.parsed(drawn).itertext()) == "CO2 4"
    drops = [float(each) for each in re.findall(r'dy="(-?[\d.]+)"', drawn)]
    assert sum(drops) == 0


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0"), (-0.001, "0"), (1.005, "1"), (12.5, "12.5"), (1e7, "10000000")]
)
def test_coordinates_are_short_and_plain(value: float, text: str) -> None:
    assert svg.number(value) in (text, "1.00", "1.01")
    assert "e" not in svg.number(value)


def test_hatch_stays_inside_its_shape() -> None:
    shape = [(10.0, 10.0), (110.0, 10.0), (110.0, 40.0), (10.0, 40.0)]
    path = re.findall(r"[ML]([\d.]+) ([\d.]+)", svg.hatch(shape, stroke="#000"))
    assert len(path) > 20
    for x, y in path:
        assert 10 <= float(x) <= 110
        assert 10 <= float(y) <= 40


# No line of the hatch goes through a corner of such a rectangle.
PLACES_PX, LENGTHS_PX = (
    st.integers(0, 300).map(lambda px: px + 0.137),
    st.integers(0, 90).map(lambda px: px + 0.291),
)


@given(left=PLACES_PX, top=PLACES_PX, width=LENGTHS_PX, height=LENGTHS_PX, gap=st.sampled_from([6.0, 8.0]))
def test_an_upright_rectangle_is_hatched_as_any_shape_is(
    left: float, top: float, width: float, height: float, gap: float
) -> None:
    right, foot = left + width, top + height
    shape = [(left, top), (right, top), (right, foot), (left, foot)]
    quick = svg.hatch_upright((left, top), (right, foot), stroke="#000", gap=gap)
    lines, general = (
        re.findall(r"-?[\d.]+", each) for each in (quick, svg.hatch(shape, stroke="#000", gap=gap))
    )
    assert [float(each) for each in lines] == pytest.approx([float(each) for each in general], abs=0.011)


@pytest.mark.parametrize("verdict", Verdict)
def test_a_glyph_is_hidden_from_readers_for_its_word_stands_beside_it(verdict: Verdict) -> None:
    root = pictures.parsed(glyph(verdict))
    assert root.get("aria-hidden") == "true"


def test_area_and_verdict_share_their_four_shapes() -> None:
    pairs = zip(Judgement, Verdict, strict=True)
    assert all(glyph(judgement) == glyph(verdict) for judgement, verdict in pairs)
    assert len({glyph(verdict) for verdict in Verdict}) == 4


@pytest.mark.parametrize("width", [354.0, 646.0])
@pytest.mark.parametrize("share", [0.0, 0.01, 0.11, 0.5, 0.9, 1.0])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_arrow_parts_as_the_heat_does(width: float, share: float, units: str) -> None:
    speaker = Speaker(units=units)
    flow = HeatFlow(fuel_w=15300, exhaust_w=15300 * share, fuel_note="1.52 L an hour")
    drawn = heat_flow(flow, speaker, width=width)
    assert pictures.overlapping(drawn) == []
    assert pictures.smallest_text(drawn) >= 13
    body = 84.0 if width < 560 else 70.0
    path = pictures.parsed(drawn).find(f"{pictures.SVG}path")
    assert path is not None
    rises = re.search(r"V4[\d.]* ?", path.get("d", ""))
    points = [float(each) for each in re.findall(r"[\d.]+", path.get("d", ""))]
    assert min(points) >= 2
    if share == 0.5:
        bend = re.search(r"L([\d.]+) 4L([\d.]+)", path.get("d", ""))
        assert bend is not None
        assert 2 * (float(bend[2]) - float(bend[1])) == pytest.approx(body / 2, abs=0.05)
    assert rises is None or share > 0


def test_a_flow_that_cannot_be_is_refused() -> None:
    for fuel, exhaust in ((0.0, 0.0), (100.0, 101.0), (float("nan"), 0.0), (100.0, -1.0)):
        with pytest.raises(ValueError, match="cannot be a part"):
            HeatFlow(fuel_w=fuel, exhaust_w=exhaust)


def test_the_flow_in_words_adds_up() -> None:
    said = heat_flow_words(HeatFlow(fuel_w=15300, exhaust_w=1700), SAY).replace("\u00a0", " ")
    assert said == "Of 15.3 kW in the fuel, 1.7 kW goes up the exhaust and 13.6 kW to water and case."
