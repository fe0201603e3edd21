"""Guard 20 on paper: the letters taken out of the PDF never say anything softer than the verdict."""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import pikepdf
import pytest
import samples
from pdf_inside import words

from lightoff.judging.assess import assess
from lightoff.judging.assessment import Assessment, Verdict
from lightoff.report import owner_report
from lightoff.shelf import Shelf, open_shelf
from lightoff.terms.case import Case
from lightoff.texts import Speaker
from lightoff.texts.speaker import LANGUAGES, templates

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "judging")]
from cases import good  # noqa: E402
from mutators import spoiled  # noqa: E402

from soft_words import HARD_TO_SOFT, bare, softer  # noqa: E402

SAMPLES = samples.samples()
SHELF = open_shelf()


def printed(case: Case, assessment: Assessment, language: str, shelf: Any) -> str:
    speaker = Speaker(language=language)
    pdf = owner_report(case, assessment, shelf=shelf, speaker=speaker, photos={})
    return words(pikepdf.open(io.BytesIO(pdf)))


def check(text: str, verdict: Verdict, language: str) -> None:
    assert "\ufffd" not in text
    known = templates(language)
    assert bare(known[f"verdict.{verdict}"]) in bare(text)
    assert bare(known[f"verdict_owner.{verdict}"]) in bare(text)
    assert bare(text).count(bare(known[f"until_then.{verdict}"])) == 1
    assert not softer(text, verdict, language)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("verdict", HARD_TO_SOFT)
@pytest.mark.parametrize("name", SAMPLES)
def test_the_verdict_alone_speaks(name: str, verdict: Verdict, language: str) -> None:
    """Every kind of report under every verdict, also where gates and figures tell of a better heater."""
    case, assessment = SAMPLES[name]
    stops = ("do not fire",) if verdict is Verdict.STOP else ()
    forced = replace(assessment, verdict=replace(assessment.verdict, verdict=verdict, stops=stops))
    check(printed(case, forced, language, samples.shelf()), verdict, language)


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_spoiled_visit_prints_softer_words(language: str) -> None:
    met: set[Verdict] = set()
    shelf: Shelf = SHELF
    for seed in range(24):
        draft = good() if seed == 0 else spoiled(Random(seed), 1 + seed % 4)[0]
        facts: dict[str, Any] = {"limits": shelf.limits, "catalogue": shelf.catalogue, "now": draft.now}
        case = draft.case()
        found = assess(case, sheet=shelf.sheets["generic_9_kw"], fuel=shelf.fuels["diesel_2"], **facts)
        met.add(found.verdict.verdict)
        check(printed(case, found, language, shelf), found.verdict.verdict, language)
    assert met == set(Verdict)


def test_a_softened_page_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Planted: the words of a stop are those of a fit."""
    known = dict(templates("en"))
    soft = {**known, "verdict_owner.stop": known["verdict_owner.fit as tested"]}
    case, assessment = SAMPLES["stop"]
    monkeypatch.setattr("lightoff.texts.speaker.templates", lambda _: soft)
    text = printed(case, assessment, "en", samples.shelf())
    monkeypatch.undo()
    with pytest.raises(AssertionError):
        check(text, Verdict.STOP, "en")
