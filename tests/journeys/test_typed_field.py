"""A number as a person types it: the field and the server read it by one grammar, and say what they read."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from coming import comes_true
from playwright.sync_api import Page, expect

from lightoff.ground.errors import Refusal
from lightoff.work import typed_numbers

if TYPE_CHECKING:
    from conftest import Card, Server

TYPED = [
    *[
        "4.8",
        "4,8",
        "38",
        "-5",
        "\u22125,5",
        "+3",
        "0,345",
        "0.345",
        "00,345",
        "007",
        "1,500",
        "12,345",
        "1.500",
    ],
    *[
        "1,50",
        "1.234,5",
        "1,234.5",
        "4.",
        "4,",
        ".5",
        ",5",
        "-",
        "+",
        "--",
        "----",
        "\u2013\u2013",
        "nan",
        "NaN",
    ],
    *[
        "-inf",
        "Infinity",
        "snan",
        "1e400",
        "4.8e1",
        "4,8E-1",
        "1'500",
        "1_500",
        "1 500",
        "1\u00a0500",
        "0x10",
    ],
    *[
        "4.8%",
        "4.8 %",
        "4.8ppm",
        "\u0664",
        "\u00bd",
        "4..8",
        "4.8.1",
        "9" * 20,
        "9" * 21,
        "_",
        ".",
        ",",
        "",
        " 38 ",
    ],
    "x" * 60,
]
READ = "async texts => texts.map((await import('/static/typed.js')).understood)"
ALPHABET = "0123456789.,-+\u2212\u2013eE_' %nainf"


def by_server(text: str) -> dict[str, Any]:
    """What the server's grammar makes of a text."""
    try:
        return {"value": str(typed_numbers.number(text))}
    except Refusal as refused:
        return {"key": refused.message.key.removeprefix("typed."), "values": dict(refused.message.values)}


def in_the_book(page: Page, text: str, *, stands: bool = True) -> None:
    """Waits until the visit, as the server writes it down, holds a text or holds it no more."""
    asked = (
        "([text, stands]) => fetch(location.pathname + '.toml').then(r => r.text())"
        ".then(told => told.includes(text) === stands)"
    )
    assert comes_true(page, asked, [text, stands])


def test_the_field_reads_as_the_server_reads(server: Server, open_page: Callable[..., Page]) -> None:
    page = open_page()
    page.goto(server.url)
    chance = random.Random(20)
    texts = TYPED + ["".join(chance.choices(ALPHABET, k=chance.randint(1, 9))) for _ in range(3_000)]
    told = page.evaluate(READ, texts)
    differ = [(text, here, by_server(text)) for text, here in zip(texts, told, strict=True)]
    assert not [each for each in differ if each[1] != each[2]][:5]
    assert sum("value" in here for here in told) > 200


def test_a_decimal_comma_is_understood_said_back_and_kept_with_a_point(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    card.choose(page.locator(".about"), "diesel_2")
    o2 = card.type("flue_o2", "4,8", set_number=1)
    expect(o2.locator(".echo")).to_have_text("read as 4.8 %")
    expect(o2.locator(".doubt")).to_have_text("")
    card.choose(o2, "dry")
    card.on_the_van(o2)
    in_the_book(page, "4.8")
    page.reload()
    expect(page.locator("#i-flue_o2-as_left-1")).to_have_value("4.8")
    expect(page.locator("#f-flue_o2-as_left-1 .echo")).to_have_text("")


def test_what_could_be_thousands_is_asked_about_and_takes_the_old_number_back(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    co = card.type("flue_co", "1,5", set_number=1)
    card.on_the_van(co)
    card.type("flue_co", "1,500", set_number=1)
    expect(co.locator(".doubt")).to_have_text("“1,500” can be read in two ways. Write 1500 or 1.500.")
    expect(co.locator(".kept")).to_have_attribute("data-kept", "phone")
    # 1.5 ppm would be a clean burn: it no longer counts, and what was typed is still there.
    in_the_book(page, "flue_co", stands=False)
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(page.locator("#i-flue_co-as_left-1")).to_have_value("1,500")
    expect(co.locator(".doubt")).to_contain_text("two ways")
    card.type("flue_co", "1500", set_number=1)
    card.on_the_van(co)
    expect(co.locator(".doubt")).not_to_contain_text("two ways")
    in_the_book(page, "1500")
    expect(co.locator(".doubt")).to_contain_text("it usually lies from")
    card.type("flue_co", "----", set_number=1)
    expect(co.locator(".doubt")).to_have_text("")  # what was asked of the number is not asked of its top
    expect(co.locator(".echo")).to_have_text("read as more than the meter can show")
    expect(co.locator(".at-top")).to_be_checked()
    in_the_book(page, "at_top = true")
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(co.locator(".echo")).to_have_text("read as more than the meter can show")
    card.type("flue_co", "40", set_number=1)
    expect(co.locator(".echo")).to_have_text("")
    expect(co.locator(".at-top")).not_to_be_checked()


def test_the_place_is_typed_by_the_same_grammar(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    walk(page, server.url)
    air = page.get_by_label("Outside air")
    air.fill("3,5")
    air.press("Tab")
    in_the_book(page, "air_temperature = { value = 3.5, unit")
    air.fill("three")
    air.press("Tab")
    expect(page.locator(".about-kept .doubt").first).to_contain_text("“three” is not a number.")
    expect(air).to_have_attribute("aria-invalid", "")


def test_a_number_that_stands_is_typed_over(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    """The touch that enters a field takes the whole number; a later one sets the caret."""
    page = open_page("phone", has_touch=True)
    card = walk(page, server.url)
    box = card.type("flue_co", "38", set_number=1).locator(".value input")
    box.tap()
    page.keyboard.type("41")
    expect(box).to_have_value("41")
    page.wait_for_timeout(700)  # longer than a touch that enters
    box.tap()
    page.keyboard.press("End")
    page.keyboard.type("5")
    expect(box).to_have_value("415")
