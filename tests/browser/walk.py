"""Where can one get from the first page by pressing links alone?"""

import re
from html import unescape
from urllib.parse import urldefrag, urljoin, urlsplit

from django.test import Client
from django.urls import Resolver404, resolve

from tests.web.reading import body

HREF = re.compile(r'\bhref="([^"]+)"')
MOST_OF_ONE_KIND = 6  # pages about one board look alike; six of them are asked


def links(*, here: str, text: str) -> list[str]:
    """Answer the addresses of this studio that a page links to, without what follows a #."""
    found = []
    for raw in HREF.findall(text):
        whole = urldefrag(urljoin(f"http://testserver{here}", unescape(raw))).url
        parts = urlsplit(whole)
        if parts.netloc == "testserver" and not parts.path.startswith("/static/"):
            found.append(parts.path + (f"?{parts.query}" if parts.query else ""))
    return list(dict.fromkeys(found))


def kind(address: str) -> str:
    """Answer the route of an address: the same for every board, another for its moves."""
    try:
        return resolve(urlsplit(address).path).route
    except Resolver404:
        return address  # asked for all the same, so that the walk reports it


def walk(client: Client, *, start: str = "/") -> dict[str, tuple[int, str, str]]:
    """Answer every address reached: its status, its content type, and the page that led to it."""
    reached: dict[str, tuple[int, str, str]] = {}
    counted: dict[str, int] = {}
    waiting = [(start, "")]
    while waiting:
        address, led_from = waiting.pop(0)
        if address in reached:
            continue
        route = kind(address)
        if counted.get(route, 0) >= MOST_OF_ONE_KIND:
            continue
        counted[route] = counted.get(route, 0) + 1
        answer = client.get(address)
        text = body(answer)
        content = answer.headers.get("Content-Type", "")
        reached[address] = (answer.status_code, content, led_from)
        if content.startswith("text/html"):
            waiting += [(link, address) for link in links(here=address, text=text.decode())]
    return reached
