"""The door that reads a smoke spot off a photo: a proposal, and nothing kept."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1] / "spot"))
from invented_photos import Scene, photograph

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}


def written(scene: Scene) -> bytes:
    file = io.BytesIO()
    Image.fromarray(photograph(scene, np.random.default_rng(1))).save(file, "JPEG", quality=92)
    return file.getvalue()


def test_a_spot_is_proposed_off_a_photograph(bay: Bay) -> None:
    answer = bay.client.post("/photos/smoke-spot", content=written(Scene(number=2.0)), headers=OWN).json()
    assert answer["body"] == {"value": "2.0", "unit": "smoke no.", "basis": "by photograph"}
    assert answer["take_over"] == "Take 2.0 over"
    assert answer["said"][-1].startswith("The eye beside the bought scale decides")


def test_a_refused_photo_offers_nothing_to_take_over(bay: Bay) -> None:
    dark = written(Scene(number=2.0, exposure=0.01))
    answer = bay.client.post("/photos/smoke-spot", content=dark, headers=OWN).json()
    assert answer["take_over"] is None
    assert "body" not in answer
    assert "too dark" in answer["said"][0]


def test_what_is_no_picture_is_refused_with_a_sentence(bay: Bay) -> None:
    headers = {**OWN, "accept": "application/json"}
    answer = bay.client.post("/photos/smoke-spot", content=b"none", headers=headers)
    assert answer.status_code == 422
    assert "no JPEG, PNG or WebP picture" in answer.json()["problem"]


def test_a_page_gets_a_picture_small_and_a_program_the_whole(bay: Bay) -> None:
    file = io.BytesIO()
    Image.effect_noise((1600, 1200), 80.0).convert("RGB").save(file, "JPEG", quality=92)
    whole = file.getvalue()
    sha256 = bay.client.post("/photos", content=whole, headers=OWN).json()["sha256"]
    kept = bay.client.get(f"/photos/{sha256}").content
    answer = bay.client.get(f"/photos/{sha256}?small=yes")
    assert answer.headers["content-type"] == "image/jpeg"
    assert len(answer.content) < len(kept)
    with Image.open(io.BytesIO(answer.content)) as small, Image.open(io.BytesIO(kept)) as large:
        assert max(small.size) < max(large.size)
