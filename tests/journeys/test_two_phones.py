"""Two phones in one visit, out of reach of each other and of the van."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from playwright.sync_api import Page, expect

from lightoff.work.workshop import open_shop

if TYPE_CHECKING:
    from conftest import Card, Server


def test_two_phones_that_begin_a_test_out_of_reach_do_not_mix_their_readings(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    ann = open_page()
    card = walk(ann, server.url)
    visit = ann.url.rsplit("/", 1)[1]
    bob = open_page()
    bob.goto(ann.url)
    bob.wait_for_selector("#visit[data-ready=yes]")
    tests = []
    for page, o2 in ((ann, "4.8"), (bob, "9.1")):
        page.context.set_offline(True)
        page.locator("#new-test").click()
        tests.append(page.locator("#visit").get_attribute("data-test"))
        its = replace(card, page=page)
        its.choose(its.type("flue_o2", o2, set_number=1), "dry")
        expect(its.field("flue_o2", set_number=1).locator(".kept")).to_have_attribute("data-kept", "phone")
    assert len(set(tests)) == 2
    for page in (ann, bob):
        page.context.set_offline(False)
        card.on_the_van(replace(card, page=page).field("flue_o2", set_number=1))
    ann.reload()
    ann.wait_for_selector("#visit[data-ready=yes]")
    assert ann.locator("#visit").get_attribute("data-test") == max(tests), (
        "the one begun last is gone on with"
    )
    server.kill()
    with open_shop(server.folder) as workshop:
        readings = workshop.book.visit(visit).readings
        assert {(each.test, str(each.value)) for each in readings} == {(tests[0], "4.8"), (tests[1], "9.1")}
        assert workshop.book.conflicts() == ()


def test_what_two_phones_read_differently_is_chosen_with_one_tap(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    ann = open_page()
    card = walk(ann, server.url)
    bob = open_page()
    bob.goto(ann.url)
    bob.wait_for_selector("#visit[data-ready=yes]")
    for page, co in ((ann, "38"), (bob, "380")):
        page.context.set_offline(True)
        field = replace(card, page=page).type("flue_co", co, set_number=1)
        expect(field.locator(".kept")).to_have_attribute("data-kept", "phone")
    for page in (ann, bob):
        page.context.set_offline(False)
        card.on_the_van(replace(card, page=page).field("flue_co", set_number=1))
    ann.reload()
    ann.wait_for_selector("#visit[data-ready=yes]")
    expect(ann.locator("#next")).to_contain_text("Choose what stands")
    choices = ann.locator(".candidates form")
    expect(choices).to_have_count(2)
    edges = choices.evaluate_all("forms => forms.map((each) => each.getBoundingClientRect().top)")
    assert edges[0] == edges[1], "they stand side by side on a phone"
    heights = choices.locator("button").evaluate_all("all => all.map((each) => each.offsetHeight)")
    assert min(heights) >= 64
    ann.locator("#next").click()
    expect(ann.locator("#conflicts")).to_be_in_viewport()
    choices.filter(has_text="380").get_by_role("button").click()
    ann.wait_for_selector("#visit[data-ready=yes]")
    expect(ann.locator("#conflicts")).to_have_count(0)
    expect(ann.locator("#i-flue_co-as_left-1")).to_have_value("380")


def test_a_page_opened_anew_goes_on_with_a_test_that_waits_on_the_phone(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    page = open_page()
    card = walk(page, server.url)
    page.route("**/entries", lambda route: route.abort())
    page.locator("#new-test").click()
    begun = page.locator("#visit").get_attribute("data-test")
    co = card.type("flue_co", "38", set_number=1)
    expect(co.locator(".kept")).to_have_attribute("data-kept", "phone")
    page.reload()
    page.wait_for_selector("#visit[data-ready=yes]")
    expect(page.locator("#i-flue_co-as_left-1")).to_have_value("38")
    assert page.locator("#visit").get_attribute("data-test") == begun


def test_first_tests_of_two_phones_with_the_burner_set_between_are_two(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    """Neither phone began a test by hand: what was set in between parts them all the same."""
    ann = open_page()
    card = walk(ann, server.url)
    visit = ann.url.rsplit("/", 1)[1]
    bob = open_page()
    bob.goto(ann.url)
    bob.wait_for_selector("#visit[data-ready=yes]")
    for page in (ann, bob):
        page.context.set_offline(True)
    card.choose(card.type("flue_o2", "4.8", set_number=1), "dry")
    expect(card.field("flue_o2", set_number=1).locator(".kept")).to_have_attribute("data-kept", "phone")
    bob.locator('[data-event="adjusted"]').first.click()
    its = replace(card, page=bob)
    its.choose(its.type("flue_o2", "9.1", set_number=1), "dry")
    expect(its.field("flue_o2", set_number=1).locator(".kept")).to_have_attribute("data-kept", "phone")
    for page in (ann, bob):
        page.context.set_offline(False)
        card.on_the_van(replace(card, page=page).field("flue_o2", set_number=1))
    for page in (ann, bob):  # both go on with the test of the burner as it is set now
        page.reload()
        page.wait_for_selector("#visit[data-ready=yes]")
        expect(page.locator("#i-flue_o2-as_left-1")).to_have_value("9.1")
    server.kill()
    with open_shop(server.folder) as workshop:
        found = workshop.book.visit(visit)
        (moved,) = found.events
        assert {(each.test, str(each.value)) for each in found.readings} == {("1", "4.8"), (moved.id, "9.1")}
        assert workshop.book.conflicts() == ()


def test_a_page_that_was_open_before_the_conflict_leads_to_it(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    ann = open_page()
    card = walk(ann, server.url)
    bob = open_page()
    bob.goto(ann.url)
    bob.wait_for_selector("#visit[data-ready=yes]")
    bob.context.set_offline(True)
    its = replace(card, page=bob)
    its.type("flue_co", "380", set_number=1)
    card.on_the_van(card.type("flue_co", "38", set_number=1))
    bob.context.set_offline(False)
    its.on_the_van(its.field("flue_co", set_number=1))
    card.type("stack_gas_temperature", "236", set_number=1)
    foot = ann.locator("#next")
    expect(foot).to_contain_text("Choose what stands")
    expect(ann.locator("#conflicts")).to_have_count(0)
    foot.click()
    expect(ann.locator("#conflicts")).to_be_in_viewport()
    ann.locator(".candidates form").filter(has_text="380").get_by_role("button").click()
    ann.wait_for_selector("#visit[data-ready=yes]")
    expect(ann.locator("#conflicts")).to_have_count(0)
    expect(ann.locator("#i-stack_gas_temperature-as_left-1")).to_have_value("236")


def test_a_step_that_two_phones_answered_differently_is_chosen_with_one_tap(
    server: Server, open_page: Callable[..., Page], walk: Callable[..., Card]
) -> None:
    ann = open_page()
    walk(ann, server.url)
    bob = open_page()
    bob.goto(ann.url)
    bob.wait_for_selector("#visit[data-ready=yes]")
    ann.locator('#task-isolate .answers [data-answer="dead"]').click()
    expect(ann.locator("#task-isolate .kept")).to_have_attribute("data-kept", "van")
    expect(bob.locator("#task-isolate")).to_have_attribute("data-done", "")
    bob.locator('#task-isolate .answers [data-answer="still live"]').click()
    expect(bob.locator("#next")).to_contain_text("Choose what stands")
    bob.locator("#next").click()
    bob.wait_for_selector("#visit[data-ready=yes]")
    expect(bob.locator("#conflicts")).to_be_in_viewport()
    step = bob.locator("#task-isolate")
    expect(step.locator(".said")).to_have_text("answered in two ways")
    expect(step.locator('.answers [aria-pressed="true"]')).to_have_count(0)
    expect(bob.locator("#task-open_cover .held:not([hidden])")).to_contain_text("still live")
    step.get_by_role("link").click()
    expect(bob.locator("#conflicts")).to_be_in_viewport()
    bob.locator(".candidates form").filter(has_text="Dead").get_by_role("button").click()
    bob.wait_for_selector("#visit[data-ready=yes]")
    expect(bob.locator("#conflicts")).to_have_count(0)
    expect(step.locator('.answers [data-answer="dead"]')).to_have_attribute("aria-pressed", "true")
    server.kill()
    with open_shop(server.folder) as workshop:
        visit = ann.url.rsplit("/", 1)[1].split("#")[0]
        assert [each.state for each in workshop.book.visit(visit).steps] == ["dead"]
        assert workshop.book.conflicts() == ()
