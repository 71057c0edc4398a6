"""Does the studio keep what it says of itself, and refuse what it must not say?"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from studio.drawing.portraits import studio_mark
from studio.home.rules import CHANGED_AGAIN
from studio.web.models import Change, Studio

FormKey = Callable[[], str]
ASKED = {
    "name": "Kelpie Kiln",
    "reply_address": "1 Shore\nStrand",
    "care_note": "Wash by hand.",
    "currency": "EUR",
    "temperature_unit": "F",
    "length_unit": "in",
    "paper": "Letter",
}


def test_settings_are_kept(signed_in: Client, form_key: FormKey) -> None:
    answer = signed_in.post(reverse("settings"), ASKED | {"form_key": form_key()}, follow=True)
    assert "Kelpie Kiln" in answer.content.decode()
    studio = Studio.objects.get(id=1)
    assert (studio.currency, studio.temperature_unit, studio.length_unit) == ("EUR", "F", "in")


def test_a_mark_is_kept_and_shown(signed_in: Client, form_key: FormKey, photos: Path) -> None:
    mark = SimpleUploadedFile("mark.png", studio_mark(name="Kelpie"), "image/png")
    signed_in.post(reverse("settings"), ASKED | {"form_key": form_key(), "new_mark": mark})
    studio = Studio.objects.get(id=1)
    assert (photos / studio.mark).exists()
    picture = signed_in.get(reverse("photo", args=[studio.mark]))
    assert picture.status_code == 200
    assert b"".join(picture) == (photos / studio.mark).read_bytes()  # type: ignore[arg-type]
    picture.close()


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"name": ""}, "This field is required"),
        ({"currency": "XYZ"}, "is not one of the available choices"),
        ({"care_note": "All glazes are food-safe."}, "Leave out “food safe”"),
        ({"length_unit": "cubits"}, "is not one of the available choices"),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_what_is_refused_is_said_and_typed_words_stay(
    signed_in: Client, form_key: FormKey, wrong: dict[str, str], sentence: str
) -> None:
    asked = ASKED | wrong | {"form_key": form_key()}
    answer = signed_in.post(reverse("settings"), asked)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert "1 Shore" in page
    assert not Studio.objects.exists()


def test_a_mark_that_is_no_picture_is_refused(
    signed_in: Client, form_key: FormKey, photos: Path
) -> None:
    upload = SimpleUploadedFile("mark.png", b"not a picture", "image/png")
    asked = ASKED | {"form_key": form_key(), "new_mark": upload}
    assert signed_in.post(reverse("settings"), asked).status_code == 422
    assert not Studio.objects.exists()
    assert list(photos.iterdir()) == []


def test_a_change_of_settings_is_undone_unless_they_changed_again(
    signed_in: Client, form_key: FormKey
) -> None:
    def keep(**values: str) -> Change:
        signed_in.post(reverse("settings"), ASKED | values | {"form_key": form_key()})
        return Change.objects.filter(action="settings").latest("id")

    keep()
    second = keep(name="Other Kiln")
    signed_in.post(reverse("undo", args=[second.pk]), {"form_key": form_key()})
    assert Studio.objects.get().name == "Kelpie Kiln"
    third, _ = keep(name="Third Kiln"), keep(name="Fourth Kiln")
    answer = signed_in.post(reverse("undo", args=[third.pk]), {"form_key": form_key()})
    assert CHANGED_AGAIN in answer.content.decode()
    assert Studio.objects.get().name == "Fourth Kiln"


def test_a_refused_form_does_not_rename_the_page(signed_in: Client, form_key: FormKey) -> None:
    signed_in.post(reverse("settings"), ASKED | {"form_key": form_key()})
    wrong = ASKED | {"name": "Nonsense", "currency": "XYZ", "form_key": form_key()}
    page = signed_in.post(reverse("settings"), wrong).content.decode()
    assert "· Kelpie Kiln</title>" in page


@pytest.mark.django_db
def test_there_is_one_studio_with_known_units() -> None:
    Studio.objects.create(id=1)
    for wrong in ({"id": 2}, {"id": 1, "temperature_unit": "K"}, {"id": 1, "name": ""}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Studio.objects.filter(id=1).update(**wrong)
