"""The owner's report: what its file claims, what its pages say, and what it refuses."""

from __future__ import annotations

import io
import subprocess
import sys
import unicodedata
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pikepdf
import pytest
import samples
from pdf_inside import words as letters_of
from PIL import Image

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.judging.assessment import Assessment, Verdict
from lightoff.report import content, owner_report
from lightoff.report.typesetting import typeset
from lightoff.terms.case import Case
from lightoff.terms.part import MoveKind
from lightoff.terms.people import Shop
from lightoff.terms.visit import Photo
from lightoff.texts import Speaker
from lightoff.work.parts_used import PartUsed

SAY = Speaker()
SAMPLES = samples.samples()
# From the hardest to the softest: a page may never carry the words of a softer one as its own.
HARD_TO_SOFT = (Verdict.STOP, Verdict.NOT_FIT, Verdict.NOT_PROVEN, Verdict.FIT)


def report(case: Case, assessment: Assessment, **more: Any) -> bytes:
    words: dict[str, Any] = {"shelf": samples.shelf(), "speaker": SAY, "photos": {}, **more}
    return owner_report(case, assessment, **words)


def opened(pdf: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(pdf))


def said(value: Any) -> str:
    """All words of a report's content in one text; pictures are left out."""
    if isinstance(value, str):
        return "" if value.startswith("<svg") else value
    if isinstance(value, dict):
        return "\n".join(said(each) for each in value.values())
    if isinstance(value, (list, tuple)):
        joint = "" if value and all(_is_piece(each) for each in value) else "\n"
        return joint.join(each[1] if joint == "" else said(each) for each in value)
    return ""


def _is_piece(value: Any) -> bool:
    return isinstance(value, list) and len(value) == 2 and value[0] in ("text", "number", "unit", "state")


def words(case: Case, assessment: Assessment, **more: Any) -> str:
    whole = content.content(
        case, assessment, shelf=samples.shelf(), speaker=SAY, photos=more.get("photos", {})
    )  # type: ignore[arg-type]
    return said(whole).replace("\u00a0", " ")


def structure(pdf: pikepdf.Pdf) -> list[str]:
    """Every structure type in the order of reading."""
    found: list[str] = []

    def walk(node: Any) -> None:
        if isinstance(node, pikepdf.Array):
            for each in node:
                walk(each)
        elif isinstance(node, pikepdf.Dictionary):
            if "/S" in node:
                found.append(str(node.S))
            if "/K" in node:
                walk(node.K)

    walk(pdf.Root.StructTreeRoot)
    return found


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_kind_of_visit_prints_as_archival_and_accessible(name: str, paper: str) -> None:
    pdf = opened(report(*SAMPLES[name], paper=paper))
    with pdf.open_metadata() as claims:
        assert claims["pdfaid:part"] == "3"
        assert claims["pdfaid:conformance"] == "A"
        assert claims["pdfuaid:part"] == "1"
        assert claims["dc:title"].startswith(pdf.docinfo["/Title"].__str__()[:8])
    assert str(pdf.Root.Lang) == "en"
    assert pdf.Root.MarkInfo.Marked
    assert pdf.Root.ViewerPreferences.DisplayDocTitle
    assert "/OutputIntents" in pdf.Root
    wide, tall = (float(edge) for edge in pdf.pages[0].MediaBox[2:])
    assert (round(wide), round(tall)) == ((595, 842) if paper == "a4" else (612, 792))


def test_headings_figures_and_tables_are_tagged_in_order() -> None:
    tags = structure(opened(report(*SAMPLES["fit"])))
    assert tags.count("/Figure") >= 7
    assert tags.index("/Title") < tags.index("/H1") < tags.index("/Table")
    assert "/TH" in tags
    assert "/TD" in tags


def test_every_figure_has_words_for_those_who_cannot_see_it() -> None:
    pdf = opened(report(*SAMPLES["fit"]))
    figures: list[Any] = []

    def walk(node: Any) -> None:
        if isinstance(node, pikepdf.Array):
            for each in node:
                walk(each)
        elif isinstance(node, pikepdf.Dictionary):
            if node.get("/S") == "/Figure":
                figures.append(node)
            if "/K" in node:
                walk(node.K)

    walk(pdf.Root.StructTreeRoot)
    assert figures
    assert all(len(str(figure.Alt)) > 10 for figure in figures)


def test_every_font_lies_inside_the_file() -> None:
    pdf = opened(report(*SAMPLES["long"]))
    names = set()
    for each in pdf.objects:
        if isinstance(each, pikepdf.Dictionary) and each.get("/Type") == "/FontDescriptor":
            names.add(str(each.FontName).split("+")[-1])
            assert any(key in each for key in ("/FontFile", "/FontFile2", "/FontFile3"))
    assert {name.split("-")[0] for name in names} <= {"AtkinsonHyperlegibleNext", "LightoffSigns", "NotoSans"}
    assert len(names) >= 3


