"""Is a page sound in a browser: no errors, no barrier, big enough to touch, no wider than a phone?

WCAG 2.2 (W3C, 2023), 2.5.8 asks for 24 px and 2.5.5 for 44 px; this project holds itself to 44.
The rules of axe-core (Deque Systems, 4.12) come with axe-playwright-python.
"""

from re import Pattern

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import ConsoleMessage, Page, expect

TOUCHED = """() => {
  const inline = 'p a, .help a, figcaption a, .why a, .muted a, li > a:not([class])';
  const out = [];
  for (const el of document.querySelectorAll(
      'a[href], button, input, select, textarea, summary, label.pick')) {
    if (el.closest('.skip, svg') || el.type === 'hidden') continue;
    if (el.matches('label.pick input, input[type=hidden]')) continue;
    if (el.matches(inline) && !el.matches('.btn, .row, .place')) continue;
    const box = el.getBoundingClientRect();
    if (box.width === 0 && box.height === 0) continue;
    if (box.height < 43.5 || box.width < 43.5)
      out.push(`${el.outerHTML.slice(0, 90)}: ${box.width} x ${box.height}`);
  }
  return out;
}"""


def check_page(page: Page, url: str) -> None:
    """Open ``url`` and assert that the browser, axe, a thumb and a narrow phone are content."""
    said: list[str] = []

    def hear(message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            said.append(message.text)

    def hear_fault(fault: Exception) -> None:
        said.append(str(fault))

    page.on("console", hear)
    page.on("pageerror", hear_fault)
    try:
        response = page.goto(url)
        assert response is not None
        assert response.status == 200, f"{url} answered {response.status}"
        judge(page)
    finally:
        page.remove_listener("console", hear)
        page.remove_listener("pageerror", hear_fault)
    assert said == [], f"{url}: the browser complained: {said}"


def arrive(page: Page, heading: str | Pattern[str]) -> None:
    """Wait until a click has led to the page with this heading and its scripts have run.

    A click returns before the page that it leads to has come: what is judged then is being taken
    down and has no document, and what is pressed then may not listen yet.
    """
    expect(page.get_by_role("heading", level=1)).to_have_text(heading)
    page.wait_for_load_state()


def check_shown(page: Page, heading: str | Pattern[str]) -> None:
    """Assert the same of the page that clicks and typing led to, once it is there."""
    arrive(page, heading)
    judge(page)


def judge(page: Page) -> None:
    """Assert that axe, a thumb and a narrow phone are content with what stands there now."""
    found = Axe().run(page).response["violations"]
    grave = [
        f"{one['id']}: {one['help']}: {[node['html'][:120] for node in one['nodes']]}"
        for one in found
        if one["impact"] in ("serious", "critical")
    ]
    assert grave == [], f"{page.url}: axe-core found barriers: {grave}"
    small = page.evaluate(TOUCHED)
    assert small == [], f"{page.url}: too small to touch: {small}"
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0, f"{page.url} is {wide} px wider than the screen"
