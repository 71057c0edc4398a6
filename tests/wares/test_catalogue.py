"""The catalogue: forms, clay, glazes, coats and lines as typed, refused and undone."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import models
from django.test import Client
from django.urls import reverse

from studio.wares import rules, services
from studio.wares.forms.wanting import WantForm
from studio.wares.models import ClayLot, Coat, Coats, Form, Glaze, Line
from studio.web.models import Change, Studio
from studio.web.refusal import Refusal
from tests import make

pytestmark = pytest.mark.django_db
Key = Callable[[], str]

BOWL = {
    "name": "Bowl",
    "silhouette": "bowl",
    "width_mm": "150",
    "handle_mm": "0",
    "height_mm": "70",
    "weight_g": "400",
    "room": "2.5",
    "price_pence": "45.00",
    "throwing_min": "10",
    "glazing_min": "4",
    "finishing_min": "6",
    "drying_days": "6",
    "may_refire": "on",
}
CLAY = {
    "body": "Grey",
    "lot": "7",
    "received_date": "2026-01-05",
    "top_cone": "8",
    "shrinkage": "12.5",
}


def post(client: Client, key: Key, name: str, typed: dict[str, Any], *ids: int) -> Any:
    return client.post(reverse(f"wares:{name}", args=ids), {"form_key": key(), **typed})


def test_a_form_is_typed_in_millimetres(signed_in: Client, form_key: Key) -> None:
    answer = post(signed_in, form_key, "forms_add", BOWL)
    assert answer.headers["Location"] == reverse("wares:forms")
    form = Form.objects.get()
    assert (form.width_mm, form.room_tenths, form.price_pence) == (150, 25, 4500)
    page = signed_in.get(reverse("wares:forms")).text
    assert "150 mm wide, 70 mm high" in page
    assert "£45.00" in page


def test_a_form_is_typed_in_inches(signed_in: Client, form_key: Key) -> None:
    Studio.objects.update_or_create(id=1, defaults={"length_unit": "in"})
    typed = BOWL | {"width_mm": "6", "height_mm": "2 3/4", "handle_mm": "0"}
    post(signed_in, form_key, "forms_add", typed)
    form = Form.objects.get()
    assert (form.width_mm, form.height_mm) == (152, 70)  # 6 x 25.4 = 152.4; 2.75 x 25.4 = 69.85
    page = signed_in.get(reverse("wares:forms_edit", args=[form.id])).text
    assert 'value="5.98"' in page  # 152 / 25.4
    post(signed_in, form_key, "forms_edit", typed | {"width_mm": "5.98"}, form.id)
    assert Form.objects.get().width_mm == 152  # what was shown comes back whole


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"name": ""}, "required"),
        ({"width_mm": "wide"}, "is not a length"),
        ({"width_mm": "0"}, "A pot has some size: more than 0."),
        ({"height_mm": "1,000"}, "can be read in two ways"),
        ({"weight_g": "0"}, "greater than or equal to 1."),
        ({"weight_g": "99999999999"}, "less than or equal to 100000."),
        ({"room": "0"}, "greater than or equal to 0.1"),
        ({"room": "NaN"}, "Enter a number."),
        ({"drying_days": "0"}, "greater than or equal to 1."),
        ({"throwing_min": "-1"}, "greater than or equal to 0"),
        ({"throwing_min": "40000"}, "less than or equal to 1440."),
        ({"price_pence": "99999999999999"}, "99999999999999"),
        ({"price_pence": "100000.01"}, "above the most that is kept here"),
        ({"price_pence": "free"}, "free"),
        ({"silhouette": "teapot"}, "valid choice"),
    ],
)
def test_a_form_that_cannot_be(
    signed_in: Client, form_key: Key, more: dict[str, str], words: str
) -> None:
    answer = post(signed_in, form_key, "forms_add", BOWL | more)
    assert answer.status_code == 422
    assert words in answer.text
    assert 'name="drying_days" value="' in answer.text  # what was typed stays
    assert not Form.objects.exists()


def test_a_name_is_taken_whatever_its_capitals(signed_in: Client, form_key: Key) -> None:
    make.form("Bowl")
    answer = post(signed_in, form_key, "forms_add", BOWL | {"name": " bOWL "})
    assert rules.can_add_again(what="form", name="bOWL") in answer.text
    answer = post(signed_in, form_key, "forms_edit", BOWL, Form.objects.get().id)
    assert answer.status_code == 302  # its own name is not taken


def test_clay_is_typed(signed_in: Client, form_key: Key) -> None:
    post(signed_in, form_key, "clay_lots_add", CLAY)
    lot = ClayLot.objects.get()
    assert (lot.shrinkage_permille, lot.received_date) == (125, date(2026, 1, 5))
    again = post(signed_in, form_key, "clay_lots_add", CLAY | {"body": "grey"})
    assert rules.can_add_again(what="clay lot", name="grey, lot 7") in again.text
    assert "Lifting clay" in signed_in.get(reverse("wares:clay_lots")).text
    page = signed_in.get(reverse("wares:clay_lots_edit", args=[lot.id])).text
    assert 'value="2026-01-05"' in page
    assert 'value="12.5"' in page


def test_coats_are_layers_in_order(signed_in: Client, form_key: Key) -> None:
    kelp, ash = make.glaze("Kelp"), make.glaze("Ash", top_cone="6")
    typed = {
        "name": "Ash over kelp",
        "top_cone": "6",
        "glaze_1": kelp.id,
        "glaze_3": ash.id,
        "reach_3": "40",
    }
    post(signed_in, form_key, "coats_add", typed)
    coats = Coats.objects.get()
    layers = coats.layers.values_list("seq", "glaze__name", "reach_mm")
    assert list(layers) == [(1, "Kelp", None), (2, "Ash", 40)]
    page = signed_in.get(reverse("wares:coats")).text
    assert "Kelp, over it Ash down 40 mm" in " ".join(page.split())
    assert rules.NO_LAB_RESULT in page
    post(signed_in, form_key, "coats_edit", typed | {"glaze_1": ash.id, "glaze_3": ""}, coats.id)
    assert list(coats.layers.values_list("glaze__name", flat=True)) == ["Ash"]
    change = Change.objects.filter(action="catalogue").first()
    assert change is not None
    services.undo(change=change, by=make.user(), at=make.AT)
    assert list(coats.layers.values_list("seq", "glaze__name", "reach_mm")) == [
        (1, "Kelp", None),
        (2, "Ash", 40),
    ]


def test_coats_go_no_higher_than_their_glazes(signed_in: Client, form_key: Key) -> None:
    ash = make.glaze("Ash", top_cone="6")
    typed = {"name": "Ash", "top_cone": "8", "glaze_1": ash.id}
    answer = post(signed_in, form_key, "coats_add", typed)
    sentence = rules.can_lay(coats="Ash", top_cone="8", glazes=[("Ash", "6")])
    assert sentence == "Ash is meant to go to cone 8, but its glaze Ash may go to cone 6 only."
    assert sentence in answer.text
    assert not Coats.objects.exists()
    assert not Coat.objects.exists()


def test_a_line_is_typed_once_and_its_cones_fit(signed_in: Client, form_key: Key) -> None:
    typed = {
        "form": make.form().id,
        "clay_lot": make.clay_lot().id,
        "coats": make.coats().id,
        "schedule": make.schedule().id,
        "standing": "trial",
    }
    assert post(signed_in, form_key, "lines_add", typed).status_code == 302
    assert Line.objects.get().standing == "trial"
    again = post(signed_in, form_key, "lines_add", typed)
    assert "There is already a line called Mug in Kelp all over on Heron stoneware" in again.text
    low = make.coats("Low red", top_cone="04")
    answer = post(signed_in, form_key, "lines_add", typed | {"coats": low.id})
    assert "The glaze Low red may go to cone 04; the schedule" in answer.text
    bisque = make.bisque_schedule()
    answer = post(signed_in, form_key, "lines_add", typed | {"schedule": bisque.id})
    assert answer.status_code == 422
    assert Line.objects.count() == 1


def test_a_glaze_is_typed(signed_in: Client, form_key: Key) -> None:
    typed = {"name": "Kelp", "mixed_date": "2026-01-20", "top_cone": "7", "is_runny": "on"}
    post(signed_in, form_key, "glazes_add", typed)
    assert Glaze.objects.get().is_runny
    page = signed_in.get(reverse("wares:glazes")).text
    assert rules.NO_LAB_RESULT in page
    assert "food safe" not in page.lower()


def test_the_same_key_adds_once(signed_in: Client, form_key: Key) -> None:
    typed = {"form_key": form_key(), **BOWL}
    url = reverse("wares:forms_add")
    assert [signed_in.post(url, typed).status_code for _ in range(2)] == [302, 302]
    assert Form.objects.count() == 1


def test_adding_and_changing_are_undone(potter: User) -> None:
    who: dict[str, Any] = {"by": potter, "at": make.AT}
    values = {"name": "Grey", "mixed_date": date(2026, 1, 2), "top_cone": "6", "is_runny": False}
    added = services.keep_entry(what="glaze", values=values, **who)
    glaze = Glaze.objects.get()
    changed = services.keep_entry(
        what="glaze", entry_id=glaze.id, values={"mixed_date": date(2026, 3, 9)}, **who
    )
    with pytest.raises(Refusal, match="the glaze was changed since"):
        services.undo(change=added, **who)
    services.undo(change=changed, **who)
    assert Glaze.objects.get().mixed_date == date(2026, 1, 2)
    services.undo(change=added, **who)
    assert not Glaze.objects.exists()


def test_what_is_in_use_stays(potter: User) -> None:
    who: dict[str, Any] = {"by": potter, "at": make.AT}
    make.form()
    values = {
        field.name: getattr(make.form(), field.name)
        for field in Form._meta.concrete_fields
        if not field.primary_key
    }
    added = services.keep_entry(what="form", values=values | {"name": "Cup"}, **who)
    make.board("thrown", 2, form=Form.objects.get(name="Cup"))
    with pytest.raises(Refusal, match="the form Cup is in use"):
        services.undo(change=added, **who)
    assert Form.objects.filter(name="Cup").exists()


def test_a_taken_name_is_refused_by_the_service_too(potter: User) -> None:
    make.glaze("Kelp")
    values = {"name": "KELP", "mixed_date": date(2026, 1, 2), "top_cone": "6"}
    with pytest.raises(Refusal) as refused:
        services.keep_entry(what="glaze", values=values, by=potter, at=make.AT)
    assert str(refused.value) == rules.can_add_again(what="glaze", name="KELP")


@pytest.mark.parametrize("shelf", ["forms", "clay_lots", "glazes", "coats", "lines"])
def test_every_shelf_is_shown_empty_and_full(signed_in: Client, shelf: str) -> None:
    assert "yet" in signed_in.get(reverse(f"wares:{shelf}")).text
    line = make.line()
    rows: dict[str, models.Model] = {
        "forms": line.form,
        "clay_lots": line.clay_lot,
        "glazes": Glaze.objects.get(),
        "coats": line.coats,
        "lines": line,
    }
    row = rows[shelf]
    assert str(row).split(" in ")[0] in signed_in.get(reverse(f"wares:{shelf}")).text
    assert signed_in.get(reverse(f"wares:{shelf}_edit", args=[row.pk])).status_code == 200
    assert signed_in.get(reverse(f"wares:{shelf}_edit", args=[10**20])).status_code == 404
    assert signed_in.get(reverse(f"wares:{shelf}_add")).status_code == 200
    assert signed_in.get(reverse("wares:catalogue")).status_code == 200


KILN = {"stacks": "nested", "stack_most": "4", "nest_step_mm": "22", "length_mm": "210"}


def test_a_form_tells_the_kiln_its_outline_and_its_stack(signed_in: Client, form_key: Key) -> None:
    post(signed_in, form_key, "forms_add", BOWL)
    plain = Form.objects.get()
    told = (plain.length_mm, plain.handle_width_mm, plain.stacks, plain.stack_most)
    assert told == (0, 25, "no", 1)
    post(signed_in, form_key, "forms_edit", BOWL | KILN, plain.pk)
    plain.refresh_from_db()
    assert (plain.length_mm, plain.stack_most, plain.nest_step_mm) == (210, 4, 22)
    assert "bisque one inside the other, 4 high" in signed_in.get(reverse("wares:forms")).text


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"length_mm": "140"}, "The length is the longer side: at least the width."),
        ({"handle_width_mm": "1"}, "A handle is at least 2 mm wide."),
        ({"stack_most": "1"}, "How many stand on one another in bisque: 2 or more?"),
        ({"nest_step_mm": "71"}, "Each nested one adds some height, at most its own"),
    ],
)
def test_an_outline_that_cannot_be(
    signed_in: Client, form_key: Key, wrong: dict[str, str], sentence: str
) -> None:
    answer = post(signed_in, form_key, "forms_add", BOWL | KILN | wrong)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert not Form.objects.exists()


def test_two_lines_called_the_same_are_told_apart_where_one_is_wanted() -> None:
    old = make.line()
    lot = make.clay_lot(lot="NEW-2")
    new = make.line(clay_lot=lot, standing="trial")
    assert str(old) == str(new)
    labels = [str(label) for value, label in WantForm().fields["line"].choices if value]
    assert labels == [
        f"{old}, lot {old.clay_lot.lot} (proven)",
        f"{new}, lot NEW-2 (on trial)",
    ]