FOREIGN = {"Arabic": "نورس", "Hebrew": "שחף", "Greek": "Γλάρος", "Cyrillic": "Чайка", "signs": "⚓🔥🚐"}


@pytest.mark.parametrize("script", FOREIGN)
def test_a_name_in_another_script_prints_whole(script: str) -> None:
    case, assessment = SAMPLES["fit"]
    name = FOREIGN[script]
    case = replace(case, vehicle=replace(case.vehicle, name=name), shop=replace(case.shop, name=name))
    told = content.content(case, assessment, shelf=samples.shelf(), speaker=SAY, photos={})
    printed = letters_of(opened(typeset(told, paper="a4", language="en", made_at=assessment.judged_at)))
    assert "?" not in printed
    assert set(name) <= set(unicodedata.normalize("NFKC", printed))


def test_the_same_visit_gives_the_same_bytes() -> None:
    first = report(*SAMPLES["fit"])
    report(*SAMPLES["stop"])
    assert report(*SAMPLES["fit"]) == first


def test_another_process_gives_the_same_bytes(tmp_path: Any) -> None:
    script = (
        "import sys, hashlib; sys.path.insert(0, sys.argv[1]); import test_owner as t; "
        "print(hashlib.sha256(t.report(*t.SAMPLES['fit'])).hexdigest())"
    )
    here = str(Path(__file__).parent)
    run = [sys.executable, "-c", script, here]
    twice = {
        subprocess.run(run, capture_output=True, text=True, check=True, cwd=tmp_path).stdout for _ in range(2)
    }
    assert len(twice) == 1
    assert len(twice.pop().strip()) == 64


def test_the_date_is_that_of_the_judgement() -> None:
    pdf = opened(report(*SAMPLES["fit"]))
    assert "20261125154100" in str(pdf.docinfo["/CreationDate"])


@pytest.mark.parametrize("verdict", HARD_TO_SOFT)
@pytest.mark.parametrize("name", SAMPLES)
def test_words_are_never_softer_than_the_verdict(verdict: Verdict, name: str) -> None:
    """Guard 20: whatever else the judgement holds, only this verdict speaks, and no softer one."""
    case, assessment = SAMPLES[name]
    # Even a running paragraph that still says "fit" must not reach the page.
    kind = replace(assessment, verdict=replace(assessment.verdict, verdict=verdict))
    kind = replace(kind, paragraph=(message("judging.closing_fit", state="@verdict.fit as tested"),))
    whole = content.content(case, kind, shelf=samples.shelf(), speaker=SAY, photos={})  # type: ignore[arg-type]
    assert whole["verdict"]["state"] == SAY.text(f"verdict.{verdict}")
    assert whole["verdict"]["said"] == SAY.text(f"verdict_owner.{verdict}")
    everything = said(whole)
    for softer in HARD_TO_SOFT[HARD_TO_SOFT.index(verdict) + 1 :]:
        assert SAY.text(f"verdict_owner.{softer}") not in everything
        assert SAY.text(f"verdict_said.{softer}") not in everything
        if softer is Verdict.FIT:
            assert "fit as tested" not in everything.lower()
    for mild in ("safe", "all clear", "no danger", "passed"):
        assert mild not in everything.lower().split()


def test_the_verdict_stands_on_the_first_page() -> None:
    for name, (case, assessment) in SAMPLES.items():
        pdf = opened(report(case, assessment))
        state = SAY.text(f"verdict.{assessment.verdict.verdict}")
        assert str(pdf.docinfo["/Title"]).endswith(state), name
        assert _first_heading_page(pdf) == 0, name


def _first_heading_page(pdf: pikepdf.Pdf) -> int:
    """The page on which the first heading stands: the verdict's."""
    pages = [page.objgen for page in pdf.pages]

    def walk(node: Any, page: int | None) -> int | None:
        if isinstance(node, pikepdf.Array):
            for each in node:
                found = walk(each, page)
                if found is not None:
                    return found
        elif isinstance(node, pikepdf.Dictionary):
            if "/Pg" in node:
                page = pages.index(node.Pg.objgen)
            if node.get("/S") == "/H1":
                return page if page is not None else walk(node.K, page)
            if "/K" in node:
                return walk(node.K, page)
        return None

    found = walk(pdf.Root.StructTreeRoot, None)
    assert found is not None
    return found


def test_a_stop_names_what_not_to_do_and_every_step() -> None:
    case, assessment = SAMPLES["stop"]
    text = words(case, assessment)
    assert "Leave the vehicle" in text
    assert SAY.text("judging.stop_leave_the_vehicle") in text
    assert "Carbon monoxide above outdoors is 41 ppm" in text
    assert "it stays" not in text
    assert "the heater stays off and isolated" in text


