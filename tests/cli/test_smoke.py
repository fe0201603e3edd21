"""`lightoff smoke`: a number with its doubt, or the reason why there is none."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from lightoff.cli import main

sys.path.insert(0, str(Path(__file__).parents[1] / "spot"))
from invented_photos import Scene, photograph

SPOT = Scene(number=3.0)


def smoke(path: Path, scene: Scene | None, *more: str) -> Result:
    if scene is not None:
        Image.fromarray(photograph(scene, np.random.default_rng(1))).save(path, quality=92)
    return CliRunner().invoke(main, ["smoke", str(path), *more])


def test_a_spot_is_told_with_its_doubt_and_that_the_eye_decides(tmp_path: Path) -> None:
    answer = smoke(tmp_path / "spot.jpg", SPOT)
    assert answer.exit_code == 0
    assert answer.output.replace("\u00a0", " ").splitlines() == [
        "The photograph says about 3.0 ± 1.0.",
        "The eye beside the bought scale decides; a photograph closes no gate.",
    ]


def test_as_data_with_places(tmp_path: Path) -> None:
    data = json.loads(smoke(tmp_path / "spot.jpg", SPOT, "--json").output)
    assert data["format"] == "lightoff smoke spot 1"
    assert data["number"] == pytest.approx(3.0, abs=0.1)
    assert data["half_width"] >= 1.0
    assert len(data["paper"]["corners"]) == 4
    assert data["refusals"] == []


def test_a_bad_photo_ends_with_one_and_the_reason(tmp_path: Path) -> None:
    answer = smoke(tmp_path / "dark.jpg", replace(SPOT, exposure=0.01))
    assert answer.exit_code == 1
    assert "too dark" in answer.output


def test_no_file_and_no_picture_are_sentences(tmp_path: Path) -> None:
    absent = smoke(tmp_path / "absent.jpg", None)
    assert absent.exit_code == 1
    assert "absent.jpg" in absent.output
    (tmp_path / "text.jpg").write_text("no picture")
    assert "no JPEG, PNG or WebP picture" in smoke(tmp_path / "text.jpg", None).output
