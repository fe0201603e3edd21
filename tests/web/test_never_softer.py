"""Guard 20 on the pages: card, preview and hand-over never say anything softer than the verdict."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

import pytest

from lightoff.judging.assess import assess
from lightoff.judging.assessment import Assessment, Verdict
from lightoff.terms.case import Case
from lightoff.texts.speaker import LANGUAGES, templates
from lightoff.web import report, visit

if TYPE_CHECKING:
    from conftest import Bay

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "judging")]
from cases import Draft, good  # noqa: E402
from mutators import spoiled  # noqa: E402

from soft_words import HARD_TO_SOFT, bare, seen, softer  # noqa: E402

Show = Callable[[Case, Assessment], dict[str, str]]


def judged(bay: Bay, draft: Draft, language: str) -> tuple[Case, Assessment]:
    shelf = bay.workshop.shelf
    case = draft.case()
    case = replace(case, shop=replace(case.shop, language=language))
    sheet, fuel = shelf.sheets["generic_9_kw"], shelf.fuels["diesel_2"]
    facts: dict[str, Any] = {"limits": shelf.limits, "catalogue": shelf.catalogue, "now": draft.now}
    return case, assess(case, sheet=sheet, fuel=fuel, **facts)


@pytest.fixture
def show(bay: Bay, visit: str, monkeypatch: pytest.MonkeyPatch) -> Show:
    """The words of card, preview and hand-over of a case that is put in the place of the bay's own."""

    def shown(case: Case, assessment: Assessment) -> dict[str, str]:
        handed: Any = lambda *_: (case, assessment)  # noqa: E731
        monkeypatch.setattr(VISIT, "assess_visit", handed)
        monkeypatch.setattr(VISIT, "previewed", handed)
        monkeypatch.setattr(REPORT, "assess_visit", handed)
        own = {"origin": "http://127.0.0.1"}
        preview = bay.client.post(f"/visits/{visit}/preview", json=[], headers=own).json()
        return {
            "card": seen(bay.client.get(f"/visits/{visit}").text),
            "preview": seen(" ".join([preview["assessment"], *map(str, preview["next"].values())])),
            "hand-over": seen(bay.client.get(f"/visits/{visit}/hand-over").text),
        }

    return shown


VISIT, REPORT = visit, report


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_page_says_anything_softer(bay: Bay, show: Show, language: str) -> None:
    met: set[Verdict] = set()
    for seed in range(40):
        draft = good() if seed == 0 else spoiled(Random(seed), 1 + seed % 4)[0]
        case, assessment = judged(bay, draft, language)
        verdict = assessment.verdict.verdict
        met.add(verdict)
        for name, words in show(case, assessment).items():
            assert not softer(words, verdict, language), (seed, name, verdict)
            assert bare(templates(language)[f"verdict.{verdict}"]) in bare(words), (seed, name)
    assert met == set(Verdict)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("verdict", HARD_TO_SOFT)
def test_the_hand_over_speaks_by_the_verdict_alone(
    bay: Bay, show: Show, verdict: Verdict, language: str
) -> None:
    """Even beside gates, sentences and figures of the best visit there is."""
    case, best = judged(bay, good(), language)
    forced = replace(best, verdict=replace(best.verdict, verdict=verdict))
    words = show(case, forced)["hand-over"]
    assert not softer(words, verdict, language)
    assert bare(templates(language)[f"until_then.{verdict}"]) in bare(words)
    assert bare(templates(language)[f"verdict_owner.{verdict}"]) in bare(words)


def test_a_page_that_comforts_is_seen(bay: Bay, show: Show) -> None:
    """Planted: a fit's paragraph on the card of a heater that must not be fired."""
    _, best = judged(bay, good(), "en")
    case, worst = judged(bay, good().edit("exhaust_path", state="blocked"), "en")
    assert worst.verdict.verdict is Verdict.STOP
    shown = show(case, replace(worst, paragraph=best.paragraph))
    assert softer(shown["card"], Verdict.STOP, "en")
    assert softer(shown["preview"], Verdict.STOP, "en")
