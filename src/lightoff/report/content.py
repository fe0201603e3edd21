"""What stands on the pages, as plain JSON: every word said, every picture drawn, nothing judged anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from lightoff import drawing
from lightoff.drawing import PAPER
from lightoff.ground.message import Amount, Message, message
from lightoff.judging.assessment import Area, Assessment, Judgement, Verdict
from lightoff.judging.steps_told import steps_named, steps_told
from lightoff.report import measured, proof
from lightoff.report.photos import framed
from lightoff.report.trouble import trouble
from lightoff.terms.case import Case
from lightoff.terms.people import VehicleKind
from lightoff.terms.visit import Photo, Reading, Stage
from lightoff.texts import Speaker
from lightoff.work.parts_used import PartUsed, total
from lightoff.work.photo_pairs import PhotoPair, photo_pairs, steps_by_key

if TYPE_CHECKING:
    from lightoff.shelf import Shelf
    from lightoff.work.find_fault import LookedFor

Json = dict[str, Any]

GLYPHS = {
    Verdict.FIT: "disc",
    Verdict.NOT_FIT: "triangle",
    Verdict.NOT_PROVEN: "square",
    Verdict.STOP: "octagon",
}
TRIANGLE_PX = 400.0
MOST_REASONS = 4
MOST_PHOTOS = 6
MOST_SENTENCES = 6


def content(
    case: Case,
    assessment: Assessment,
    *,
    shelf: Shelf,
    speaker: Speaker,
    photos: Mapping[str, bytes],
    found: LookedFor | None = None,
    parts: Sequence[PartUsed] = (),
    due: Sequence[Message] = (),
    unanswered: Sequence[str] = (),
) -> Json:
    """The whole report for the template `owner.typ`; `found` where somebody looked for a fault.

    `parts` are what became of parts, by name, `due` what comes next, where a book that knows is at hand;
    `unanswered` are steps that nobody may leave out and nobody answered.
    """
    return {
        **_masthead(case, assessment, speaker),
        "verdict": _verdict(assessment, speaker),
        "work": _work(case, assessment, speaker, parts, unanswered),
        "measured": measured.measured(case, assessment, speaker, besides=found.told if found else ()),
        "heat": measured.heat(assessment, speaker),
        "next": _next(case, assessment, speaker, due),
        "burn": _burn(assessment, speaker),
        "trouble": trouble(found, speaker),
        "proof": proof.proof(case, assessment, shelf=shelf, speaker=speaker),
        "photos": _photos(case, speaker, photos, shelf),
        "owner": _owner(case, speaker),
        "statement": _statement(case, assessment, speaker),
        "says": _says(speaker),
    }


def runs(said: Message, speaker: Speaker) -> list[list[str]]:
    """A sentence in pieces, so that the page can set its numbers bold."""
    return [[part.kind, part.text] for part in speaker.parts(said)]


def _masthead(case: Case, assessment: Assessment, speaker: Speaker) -> Json:
    visit, shop = case.visit, case.shop
    technician = visit.technician or shop.technician
    parts = [speaker.text("report.for_owner", owner=case.owner.name)] if case.owner.name else []
    parts.append(speaker.text("report.visit_of", day=speaker.date_of(visit.started_at)))
    parts += [visit.place.name] if visit.place.name else []
    if visit.place.altitude_m is not None:
        parts.append(speaker.amount(Amount(value=visit.place.altitude_m, dimension="length")))
    reach = " · ".join(filter(None, (shop.address.replace("\n", ", "), shop.telephone, shop.email)))
    names = {"vehicle": case.vehicle.name, "heater": case.heater.name}
    return {
        "title": speaker.text("report.title", **names),
        "subtitle": ", ".join(parts),
        "shop": shop.name,
        "technician": technician,
        "reach": reach,
        # Of the day on which the visit ended: one that is printed again was not signed anew.
        "signed": ", ".join(
            filter(
                None,
                (
                    technician,
                    speaker.text("report.technician"),
                    speaker.day(visit.closed_at or assessment.judged_at),
                ),
            )
        ),
        "invented": speaker.text("report.invented") if shop.invented else None,
        "seal": [
            speaker.text(
                "report.judged",
                day=speaker.day(assessment.judged_at),
                at=assessment.judged_at,
                print=_short(assessment.inputs_sha256),
            ),
            speaker.text("report.limits_table", version=assessment.limits_version),
        ],
    }


def _short(sha256: str) -> str:
    return f"{sha256[:4]} {sha256[4:8]}"


def _verdict(assessment: Assessment, speaker: Speaker) -> Json:
    """Its words come from the verdict alone; the reasons follow."""
    verdict = assessment.verdict
    stopped = verdict.verdict is Verdict.STOP
    return {
        "glyph": GLYPHS[verdict.verdict],
        "stop": stopped,
        "state": speaker.text(f"verdict.{verdict.verdict}"),
        "said": speaker.text(f"verdict_owner.{verdict.verdict}"),
        "stops": [speaker.text(f"stops.{stop}") for stop in verdict.stops],
        "reasons": [runs(said, speaker) for said in _reasons(assessment)],
        "steps": [speaker.text(f"judging.stop_{stop.replace(' ', '_')}") for stop in verdict.stops],
    }


def _reasons(assessment: Assessment) -> list[Message]:
    """Why: what was crossed; or how much is open and which reading would help most."""
    gates = assessment.verdict.gates
    bad = [gate.said for gate in gates if gate.judgement in (Judgement.STOP, Judgement.OUTSIDE)]
    said = _once(bad)[:MOST_REASONS]
    still_open = sum(gate.judgement is Judgement.NOT_PROVEN for gate in gates)
    if still_open and assessment.verdict.verdict is not Verdict.STOP:
        one = "_one" if still_open == 1 else ""
        if assessment.most_useful and not bad:
            what = f"@reading.{assessment.most_useful}"
            said.append(message(f"report.open{one}_and_best", count=still_open, what=what))
        else:
            said.append(message(f"report.open{one}", count=still_open))
    return said


def _once(said: Iterable[Message]) -> list[Message]:
    """Each sentence once, in order."""
    kept: list[Message] = []
    for each in said:
        if each not in kept:
            kept.append(each)
    return kept


def _work(
    case: Case,
    assessment: Assessment,
    speaker: Speaker,
    parts: Sequence[PartUsed],
    unanswered: Sequence[str],
) -> Json:
    visit = case.visit
    paragraphs = []
    if visit.complaint:
        paragraphs.append(speaker.text("report.complaint", complaint=_sentence(visit.complaint)))
    said = " ".join(_sentence(each) for each in visit.work_done)
    paragraphs.append(" ".join(filter(None, (said, speaker.say(assessment.work_done)))))
    told = steps_told(case, unanswered=unanswered, names_behind=True)
    steps = " ".join(speaker.say(each) for each in told)
    return {
        "heading": speaker.text("report.work_done"),
        "paragraphs": [*paragraphs, *([steps] if steps else [])],
        "steps_heading": speaker.text("report.steps"),
        "steps": [speaker.say(each) for each in steps_named(case, unanswered=unanswered)],
        "parts_heading": speaker.text("report.parts"),
        "parts": _together(part_words(parts, speaker)),
        "parts_total": total_words(parts, speaker),
    }


def _together(rows: Sequence[Sequence[str]]) -> list[list[str]]:
    """Parts of which the same became stand in one row, where nothing is told of one alone."""
    found: dict[tuple[str, ...], list[str]] = {}
    for name, number, became, price in rows:
        alone = (name,) if number or price else ()
        found.setdefault((number, became, price, *alone), []).append(name)
    return [
        [", ".join((names[0], *(each[:1].lower() + each[1:] for each in names[1:]))), *told[:3]]
        for told, names in found.items()
    ]


def part_words(parts: Sequence[PartUsed], speaker: Speaker) -> list[list[str]]:
    """Parts as report and hand-over tell them, a row a kind: name, number, what became of it, price."""
    rows: dict[str, list[PartUsed]] = {}
    for each in parts:
        rows.setdefault(each.kind, []).append(each)
    return [_part_row(some, speaker) for some in rows.values()]


def _part_row(some: Sequence[PartUsed], speaker: Speaker) -> list[str]:
    kind, label = some[0].kind, some[0].label
    named = speaker.text(f"part.{kind}") if speaker.has(f"part.{kind}") else label or kind
    named = named or speaker.text("report.part_unknown")
    numbers = dict.fromkeys(word for each in some for word in (each.number, each.serial) if word)
    became = [": ".join(filter(None, (_became(each, speaker), each.why))) for each in some]
    prices = [each.price for each in some if each.price is not None]
    price = f"{sum(prices):.2f}" if prices else ""
    return [named[:1].upper() + named[1:], ", ".join(numbers), "; ".join(became), price]


def _became(part: PartUsed, speaker: Speaker) -> str:
    said = speaker.text(f"report.part_{part.move.name.lower()}")
    if part.used is None:
        return said
    clock = speaker.text(f"wear_clock.{part.clock}")
    return f"{said}, {speaker.text('report.part_used', used=f'{part.used:,.0f}', clock=clock)}"


def total_words(parts: Sequence[PartUsed], speaker: Speaker) -> list[str] | None:
    """What they cost together, where there are prices."""
    cost = total(parts)
    return None if cost is None else [speaker.text("report.parts_total"), f"{cost:.2f}"]


def _sentence(text: str) -> str:
    """What somebody typed, closed with a full stop where it has no end."""
    text = " ".join(text.split())
    return text if not text or text[-1] in ".!?…" else f"{text}."


def _next(case: Case, assessment: Assessment, speaker: Speaker, due: Sequence[Message]) -> Json:
    until_then = speaker.text(f"until_then.{assessment.verdict.verdict}")
    alarm = speaker.text("report.alarm", vehicle=f"@report.the_{VehicleKind(case.vehicle.kind)}")
    if assessment.verdict.verdict is Verdict.STOP:  # its steps stand in its own block
        said = [[["text", f"{until_then} {alarm}"]]]
        return {"heading": speaker.text("report.next"), "paragraphs": said}
    steps = []
    unfit = assessment.verdict.verdict is Verdict.NOT_FIT
    if assessment.most_useful:  # how to take it stands with what is not proven
        steps.append(message("report.still_to_read", what=f"@reading.{assessment.most_useful}"))
    elif assessment.instruments_wanted:
        what = tuple(message("list.item", what=f"@class.{each}") for each in assessment.instruments_wanted)
        steps.append(message("report.instruments_wanted", what=what))
    said = [runs(each, speaker) for each in (*steps, *_travel(assessment))]
    if unfit:
        said.insert(0, [["text", f"{until_then} {alarm}"]])
    else:
        said += [[["text", until_then]], [["text", f"{speaker.text('report.switch_off')} {alarm}"]]]
    if due:
        said.append([piece for each in due for piece in (*runs(each, speaker), ["text", " "])])
    return {"heading": speaker.text("report.next"), "paragraphs": said}


def _travel(assessment: Assessment) -> list[Message]:
    """Where the setting has too little air; that it has enough is told of a fit burn alone."""
    thin = [each for each in assessment.travel if each.key == "judging.travel_thin"]
    if not thin and assessment.verdict.verdict is not Verdict.FIT:
        return []
    told = (thin or list(assessment.travel))[:1]
    plain = {"judging.travel": "report.travel", "judging.travel_thin": "report.travel_thin"}
    return [Message(plain.get(each.key, each.key), each.values) for each in told]


def _burn(assessment: Assessment, speaker: Speaker) -> Json | None:
    burn = assessment.triangle
    if burn is None or not any(point.now for point in burn.points):
        return None
    # The burn's own sentences, and none that speaks of the verdict: that has its one place.
    area = next((each for each in assessment.areas if each.area is Area.BURN), None)
    sentences = area.sentences if area else ()
    agrees = [
        gate.said
        for gate in assessment.verdict.gates
        if gate.gate == "CO2 agrees" and gate.judgement is Judgement.WITHIN and gate.said not in sentences
    ]
    told = [*(_plain_burn(each, assessment) for each in sentences), *agrees]
    said = [runs(each, speaker) for each in told[:MOST_SENTENCES]]
    return {
        "heading": speaker.text("report.burn"),
        "how": speaker.text("report.triangle_how"),
        "said": said,
        "picture": drawing.triangle(burn, speaker, palette=PAPER, width=TRIANGLE_PX),
        "alt": drawing.triangle_words(burn, speaker),
    }


def _plain_burn(said: Message, assessment: Assessment) -> Message:
    """Lambda as an owner hears it: how much more air than the fuel needs."""
    found = (assessment.figure("excess_air", stage) for stage in (Stage.AS_LEFT, Stage.AS_FOUND))
    excess = next((each for each in found if each is not None), None)
    plain = {"judging.lambda_and_loss": "report.air_and_loss", "judging.lambda_alone": "report.air_alone"}
    if excess is None or said.key not in plain:
        return said
    half_width = excess.estimate.half_width
    amount = Amount(value=excess.estimate.value, dimension=excess.dimension, half_width=half_width)
    return message(plain[said.key], excess=amount, **said.values)


def _photos(case: Case, speaker: Speaker, photos: Mapping[str, bytes], shelf: Shelf) -> Json:
    """Pairs before and after first, side by side; then those that stand alone."""
    reads = {each.photo: each for each in case.visit.readings if each.photo}
    read: dict[str, tuple[str, float]] = {}
    for photo in case.visit.photos:
        picture = framed(photos[photo.sha256]) if photo.sha256 in photos else None
        if picture is not None:
            read[photo.id] = picture
    there = [each for each in case.visit.photos if each.id in read]
    pairs, alone = photo_pairs(there, steps_by_key(shelf.procedures.values()))

    def told(photo: Photo, caption: str) -> Json:
        if photo.cut_short:
            caption = f"{caption}; {speaker.text('report.photo_cut_short')}"
        return {"picture": read[photo.id][0], "ratio": read[photo.id][1], "caption": caption}

    def side(pair: PhotoPair, photo: Photo, word: str) -> Json:
        named = f"{_thing(pair, speaker)}: {speaker.text(f'report.{word}')}, {speaker.clock(photo.taken_at)}"
        return told(photo, photo.caption or named)

    shown: list[Json] = []
    for pair in pairs[: MOST_PHOTOS // 2]:
        shown += [side(pair, pair.before, "before"), side(pair, pair.after, "after")]
    rest = alone[: MOST_PHOTOS - len(shown)]
    shown += [told(each, each.caption or _caption(each, reads.get(each.id), speaker)) for each in rest]
    unread, more = len(case.visit.photos) - len(there), len(there) - len(shown)
    notes = [speaker.text("report.photos_unread", count=unread)] if unread else []
    notes += [speaker.text("report.photos_more", count=more)] if more > 0 else []
    return {
        "heading": speaker.text("report.photos"),
        "shown": shown,
        "columns": 4 if len(pairs) > 1 else 3,  # no pair is torn apart by the end of a row
        "notes": notes,
    }


def _thing(pair: PhotoPair, speaker: Speaker) -> str:
    if pair.step:
        return _step(pair.step, speaker)
    label = _label(pair.reading, speaker)
    return label[:1].upper() + label[1:]


def _step(key: str, speaker: Speaker) -> str:
    """The title of a step; its key where the step is no longer on the shelf."""
    return speaker.text(f"step.{key}.title") if speaker.has(f"step.{key}.title") else key


def _caption(photo: Photo, reading: Reading | None, speaker: Speaker) -> str:
    """What a photo shows: the reading whose instrument it was taken of, with what was read, and when."""
    stage = (reading.stage if reading else photo.stage) or ""
    if photo.step and photo.stage is not None:
        side = "before" if photo.stage is Stage.AS_FOUND else "after"
        named = f"{_step(photo.step, speaker)}, {speaker.text(f'report.{side}')}"
        return f"{named}, {speaker.clock(photo.taken_at)}"
    what = [_label(reading.key if reading else photo.reading_key, speaker), str(stage)]
    if reading is not None and reading.set_number is not None:
        what.append(speaker.text("report.set", number=reading.set_number))
    named = ", ".join(filter(None, what))
    told = ": ".join(filter(None, (named, speaker.reading(reading))))
    return ", ".join(filter(None, (told, speaker.clock(photo.taken_at))))


def _label(key: str | None, speaker: Speaker) -> str:
    return speaker.text(f"reading.{key}") if key else ""


def _owner(case: Case, speaker: Speaker) -> Json:
    """What an owner of any such heater should know, whatever the verdict."""
    keys = ("alarm_is_no_proof", "smoke", "failed_starts", "hot", "sleep")
    return {
        "heading": speaker.text("report.cautions"),
        "cautions": [speaker.text(f"report.caution_{key}") for key in keys],
        "defer": speaker.text("report.defer"),
    }


def _statement(case: Case, assessment: Assessment, speaker: Speaker) -> Json:
    visit = case.visit
    said = [speaker.text("report.statement", version=assessment.limits_version)]
    if visit.closed_at is None:
        said.append(speaker.text("report.not_closed"))
    prints = (
        ("report.print_inputs", assessment.inputs_sha256),
        ("report.print_shelf", assessment.shelf_sha256),
    )
    return {
        "heading": speaker.text("report.statement_heading"),
        "said": said,
        "note": speaker.text("report.note", note=_sentence(visit.note)) if visit.note else None,
        "prints": [[speaker.text(key), value] for key, value in prints],
    }


def _says(speaker: Speaker) -> dict[str, str]:
    """The template's own few words."""
    keys = ("page", "of", "found", "left", "letters_lost", "attachment", "more_figures", "noted")
    return {key: speaker.text(f"report.{key}") for key in keys}
