"""A word without a break stays on the page."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import UTC, datetime

import pdf_inside
import pikepdf
import pytest
import samples
from PIL import Image

from lightoff.report import content, typesetting
from lightoff.report.letters import printable
from lightoff.texts import Speaker

UNBROKEN = "Saltgrass" * 17  # 153 letters
SAMPLES = samples.samples()


def pictures(name: str, paper: str) -> list[Image.Image]:
    """The pages as pictures, with an unbroken word wherever somebody types."""
    case, assessment = SAMPLES[name]
    visit = replace(
        case.visit, complaint=UNBROKEN, note=UNBROKEN, work_done=(UNBROKEN,), technician=UNBROKEN,
        place=replace(case.visit.place, name=UNBROKEN),
    )  # fmt: skip
    instruments = {key: replace(each, name=UNBROKEN) for key, each in case.instruments.items()}
    case = replace(
        case,
        visit=visit,
        instruments=instruments,
        owner=replace(case.owner, name=UNBROKEN),
        vehicle=replace(case.vehicle, name=UNBROKEN),
        shop=replace(case.shop, name=UNBROKEN, address=UNBROKEN),
    )
    told = content.content(case, assessment, shelf=samples.shelf(), speaker=Speaker(), photos={})
    cleaned, lost = printable(told)
    more = {"paper": paper, "language": "en", "letters_lost": lost, "attachment": None}
    made = typesetting._compiler().compile(
        typesetting._template("owner.typ"),
        format="png",
        ppi=96.0,
        sys_inputs={"content": json.dumps({**cleaned, **more})},
    )
    return [
        Image.open(io.BytesIO(each)).convert("L") for each in (made if isinstance(made, list) else [made])
    ]


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("name", ["fit", "stop", "no probe"])
def test_nothing_runs_into_the_margin(name: str, paper: str) -> None:
    for page in pictures(name, paper):
        margin = page.crop((page.width - 40, 0, page.width, page.height))
        assert margin.getextrema()[0] > 230, "something dark stands in the right margin"


def test_a_long_answer_leaves_the_name_of_what_was_noted_its_room() -> None:
    case, assessment = SAMPLES["fit"]
    told = content.content(case, assessment, shelf=samples.shelf(), speaker=Speaker(), photos={})
    told["measured"]["noted"] = [
        ["Carbon monoxide alarm", "present and in date, in one answer with others", ""],
        ["Hoses and clamps", "sound, in one answer with others", ""],
    ]
    made = typesetting.typeset(told, paper="a4", language="en", made_at=datetime(2026, 1, 5, tzinfo=UTC))
    with pikepdf.open(io.BytesIO(made)) as pdf:
        said = " ".join(pdf_inside.words(pdf).split())
    alarm = "Carbon monoxide alarm present and in date, in one answer with others"
    assert f"as found: {alarm}; Hoses and clamps sound" in said, "not pressed together in a column"
