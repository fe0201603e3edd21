"""What ISO 19005-3 (PDF/A-3a) and ISO 14289-1 (PDF/UA-1) ask of a file, as far as a short program can look.

Neither standard was read. The clauses are second-hand, from the public rule profiles of the veraPDF
validator for PDF/A-3a and PDF/UA-1, which name the clause of each rule; those marked `from memory,
unverified` stand in no rule there. The validator itself is a Java program that no package index within our
reach holds, so it was not run.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pikepdf
from pdf_inside import Drawn, drawn, elements, unicode_of

PROFILE = "second-hand, a validator's rule profile"
MEMORY = "from memory, unverified"
LARGEST_STRING, LARGEST_NAME = 32767, 127
PAGE_EDGES = (3, 14_400)
STANDARD = frozenset(
    (
        *(
            "Document",
            "Part",
            "Art",
            "Sect",
            "Div",
            "BlockQuote",
            "Caption",
            "TOC",
            "TOCI",
            "Index",
            "NonStruct",
        ),
        *(
            "Private",
            "H",
            "H1",
            "H2",
            "H3",
            "H4",
            "H5",
            "H6",
            "P",
            "L",
            "LI",
            "Lbl",
            "LBody",
            "Table",
            "TR",
            "TH",
        ),
        *("TD", "THead", "TBody", "TFoot", "Span", "Quote", "Note", "Reference", "BibEntry", "Code", "Link"),
        *("Annot", "Ruby", "RB", "RT", "RP", "Warichu", "WT", "WP", "Figure", "Formula", "Form"),
    )
)
INSIDE = {
    "Table": {"TR", "THead", "TBody", "TFoot", "Caption"},
    "THead": {"TR"},
    "TBody": {"TR"},
    "TFoot": {"TR"},
    "TR": {"TH", "TD"},
    "L": {"L", "LI", "Caption"},
    "LI": {"Lbl", "LBody"},
}
OF_A_TABLE_OR_LIST = frozenset(("TR", "TH", "TD", "THead", "TBody", "TFoot", "LI", "Lbl", "LBody"))
FILTERS = frozenset(
    ("/FlateDecode", "/DCTDecode", "/ASCIIHexDecode", "/ASCII85Decode", "/RunLengthDecode", "/CCITTFaxDecode")
)


@dataclass(frozen=True)
class File:
    """One PDF: its bytes and what was parsed of them."""

    data: bytes
    pdf: pikepdf.Pdf

    @property
    def root(self) -> Any:
        """The catalogue."""
        return self.pdf.Root

    def dictionaries(self) -> Iterator[Any]:
        """Every dictionary and stream, direct ones inside others too."""
        for each in self.pdf.objects:
            yield from _within(each, 0)


def _within(value: Any, depth: int) -> Iterator[Any]:
    if depth > 12:
        return
    if isinstance(value, (pikepdf.Dictionary, pikepdf.Stream)):
        yield value
        inner = [value[key] for key in value.keys()]  # noqa: SIM118 - a stream is no mapping
    elif isinstance(value, pikepdf.Array):
        inner = list(value)
    else:
        return
    for each in inner:
        if isinstance(each, (pikepdf.Dictionary, pikepdf.Array)) and not each.is_indirect:
            yield from _within(each, depth + 1)


Check = Callable[[File], Iterator[str]]


@dataclass(frozen=True)
class Fact:
    """One thing a standard asks; `check` yields what is wrong."""

    clause: str
    seen: str
    check: Check


FACTS: dict[str, Fact] = {}


def fact(clause: str, seen: str = PROFILE) -> Callable[[Check], Check]:
    """Enters a check under its clause."""

    def enter(check: Check) -> Check:
        FACTS[check.__name__] = Fact(clause, seen, check)
        return check

    return enter


def wrong(data: bytes, name: str) -> list[str]:
    """What one fact finds wrong with these bytes."""
    import io

    return list(FACTS[name].check(File(data, pikepdf.open(io.BytesIO(data)))))


# --- the file ------------------------------------------------------------------------------------


@fact("ISO 19005-3, 6.1.2")
def header(file: File) -> Iterator[str]:
    if not re.match(rb"%PDF-1\.[0-7]\r?\n%[\x80-\xff]{4}", file.data):
        yield "no header of a version and four high bytes"


@fact("ISO 19005-3, 6.1.3; ISO 14289-1, 7.16")
def trailer(file: File) -> Iterator[str]:
    if "/ID" not in file.pdf.trailer:
        yield "no file identifier"
    if "/Encrypt" in file.pdf.trailer or file.pdf.is_encrypted:
        yield "encrypted"
    if (
        not file.data.rstrip(b"\r\n").endswith(b"%%EOF")
        or len(file.data) - len(file.data.rstrip(b"\r\n")) > 2
    ):
        yield "something follows the end of the file"


@fact("ISO 19005-3, 6.1.7")
def streams(file: File) -> Iterator[str]:
    for each in file.pdf.objects:
        if isinstance(each, pikepdf.Stream):
            used = each.get("/Filter", [])
            for name in [used] if isinstance(used, pikepdf.Name) else list(used):
                if str(name) not in FILTERS:
                    yield f"filter {name}"
            if any(key in each for key in ("/F", "/FFilter", "/FDecodeParms")):
                yield "a stream that lies outside the file"


@fact("ISO 19005-3, 6.1.13")
def sizes(file: File) -> Iterator[str]:
    for each in file.dictionaries():
        for key in each.keys():  # noqa: SIM118 - a stream is no mapping
            if len(key) - 1 > LARGEST_NAME:
                yield f"name of {len(key) - 1} bytes"
            if isinstance(each[key], pikepdf.String) and len(bytes(each[key])) > LARGEST_STRING:
                yield f"string of {len(bytes(each[key]))} bytes"
    for page in file.pdf.pages:
        left, bottom, right, top = (float(edge) for edge in page.MediaBox)
        if not all(PAGE_EDGES[0] <= edge <= PAGE_EDGES[1] for edge in (right - left, top - bottom)):
            yield "a page of impossible size"


@fact("ISO 19005-3, 6.2.3")
def output_intent(file: File) -> Iterator[str]:
    intents = [each for each in file.root.get("/OutputIntents", []) if each.get("/S") == "/GTS_PDFA1"]
    if len(intents) != 1 or "/DestOutputProfile" not in intents[0]:
        yield "not one output intent of PDF/A with its profile"
        return
    profile = intents[0].DestOutputProfile.read_bytes()
    if profile[12:16] not in (b"mntr", b"prtr") or profile[16:20] not in (b"RGB ", b"GRAY", b"CMYK"):
        yield "the profile is none of an output or a monitor"


@fact("ISO 19005-3, 6.2.8")
def pictures(file: File) -> Iterator[str]:
    for each in file.pdf.objects:
        if isinstance(each, pikepdf.Stream) and each.get("/Subtype") == "/Image":
            if any(key in each for key in ("/Alternates", "/OPI")):
                yield "a picture with a stand-in"
            if each.get("/Interpolate", False) is True:
                yield "a picture that is interpolated"


# --- letters -------------------------------------------------------------------------------------


@fact("ISO 19005-3, 6.2.11.4; ISO 14289-1, 7.21.4.1")
def typefaces_lie_inside(file: File) -> Iterator[str]:
    for each in file.dictionaries():
        if each.get("/Type") == "/FontDescriptor" and not any(
            key in each for key in ("/FontFile", "/FontFile2", "/FontFile3")
        ):
            yield f"{each.get('/FontName')} is not embedded"


@fact("ISO 19005-3, 6.2.11.3; ISO 14289-1, 7.21.3.2")
def glyphs_by_number(file: File) -> Iterator[str]:
    for each in file.dictionaries():
        if each.get("/Subtype") == "/CIDFontType2" and "/CIDToGIDMap" not in each:
            yield f"{each.get('/BaseFont')} has no CIDToGIDMap"


@fact("ISO 19005-3, 6.2.11.7; ISO 14289-1, 7.21.7")
def letters_have_a_meaning(file: File) -> Iterator[str]:
    for each in _text(file):
        known = unicode_of(each.font)
        for code in each.codes:
            letters = known.get(code, "")
            if not letters or set(letters) & {"\0", "\ufeff", "\ufffe"}:
                yield f"code {code} of {each.font.BaseFont} means nothing"
                return


@fact("ISO 19005-3, 6.2.11.8; ISO 14289-1, 7.21.8")
def no_missing_glyph(file: File) -> Iterator[str]:
    if any(code == 0 for each in _text(file) for code in each.codes):
        yield "the glyph for what is missing is shown"


def _text(file: File) -> list[Drawn]:
    return [each for each in drawn(file.pdf) if each.font is not None]


# --- nothing that acts ---------------------------------------------------------------------------


@fact("ISO 19005-3, 6.3.1 and 6.3.2; ISO 14289-1, 7.18")
def no_annotations(file: File) -> Iterator[str]:
    """The report has none; a link or a form would need the clauses on annotations."""
    if any("/Annots" in page for page in file.pdf.pages) or "/AcroForm" in file.root:
        yield "an annotation or a form"


@fact("ISO 19005-3, 6.5.1 and 6.5.2")
def no_actions(file: File) -> Iterator[str]:
    for each in file.dictionaries():
        if any(key in each for key in ("/AA", "/JS", "/JavaScript")):
            yield "an action"
        if each.get("/S") in (
            "/JavaScript",
            "/Launch",
            "/SubmitForm",
            "/ImportData",
            "/Sound",
            "/Movie",
            "/URI",
        ):
            yield f"an action of kind {each.S}"
    opened = file.root.get("/OpenAction")
    if opened is not None and not isinstance(opened, pikepdf.Array):
        yield "something happens on opening"


@fact("ISO 19005-3, 6.9 to 6.11")
def no_second_face(file: File) -> Iterator[str]:
    if any(key in file.root for key in ("/OCProperties", "/Requirements", "/Collection")):
        yield "layers or requirements"
    if "/AlternatePresentations" in file.root.get("/Names", {}):
        yield "an alternate presentation"
    if any("/PresSteps" in page for page in file.pdf.pages):
        yield "steps of a presentation"


# --- what it says of itself ----------------------------------------------------------------------


@fact("ISO 19005-3, 6.6.2.1; ISO 14289-1, 7.1")
def described(file: File) -> Iterator[str]:
    stream = file.root.get("/Metadata")
    if stream is None:
        yield "no metadata"
        return
    packet = re.search(rb"<\?xpacket begin=[^?]*\?>", stream.read_bytes())
    if packet and re.search(rb"\b(bytes|encoding)=", packet[0]):
        yield "the packet's header has bytes or encoding"
    with file.pdf.open_metadata() as claims:
        if not str(claims.get("dc:title", "")).strip():
            yield "no title"


@fact("ISO 19005-3, 6.6.4")
def claims_pdf_a_3a(file: File) -> Iterator[str]:
    with file.pdf.open_metadata() as claims:
        if (claims.get("pdfaid:part"), claims.get("pdfaid:conformance")) != ("3", "A"):
            yield "does not claim PDF/A-3a"


@fact("ISO 14289-1, 5")
def claims_pdf_ua_1(file: File) -> Iterator[str]:
    with file.pdf.open_metadata() as claims:
        if claims.get("pdfuaid:part") != "1":
            yield "does not claim PDF/UA-1"


@fact("ISO 14289-1, 7.1")
def title_is_shown(file: File) -> Iterator[str]:
    if file.root.get("/ViewerPreferences", {}).get("/DisplayDocTitle") is not True:
        yield "the window shows the file's name and not its title"


@fact("ISO 19005-3, 6.7.4; ISO 14289-1, 7.2")
def language(file: File) -> Iterator[str]:
    said = [file.root.get("/Lang", "")] + [
        each.node["/Lang"] for each in elements(file.pdf) if "/Lang" in each.node
    ]
    for each in said:
        if not re.fullmatch(r"[a-zA-Z]{1,8}(-[a-zA-Z0-9]{1,8})*", str(each)):
            yield f"“{each}” is no language"


# --- structure -----------------------------------------------------------------------------------


@fact("ISO 19005-3, 6.7.2; ISO 14289-1, 7.1")
def marked(file: File) -> Iterator[str]:
    info = file.root.get("/MarkInfo", {})
    if info.get("/Marked") is not True or info.get("/Suspects", False) is True:
        yield "not marked as tagged"


@fact("ISO 19005-3, 6.7.3; ISO 14289-1, 7.1")
def structure(file: File) -> Iterator[str]:
    if not any(True for _ in elements(file.pdf)):
        yield "no structure"
    roles = file.root.get("/StructTreeRoot", {}).get("/RoleMap", {})
    for name in roles.keys():  # noqa: SIM118 - a dictionary of the file, no mapping of ours
        if str(name)[1:] in STANDARD:
            yield f"{name} is remapped"
    for each in elements(file.pdf):
        if each.type not in STANDARD:
            yield f"{each.type} is no standard type"


@fact("ISO 14289-1, 7.1")
def all_is_tagged_or_ornament(file: File) -> Iterator[str]:
    for each in drawn(file.pdf):
        kinds = {
            "tagged" if mark == "tagged" else "ornament"
            for mark in each.marks
            if mark in ("tagged", "/Artifact")
        }
        if len(kinds) != 1:
            yield f"page {each.page + 1}: {each.operator} is {' and '.join(sorted(kinds)) or 'neither'}"
            return


@fact("ISO 14289-1, 7.2")
def tables_and_lists(file: File) -> Iterator[str]:
    for each in elements(file.pdf):
        allowed = INSIDE.get(each.type)
        if allowed is not None and not set(each.kids) <= allowed:
            yield f"{each.type} holds {set(each.kids) - allowed}"
        if each.type in OF_A_TABLE_OR_LIST and each.type not in INSIDE.get(each.parent, set()):
            yield f"{each.type} lies in {each.parent}"


@fact("ISO 14289-1, 7.3")
def figures_have_words(file: File) -> Iterator[str]:
    for each in elements(file.pdf):
        if each.type == "Figure" and not str(each.node.get("/Alt", each.node.get("/ActualText", ""))).strip():
            yield "a figure without words"


@fact("ISO 14289-1, 7.4.2")
def headings_skip_no_level(file: File) -> Iterator[str]:
    levels = [int(each.type[1]) for each in elements(file.pdf) if re.fullmatch("H[1-6]", each.type)]
    for before, level in zip([0, *levels], levels, strict=False):
        if level > before + 1:
            yield f"H{level} after H{before}"


@fact("ISO 14289-1, 7.5", MEMORY)
def tables_have_headers(file: File) -> Iterator[str]:
    within = False
    for each in elements(file.pdf):
        if each.type == "Table":
            if within:
                yield "a table without a header cell"
            within = True
        elif each.type == "TH":
            within = False
            if not _scope(each.node):
                yield "a header cell that does not say what it heads"
    if within:
        yield "a table without a header cell"


def _scope(node: Any) -> str:
    held = node.get("/A", [])
    rows = list(held) if isinstance(held, pikepdf.Array) else [held]
    scopes = [str(row.Scope) for row in rows if isinstance(row, pikepdf.Dictionary) and "/Scope" in row]
    return next((each for each in scopes if each in ("/Row", "/Column", "/Both")), "")


@fact("ISO 14289-1, 7.18.3")
def tab_order(file: File) -> Iterator[str]:
    """Asked for where annotations are; ours follow the structure in any case."""
    if any(page.get("/Tabs") != "/S" for page in file.pdf.pages):
        yield "a page whose tab order is not that of its structure"


# --- what lies inside ----------------------------------------------------------------------------


@fact("ISO 19005-3, 6.8; ISO 14289-1, 7.11")
def attachments(file: File) -> Iterator[str]:
    associated = {each.objgen for each in file.root.get("/AF", [])}
    for each in file.dictionaries():
        if "/EF" not in each:
            continue
        if not str(each.get("/F", "")) or not str(each.get("/UF", "")):
            yield "an attachment without a name"
        if each.get("/AFRelationship") not in (
            "/Source",
            "/Data",
            "/Alternative",
            "/Supplement",
            "/Unspecified",
        ):
            yield "an attachment that does not say what it is to the report"
        if each.objgen not in associated:
            yield "an attachment that belongs to nothing"
        kind = each.EF.F.get("/Subtype")
        if kind is None or not re.fullmatch(r"/[-\w+.]+/[-\w+.]+", str(kind)):
            yield "an attachment without a media type"