def test_a_service_without_a_probe_says_three_things_apart() -> None:
    text = words(*SAMPLES["no probe"])
    for each in ("Service complete.", "Combustion gas was not measured.", "Not proven"):
        assert each in text


def test_each_open_gate_is_told_with_the_way_to_prove_it() -> None:
    case, assessment = SAMPLES["no probe"]
    rows = content.content(case, assessment, shelf=samples.shelf(), speaker=SAY, photos={})["proof"]["open"][
        "rows"
    ]  # type: ignore[arg-type]
    assert len(rows) == len(samples.ALL_OPEN)
    assert rows[0][2] == SAY.text("reading_how.flue_o2")
    assert sum(row[2] == rows[0][2] for row in rows) == 1


@pytest.mark.parametrize("said", ["no_flame_time", "flame_out_before"])
def test_a_gate_that_no_reading_closes_says_what_does(said: str) -> None:
    case, assessment = SAMPLES["no probe"]
    gate = replace(assessment.verdict.gates[0], said=message(f"judging.{said}"), missing=("flue_o2",))
    assessment = replace(assessment, verdict=replace(assessment.verdict, gates=(gate,)))
    proof = content.content(case, assessment, shelf=samples.shelf(), speaker=SAY, photos={})["proof"]
    how = proof["open"]["rows"][0][2]  # type: ignore[index]
    assert how == SAY.text(f"proving.{said}")
    assert how != SAY.text("reading_how.flue_o2")


def test_limits_are_told_once_with_source() -> None:
    limits = content.content(*SAMPLES["fit"], shelf=samples.shelf(), speaker=SAY, photos={})["proof"][
        "limits"
    ]  # type: ignore[arg-type]
    sources = dict(limits["groups"])
    practice = sources["From: common practice, no source."]
    assert ["Carbon monoxide in the exhaust", "at most 200\u00a0ppm", "not fit"] in practice
    assert ["Exhaust path", "sound and clear", "not fit"] in practice
    assert "From: a health authority, edition, table." in sources
    names = [row[0] + row[1] for group in sources.values() for row in group]
    assert len(names) == len(set(names))


def test_instruments_tell_accuracy_and_calibration() -> None:
    rows = content.content(*SAMPLES["fit"], shelf=samples.shelf(), speaker=SAY, photos={})["proof"][
        "instruments"
    ]["rows"]  # type: ignore[arg-type]
    probe = next(row for row in rows if row[0].startswith("Flue probe"))
    assert probe[0] == "Flue probe, number 331"
    assert "± 10\u00a0ppm or 5 %, the larger" in probe[1]
    assert probe[2] == "2 March 2026"
    assert [row[2] for row in rows if row[0] == "Smoke pump"] == ["needs none"]
    assert [row[2] for row in rows if row[0] == "Cabin CO meter"] == ["date not known"]


@pytest.mark.parametrize(
    ("calibrated_on", "earlier", "told"),
    [
        (date(2027, 2, 1), (date(2025, 2, 1), date(2026, 2, 1)), "1 February 2026"),
        (date(2027, 2, 1), (), "date not known"),  # calibrated since, and nobody knows whether before
    ],
)
def test_a_visit_tells_the_calibration_that_was_valid_on_its_day(
    calibrated_on: date, earlier: tuple[date, ...], told: str
) -> None:
    case, assessment = SAMPLES["fit"]
    probe = replace(case.instruments["probe"], calibrated_on=calibrated_on, earlier_calibrations=earlier)
    case = replace(case, instruments={**case.instruments, "probe": probe})
    made = content.content(case, assessment, shelf=samples.shelf(), speaker=SAY, photos={})
    rows = made["proof"]["instruments"]["rows"]
    assert next(row for row in rows if row[0].startswith("Flue probe"))[2] == told


def test_invented_data_is_marked_and_real_data_is_not() -> None:
    case, assessment = SAMPLES["fit"]
    real = replace(case, shop=Shop(name="Tern Lane Heat"))
    assert (
        content.content(case, assessment, shelf=samples.shelf(), speaker=SAY, photos={})["invented"]
        == "invented data"
    )  # type: ignore[arg-type]
    assert (
        content.content(real, assessment, shelf=samples.shelf(), speaker=SAY, photos={})["invented"] is None
    )  # type: ignore[arg-type]


