"""The last page is never nearly empty."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from functools import cache

import pytest
import samples
from PIL import Image

from lightoff.report import content, typesetting
from lightoff.report.letters import printable
from lightoff.terms.visit import Photo, Stage
from lightoff.texts import Speaker

SAMPLES = samples.samples()
LEAST_FILLED = 0.42  # of the page's height, down to its last line


@cache
def picture(width: int, height: int) -> bytes:
    written = io.BytesIO()
    Image.new("RGB", (width, height), (90, 100, 110)).save(written, "JPEG")
    return written.getvalue()


def filled(name: str, paper: str, photos: int, *, pairs: int = 0) -> list[float]:
    """How far down each page is printed, as a share of its height; the first photos are `pairs`."""
    case, assessment = SAMPLES[name]
    start = case.visit.started_at
    taken = tuple(
        Photo(
            id=f"p{n}",
            heater="h",
            taken_at=start,
            sha256=f"{n}",
            media_type="image/jpeg",
            caption="" if n < 2 * pairs else "Nozzle",
            step=f"look_{n // 2}" if n < 2 * pairs else "",
            stage=(Stage.AS_LEFT if n % 2 else Stage.AS_FOUND) if n < 2 * pairs else None,
        )
        for n in range(photos)
    )
    case = replace(case, visit=replace(case.visit, photos=taken))
    shown = {each.sha256: picture(1200, 900) for each in taken}
    told = content.content(case, assessment, shelf=samples.shelf(), speaker=Speaker(), photos=shown)
    captions = [each["caption"] for each in told["photos"]["shown"]]
    assert sum("before" in each for each in captions) == sum("after" in each for each in captions) == pairs
    cleaned, lost = printable(told)
    more = {"paper": paper, "language": "en", "letters_lost": lost, "attachment": None}
    made = typesetting._compiler().compile(
        typesetting._template("owner.typ"),
        format="png",
        ppi=48.0,
        sys_inputs={"content": json.dumps({**cleaned, **more})},
    )
    pages = [
        Image.open(io.BytesIO(each)).convert("L") for each in (made if isinstance(made, list) else [made])
    ]
    return [_lowest(each) for each in pages]


def _lowest(page: Image.Image) -> float:
    inner = page.crop((46, 40, page.width, page.height))  # beside the line, below the head
    box = inner.point(lambda value: 255 if value < 200 else 0).getbbox()
    return (box[3] + 40) / page.height if box else 0.0


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("photos", [0, 1, 2, 4, 6])
@pytest.mark.parametrize("name", SAMPLES)
def test_the_last_page_is_worth_its_paper(name: str, paper: str, photos: int) -> None:
    found = filled(name, paper, photos)
    assert min(found) > LEAST_FILLED, found


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize(("photos", "pairs"), [(2, 1), (3, 1), (6, 2), (6, 3)])
@pytest.mark.parametrize("name", SAMPLES)
def test_photographs_side_by_side_leave_no_page_nearly_empty(
    name: str, paper: str, photos: int, pairs: int
) -> None:
    found = filled(name, paper, photos, pairs=pairs)
    assert min(found[1:]) > LEAST_FILLED, found
