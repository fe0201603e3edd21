"""Spots of known reflectance, photographed well and badly: read within half a number, or refused.

The mass run is `benchmarks/smoke_spot.py`.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from invented_photos import SPOILED, Scene, drawn_scene, photograph, spoiled_scene

from lightoff.demo.photographs import _bench, smoke_paper
from lightoff.spot import Anchor, SpotReading, Tint, read_spot
from lightoff.spot.reader import LEAST_HALF_WIDTH
from lightoff.texts import Speaker

SOUND = 20
PLAIN = Scene(number=4.0)
BENT = 1.35  # a telephone that deepens its greys


def read(scene: Scene, seed: int = 1) -> SpotReading:
    return read_spot(photograph(scene, np.random.default_rng(seed)))


def keys(reading: SpotReading) -> set[str]:
    return {each.key for each in reading.refusals}


@cache
def sound() -> tuple[tuple[Scene, SpotReading], ...]:
    rng = np.random.default_rng(2026)
    scenes = [drawn_scene(rng) for _ in range(SOUND)]
    return tuple((scene, read_spot(photograph(scene, rng))) for scene in scenes)


def test_sound_photographs_are_read_within_half_a_number() -> None:
    good = [abs((found.number or np.inf) - scene.number) <= 0.5 for scene, found in sound()]
    assert sum(good) >= 0.95 * SOUND


def test_no_reading_claims_more_than_a_whole_step() -> None:
    widths = [found.half_width for _, found in sound() if found.number is not None]
    assert widths
    assert all(width is not None and width >= LEAST_HALF_WIDTH >= 1.0 for width in widths)


@pytest.mark.parametrize("number", [0.7, 2.0, 5.0, 9.0])
def test_a_plain_photograph_is_read_closely(number: float) -> None:
    found = read(replace(PLAIN, number=number))
    assert found.number == pytest.approx(number, abs=0.15)
    assert (found.anchor, found.tint, found.refusals) == (Anchor.PAPER, Tint.NONE, ())


@pytest.mark.parametrize("how", SPOILED)
def test_a_spoiled_photograph_is_refused(how: str) -> None:
    rng = np.random.default_rng(7)
    for _ in range(2):
        found = read_spot(photograph(spoiled_scene(rng, how), rng))
        assert found.number is None
        assert found.half_width is None
        assert found.refusals


REASONS = {
    "spot.too_small": replace(PLAIN, radius_px=7.0, strip=(15.0, 8.0)),
    "spot.dark": replace(PLAIN, exposure=0.02),
    "spot.clipped": replace(PLAIN, exposure=1.6),
    "spot.cast": replace(PLAIN, cast=(1.5, 1.0, 0.35), exposure=0.4),
    "spot.blurred": replace(PLAIN, blur_px=18.0, strip=(7.0, 5.0)),
    "spot.no_spot": replace(PLAIN, number=0.0),
    "spot.several": replace(PLAIN, spoil="several"),
    "spot.off_scale": replace(PLAIN, number=9.8, noise=0.001),
}


@pytest.mark.parametrize("reason", REASONS)
def test_the_reason_is_the_one_that_is_wrong(reason: str) -> None:
    assert reason in keys(read(REASONS[reason]))


def test_a_shadow_or_glare_is_called_so() -> None:
    rng = np.random.default_rng(3)
    told: dict[str, set[str]] = {"shadow": set(), "glare": set()}
    for how, said in told.items():
        for _ in range(3):
            said |= keys(read_spot(photograph(spoiled_scene(rng, how), rng)))
    assert told["shadow"] & {"spot.shadow", "spot.no_spot"}
    assert told["glare"] & {"spot.glare", "spot.no_spot"}


@pytest.mark.parametrize(
    ("yellow", "halo", "tint"), [(0.0, 0.0, Tint.NONE), (0.25, 0.0, Tint.YELLOW), (0.3, 0.3, Tint.OILY)]
)
def test_unburnt_fuel_shows_as_colour(yellow: float, halo: float, tint: Tint) -> None:
    assert read(replace(PLAIN, number=2.0, yellow=yellow, halo=halo, strip=(7.0, 3.4))).tint is tint


def test_a_lamp_of_any_sound_colour_makes_no_tint() -> None:
    for warm in (-0.25, 0.25):
        cast = (float(np.exp(warm)), 1.0, float(np.exp(-warm)))
        found = read(replace(PLAIN, cast=cast, exposure=0.5))
        assert found.tint is Tint.NONE
        assert found.number == pytest.approx(4.0, abs=0.2)


WITH_SCALE = replace(PLAIN, width=1000, height=750, radius_px=42.0, scale=True)


def test_a_scale_in_the_picture_straightens_what_the_telephone_bent() -> None:
    bent = replace(WITH_SCALE, gamma=BENT)
    by_paper, by_scale = read(replace(bent, scale=False)), read(bent)
    assert by_paper.number is not None
    assert abs(by_paper.number - 4.0) > 0.5  # otherwise nothing is straightened here
    assert by_scale.anchor is Anchor.SCALE
    assert by_scale.number == pytest.approx(4.0, abs=0.3)


def test_where_spot_and_paper_lie_is_told_in_pixels_of_the_photograph() -> None:
    found = read(replace(PLAIN, tilt=(0.4, 0.0)))
    assert found.spot is not None
    assert found.paper is not None
    assert found.spot.short_radius == pytest.approx(50 * np.cos(0.4), rel=0.08)
    assert found.spot.long_radius == pytest.approx(50, rel=0.08)
    assert np.hypot(found.spot.x - 320, found.spot.y - 240) < 0.13 * 320
    assert all(0 <= x <= 640 and 0 <= y <= 480 for x, y in found.paper.corners)


@pytest.mark.parametrize("number", [1.0, 4.0, 9.0])
def test_the_smoke_papers_of_the_invented_shop_are_read(number: float) -> None:
    rng = np.random.default_rng(5)
    found = read_spot(np.asarray(smoke_paper(rng, _bench(rng), number)))
    assert found.number == pytest.approx(number, abs=0.2)


@pytest.mark.parametrize("shape", [(100, 300, 3), (2, 2, 3)])
def test_a_tiny_picture_is_refused(shape: tuple[int, ...]) -> None:
    assert keys(read_spot(np.zeros(shape, dtype=np.uint8))) == {"spot.too_small"}


@pytest.mark.parametrize("level", [0, 128, 255])
def test_an_empty_picture_is_refused(level: int) -> None:
    assert read_spot(np.full((300, 400, 3), level, dtype=np.uint8)).refusals


def test_noise_is_refused() -> None:
    picture = np.random.default_rng(1).integers(0, 256, (300, 400, 3), dtype=np.uint8)
    assert read_spot(picture).refusals


@pytest.mark.parametrize("array", [np.zeros((300, 300), np.uint8), np.zeros((300, 300, 3))])
def test_another_array_is_a_fault_of_the_caller(array: np.ndarray) -> None:
    with pytest.raises(ValueError, match=re.escape("a photograph is an array of (h, w, 3) bytes")):
        read_spot(array)


def test_every_refusal_says_what_to_do() -> None:
    for found in (read(scene) for scene in (REASONS["spot.dark"], REASONS["spot.several"])):
        (said,) = (Speaker().say(each) for each in found.refusals)
        assert re.search(r"(Add light|Cover the others)", said)
