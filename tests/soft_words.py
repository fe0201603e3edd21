"""What words are softer than a verdict, in every language: for guard 20 on pages, paper and command line."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from lightoff.judging.assessment import Verdict
from lightoff.texts.speaker import templates

HARD_TO_SOFT = (Verdict.STOP, Verdict.NOT_FIT, Verdict.NOT_PROVEN, Verdict.FIT)
# Sentences that state one verdict and no other.
SAYINGS: dict[Verdict, tuple[str, ...]] = {
    Verdict.STOP: ("judging.closing_stop",),
    Verdict.NOT_FIT: ("judging.closing_not_fit",),
    Verdict.NOT_PROVEN: (
        "judging.closing_not_proven",
        "judging.closing_not_proven_two",
        "judging.closing_not_proven_last",
        "judging.closing_not_proven_above",
        "judging.closing_not_proven_above_two",
        "judging.closing_not_proven_above_last",
    ),
    Verdict.FIT: ("judging.closing_fit",),
}


def bare(text: str) -> str:
    """Letters without spaces or case: how a face breaks its lines does not matter."""
    return "".join(text.split()).casefold()


def sayings(verdict: Verdict, language: str) -> set[str]:
    """Everything that says this verdict, as it stands on a page before its first number."""
    known = templates(language)
    whole = [known[f"{told}.{verdict}"] for told in ("verdict_said", "verdict_owner", "until_then")]
    word = known[f"verdict_word.{verdict}"]
    closings = [known[key].replace("{state}", word).partition("{")[0] for key in SAYINGS[verdict]]
    # A closing that is only the word is no sentence: "stop" and "not fit" are said in other ways too.
    said = {bare(each) for each in (*whole, *closings) if len(bare(each)) > len(bare(word)) + 1}
    if verdict is Verdict.FIT:
        said |= {bare(known[f"verdict.{verdict}"]), bare(word)}
    return said


def softer(text: str, verdict: Verdict, language: str) -> list[str]:
    """The sayings of every softer verdict that this text holds."""
    found = bare(text)
    mild = HARD_TO_SOFT[HARD_TO_SOFT.index(verdict) + 1 :]
    return sorted(each for soft in mild for each in sayings(soft, language) if each in found)


class _Seen(HTMLParser):
    """What a person sees or has read out: text, and the attributes that stand for pictures and controls."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self.hidden: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "style", "template"):
            self.hidden.append(tag)
        self.said += [value or "" for name, value in attrs if name in ("alt", "aria-label", "title")]

    def handle_endtag(self, tag: str) -> None:
        if self.hidden and self.hidden[-1] == tag:
            self.hidden.pop()

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.said.append(data)


def seen(page: str) -> str:
    """The words of a page of HTML."""
    parser = _Seen()
    parser.feed(page)
    return re.sub(r"\s+", " ", " ".join(parser.said))
