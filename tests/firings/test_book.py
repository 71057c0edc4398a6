"""Results, their photographs and the test book: tied to a place, with a way back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from studio.firings import rules, selectors, services
from studio.firings.models import Firing, Place, Result, Tariff
from studio.firings.services import Kept
from studio.wares import services as wares
from studio.wares.models import Board, Fault, Photo
from studio.web.models import Change
from tests.firings.conftest import LONG_AGO, NOW, World
from tests.firings.cooled import cooled

Refused = Callable[..., str]
Key = Callable[[], str]
HOUR = timedelta(hours=1)


# --- results and the test book -------------------------------------------------------------------


def opened(world: World) -> tuple[Firing, Board]:
    """An opened glaze firing of six mugs, one of them lost."""
    board = world.glazed(6)
    firing, opening = cooled(world, board)
    services.open_kiln(**opening, lost={board.pk: (1, "run")})
    firing.refresh_from_db()
    return firing, board


def test_results_are_tied_to_a_place_and_have_a_way_back(world: World, refused: Refused) -> None:
    firing, board = opened(world)
    (kin,) = selectors.kin_of(firing)
    assert kin.words == f"6 Mug in Tenmoku, board {board}"
    who = {"by": world.by, "at": NOW}
    photo = Kept(name="a" * 64 + ".jpg", width_px=8, height_px=6)
    change = services.add_results(
        firing=firing, photos=[photo], words="iron at the rim", place=kin.place, **who
    )
    assert change.said == f"Added 1 photograph to {firing}"
    (tile,) = selectors.tiles(selectors.book())
    assert (tile.ware, tile.clay) == ("Mug in Tenmoku", "Grey stoneware, lot 7")
    assert tile.result.firing == firing
    services.add_results(firing=firing, words="top shelf pale", **who)
    assert len(selectors.results_of_load(firing)) == 2
    assert selectors.book().count() == 1  # what is said of the whole load is no test of one ware
    services.undo(change=change, **who)
    assert list(Result.objects.values_list("words", flat=True)) == ["top shelf pale"]
    assert Photo.objects.count() == 1
    opening = Change.objects.get(action="open_kiln", subject_id=firing.pk)
    late = refused(services.undo, change=opening, **who)
    assert late.endswith("what was seen of it is kept: undo that first.")
    assert Result.objects.count() == 1
    asked = {"firing": firing} | who
    assert refused(services.add_results, **asked) == ("Choose photographs, or write what you saw.")
    assert "At most 20 photographs" in refused(services.add_results, photos=[photo] * 21, **asked)
    assert "300 characters" in refused(services.add_results, words="x" * 301, **asked)
    shut = world.planned(world.big)
    assert refused(services.add_results, firing=shut, words="hm", **who) == (
        "Only an opened firing has results. Open the kiln first."
    )
    elsewhere = refused(
        services.add_results, firing=firing, words="hm",
        place=Place.objects.exclude(firing=firing)[0], **who,
    )  # fmt: skip
    assert elsewhere == "That ware was not in this load."


def test_the_book_names_the_bucket_of_the_day(world: World) -> None:
    from studio.wares.models import Coat, Glaze

    glaze = Glaze.objects.create(
        name="Tenmoku", mixed_date=(NOW - timedelta(days=40)).date(), top_cone="10"
    )
    Coat.objects.create(coats=world.tenmoku, seq=1, glaze=glaze)
    firing, _ = opened(world)
    services.add_results(
        firing=firing, words="good", place=firing.places.all()[0], by=world.by, at=NOW
    )
    old = glaze.mixed_date
    assert selectors.tiles(selectors.book())[0].buckets == (("Tenmoku", old),)
    later = NOW + timedelta(days=2)
    wares.new_bucket(glaze=glaze, mixed_date=later.date(), by=world.by, at=later)
    assert selectors.tiles(selectors.book())[0].buckets == (("Tenmoku", old),)


def picture(colour: str = "teal") -> SimpleUploadedFile:
    data = BytesIO()
    Image.new("RGB", (40, 30), colour).save(data, "JPEG")
    return SimpleUploadedFile(f"{colour}.jpg", data.getvalue(), content_type="image/jpeg")


def test_photographs_come_several_at_once(
    world: World, signed_in: Client, form_key: Key, settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path
    firing, _ = opened(world)
    url = reverse("firings:result-add", args=[firing.pk])
    of = str(selectors.kin_of(firing)[0].place.pk)
    sent = {"form_key": form_key(), "photos": [picture(), picture("brown")], "of": of,
            "words": "matt"}  # fmt: skip
    answer = signed_in.post(url, sent)
    assert answer.headers["Location"] == reverse("firings:firing", args=[firing.pk])
    assert Result.objects.filter(place=of, photo__isnull=False).count() == 2
    shown = signed_in.get(reverse("firings:firing", args=[firing.pk])).text
    assert shown.count('<img class="photo"') == 2
    book = reverse("firings:book")
    assert signed_in.get(book).text.count('<img class="photo"') == 2
    found = signed_in.get(book, {"clay_lot": world.grey.pk, "coats": world.tenmoku.pk}).text
    assert "Mug in Tenmoku" in found
    none = signed_in.get(book, {"coats": world.soft.pk}).text
    assert "Nothing in the test book is made so." in none
    bad = SimpleUploadedFile("note.jpg", b"no picture", content_type="image/jpeg")
    refused = signed_in.post(url, {"form_key": form_key(), "photos": [picture("red"), bad]})
    assert (refused.status_code, "note.jpg:" in refused.text) == (422, True)
    assert Result.objects.count() == 2
    nothing = signed_in.post(url, {"form_key": form_key()})
    assert "Choose photographs, or write what you saw." in nothing.text
    many = signed_in.post(url, {"form_key": form_key(), "photos": [picture() for _ in range(21)]})
    assert "At most 20 photographs at once" in many.text


def test_the_page_of_a_failed_firing(world: World, signed_in: Client, form_key: Key) -> None:
    board = world.thrown(4)
    firing, _ = cooled(world, board)
    url = reverse("firings:open", args=[firing.pk])
    page = signed_in.get(url).text
    assert "It is open, and all is well" in page
    both = {"form_key": form_key(), "is_failed": "on", "failed_why": ""}
    assert "Say what happened:" in signed_in.post(url, both).text
    only_why = {"form_key": form_key(), "failed_why": "fuse"}
    assert "Tick this too" in signed_in.post(url, only_why).text
    told = {"form_key": form_key(), "is_failed": "on", "failed_why": "fuse",
            "meter_before_kwh": "100", "meter_after_kwh": "118.5"}  # fmt: skip
    shown = signed_in.post(url, told, follow=True).text
    assert rules.PLAN_AGAIN in shown
    assert "It did not reach its cone: fuse. The ware stays as it was." in shown
    assert "4 pieces not fired" in shown
    assert "18.5 kWh (meter 100 to 118.5)" in shown
    assert "did not reach its cone" in signed_in.get(reverse("firings:past")).text


def test_the_opening_page_takes_faults_on_what_came_through(
    world: World, signed_in: Client, form_key: Key
) -> None:
    board = world.glazed(4)
    firing, _ = cooled(world, board)
    typed = {"form_key": form_key(), f"marked_{board.pk}": "2", f"fault_{board.pk}": "pinhole"}
    shown = signed_in.post(reverse("firings:open", args=[firing.pk]), typed, follow=True).text
    assert "Faults seen: 2 × pinholes." in shown
    assert f"Grade 4 of board {board}" in shown
    tariff = reverse("firings:tariff")
    assert signed_in.post(tariff, {"form_key": form_key(), "price": "0"}).status_code == 422
    assert signed_in.post(tariff, {"form_key": form_key(), "price": "28.5"}).status_code == 302
    assert Tariff.objects.get().price_hundredths == 2850
    assert 'value="28.5"' in signed_in.get(tariff).text
    assert Change.objects.filter(action="save_tariff").exists()


def test_a_line_proven_elsewhere_is_on_trial_in_a_kiln_that_has_to_prove_it(
    world: World,
) -> None:
    from studio.wares.models import ProofRule

    board = world.glazed(12)
    firing = world.planned(world.small)
    world.load(firing, board)
    world.fired(firing)
    world.line.is_learnt = True
    world.line.save()
    board = world.glazed(2)
    load = world.planned(world.big)
    (choice,) = (one for one in selectors.loadable_boards(load) if one.board == board)
    assert choice.batch.standing == "proven"
    ProofRule.objects.create(firings=1, pieces=2, good_percent=10, by_kiln=True)
    (choice,) = (one for one in selectors.loadable_boards(load) if one.board == board)
    assert choice.batch.standing == "trial"
    here = world.planned(world.small)
    (choice,) = (one for one in selectors.loadable_boards(here) if one.board == board)
    assert choice.batch.standing == "proven"


def test_a_fault_is_told_by_its_place_on_the_load_sheet(
    world: World, signed_in: Client, form_key: Key
) -> None:
    board = world.glazed(4)
    firing = world.planned(world.small)
    world.load(firing, board)
    firing.refresh_from_db()
    ready = services.prepare_sheet(firing=firing, steps=400)
    services.keep_sheet(firing=firing, ready=ready, by=world.by, at=LONG_AGO)
    lit_at = world.free_from(world.small)
    services.light(firing=firing, lit_at=lit_at, by=world.by, at=NOW)
    services.switch_off(firing=firing, off_at=lit_at + 12 * HOUR, by=world.by, at=NOW)
    first, second, *_ = selectors.places_of(firing)
    url = reverse("firings:open", args=[firing.pk])
    assert first.words in signed_in.get(url).text
    typed = {
        "form_key": form_key(), "is_cool": "on", "place_1": first.place_id, "seen_1": "stuck",
        "gone_1": "on", "place_2": second.place_id, "seen_2": "",
    }  # fmt: skip
    wrong = signed_in.post(url, typed)
    assert (wrong.status_code, f"Board {board}: choose what was seen." in wrong.text) == (422, True)
    signed_in.post(url, typed | {"form_key": form_key(), "seen_2": "pinhole"})
    assert Fault.objects.get(kind="stuck").piece.parting == "broken"
    assert Fault.objects.get(kind="pinhole").piece_id == second.piece_id
    services.add_results(
        firing=firing, words="pinholes", place=Place.objects.get(pk=second.place_id),
        by=world.by, at=NOW,
    )  # fmt: skip
    (tile,) = selectors.tiles(selectors.book())
    assert (
        tile.place == f"place {second.number}, level {second.level}, {second.ring}, board {board}"
    )
