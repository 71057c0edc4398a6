"""The pages of the room on a phone: sound, touchable, and the steppers count."""

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from studio.wares import selectors
from tests import make
from tests.browser.checks import arrive, check_page, check_shown


@pytest.mark.parametrize(
    "stage", ["thrown", "bisqued", "glazed", "fired", "graded"], ids=lambda stage: str(stage)
)
def test_a_board_at_every_stage(signed_in_page: Page, live_server: LiveServer, stage: str) -> None:
    board = make.board(stage, 12)
    check_page(signed_in_page, live_server.url + reverse("wares:board", args=[board.id]))


def test_the_lists_and_forms(signed_in_page: Page, live_server: LiveServer) -> None:
    make.line()
    thrown, bisqued = make.board("thrown", 4), make.board("bisqued", 12)
    fired, graded = make.board("fired", 3), make.piece("graded")
    pages = [reverse(f"wares:{name}") for name in ("boards", "throw", "pieces", "catalogue")]
    pages += [reverse(f"wares:{name}", args=[thrown.id]) for name in ("dry", "lose", "place")]
    pages += [reverse(f"wares:{name}", args=[bisqued.id]) for name in ("glaze", "split", "merge")]
    pages += [reverse("wares:grade", args=[fired.id])]
    pages += [
        reverse(f"wares:{name}", args=[graded.id]) for name in ("piece", "photo", "part", "promise")
    ]
    pages += [reverse("wares:pieces") + "?stage=flying"]
    for shelf in ("forms", "clay_lots", "glazes", "coats", "lines"):
        pages += [reverse(f"wares:{shelf}"), reverse(f"wares:{shelf}_add")]
    for stage in ("bisqued", "glazed", "fired", "graded"):
        pages += [reverse("wares:count_in_as", args=[stage])]
    for url in pages:
        check_page(signed_in_page, live_server.url + url)


def test_counting_in_by_thumb(signed_in_page: Page, live_server: LiveServer) -> None:
    page = signed_in_page
    make.line()
    page.goto(live_server.url + reverse("wares:boards"))
    page.get_by_role("link", name="Count in what stands here").click()
    page.get_by_role("link", name="Glazed").click()
    page.wait_for_url("**/count-in/glazed/")
    page.get_by_role("button", name="One more: How many").click()
    page.get_by_role("button", name="Count it in").click()
    expect(page.get_by_role("status")).to_contain_text("Counted in 13 × Mug in Kelp all over")
    check_shown(page, "Count in what stands here")
    page.get_by_role("link", name="board B1").click()
    check_shown(page, "Board B1")
    page.get_by_role("link", name="Boards").first.click()
    page.get_by_role("link", name="Count in", exact=True).click()
    check_shown(page, "Count in what stands here")
    assert selectors.sums().on_hand["glazed"] == 12 + 1


def test_glazing_by_thumb(signed_in_page: Page, live_server: LiveServer) -> None:
    page = signed_in_page
    make.line()
    board = make.board("bisqued", 12)
    page.goto(live_server.url + reverse("wares:board", args=[board.id]))
    page.get_by_role("link", name="Glaze", exact=True).click()
    arrive(page, "Glaze")
    page.get_by_role("button", name="One more: Lost").click()
    page.get_by_label("Why lost").fill("slipped")
    page.get_by_role("button", name="Glazed", exact=True).click()
    expect(page.get_by_role("status")).to_contain_text("Glazed 11 × Mug of board")
    assert selectors.board_group(board).holds == "it holds 11 at glazed now"  # 12 - 1


def test_all_firsts_in_two_presses_from_today(
    signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    board = make.board("fired", 12)
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(live_server.url + "/")
    page.get_by_role("link", name="Grade").click()
    arrive(page, "Grade")
    button = page.get_by_role("button", name="All others are firsts")
    box, places = button.bounding_box(), page.locator(".places").bounding_box()
    assert box is not None
    assert places is not None
    assert box["y"] + box["height"] <= places["y"]  # seen without scrolling
    button.click()
    expect(page.get_by_role("status")).to_contain_text("12 firsts")
    assert board.pieces.filter(grade="first").count() == 12
