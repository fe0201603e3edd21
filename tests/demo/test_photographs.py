"""Invented photographs: seeded, small, marked in the picture, and of readings that the visit holds."""

import io
from datetime import UTC, datetime

import numpy as np
import pytest
from PIL import Image, ImageChops

from lightoff.demo import DemoShop, invent_shop
from lightoff.demo.photographs import (
    HEIGHT_PX,
    VISITS,
    WIDTH_PX,
    Photograph,
    invent_photographs,
    nozzle,
    smoke_paper,
)
from lightoff.shelf import open_shelf
from lightoff.terms.visit import Stage
from lightoff.work.make_demo_shop import JPEG_QUALITY

NOW = datetime(2026, 11, 25, 11, 0, tzinfo=UTC)
STRIP = (0, HEIGHT_PX - 48, WIDTH_PX, HEIGHT_PX)
BENCH = Image.new("RGB", (WIDTH_PX, HEIGHT_PX), (150, 122, 92))


@pytest.fixture(scope="module")
def shop() -> DemoShop:
    shelf = open_shelf()
    return invent_shop(
        np.random.default_rng(5),
        fuels=shelf.fuels,
        sheets=shelf.sheets,
        faults=shelf.faults,
        catalogue=shelf.catalogue,
        now=NOW,
    )


@pytest.fixture(scope="module")
def shots(shop: DemoShop) -> tuple[Photograph, ...]:
    return invent_photographs(np.random.default_rng(6), shop)


def jpeg(picture: Image.Image) -> bytes:
    written = io.BytesIO()
    picture.save(written, "JPEG", quality=JPEG_QUALITY)
    return written.getvalue()


def test_several_visits_have_some_and_the_one_under_way_is_among_them(
    shop: DemoShop, shots: tuple[Photograph, ...]
) -> None:
    assert len({shot.visit for shot in shots}) == VISITS
    assert shop.open_visit in {shot.visit for shot in shots}
    kinds = {shot.reading_key for shot in shots}
    assert kinds == {"flue_o2", "living_space_co_running", "smoke_number", "nozzle_look"}


def test_the_same_seed_draws_the_same_pictures(shop: DemoShop, shots: tuple[Photograph, ...]) -> None:
    def drawn(seed: int) -> list[bytes]:
        return [jpeg(shot.picture) for shot in invent_photographs(np.random.default_rng(seed), shop)]

    assert drawn(6) == [jpeg(shot.picture) for shot in shots]
    assert drawn(7) != drawn(6)


def test_each_is_small(shots: tuple[Photograph, ...]) -> None:
    assert max(len(jpeg(shot.picture)) for shot in shots) < 60_000


def test_each_bears_the_same_mark_and_shows_something_above_it(shots: tuple[Photograph, ...]) -> None:
    strips = [shot.picture.crop(STRIP) for shot in shots]
    dark, light = strips[0].convert("L").getextrema()
    assert dark < 40
    assert light > 240
    assert all(ImageChops.difference(strips[0], each).getbbox() is None for each in strips)
    assert len({shot.picture.tobytes() for shot in shots}) == len(shots)


def test_each_belongs_to_its_visit_and_tells_its_reading(
    shop: DemoShop, shots: tuple[Photograph, ...]
) -> None:
    visits = {case.visit.id: case.visit for case in shop.cases}
    for shot in shots:
        visit = visits[shot.visit]
        assert shot.heater == visit.heater
        assert visit.started_at < shot.taken_at < (visit.closed_at or NOW)
        if shot.reading is None:
            assert shot.reading_key == "nozzle_look"
            continue
        (shown,) = [each for each in visit.readings if each.id == shot.reading]
        assert (shown.key, shown.stage, shown.taken_at) == (shot.reading_key, shot.stage, shot.taken_at)
        assert str(shown.value) in shot.caption


def test_a_nozzle_is_shown_before_and_after(shots: tuple[Photograph, ...]) -> None:
    stages = [shot.stage for shot in shots if shot.reading_key == "nozzle_look"]
    assert stages
    assert stages.count(Stage.AS_FOUND) == stages.count(Stage.AS_LEFT)


def test_more_smoke_is_a_darker_spot_and_carbon_a_darker_nozzle() -> None:
    def middle(picture: Image.Image, half: int) -> float:
        box = (320 - half, 190 - half, 320 + half, 190 + half)
        return float(np.asarray(picture.convert("L").crop(box)).mean())

    spots = [middle(smoke_paper(np.random.default_rng(1), BENCH, each), 30) for each in (0.0, 2.0, 5.0, 9.0)]
    assert spots == sorted(spots, reverse=True)
    assert spots[0] - spots[-1] > 100
    clean, caked = (middle(nozzle(np.random.default_rng(1), BENCH, carbon=each), 110) for each in (0.0, 0.9))
    assert clean - caked > 20
