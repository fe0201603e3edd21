"""Guard 20 in the templates themselves: only the words of a verdict may comfort."""

import re
import sys
from pathlib import Path

import pytest

from lightoff.judging.assessment import Verdict
from lightoff.texts.speaker import LANGUAGES, templates

sys.path.insert(0, str(Path(__file__).parents[1]))
from soft_words import HARD_TO_SOFT, SAYINGS, bare, sayings, softer

# Words that say that all is well. A language without its list fails the first test.
COMFORT = {
    "en": (
        r"\b(safe|safely|all clear|no danger|out of danger|harmless|guarantee\w*|certif\w*|worry|risk-free"
        r"|passed|is fit\b|fit for|fit as|fit to|(every|all) limits?\b.{0,40}\bmet)\b"
    ),
}
# What states a verdict states this one; each holds the words because of it.
OWN = {
    "verdict.fit as tested": Verdict.FIT,
    "verdict_word.fit as tested": Verdict.FIT,
    "verdict_said.fit as tested": Verdict.FIT,
    "verdict_owner.fit as tested": Verdict.FIT,
    "judging.closing_fit": Verdict.FIT,
    "verdict_owner.not fit": Verdict.NOT_FIT,  # "is not fit for use"
    "verdict_owner.not proven": Verdict.NOT_PROVEN,  # "has not been proven that this heater is fit for use"
}


def test_each_language_has_its_words() -> None:
    assert set(COMFORT) == set(LANGUAGES)


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_other_template_comforts(language: str) -> None:
    comfort = re.compile(COMFORT[language], re.IGNORECASE)
    found = {key for key, text in templates(language).items() if comfort.search(text)}
    assert found <= set(OWN), sorted(found - set(OWN))


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("verdict", Verdict)
def test_the_sayings_of_a_verdict_are_its_own(verdict: Verdict, language: str) -> None:
    mine = sayings(verdict, language)
    assert mine
    for other in Verdict:
        if other is not verdict:
            assert not any(a in b for a in mine for b in sayings(other, language)), (verdict, other)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_closing_is_known_to_its_verdict(language: str) -> None:
    closings = {key for key in templates(language) if key.startswith("judging.closing_")}
    assert closings == {key for keys in SAYINGS.values() for key in keys}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("soft", HARD_TO_SOFT[1:])
def test_a_softer_word_is_seen_wherever_it_is_planted(soft: Verdict, language: str) -> None:
    for saying in sayings(soft, language):
        for hard in HARD_TO_SOFT[: HARD_TO_SOFT.index(soft)]:
            assert saying in softer(f"before {saying} after", hard, language)
        assert not softer(f"before {saying} after", soft, language)
    assert bare(" A\u00a0b\n") == "ab"
