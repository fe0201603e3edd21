"""Sheets of labels: every code on the rendered page, module by module, where label paper has its label."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime
from typing import Any

import pikepdf
import pytest
import segno
from PIL import Image

from lightoff.ground.errors import Refusal
from lightoff.report import labels, typesetting
from lightoff.report.labels import MOST, PAPERS, PrintedLabel, label_sheets
from lightoff.texts import Speaker

AT = datetime(2026, 11, 25, 12, tzinfo=UTC)
MM_PER_IN = 25.4
PPI = 508.0  # twenty pixels a millimetre


def made(count: int) -> list[PrintedLabel]:
    return [
        PrintedLabel(
            name=f"Saltgrass {at}, aft heater",
            line="number 0417",
            address=f"http://van.local:8000/heaters/018ada17-f208-700f-909b-ffc13b11c{at:03}",
            alt=f"Code of heater {at}",
        )
        for at in range(count)
    ]


def pdf(labels_: list[PrintedLabel], **more: Any) -> bytes:
    asked = {"paper": "a4", "title": "Labels", "language": "en", "made_at": AT} | more
    return label_sheets(labels_, **asked)


def rendered(monkeypatch: pytest.MonkeyPatch, labels_: list[PrintedLabel], **more: Any) -> list[Image.Image]:
    """The pages as they print, from the very content and template that the PDF is made of."""
    held: dict[str, Any] = {}

    def drawn(content: Any, *, paper: str, language: str, template: str, **_: Any) -> bytes:
        data = {**content, "paper": paper, "language": language}
        held["pages"] = typesetting._compiler().compile(
            typesetting._template(template),
            format="png",
            ppi=PPI,
            sys_inputs={"content": json.dumps(data)},
        )
        return b""

    monkeypatch.setattr(labels, "typeset", drawn)
    pdf(labels_, **more)
    pages = held["pages"] if isinstance(held["pages"], list) else [held["pages"]]
    return [Image.open(io.BytesIO(each)).convert("L") for each in pages]


@pytest.mark.parametrize("paper", list(PAPERS))
def test_every_module_of_every_code_is_printed_as_it_must_be(
    monkeypatch: pytest.MonkeyPatch, paper: str
) -> None:
    sheet, used = PAPERS[paper], 2
    every = made(sheet.count)  # so that the last two lie on a second sheet
    pages = rendered(monkeypatch, every, paper=paper, used=used)
    assert len(pages) == 2
    side = min(sheet.height - 2 * sheet.inset, 30.0)
    for at, label in enumerate(every, start=used):
        number, place = divmod(at, sheet.count)
        row, column = divmod(place, sheet.columns)
        left = sheet.left + column * sheet.across + sheet.inset
        top = sheet.top + row * sheet.down + sheet.height / 2 - side / 2
        modules = [list(each) for each in segno.make(
            label.address, error="m", micro=False, boost_error=False
        ).matrix_iter(border=4)]  # fmt: skip
        step = side / len(modules)
        for y, line in enumerate(modules):
            for x, dark in enumerate(line):
                spot = (left + (x + 0.5) * step, top + (y + 0.5) * step)
                shade = pages[number].getpixel(tuple(round(each / MM_PER_IN * PPI) for each in spot))
                assert (shade < 128) == bool(dark), (label.name, x, y)


def test_a_sheet_is_an_archive_file_whose_codes_are_told_in_words() -> None:
    with pikepdf.open(io.BytesIO(pdf(made(3)))) as opened:
        assert len(opened.pages) == 1
        width, height = (float(each) for each in opened.pages[0].MediaBox[2:])
        assert (round(width), round(height)) == (595, 842)
        told = [
            str(each.Alt)
            for each in opened.objects
            if isinstance(each, pikepdf.Dictionary) and "/Alt" in each
        ]
        assert sorted(told) == [f"Code of heater {at}" for at in range(3)]
    with pikepdf.open(io.BytesIO(pdf(made(3), paper="letter"))) as opened:
        assert [round(float(each)) for each in opened.pages[0].MediaBox[2:]] == [612, 792]


def test_the_same_labels_are_the_same_bytes() -> None:
    assert pdf(made(2)) == pdf(made(2))


@pytest.mark.parametrize(
    ("count", "more", "said"),
    [
        (0, {}, "from 1 to 480"),
        (MOST + 1, {}, "these are 481"),
        (1, {"used": 24}, "from 0 to 23"),
        (1, {"used": -1}, "from 0 to 23"),
        (1, {"paper": "napkin"}, "napkin"),
    ],
)
def test_what_cannot_be_printed_is_refused(count: int, more: dict[str, Any], said: str) -> None:
    with pytest.raises(Refusal) as caught:
        pdf(made(count), **more)
    assert said in Speaker().say(caught.value.message)


def test_long_names_and_letters_of_any_script_stay_on_their_label(monkeypatch: pytest.MonkeyPatch) -> None:
    label = made(1)[0]
    long = PrintedLabel(
        name="Donaudampfschifffahrtsgesellschaftskapitän " * 3, line="שלום", address=label.address, alt="Code"
    )
    (page,) = rendered(monkeypatch, [long])
    beside = page.crop((round(72 / MM_PER_IN * PPI), 0, page.width, round(38 / MM_PER_IN * PPI)))
    assert beside.getextrema() == (255, 255)
