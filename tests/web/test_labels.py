"""Labels: each code leads to the page of what it is stuck on, by the address that this page was asked by."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import segno

from lightoff.drawing import code

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
