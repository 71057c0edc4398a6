"""Can what was done be undone from the records, once, and only while nothing depends on it?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.wares import services as wares
from studio.wares.models import Board, Move, Piece
from studio.web.models import Change
from studio.web.services import record
from tests import make

FormKey = Callable[[], str]


@pytest.fixture
def thrown(potter: User) -> Change:
    """Twelve mugs that were thrown just now."""
    now = timezone.now()
    return wares.throw(
        form=make.form(),
        clay_lot=make.clay_lot(),
        count=12,
        board_label="B1",
        made_date=timezone.localdate(),
        by=potter,
        at=now,
    )


def test_records_are_found_by_a_word_or_a_name(signed_in: Client, potter: User) -> None:
    record(room="home", action="settings", said="Threw 12 × Mug: board B7", by=potter)
    record(room="home", action="settings", said="Lit Heron", by=potter)

    def found(word: str) -> str:
        return signed_in.get(reverse("records"), {"word": word}).text

    assert "Lit Heron" in found("heron")
    assert "B7" not in found("heron")
    assert "B7" in found(potter.username[:3])
    assert "No record says “&lt;b&gt;”." in found("<b>")
    assert found("\0").count("Undo") == found("").count("Undo")
    for n in range(21):
        record(room="home", action="settings", said=f"Mug & bowl {n}", by=potter)
    assert 'href="?word=Mug%20%26&amp;page=2"' in found("Mug &")


def press_undo(client: Client, change: Change, form_key: FormKey) -> str:
    """Press Undo in the records and answer the page that follows."""
    page = client.post(reverse("undo", args=[change.pk]), {"form_key": form_key()}, follow=True)
    return page.content.decode()


def test_a_throw_is_undone(signed_in: Client, thrown: Change, form_key: FormKey) -> None:
    press_undo(signed_in, thrown, form_key)
    undoing = Change.objects.get(undoes=thrown)
    assert undoing.by.username == "ada"
    assert not Piece.objects.filter(parting="").exists()
    records = signed_in.get(reverse("records")).content.decode()
    assert "undone" in records


def test_it_is_undone_once(signed_in: Client, thrown: Change, form_key: FormKey) -> None:
    press_undo(signed_in, thrown, form_key)
    moves = Move.objects.count()
    assert "was undone already" in press_undo(signed_in, thrown, form_key)
    assert Move.objects.count() == moves


def test_not_when_something_later_depends_on_it(
    signed_in: Client, thrown: Change, potter: User, form_key: FormKey
) -> None:
    board = Board.objects.get(label="B1")
    wares.lose(
        board=board,
        count=1,
        parting="broken",
        cause="knocked",
        by=potter,
        at=timezone.now() + timedelta(seconds=1),
    )
    press_undo(signed_in, thrown, form_key)
    assert not Change.objects.filter(undoes=thrown).exists()
    assert Piece.objects.filter(parting="").count() == 12 - 1


def test_a_change_without_a_way_back_says_so(
    signed_in: Client, potter: User, form_key: FormKey
) -> None:
    change = record(room="home", action="settings", said="Changed the settings", by=potter)
    assert "has no way back" in press_undo(signed_in, change, form_key)


def test_only_by_post_and_only_what_exists(signed_in: Client, form_key: FormKey) -> None:
    assert signed_in.get(reverse("undo", args=[1])).status_code == 405
    answer = signed_in.post(reverse("undo", args=[999]), {"form_key": form_key()})
    assert answer.status_code == 404


def test_records_are_paged_and_a_wild_page_number_does_no_harm(
    signed_in: Client, potter: User
) -> None:
    for n in range(45):
        record(room="home", action="settings", said=f"Change number {n}", by=potter)
    first = signed_in.get(reverse("records")).content.decode()
    assert "Change number 44" in first
    assert "Change number 24" not in first  # 20 on a page: 44 to 25
    assert "page 1 of 3" in first
    for wild in ("2", "999", "-1", "x"):
        assert signed_in.get(reverse("records"), {"page": wild}).status_code == 200


@pytest.mark.parametrize(
    ("referer", "goes_to"),
    [
        ("http://testserver/boards/?stage=thrown", "http://testserver/boards/?stage=thrown"),
        ("https://elsewhere.example/boards/", "/records/"),
        ("//elsewhere.example/", "/records/"),
        ("javascript:alert(1)", "/records/"),
        ("", "/records/"),
    ],
)
def test_undoing_leads_back_to_the_page_of_the_button_and_never_out_of_the_studio(
    signed_in: Client, thrown: Change, form_key: FormKey, referer: str, goes_to: str
) -> None:
    answer = signed_in.post(
        reverse("undo", args=[thrown.pk]), {"form_key": form_key()}, headers={"Referer": referer}
    )
    assert answer.headers["Location"] == goes_to
