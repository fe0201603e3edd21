"""Guard 20 on the command line: summary and data never say anything softer than the verdict."""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random
from typing import Any

import pytest

from lightoff.cli.as_data import data_of
from lightoff.cli.summary import summary
from lightoff.judging.assess import assess
from lightoff.judging.assessment import Verdict
from lightoff.shelf import open_shelf
from lightoff.texts import Speaker
from lightoff.texts.speaker import LANGUAGES, templates

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "judging")]
from cases import good  # noqa: E402
from mutators import spoiled  # noqa: E402

from soft_words import bare, softer  # noqa: E402

SHELF = open_shelf()


def texts_in(value: Any) -> list[str]:
    """Every sentence of the data."""
    if isinstance(value, dict):
        own = [value["text"]] if isinstance(value.get("text"), str) else []
        return own + [each for inner in value.values() for each in texts_in(inner)]
    if isinstance(value, list):
        return [each for inner in value for each in texts_in(inner)]
    return []


@pytest.mark.parametrize("language", LANGUAGES)
def test_nothing_softer_is_printed(language: str) -> None:
    met: set[Verdict] = set()
    speaker = Speaker(language=language)
    for seed in range(120):
        draft = good() if seed == 0 else spoiled(Random(seed), 1 + seed % 4)[0]
        facts: dict[str, Any] = {"limits": SHELF.limits, "catalogue": SHELF.catalogue, "now": draft.now}
        case = draft.case()
        found = assess(case, sheet=SHELF.sheets["generic_9_kw"], fuel=SHELF.fuels["diesel_2"], **facts)
        verdict = found.verdict.verdict
        met.add(verdict)
        text = summary(case, found, speaker)
        assert bare(templates(language)[f"verdict.{verdict}"]) in bare(text)
        assert bare(templates(language)[f"until_then.{verdict}"]) in bare(text)
        assert not softer(text, verdict, language), seed
        assert not softer("\n".join(texts_in(data_of(found, speaker))), verdict, language), seed
    assert met == set(Verdict)
