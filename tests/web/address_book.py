"""Which addresses are there? Read from the resolver, so that a new page cannot be forgotten."""

from collections.abc import Iterator

from django.urls import URLPattern, URLResolver, get_resolver

# One value for each kind of part an address may have; none of them needs to exist.
VALUES = {
    "int": "7",
    "str": "word",
    "slug": "word",
    "uuid": "0e4fb1a2-6c4f-4d3f-8a56-0c8a5d1f2b3c",
    "path": "word",
}


def addresses() -> Iterator[tuple[str, str]]:
    """Answer every address as (name, path), parts filled in."""
    yield from _walk(get_resolver().url_patterns, "/")


def _walk(patterns: list[URLPattern | URLResolver], before: str) -> Iterator[tuple[str, str]]:
    for one in patterns:
        path = before + _filled(str(one.pattern))
        if isinstance(one, URLResolver):
            yield from _walk(one.url_patterns, path)
        else:
            yield one.name or path, path


def _filled(route: str) -> str:
    out = ""
    while "<" in route:
        head, _, rest = route.partition("<")
        part, _, route = rest.partition(">")
        kind = part.partition(":")[0] if ":" in part else "str"
        # A room's own converter is not known here; an int suits the ones that read numbers.
        out += head + VALUES.get(kind, "7")
    return out + route
