"""Sheets of labels as PDF: the codes of heaters or bins where label paper has its labels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from lightoff import drawing
from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.report.typesetting import typeset

MOST = 480
"""Labels of one document; more are printed in further ones. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelPaper:
    """Where the labels of one sheet lie, in mm: `across` and `down` from one to the next."""

    paper: str
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    across: float
    down: float
    inset: float
    name_pt: float

    @property
    def count(self) -> int:
        """Labels of one sheet."""
        return self.columns * self.rows


PAPERS: Mapping[str, LabelPaper] = {
    "a4": LabelPaper(
        paper="a4",
        columns=3,
        rows=8,
        width=70,
        height=37,
        left=0,
        top=0.5,
        across=70,
        down=37,
        inset=4,
        name_pt=11,
    ),
    "letter": LabelPaper(
        paper="us-letter",
        columns=3,
        rows=10,
        width=66.675,
        height=25.4,
        left=4.7625,
        top=12.7,
        across=69.85,
        down=25.4,
        inset=1.6,
        name_pt=10,
    ),
}
"""Common sizes of label paper: 70 by 37 mm without a gap, and 2 5/8 by 1 inch. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedLabel:
    """One label: two lines that a person reads, the address that its code opens, and its name in words."""

    name: str
    line: str
    address: str
    alt: str


def label_sheets(
    labels: Sequence[PrintedLabel],
    *,
    paper: str,
    title: str,
    language: str,
    made_at: datetime,
    used: int = 0,
) -> bytes:
    """The sheets as PDF; the first `used` labels of the first sheet stay free: they are taken already.

    Raises Refusal for a paper that is not there, or more labels than one document holds.
    """
    if paper not in PAPERS:
        raise Refusal(
            message("report_refused.paper", paper=paper[:40], possible=", ".join(PAPERS)), field="paper"
        )
    sheet = PAPERS[paper]
    if not 0 < len(labels) <= MOST:
        raise Refusal(message("labels.count", count=len(labels), most=MOST), field="labels")
    if not 0 <= used < sheet.count:
        raise Refusal(message("labels.used", used=used, most=sheet.count - 1), field="used")
    sheets: list[list[dict[str, object]]] = []
    for at, each in enumerate(labels, start=used):
        number, place = divmod(at, sheet.count)
        if number == len(sheets):
            sheets.append([])
        row, column = divmod(place, sheet.columns)
        sheets[-1].append(
            {
                "name": each.name,
                "line": each.line,
                "alt": each.alt,
                "code": drawing.code(each.address, title=each.alt),
                "row": row,
                "column": column,
            }
        )
    laid_out = {
        "width": sheet.width, "height": sheet.height, "left": sheet.left, "top": sheet.top,
        "across": sheet.across, "down": sheet.down, "inset": sheet.inset, "name-pt": sheet.name_pt,
    }  # fmt: skip
    return typeset(
        {"title": title, "sheets": sheets, "sheet": laid_out},
        paper=sheet.paper,
        language=language,
        made_at=made_at,
        template="labels.typ",
    )
