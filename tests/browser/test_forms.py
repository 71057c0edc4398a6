"""Is nothing that was typed lost, and nothing done twice, when the Wi-Fi drops?"""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, Route, expect
from pytest_django.live_server_helper import LiveServer

from tests.browser.checks import check_page, check_shown
from tests.web import urls

pytestmark = pytest.mark.urls("tests.web.urls")


@pytest.fixture(autouse=True)
def no_runs() -> Iterator[None]:
    urls.runs.clear()
    yield
    urls.runs.clear()


def drafts(page: Page) -> list[str]:
    found: list[str] = page.evaluate(
        "Object.keys(sessionStorage).filter((name) => name.startsWith('wareboard'))"
    )
    return found


def test_sign_in_and_a_form_are_sound_pages(signed_in_page: Page, live_server: LiveServer) -> None:
    page = signed_in_page
    check_page(page, live_server.url + "/tests/form/")
    page.get_by_label("Name").fill("mug")
    page.get_by_role("button", name="Add").click()
    expect(page.locator("#said .done")).to_contain_text("Added mug")
    check_shown(page, "Form")
    page.get_by_text("More", exact=True).click()
    check_shown(page, "Form")
    page.get_by_role("button", name=re.compile("Sign out")).first.click()
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()
    check_page(page, live_server.url + "/sign-in/")


def test_what_was_typed_is_back_after_a_reload(
    signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/tests/form/")
    page.get_by_label("Name").press_sequentially("tall mug")
    page.reload()
    expect(page.get_by_label("Name")).to_have_value("tall mug")
    expect(page.get_by_text("What you typed here before is back.")).to_be_visible()
    check_shown(page, "Form")
    page.get_by_role("button", name="Start afresh").click()
    expect(page.get_by_label("Name")).to_have_value("")


def test_a_tick_of_an_abandoned_visit_does_not_come_back(
    signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/tests/form/")
    page.get_by_label("Name").press_sequentially("tall mug")
    page.get_by_label("This one").check()
    page.reload()
    expect(page.get_by_label("Name")).to_have_value("tall mug")
    expect(page.get_by_label("This one")).not_to_be_checked()


def test_a_saved_form_leaves_no_draft(signed_in_page: Page, live_server: LiveServer) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/tests/form/")
    page.get_by_label("Name").press_sequentially("mug")
    page.get_by_role("button", name="Add").click()
    expect(page.locator("#runs")).to_have_text("1")
    page.reload()
    expect(page.get_by_label("Name")).to_have_value("")
    assert drafts(page) == []


def test_a_form_whose_answer_was_lost_is_sent_again_and_acts_once(
    signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/tests/form/")
    page.get_by_label("Name").press_sequentially("mug")

    def lose_the_answer(route: Route) -> None:
        if route.request.method == "POST":
            route.fetch(max_redirects=0)  # it arrives and acts; the answer goes nowhere,
            for cookie in ("wareboard_answered", "messages"):  # nor do the cookies it brought
                page.context.clear_cookies(name=cookie)
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/tests/form/", lose_the_answer)
    page.get_by_role("button", name="Add").click()
    page.wait_for_url("chrome-error://**")
    assert urls.runs == ["mug"]
    page.unroute("**/tests/form/")
    page.goto(live_server.url + "/tests/form/")
    expect(page.get_by_label("Name")).to_have_value("mug")
    expect(page.get_by_text("it will not be done twice")).to_be_visible()
    page.get_by_role("button", name="Add").click()
    expect(page.locator("#said .done")).to_contain_text("Nothing was done twice.")
    assert urls.runs == ["mug"]
    assert drafts(page) == []


def test_a_refused_form_keeps_what_was_typed_and_is_not_called_lost(
    signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/tests/form/")
    page.get_by_label("Name").press_sequentially("bad")
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_label("Name")).to_have_value("bad")
    expect(page.get_by_text("no answer came")).to_have_count(0)
    page.get_by_label("Name").fill("good")
    page.get_by_role("button", name="Add").click()
    expect(page.locator("#said .done")).to_contain_text("Added good")


def test_a_form_sent_outside_the_wifi_stays_on_the_screen(
    signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/tests/form/")
    page.get_by_label("Name").press_sequentially("mug")
    page.context.set_offline(True)
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_role("alert")).to_contain_text("Not saved")
    expect(page.get_by_label("Name")).to_have_value("mug")
    page.get_by_role("button", name="Try again").click()
    expect(page.get_by_role("alert")).to_contain_text("Not saved")
    assert urls.runs == []
    page.context.set_offline(False)
    page.get_by_role("button", name="Try again").dblclick()
    expect(page.locator("#said .done")).to_contain_text("Added mug")
    assert urls.runs == ["mug"]
    assert drafts(page) == []


def test_a_page_that_stood_for_a_while_asks_whether_anybody_answers(
    signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    page.clock.install()
    page.goto(live_server.url + "/tests/form/")
    page.get_by_label("Name").press_sequentially("mug")
    page.clock.fast_forward("01:00")
    page.route("**/*", lambda route: route.abort("connectionrefused"))
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_role("alert")).to_contain_text("Not saved")
    expect(page.get_by_label("Name")).to_have_value("mug")
    check_shown(page, "Form")
    page.unroute("**/*")
    page.get_by_role("button", name="Try again").click()
    expect(page.locator("#said .done")).to_contain_text("Added mug")
    assert urls.runs == ["mug"]


def test_without_scripts_the_form_works_too(signed_in_page: Page, live_server: LiveServer) -> None:
    browser = signed_in_page.context.browser
    assert browser is not None
    context = browser.new_context(java_script_enabled=False)
    context.add_cookies(signed_in_page.context.cookies())  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(live_server.url + "/tests/form/")
    page.get_by_label("Name").fill("bowl")
    page.get_by_role("button", name="Add").click()
    expect(page.locator("#said .done")).to_contain_text("Added bowl")
    context.close()


def test_htmx_that_gets_no_answer_says_so_and_tries_again(
    signed_in_page: Page, live_server: LiveServer
) -> None:
    page = signed_in_page
    page.goto(live_server.url + "/tests/quick/")
    page.get_by_label("Name").fill("cup")
    page.route("**/tests/quick/", lambda route: route.abort("internetdisconnected"))
    page.get_by_role("button", name="Add").click()
    expect(page.locator("#not-saved")).to_contain_text("Not saved")
    expect(page.get_by_label("Name")).to_have_value("cup")
    check_shown(page, "Form")
    page.unroute("**/tests/quick/")
    page.get_by_role("button", name="Try again").click()
    expect(page.locator("#said .done")).to_contain_text("Added cup")
    assert urls.runs == ["cup"]
