"""Can one get everywhere from anywhere?"""

import re

from django.test import Client
from django.urls import reverse

from studio.web.context import PLACES, places


def test_every_place_of_the_menu_exists() -> None:
    assert [place.label for place in places("/")] == [label for _, label, _ in PLACES]


def test_five_places_fit_a_thumb() -> None:
    # The fifth is More, which opens the others.
    assert len([place for place in places("/") if place.big]) + 1 == 5


def test_the_place_one_is_at_is_marked_and_no_other() -> None:
    here = [place.label for place in places(reverse("records")) if place.here]
    assert here == ["Records"]


def test_every_place_opens_and_leads_to_every_other(signed_in: Client) -> None:
    urls = {place.url for place in places("/")}
    for url in sorted(urls):
        answer = signed_in.get(url)
        assert answer.status_code == 200, url
        assert urls <= set(re.findall(r'href="([^"]+)"', answer.text)), url


def test_signed_out_there_is_no_menu(client: Client, db: None) -> None:
    assert 'aria-label="Places"' not in client.get("/sign-in/").text
