"""The pages of pieces: the filter, one piece with its way, and its photograph."""

import io
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from studio.firings.models import Firing, Place
from studio.wares import services
from studio.wares.models import Photo, Piece, Reservation
from studio.web.models import Change
from tests import make

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


def shown(client: Client, **query: Any) -> list[Piece]:
    page = client.get(reverse("wares:pieces"), query)
    assert page.status_code == 200
    return list(page.context["page"])


def test_a_pot_is_found_by_its_number(signed_in: Client) -> None:
    pot = make.piece("graded")
    url = reverse("wares:pieces")
    for typed in (str(pot.number), f" No. {pot.number} "):
        answer = signed_in.get(url, {"find": typed})
        assert answer["Location"] == reverse("wares:piece", args=[pot.id])
    for typed in ("99999", "mug", "1" * 40):
        answer = signed_in.get(url, {"find": typed})
        assert f"No pot has the number {typed[:12]}." in answer.text
    assert "find=" not in signed_in.get(url, {"find": "mug"}).context["rest"]


# --- the filter -------------------------------------------------------------------------------


def test_pieces_are_told_apart(signed_in: Client) -> None:
    bowl = make.form("Bowl")
    now = timezone.now()
    day = timezone.localdate()
    raw = make.pieces("thrown", 2, form=bowl, at=now, made_date=day - timedelta(days=3))
    glazed = make.pieces("glazed", 2, at=now, made_date=day - timedelta(days=30))
    good = make.pieces("graded", 3, seconds=1, label="G1")
    sold = make.piece("graded")
    services.part(piece=sold, parting="sold", by=make.user(), at=make.AT)
    held = make.piece("graded")
    services.reserve(piece=held, kind="held", by=make.user(), at=make.AT)

    def fits(**query: Any) -> set[int]:
        return {piece.id for piece in shown(signed_in, **query)}

    def ids(*some: Piece) -> set[int]:
        return {piece.id for piece in some}

    here = ids(*raw, *glazed, *good, held)
    assert fits() == here
    assert fits(here="all") == here | {sold.id}
    assert fits(here="gone") == {sold.id}
    assert fits(here="sold") == {sold.id}
    assert fits(here="broken") == set()
    assert fits(here="promised") == {held.id}
    assert fits(here="free") == here - {held.id}
    assert fits(stage="thrown") == ids(*raw)
    assert fits(form=bowl.id) == ids(*raw)
    assert fits(coats=make.coats().id, stage="glazed") == ids(*glazed)
    assert fits(schedule=make.schedule().id) == ids(*glazed, *good, held)
    assert fits(clay_lot=make.clay_lot().id, max_age=5) == ids(*raw)
    assert fits(min_age=4, max_age=31) == ids(*glazed)
    assert fits(grade="second") == ids(good[2])
    assert fits(board=good[0].board_id) == ids(*good)
    assert fits(number=good[1].number) == {good[1].id}


def test_a_firing_shows_all_that_stood_in_its_load(signed_in: Client, potter: User) -> None:
    board = make.board("glazed", 4)
    lost, refired, good, taken_out = list(board.pieces.order_by("id"))
    first, second = make.firing(make.schedule()), make.firing(make.schedule())
    loaded = make.firing(make.schedule(), state="loaded")
    planned = make.firing(make.schedule(), state="planned")

    def stood(firing: Firing, piece: Piece, outcome: str) -> None:
        Place.objects.create(firing=firing, piece=piece, board=board, outcome=outcome)

    stood(first, lost, "lost")
    stood(first, refired, "through")
    stood(first, good, "taken_out")  # and put in again
    stood(first, good, "through")
    stood(first, taken_out, "taken_out")
    stood(second, refired, "through")
    stood(loaded, taken_out, "")
    Piece.objects.filter(id=refired.id).update(glaze_firing=second)
    services.lose(piece=lost, parting="broken", cause="dunt", by=potter, at=make.AT)

    def fits(firing: Firing) -> set[int]:
        return {piece.id for piece in shown(signed_in, firing=firing.id, here="all")}

    assert fits(first) == {lost.id, refired.id, good.id}
    assert fits(second) == {refired.id}
    assert fits(loaded) == {taken_out.id}
    page = signed_in.get(reverse("wares:pieces"))
    offered = {firing.id for firing in page.context["filter"].form.fields["firing"].queryset}
    assert offered == {first.id, second.id, loaded.id}
    assert planned.id not in offered


