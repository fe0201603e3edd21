"""Photographs before and after stand side by side, whatever the steps at which they were taken."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from lightoff.shelf import open_shelf
from lightoff.terms.visit import Photo, Stage
from lightoff.work.photo_pairs import photo_pairs, steps_by_key

START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
STEPS = steps_by_key(open_shelf().procedures.values())
FOUND, LEFT = Stage.AS_FOUND, Stage.AS_LEFT


def photo(minute: int, stage: Stage | None, *, step: str = "", reading: str | None = None) -> Photo:
    at = START + timedelta(minutes=minute)
    return Photo(
        id=f"photo-{minute}",
        heater="h",
        taken_at=at,
        sha256="0" * 64,
        media_type="image/jpeg",
        reading_key=reading,
        stage=stage,
        step=step,
    )


def test_the_nozzle_looked_at_stands_beside_the_nozzle_cleaned() -> None:
    before, after = photo(1, FOUND, step="look_nozzle"), photo(2, LEFT, step="clean_nozzle")
    pairs, alone = photo_pairs([before, after], STEPS)
    assert [(each.before, each.after, each.step) for each in pairs] == [(before, after, "look_nozzle")]
    assert alone == ()


def test_one_reading_as_found_and_as_left_is_a_pair() -> None:
    before, after = photo(1, FOUND, reading="smoke_number"), photo(2, LEFT, reading="smoke_number")
    pairs, alone = photo_pairs([before, after], STEPS)
    assert [(each.before, each.after, each.reading) for each in pairs] == [(before, after, "smoke_number")]
    assert alone == ()


def test_what_has_no_other_half_stands_alone() -> None:
    shots = [
        photo(1, FOUND, step="look_tube"),
        photo(2, LEFT, step="clean_nozzle"),
        photo(3, None),
        photo(4, FOUND, step="look_tube"),
        photo(5, LEFT, step="clean_tube"),
        photo(6, FOUND, step="a step that is gone"),
    ]
    pairs, alone = photo_pairs(shots, STEPS)
    assert pairs == ()
    assert alone == tuple(shots)
