"""The report keeps what PDF/A-3a and PDF/UA-1 ask, and each check sees the fault that is planted for it."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pikepdf
import pytest
import samples
from archive_facts import FACTS, MEMORY, PROFILE, wrong

from lightoff.report import owner_report
from lightoff.shelf import open_shelf
from lightoff.texts import Speaker
from lightoff.work.assess_case import assess_case
from lightoff.work.visit_file import read_visit_file

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.toml"))
SAMPLES = samples.samples()
SHELF = open_shelf()
NOW = datetime(2025, 3, 12, 16, tzinfo=UTC)


@cache
def example(path: Path, paper: str, units: str) -> bytes:
    data = path.read_bytes()
    case = read_visit_file(data, path.name, SHELF)
    found = assess_case(case, SHELF, NOW)
    speaker = Speaker(units=units)
    return owner_report(case, found, shelf=SHELF, speaker=speaker, photos={}, paper=paper, attachment=data)


@cache
def sample(name: str) -> bytes:
    case, found = SAMPLES[name]
    pictures = {f"{number}": picture() for number in range(3)}
    return owner_report(
        case, found, shelf=samples.shelf(), speaker=Speaker(), photos=pictures, attachment=b'visit = "1"\n'
    )


def picture() -> bytes:
    from PIL import Image

    written = io.BytesIO()
    Image.new("RGB", (60, 40), "#857A6B").save(written, "JPEG")
    return written.getvalue()


@pytest.mark.parametrize("name", FACTS)
@pytest.mark.parametrize(("paper", "units"), [("a4", "metric"), ("letter", "us")])
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_keeps_it(path: Path, paper: str, units: str, name: str) -> None:
    assert wrong(example(path, paper, units), name) == []


@pytest.mark.parametrize("name", FACTS)
@pytest.mark.parametrize("kind", SAMPLES)
def test_every_kind_of_report_keeps_it(kind: str, name: str) -> None:
    assert wrong(sample(kind), name) == []


def test_each_fact_says_where_it_is_from() -> None:
    for each in FACTS.values():
        assert each.clause.startswith(("ISO 19005-3, ", "ISO 14289-1, "))
        assert each.seen in (PROFILE, MEMORY)


# --- planted: each check must see its fault --------------------------------------------------------

Plant = Callable[[pikepdf.Pdf], None]


def without(*path: str) -> Plant:
    """Takes one entry out of the catalogue, or out of a dictionary in it."""

    def plant(pdf: pikepdf.Pdf) -> None:
        held: Any = pdf.Root
        for step in path[:-1]:
            held = held[step]
        del held[path[-1]]

    return plant


def with_entry(key: str, value: Any) -> Plant:
    def plant(pdf: pikepdf.Pdf) -> None:
        pdf.Root[key] = value

    return plant


def claims(key: str, value: str) -> Plant:
    def plant(pdf: pikepdf.Pdf) -> None:
        with pdf.open_metadata(set_pikepdf_as_editor=False) as metadata:
            metadata[key] = value

    return plant


def first(kind: str, change: Callable[[Any], None]) -> Plant:
    """Changes the first dictionary of this /Type or /Subtype or /S."""

    def plant(pdf: pikepdf.Pdf) -> None:
        for each in pdf.objects:
            if isinstance(each, (pikepdf.Dictionary, pikepdf.Stream)) and kind in (
                str(each.get("/Type")),
                str(each.get("/Subtype")),
                str(each.get("/S")),
            ):
                change(each)
                return
        raise AssertionError(f"no {kind} to spoil")

    return plant


def drop(*keys: str) -> Callable[[Any], None]:
    def change(held: Any) -> None:
        for key in keys:
            if key in held:
                del held[key]

    return change


def put(key: str, value: Any) -> Callable[[Any], None]:
    return lambda held: held.__setitem__(key, value)


def paints_untagged(pdf: pikepdf.Pdf) -> None:
    page = pdf.pages[0]
    page.contents_add(b"0 0 9 9 re f", prepend=False)


def shows_what_is_missing(pdf: pikepdf.Pdf) -> None:
    page = pdf.pages[0]
    font = next(iter(page.Resources.Font.keys()))
    page.contents_add(f"/P <</MCID 999>> BDC BT {font} 9 Tf <0000> Tj ET EMC".encode())


def forgets_a_letter(pdf: pikepdf.Pdf) -> None:
    for each in pdf.objects:
        if isinstance(each, pikepdf.Dictionary) and each.get("/Subtype") == "/Type0":
            del each["/ToUnicode"]
            return


def on_page(key: str, value: Any) -> Plant:
    def plant(pdf: pikepdf.Pdf) -> None:
        pdf.pages[0][key] = value

    return plant


Name, Array, Dictionary = pikepdf.Name, pikepdf.Array, pikepdf.Dictionary
PLANTS: dict[str, list[Plant]] = {
    "streams": [first("/FontDescriptor", lambda held: held.FontFile2.__setitem__("/F", pikepdf.String("x")))],
    "sizes": [with_entry("/Long", pikepdf.String("x" * 40_000)), on_page("/MediaBox", Array([0, 0, 1, 1]))],
    "output_intent": [without("/OutputIntents"), first("/GTS_PDFA1", drop("/DestOutputProfile"))],
    "pictures": [first("/Image", put("/Interpolate", True)), first("/Image", put("/OPI", Dictionary()))],
    "typefaces_lie_inside": [first("/FontDescriptor", drop("/FontFile", "/FontFile2", "/FontFile3"))],
    "glyphs_by_number": [first("/CIDFontType2", drop("/CIDToGIDMap"))],
    "letters_have_a_meaning": [forgets_a_letter],
    "no_missing_glyph": [shows_what_is_missing],
    "no_annotations": [on_page("/Annots", Array([])), with_entry("/AcroForm", Dictionary())],
    "no_actions": [
        with_entry("/OpenAction", Dictionary(S=Name.JavaScript, JS=pikepdf.String("app.alert(1)"))),
        on_page("/AA", Dictionary()),
    ],
    "no_second_face": [with_entry("/OCProperties", Dictionary()), on_page("/PresSteps", Dictionary())],
    "described": [without("/Metadata"), claims("dc:title", " ")],
    "claims_pdf_a_3a": [claims("pdfaid:conformance", "B"), claims("pdfaid:part", "2")],
    "claims_pdf_ua_1": [claims("pdfuaid:part", "2")],
    "title_is_shown": [without("/ViewerPreferences")],
    "language": [without("/Lang"), with_entry("/Lang", pikepdf.String("english language"))],
    "marked": [without("/MarkInfo"), with_entry("/MarkInfo", Dictionary(Marked=True, Suspects=True))],
    "structure": [without("/StructTreeRoot"), first("/H1", put("/S", Name.Heading))],
    "all_is_tagged_or_ornament": [paints_untagged],
    "tables_and_lists": [first("/TR", put("/S", Name.P)), first("/TD", put("/S", Name.P))],
    "figures_have_words": [first("/Figure", drop("/Alt", "/ActualText"))],
    "headings_skip_no_level": [first("/H1", put("/S", Name.H3))],
    "tables_have_headers": [first("/TH", drop("/A"))],
    "tab_order": [on_page("/Tabs", Name.R)],
    "attachments": [
        without("/AF"),
        first("/Filespec", drop("/AFRelationship")),
        first("/Filespec", drop("/UF")),
        first("/Filespec", lambda held: held.EF.F.__delitem__("/Subtype")),
    ],
}
BYTES: dict[str, list[Callable[[bytes], bytes]]] = {
    "header": [lambda data: data.replace(b"%PDF-1.7", b"%PDF-1.9", 1), lambda data: b" " + data],
    "trailer": [lambda data: data + b"more"],
}


def spoiled(plant: Plant) -> bytes:
    with pikepdf.open(io.BytesIO(sample("long"))) as pdf:
        plant(pdf)
        written = io.BytesIO()
        pdf.save(written)
        return written.getvalue()


def test_every_fact_has_its_planted_fault() -> None:
    assert set(PLANTS) | set(BYTES) == set(FACTS)


@pytest.mark.parametrize(
    ("name", "index"), [(name, index) for name, plants in PLANTS.items() for index in range(len(plants))]
)
def test_a_planted_fault_is_seen(name: str, index: int) -> None:
    assert wrong(spoiled(lambda _: None), name) == []
    assert wrong(spoiled(PLANTS[name][index]), name)


@pytest.mark.parametrize(
    ("name", "index"), [(name, index) for name, plants in BYTES.items() for index in range(len(plants))]
)
def test_a_planted_fault_in_the_bytes_is_seen(name: str, index: int) -> None:
    assert wrong(BYTES[name][index](sample("fit")), name)


def test_a_locked_report_is_seen() -> None:
    with pikepdf.open(io.BytesIO(sample("fit"))) as pdf:
        written = io.BytesIO()
        pdf.save(written, encryption=pikepdf.Encryption(owner="o", user=""))
    assert "encrypted" in wrong(written.getvalue(), "trailer")
