"""A judged visit as a page of plain text."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator, Sequence

from lightoff.ground.message import Amount, Message, message
from lightoff.ground.sources import SOURCES
from lightoff.judging.assessment import Assessment, Figure, Judgement, Verdict
from lightoff.judging.noted import noted
from lightoff.judging.steps_told import steps_told
from lightoff.terms.case import Case
from lightoff.terms.shelf import Limit
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker, band_words, gate_name, limit_words, sets_words

GLYPHS = {Verdict.STOP: "⯃", Verdict.NOT_FIT: "▲", Verdict.NOT_PROVEN: "□", Verdict.FIT: "●"}
_WIDEST = 96
_INDENT = "  "


def summary(
    case: Case,
    assessment: Assessment,
    speaker: Speaker,
    *,
    unanswered: Sequence[str] = (),
    asked: Sequence[Message] = (),
) -> str:
    """What a technician wants to know, worst first; the words are those of page and report.

    `unanswered` are steps that nobody may leave out and nobody did, `asked` is what was asked of readings.
    """
    sections = (
        _head(case, assessment, speaker),
        _said(
            "cli.work_done",
            [assessment.work_done, *steps_told(case, unanswered=unanswered)],
            speaker,
            more=case.visit.work_done,
        ),
        _said("cli.measured", [assessment.measured], speaker),
        _figures(assessment, speaker),
        _noted(case, assessment, speaker),
        _gates(assessment, speaker),
        _helps_most(assessment, speaker),
        _said("cli.notices", (*assessment.notices, *asked), speaker),
        _said("cli.travel", assessment.travel, speaker),
        _said("cli.cautions", _cautions(assessment), speaker),
        _said("cli.next", _next(assessment), speaker),
        _foot(case, assessment, speaker),
    )
    return "\n\n".join("\n".join(lines) for section in sections if (lines := list(section)))


def _head(case: Case, assessment: Assessment, speaker: Speaker) -> Iterator[str]:
    day = speaker.date_of(case.visit.started_at)
    yield speaker.text("cli.title", vehicle=case.vehicle.name, heater=case.heater.name, day=day)
    verdict = assessment.verdict.verdict
    yield f"{_glyph(verdict)}{speaker.text(f'verdict.{verdict}')}"
    for stop in assessment.verdict.stops:
        yield f"{_INDENT}{speaker.text(f'stops.{stop}')}."
    yield from _wrapped(speaker.say(assessment.said))


def _glyph(verdict: Verdict) -> str:
    """The verdict's shape, where the terminal can draw it; its word stands beside it anyway."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    try:
        GLYPHS[verdict].encode(encoding)
    except UnicodeEncodeError:
        return ""
    return f"{GLYPHS[verdict]} "


def _said(
    heading: str, said: Iterable[Message], speaker: Speaker, *, more: Iterable[str] = ()
) -> Iterator[str]:
    sentences = [*(speaker.say(each) for each in said), *more]
    if sentences:
        yield speaker.text(heading)
        for sentence in sentences:
            yield from _wrapped(sentence)


def _figures(assessment: Assessment, speaker: Speaker) -> Iterator[str]:
    for stage in (Stage.AS_FOUND, Stage.AS_LEFT):
        figures = {figure.key: figure for figure in reversed(assessment.figures(stage))}
        if not figures:
            continue
        if stage is Stage.AS_LEFT and assessment.figures(Stage.AS_FOUND):
            yield ""
        yield speaker.text("cli.figures", stage=f"@stage.{stage}")
        rows = [
            _figure(figures[key], speaker)
            for key in dict.fromkeys(figure.key for figure in assessment.figures(stage))
        ]
        name_width, number_width = (max(len(row[column]) for row in rows) for column in (0, 1))
        for name, number, limit in rows:
            line = f"{_INDENT}{name:<{name_width}}  {number:<{number_width}}  {limit}"
            hang = " " * (len(_INDENT) + name_width + 2 + number_width + 2)
            yield from textwrap.wrap(line.rstrip(), _width(), subsequent_indent=hang) or [""]