def test_sums_that_do_not_hold_are_told(signed_in: Client) -> None:
    pieces = make.pieces("graded", 7)
    url = reverse("wares:pieces")
    assert "do not add up" not in signed_in.get(url).text
    Piece.objects.filter(id__in=[piece.id for piece in pieces]).update(seq=9)
    page = signed_in.get(url).text
    assert "The counts do not add up:" in page
    assert f"Piece {pieces[0].id} has 5 moves, the last numbered 5, but counts 9." in page
    assert "and 2 more." in page  # 7 broken, 5 shown


@pytest.mark.parametrize(
    "query",
    [
        {"stage": "flying"},
        {"form": "999"},
        {"form": "x"},
        {"form": str(10**30)},
        {"number": "-4"},
        {"number": str(10**30)},
        {"number": "1.5"},
        {"min_age": "old"},
        {"max_age": str(10**9)},
        {"here": "nowhere"},
        {"board": "\x00"},
        {"grade": "third"},
        {"firing": "-1"},
    ],
)
def test_a_filter_that_means_nothing_is_said(signed_in: Client, query: dict[str, str]) -> None:
    make.piece("thrown")
    page = signed_in.get(reverse("wares:pieces"), query)
    assert page.status_code == 200
    assert "That part of the filter was left out." in page.text
    assert len(page.context["page"]) == 1


@pytest.mark.parametrize("wanted", ["0", "-1", "99", "x", str(10**30)])
def test_a_page_that_is_not_there(signed_in: Client, wanted: str) -> None:
    make.piece("thrown")
    assert len(shown(signed_in, page=wanted)) == 1


def test_pages_keep_the_filter(signed_in: Client) -> None:
    make.board("thrown", 50)
    page = signed_in.get(reverse("wares:pieces"), {"stage": "thrown"})
    assert len(page.context["page"]) == 40
    assert "?stage=thrown&amp;page=2" in page.text
    assert len(shown(signed_in, stage="thrown", page=2)) == 10


# --- one piece --------------------------------------------------------------------------------


def test_a_piece_tells_its_way(signed_in: Client) -> None:
    piece = make.piece("listed")
    page = signed_in.get(reverse("wares:piece", args=[piece.id])).text
    for word in ("No. 1", "Kelp all over", "thrown", "bisqued", "glazed", "graded", "listed"):
        assert word in page
    assert "Cone 6 slow cool in Wren" in page


def test_a_piece_by_its_number(signed_in: Client) -> None:
    piece = make.piece("graded")
    answer = signed_in.get(reverse("wares:numbered", args=[piece.number]))
    assert answer.headers["Location"] == reverse("wares:piece", args=[piece.id])
    assert signed_in.get(reverse("wares:numbered", args=[99])).status_code == 404
    assert signed_in.get(f"/pieces/{10**30}/").status_code == 404


def test_a_piece_is_kept_with_a_reason(signed_in: Client, form_key: Key) -> None:
    piece = make.piece("graded")
    url = reverse("wares:part", args=[piece.id])
    typed = {"form_key": form_key(), "parting": "kept", "cause": "for the kitchen"}
    assert signed_in.post(url, typed | {"cause": ""}).status_code == 422
    assert signed_in.post(url, typed).status_code == 302
    page = signed_in.get(reverse("wares:piece", args=[piece.id])).text
    assert "Kept on" in page
    assert "for the kitchen" in page


def test_a_promise_is_made_and_released(signed_in: Client, form_key: Key) -> None:
    piece = make.piece("graded")
    typed = {"form_key": form_key(), "kind": "held", "note": "Ida"}
    signed_in.post(reverse("wares:promise", args=[piece.id]), typed)
    page = signed_in.get(reverse("wares:piece", args=[piece.id])).text
    sentence = "No. 1 is promised (held back: Ida), so it cannot be taken. Release it first."
    assert sentence in page
    signed_in.post(reverse("wares:release", args=[piece.id]), {"form_key": form_key()})
    assert sentence not in signed_in.get(reverse("wares:piece", args=[piece.id])).text
    answer = signed_in.post(reverse("wares:release", args=[piece.id]), {"form_key": form_key()})
    assert answer.status_code == 409
    assert "promised to nobody" in answer.text


@pytest.mark.parametrize("kind", ["claim", "parcel"])
def test_claims_and_parcels_are_promised_in_their_own_rooms(
    signed_in: Client, form_key: Key, kind: str
) -> None:
    piece = make.piece("graded")
    typed = {"form_key": form_key(), "kind": kind}
    answer = signed_in.post(reverse("wares:promise", args=[piece.id]), typed)
    assert answer.status_code == 422
    assert not Reservation.objects.exists()


