"""One visit, judged, as the pages that the owner keeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message
from lightoff.judging.assess import inputs_hash
from lightoff.judging.assessment import Assessment
from lightoff.report.content import content
from lightoff.report.typesetting import typeset
from lightoff.terms.case import Case
from lightoff.texts import Speaker

if TYPE_CHECKING:
    from lightoff.shelf import Shelf
    from lightoff.work.find_fault import LookedFor
    from lightoff.work.parts_used import PartUsed

PAPERS = {"a4": "a4", "letter": "us-letter"}


def owner_report(
    case: Case,
    assessment: Assessment,
    *,
    shelf: Shelf,
    speaker: Speaker,
    photos: Mapping[str, bytes],
    paper: str = "a4",
    attachment: bytes | None = None,
    found: LookedFor | None = None,
    parts: Sequence[PartUsed] = (),
    due: Sequence[Message] = (),
    unanswered: Sequence[str] = (),
) -> bytes:
    """The report of one visit as PDF.

    `photos` holds pictures by their SHA-256; one that is missing or broken is named on the page. `parts` are
    what became of parts, by name; without them they are only counted; `due` says what comes next,
    `unanswered` which steps that nobody may leave out nobody answered.
    `attachment` is the visit file (UTF-8 text) to lie inside the PDF; `found` what a search for a fault has
    come to, if there was one. The date of the document is that of the judgement, so the same input gives the
    same bytes.

    Raises Refusal if the judgement is not of this very visit as it stands on this very shelf.
    """
    _refuse_strangers(case, assessment, shelf)
    if paper not in PAPERS:
        raise Refusal(message("report_refused.paper", paper=paper, possible=", ".join(PAPERS)), field="paper")
    return typeset(
        content(
            case,
            assessment,
            shelf=shelf,
            speaker=speaker,
            photos=photos,
            found=found,
            parts=parts,
            due=due,
            unanswered=unanswered,
        ),
        paper=PAPERS[paper],
        language=speaker.language,
        made_at=assessment.judged_at,
        attachment=attachment,
    )


def _refuse_strangers(case: Case, assessment: Assessment, shelf: Shelf) -> None:
    """A verdict prints only beside the readings it was made from."""
    if assessment.visit != case.visit.id or assessment.heater != case.heater.id:
        raise Refusal(message("report_refused.other_visit"), field="visit")
    sheet = shelf.sheets.get(case.heater.sheet)
    if sheet is None:
        raise Refusal(message("report_refused.no_sheet", sheet=case.heater.sheet), field="sheet")
    now = inputs_hash(
        case,
        sheet=sheet,
        fuel=shelf.fuels.get(case.visit.fuel),
        limits=shelf.limits,
        catalogue=shelf.catalogue,
    )
    if now != assessment.inputs_sha256:
        raise Refusal(message("report_refused.changed"), field="visit")