def _figure(figure: Figure, speaker: Speaker) -> tuple[str, str, str]:
    half_width = figure.estimate.half_width or None
    amount = Amount(value=figure.estimate.value, dimension=figure.dimension, half_width=half_width)
    beside = [sets_words(figure.sets, figure.dimension, speaker)]
    if figure.expected is not None:
        low, high = (
            Amount(value=each, dimension=figure.dimension)
            for each in (figure.expected.low, figure.expected.high)
        )
        beside.append(
            band_words(figure.expected, figure.limit, speaker, low=low, high=high, by_sheet=figure.by_sheet)
        )
    if figure.limit is not None and figure.limit.value is not None:
        beside.append(_limit(figure.limit, speaker))
    return speaker.text(f"figure.{figure.key}"), speaker.amount(amount), "; ".join(filter(None, beside))


def _limit(row: Limit, speaker: Speaker) -> str:
    """A limit as its row gives it, with where it comes from."""
    return speaker.text("cli.limit", limit=limit_words(row, speaker), source=_source(row))


def _source(row: Limit) -> str:
    known = SOURCES.get(row.source)
    return row.source if known is None else ", ".join(filter(None, (known.title, known.place)))


def _noted(case: Case, assessment: Assessment, speaker: Speaker) -> Iterator[str]:
    rows = noted(case, assessment)
    if rows:
        yield speaker.text("cli.noted")
    for row in rows:
        for stage, reading in ((Stage.AS_FOUND, row.found), (Stage.AS_LEFT, row.left)):
            if reading is not None:
                said = speaker.text(
                    "cli.noted_row",
                    what=f"@reading.{row.key}",
                    stage=f"@stage.{stage}",
                    reading=speaker.reading(reading),
                )
                yield from _wrapped(said)


def _gates(assessment: Assessment, speaker: Speaker) -> Iterator[str]:
    for judgement in (Judgement.STOP, Judgement.OUTSIDE, Judgement.NOT_PROVEN):
        said = [gate for gate in assessment.verdict.gates if gate.judgement is judgement]
        if not said:
            continue
        yield speaker.text("cli.gates", judgement=f"@judgement.{judgement}")
        for gate in said:
            named = f"{gate_name(gate.gate, speaker)}. " if judgement is Judgement.NOT_PROVEN else ""
            yield from _wrapped(named + speaker.say(gate.said))
            if judgement is not Judgement.NOT_PROVEN:
                for row in gate.limits:
                    yield from _wrapped(_limit(row, speaker), indent=_INDENT * 2)


def _helps_most(assessment: Assessment, speaker: Speaker) -> Iterator[str]:
    key = assessment.most_useful
    if key is not None:
        yield speaker.text("cli.most_useful", reading=f"@reading.{key}")
        yield from _wrapped(speaker.text(f"reading_how.{key}"))
    elif assessment.instruments_wanted and assessment.verdict.verdict is not Verdict.STOP:
        what = tuple(message("list.item", what=f"@class.{each}") for each in assessment.instruments_wanted)
        yield from _wrapped(speaker.text("judging.instruments_wanted", what=what), indent="")


def _cautions(assessment: Assessment) -> list[Message]:
    """Of the one reading that is asked for."""
    asked = [area for area in assessment.areas if area.most_useful == assessment.most_useful]
    return _once(caution for area in asked for caution in area.cautions)


def _next(assessment: Assessment) -> list[Message]:
    """Whether it may run until then, and what to do; which reading to take is told above, once."""
    until_then = message(f"until_then.{assessment.verdict.verdict}")
    steps = (step for area in assessment.areas for step in area.next_steps)
    return _once((until_then, *(step for step in steps if step.key != "judging.read_next")))


def _foot(case: Case, assessment: Assessment, speaker: Speaker) -> Iterator[str]:
    if case.shop.invented:
        yield speaker.text("cli.invented")
    yield from _wrapped(
        speaker.text(
            "cli.judged",
            version=assessment.limits_version,
            inputs=assessment.inputs_sha256[:12],
            shelf=assessment.shelf_sha256[:12],
        ),
        indent="",
    )


def _once(said: Iterable[Message]) -> list[Message]:
    found: list[Message] = []
    for each in said:
        if each not in found:
            found.append(each)
    return found


def _wrapped(text: str, *, indent: str = _INDENT) -> list[str]:
    return textwrap.wrap(text, _width(), initial_indent=indent, subsequent_indent=indent)


def _width() -> int:
    return max(40, min(_WIDEST, shutil.get_terminal_size().columns))
