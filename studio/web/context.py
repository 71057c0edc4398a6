"""What does every page know: the studio, and the places one can go?"""

from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from studio.web.roles import is_helper
from studio.web.selectors import the_studio


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A page of the menu, as it stands for one request."""

    name: str
    label: str
    url: str
    here: bool
    big: bool


# Five places fit a thumb; the last of them, More, opens the rest.
PLACES = [
    ("today", "Today", True),
    ("wares:boards", "Boards", True),
    ("firings:kilns", "Kilns", True),
    ("planning:plan", "Plan", True),
    ("wares:pieces", "Pieces", False),
    ("sales:sales", "Sales", False),
    ("parcels:supporters", "Supporters", False),
    ("parcels:parcels", "Parcels", False),
    ("records", "Records", False),
    ("settings", "Settings", False),
    ("people", "Sign-ins", False),
]
HELPERS_PLACES = {"parcels"}


def places(path: str) -> list[Place]:
    """Answer the places that exist, the one that holds ``path`` marked as here."""
    found = []
    for name, label, big in PLACES:
        try:
            url = reverse(name)
        except NoReverseMatch:
            continue
        here = path == url or (url != "/" and path.startswith(url))
        found.append(Place(name=name.rpartition(":")[2], label=label, url=url, here=here, big=big))
    return found


def studio(request: HttpRequest) -> dict[str, Any]:
    """Context processor. Signed-out pages learn the name alone, and no menu."""
    user = getattr(request, "user", None)
    signed_in = user is not None and user.is_authenticated
    helps = signed_in and user is not None and is_helper(user)
    found = places(request.path) if signed_in else []
    if helps:
        found = [replace(place, big=True) for place in found if place.name in HELPERS_PLACES]
    return {"studio": the_studio(), "places": found, "is_helper": helps}
