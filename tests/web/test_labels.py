"""Labels: each code leads to the page of what it is stuck on, by the address that this page was asked by."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import segno

from lightoff.drawing import code
from lightoff.report import labels as label_papers
from lightoff.web import labels

if TYPE_CHECKING:
    from conftest import Bay

OWN = {"origin": "http://127.0.0.1"}


def drawn(text: str) -> list[str]:
    """The dark paths of the codes on a page."""
    return re.findall(r'class="qrline"[^>]*? d="([^"]+)"', text)


def of_address(address: str) -> str:
    """The same, of one address, by the library alone."""
    return drawn(segno.make(address, error="m", micro=False, boost_error=False).svg_inline(border=4))[0]


def test_a_heater_has_a_label_that_opens_its_page(bay: Bay) -> None:
    heater = bay.ids["heater"]
    text = bay.client.get(f"/heaters/{heater}/label").text
    assert drawn(text) == [of_address(f"http://127.0.0.1/heaters/{heater}")]
    line = bay.workshop.book.line(heater)
    assert f"<b>{line.vehicle.name}, {line.heater.name}</b>" in text
    assert "Only this computer answers to http://127.0.0.1" in text
    assert f"/heaters/{heater}/label" in bay.client.get(f"/heaters/{heater}").text


def test_all_heaters_or_those_of_some_words_stand_on_a_sheet(bay: Bay) -> None:
    line = bay.workshop.book.line(bay.ids["heater"])
    assert line.vehicle.name in bay.client.get("/labels").text
    assert line.vehicle.name in bay.client.get(f"/labels?search={line.vehicle.name}").text
    assert "Nothing to label yet" in bay.client.get("/labels?search=zeppelin").text


def test_a_bin_has_a_label_that_opens_it_in_the_stock(bay: Bay) -> None:
    typed = {"kind": "igniter", "place": "van", "counted": "2"}
    assert bay.client.post("/stock", data=typed, headers=OWN).status_code == 200
    (bin_,) = bay.workshop.book.bins()
    text = bay.client.get("/labels?of=bins").text
    assert drawn(text) == [of_address(f"http://127.0.0.1/stock#bin-{bin_.id}")]
    assert f'id="bin-{bin_.id}"' in bay.client.get("/stock").text


def test_a_code_is_one_picture_with_a_name_and_a_quiet_edge() -> None:
    picture = ElementTree.fromstring(code("http://van.local:8000/heaters/7", title='Code of "<Ann>"'))
    assert picture.tag == "{http://www.w3.org/2000/svg}svg"
    title = picture.find("{http://www.w3.org/2000/svg}title")
    assert title is not None
    assert title.text == 'Code of "<Ann>"'
    ground = segno.make("http://van.local:8000/heaters/7", error="m", micro=False, boost_error=False)
    edge = ground.symbol_size(border=4)[0]
    assert picture.attrib["viewBox"] == f"0 0 {edge} {edge}"


def test_labels_are_sheets_of_label_paper_as_pdf(bay: Bay) -> None:
    heater = bay.ids["heater"]
    for path in ("/labels.pdf", f"/heaters/{heater}/label.pdf", "/labels.pdf?paper=letter&used=29"):
        answer = bay.client.get(path)
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF-")
    assert 'action="/labels.pdf"' in bay.client.get("/labels").text
    assert f'action="/heaters/{heater}/label.pdf"' in bay.client.get(f"/heaters/{heater}/label").text


def test_a_sheet_that_cannot_be_made_says_why_at_its_box(bay: Bay) -> None:
    for typed, said in (("24", "from 0 to 23"), ("many", "from 0 to 23"), ("-1", "from 0 to 23")):
        answer = bay.client.get("/labels.pdf", params={"used": typed})
        assert answer.status_code == 422
        assert said in answer.text
        assert f'value="{typed}"' in answer.text
    answer = bay.client.get("/labels.pdf", params={"search": "zeppelin"})
    assert answer.status_code == 422
    assert "Nothing to label yet" in answer.text


def test_the_pages_know_the_papers_that_there_are() -> None:
    assert tuple(label_papers.PAPERS) == labels.PAPERS
    assert label_papers.MOST == labels.MOST_PRINTED
