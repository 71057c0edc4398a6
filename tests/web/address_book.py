"""Which addresses are there? Read from the resolver, so that a new page cannot be forgotten."""

import re
from collections.abc import Iterator

from django.urls import URLPattern, URLResolver, get_resolver

# One value for each kind of part an address may have; none of them needs to exist.
VALUES = {"str": "word", "slug": "word", "path": "word", "month": "2026-11"}
OTHERWISE = "7"
PART = re.compile(r"<(?:(?P<kind>[^:>]+):)?[^>]+>")


def addresses() -> list[tuple[str, str]]:
    """Answer every address as (name, path), parts filled in."""
    return [(name, PART.sub(_value, route)) for name, route in _walk(_patterns(), "/")]


def plain_addresses() -> list[str]:
    """Answer the addresses without parts, each once: what can be opened in an empty studio."""
    return sorted({route for _, route in _walk(_patterns(), "/") if not PART.search(route)})


def _value(part: re.Match[str]) -> str:
    return VALUES.get(part["kind"] or "str", OTHERWISE)


def _patterns() -> list[URLPattern | URLResolver]:
    return get_resolver().url_patterns


def _walk(
    patterns: list[URLPattern | URLResolver], before: str, room: str = ""
) -> Iterator[tuple[str, str]]:
    for one in patterns:
        route = before + str(one.pattern)
        if isinstance(one, URLResolver):
            inner = f"{room}{one.namespace}:" if one.namespace else room
            yield from _walk(one.url_patterns, route, inner)
        else:
            yield f"{room}{one.name or route}", route