def test_a_piece_in_a_parcel_is_not_released_on_its_page(
    signed_in: Client, potter: User, form_key: Key
) -> None:
    piece = make.piece("graded")
    services.reserve(piece=piece, kind="parcel", by=potter, at=make.AT)
    sentence = "No. 1 is in a parcel. Take it out of that parcel first."
    page = signed_in.get(reverse("wares:piece", args=[piece.id])).text
    assert sentence in page
    assert reverse("wares:release", args=[piece.id]) not in page
    answer = signed_in.post(reverse("wares:release", args=[piece.id]), {"form_key": form_key()})
    assert answer.status_code == 409
    assert sentence in answer.text
    assert Reservation.objects.exists()


# --- photographs ------------------------------------------------------------------------------


def picture(colour: str = "navy", kind: str = "JPEG") -> SimpleUploadedFile:
    data = io.BytesIO()
    Image.new("RGB", (64, 48), colour).save(data, kind)
    return SimpleUploadedFile("mug.jpg", data.getvalue(), "image/jpeg")


def test_photographs_follow_one_another(signed_in: Client, form_key: Key, photos: Path) -> None:
    first, second = make.pieces("graded", 2)
    key = form_key()
    url = reverse("wares:photo", args=[first.id])
    answer = signed_in.post(url, {"form_key": key, "photo": picture()})
    assert answer.headers["Location"] == reverse("wares:photo", args=[second.id])
    kept = Photo.objects.get()
    assert (kept.width_px, kept.height_px) == (64, 48)
    assert (photos / kept.name).exists()
    again = signed_in.post(url, {"form_key": key, "photo": picture("red")})
    assert again.headers["Location"] == answer.headers["Location"]
    assert Photo.objects.count() == 1
    last = signed_in.post(
        reverse("wares:photo", args=[second.id]), {"form_key": form_key(), "photo": picture()}
    )
    assert last.headers["Location"] == reverse("wares:piece", args=[second.id])
    assert Photo.objects.count() == 1  # the same picture is kept once
    assert kept.name in signed_in.get(reverse("wares:piece", args=[first.id])).text


def test_a_photograph_is_undone(potter: User, photos: Path) -> None:
    piece = make.piece("graded")
    who: dict[str, Any] = {"by": potter, "at": make.AT}
    who |= {"width_px": 4, "height_px": 3}
    first = services.add_photo(piece=piece, name="a" * 16 + ".jpg", **who)
    second = services.add_photo(piece=piece, name="b" * 16 + ".jpg", **who)
    services.undo(change=second, by=potter, at=make.AT)
    piece.refresh_from_db()
    assert piece.photo is not None
    assert piece.photo.name == "a" * 16 + ".jpg"
    services.undo(change=first, by=potter, at=make.AT)
    piece.refresh_from_db()
    assert piece.photo is None


@pytest.mark.parametrize(
    ("upload", "words"),
    [
        (SimpleUploadedFile("x.jpg", b"not a picture", "image/jpeg"), "not a JPEG, PNG or WebP"),
        (SimpleUploadedFile("x.jpg", b"", "image/jpeg"), "empty"),
        (picture(kind="GIF"), "not a JPEG, PNG or WebP"),
    ],
)
def test_a_file_that_is_no_photograph(
    signed_in: Client, form_key: Key, photos: Path, upload: SimpleUploadedFile, words: str
) -> None:
    upload.seek(0)
    piece = make.piece("graded")
    before = Change.objects.count()
    answer = signed_in.post(
        reverse("wares:photo", args=[piece.id]), {"form_key": form_key(), "photo": upload}
    )
    assert answer.status_code == 422
    assert words in answer.text
    assert not Photo.objects.exists()
    assert Change.objects.count() == before


def test_an_ungraded_piece_has_no_photograph(signed_in: Client, form_key: Key) -> None:
    piece = make.piece("fired")
    sentence = "has no number yet: grade it first, then photograph it."
    assert sentence in signed_in.get(reverse("wares:piece", args=[piece.id])).text
    answer = signed_in.post(
        reverse("wares:photo", args=[piece.id]), {"form_key": form_key(), "photo": picture()}
    )
    assert sentence in answer.text
    assert not Photo.objects.exists()
