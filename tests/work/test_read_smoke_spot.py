"""A photograph as a phone writes it: turned, large, or none at all."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lightoff.ground.errors import Refusal
from lightoff.texts import Speaker
from lightoff.work.read_smoke_spot import LONGEST_PX, read_smoke_spot

sys.path.insert(0, str(Path(__file__).parents[1] / "spot"))
from invented_photos import Scene, photograph

PICTURE = photograph(Scene(number=4.0, strip=(6.0, 2.2)), np.random.default_rng(2))


def written(kind: str = "JPEG", *, turned: int = 1, larger: int = 1) -> bytes:
    image = Image.fromarray(PICTURE)
    if larger > 1:
        image = image.resize((image.width * larger, image.height * larger))
    exif = Image.Exif()
    exif[0x0112] = turned
    file = io.BytesIO()
    image.save(file, kind, quality=92, exif=exif.tobytes())
    return file.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_each_kind_of_picture_is_read(kind: str) -> None:
    assert read_smoke_spot(written(kind)).number == pytest.approx(4.0, abs=0.2)


def test_it_is_turned_upright_first() -> None:
    flat, turned = read_smoke_spot(written()), read_smoke_spot(written(turned=6))
    assert flat.spot is not None
    assert turned.spot is not None
    assert turned.number == pytest.approx(flat.number, abs=0.05)
    # Turned by a quarter clockwise, what was at the left lies at the top.
    assert turned.spot.y == pytest.approx(flat.spot.x, abs=2.0)
    assert turned.spot.x == pytest.approx(PICTURE.shape[0] - flat.spot.y, abs=2.0)


def test_a_large_one_is_made_small_first() -> None:
    found = read_smoke_spot(written(larger=5))  # 3200 pixels wide
    assert found.paper is not None
    assert max(x for x, _ in found.paper.corners) <= LONGEST_PX
    assert found.number == pytest.approx(4.0, abs=0.2)


@pytest.mark.parametrize("junk", [b"", b"no picture", b"\xff\xd8\xff\xe0 cut off", written()[:200]])
def test_what_is_no_picture_is_refused(junk: bytes) -> None:
    with pytest.raises(Refusal) as told:
        read_smoke_spot(junk)
    assert "no JPEG, PNG or WebP picture" in Speaker().say(told.value.message)