def test_a_note_prints_beside_an_unchanged_verdict() -> None:
    case, assessment = SAMPLES["not fit"]
    noted = samples.case(visit_note="I say it is fit")
    fresh = replace(assessment, inputs_sha256=samples.judged(noted, Verdict.NOT_FIT, ()).inputs_sha256)
    text = words(noted, fresh)
    assert "does not change the verdict: I say it is fit." in text
    assert SAY.text("verdict_owner.not fit") in text
    assert case.visit.note != noted.visit.note


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"inputs_sha256": "0" * 64}, "report_refused.changed"),
        ({"visit": "another"}, "report_refused.other_visit"),
        ({"heater": "another"}, "report_refused.other_visit"),
    ],
)
def test_a_judgement_of_something_else_is_refused(change: dict[str, str], sentence: str) -> None:
    case, assessment = SAMPLES["fit"]
    with pytest.raises(Refusal) as refused:
        report(case, replace(assessment, **change))  # type: ignore[arg-type]
    assert SAY.say(refused.value.message) == SAY.text(sentence)


def test_a_reading_changed_after_judging_is_refused() -> None:
    case, assessment = SAMPLES["fit"]
    corrected = replace(case, visit=replace(case.visit, readings=case.visit.readings[1:]))
    with pytest.raises(Refusal, match="changed"):
        report(corrected, assessment)


def test_an_unknown_paper_is_refused_with_what_is_possible() -> None:
    with pytest.raises(Refusal) as refused:
        report(*SAMPLES["fit"], paper="a3")
    assert SAY.say(refused.value.message).endswith("Choose one of: a4, letter.")


def test_the_visit_file_lies_inside() -> None:
    for inside, name in ((b'visit = "1"\n', "visit.toml"), (b'{"visit": "1"}', "visit.json")):
        pdf = opened(report(*SAMPLES["fit"], attachment=inside))
        assert pdf.attachments[name].get_file().read_bytes() == inside
        assert str(pdf.Root.AF[0].AFRelationship) == "/Source"


def picture(width: int = 60, height: int = 40, kind: str = "JPEG", **more: Any) -> bytes:
    written = io.BytesIO()
    Image.new("RGB", (width, height), "#857A6B").save(written, kind, **more)
    return written.getvalue()


def with_photos(*names: str) -> tuple[Case, Assessment]:
    photos = tuple(
        Photo(
            id=name,
            heater="h",
            taken_at=samples.START,
            sha256=name,
            media_type="image/jpeg",
            caption=f"photo {name}",
        )
        for name in names
    )
    case = samples.case(visit_photos=photos)
    return case, samples.judged(case, Verdict.FIT, samples.GOOD_GATES)


def test_photos_print_and_a_broken_one_is_told() -> None:
    case, assessment = with_photos("good", "broken", "away")
    photos = {"good": picture(), "broken": picture()[:200]}
    told = content.content(case, assessment, shelf=samples.shelf(), speaker=SAY, photos=photos)["photos"]  # type: ignore[arg-type]
    assert [each["caption"] for each in told["shown"]] == ["photo good"]
    assert told["notes"] == ["2 of the visit's photos could not be printed."]
    assert report(case, assessment, photos=photos).startswith(b"%PDF")


def test_a_photos_whereabouts_do_not_leave_the_shop() -> None:
    case, assessment = with_photos("placed")
    marks = Image.Exif()
    marks[0x010F] = "SecretCamera"
    data = picture(exif=marks.tobytes())
    assert b"SecretCamera" in data
    assert b"SecretCamera" not in report(case, assessment, photos={"placed": data})


def test_a_photo_is_turned_as_its_camera_meant() -> None:
    case, assessment = with_photos("lying")
    marks = Image.Exif()
    marks[0x0112] = 6  # turn a quarter to the right
    told = content.content(
        case,
        assessment,
        shelf=samples.shelf(),
        speaker=SAY,
        photos={"lying": picture(exif=marks.tobytes())},  # type: ignore[arg-type]
    )["photos"]["shown"]
    assert told[0]["ratio"] == pytest.approx(1.5)


def test_letters_without_a_glyph_print_as_a_question_mark_and_are_told() -> None:
    from lightoff.report.letters import printable, unprintable

    assert printable("Åse Ελλάδα Жук λ O₂") == ("Åse Ελλάδα Жук λ O₂", 0)
    assert printable("日本\x00\u202e") == ("??", 2)
    assert printable("نورس שחף ⚓\ufe0f می\u200cروم") == ("نورس שחף ⚓ می\u200cروم", 0)
    assert unprintable("Åse 日本", "本 نورس") == "日本"
    assert printable({"a": ["日", 1, None], "b": "e\u0301"}) == ({"a": ["?", 1, None], "b": "é"}, 1)


def test_a_kept_spare_is_told_with_the_life_it_has_used() -> None:
    kept = PartUsed(move=MoveKind.KEPT, kind="igniter", used=927.0, clock="starts")
    unknown = PartUsed(move=MoveKind.KEPT, kind="igniter")
    assert content.part_words([kept], SAY)[0][2] == "old one kept as a spare aboard, 927 starts used"
    assert content.part_words([unknown], SAY)[0][2] == "old one kept as a spare aboard"
