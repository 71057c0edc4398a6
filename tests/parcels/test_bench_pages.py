"""Do the pages of the bench lead from the lock to a breakage?"""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from studio.parcels import selectors
from studio.parcels.models import BoxType, Parcel, Shipment, Supporter
from studio.wares.models import Line
from studio.web.models import Studio
from tests.parcels import cast
from tests.parcels.cast import NOW, box, parcel_of
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture
def mug(db: None) -> Line:
    return cast.mug()


@pytest.fixture
def december(potter: User, mug: Line) -> Shipment:
    return cast.mugs_for_three(potter, mug)


def at(name: str, *args: int) -> str:
    return reverse(f"parcels:{name}", args=args)


def test_a_month_from_the_lock_to_a_breakage_on_the_pages(
    signed_in: Client, form_key: Key, potter: User, december: Shipment, mug: Line
) -> None:
    with time_machine.travel(NOW, tick=False):
        box(potter)
        wares_cast.pots(mug, 1, potter)
        page = signed_in.get(at("shipment", december.id)).text
        assert "mug box, best fit" in page
        assert "780 g, reckoned" in page
        assert page.count("address not locked") == 3
        free = selectors.free_pots().get()
        signed_in.post(at("spare", december.id), {"piece": free.id, "form_key": form_key()})
        ids = list(december.parcels.values_list("id", flat=True))
        signed_in.post(at("lock", december.id), {"ticked": ids, "form_key": form_key()})
        answer = signed_in.post(at("lock", december.id), {"ticked": "x", "form_key": form_key()})
        assert answer.status_code == 409
        ada = parcel_of(december, "Ada")
        answer = signed_in.post(
            at("weigh", ada.id), {"box": "mug box", "weighed_g": "200", "form_key": form_key()}
        )
        assert (answer.status_code, "is less than the pots" in answer.text) == (422, True)
        signed_in.post(
            at("weigh", ada.id), {"box": "mug box", "weighed_g": "800", "form_key": form_key()}
        )
        labels = signed_in.get(at("labels", december.id) + "?sheet=4x6")
        assert len(PdfReader(io.BytesIO(labels.content)).pages) == 3
        for query in ("sheet=a5", "sheet=a4&start=9", "parcel=9999", "parcel=x"):
            answer = signed_in.get(at("labels", december.id) + "?" + query)
            assert answer.status_code in (404, 409), query
        assert signed_in.get(at("labels", december.id) + "?sheet=letter&start=7").status_code == 409
        mark = at("mark", december.id)
        signed_in.post(mark, {"parcel": ids, "do": "pack", "form_key": form_key()})
        wrong = {"number": "EB900717618HK", "form_key": form_key()}
        answer = signed_in.post(at("tracking", ada.id), wrong)
        assert (answer.status_code, "ask for 2" in answer.text) == (422, True)
        assert 'value="EB900717618HK"' in answer.text
        right = {"number": "RR 473 124 829 GB", "form_key": form_key()}
        signed_in.post(at("tracking", ada.id), right)
        assert "RR 473 124 829 GB" in signed_in.get(at("parcel", ada.id)).text
        signed_in.post(mark, {"parcel": ids, "do": "post", "form_key": form_key()})
        signed_in.post(mark, {"parcel": ids, "do": "arrive", "form_key": form_key()})
        assert "3 of 3" not in signed_in.get(at("parcels")).text
        answer = signed_in.post(
            at("broken", ada.id), {"note": "rim chipped", "form_key": form_key()}
        )
        page = signed_in.get(at("parcel", ada.id)).text
        assert "rim chipped" in page
        assert "spare" in page
        answer = signed_in.post(at("replace", ada.id), {"piece": free.id, "form_key": form_key()})
        again = Parcel.objects.get(replaces=ada)
        assert answer["Location"] == at("parcel", again.id)
        assert "It uses no turn" in signed_in.get(at("parcel", again.id)).text
        assert "sent again" in signed_in.get(at("shipment", december.id)).text
        assert "1 of 3 broken" in signed_in.get(at("boxes")).text
        answer = signed_in.post(at("replace", ada.id), {"form_key": form_key()})
        assert answer.status_code == 409
        answer = signed_in.post(at("spare", december.id), {"form_key": form_key()})
        assert answer.status_code == 409


def test_boxes_on_the_page(signed_in: Client, form_key: Key) -> None:
    sent = {
        "name": "mug box", "length_mm": "250", "width_mm": "20 cm", "height_mm": "7.9 in",
        "wall_mm": "4", "weight_g": "420", "takes": "",
    }  # fmt: skip
    assert signed_in.post(at("boxes"), sent | {"form_key": form_key()}).status_code == 302
    made = BoxType.objects.get()
    # 7.9 in x 25.4 = 200.66 mm
    assert (made.width_mm, made.height_mm, made.takes) == (200, 201, None)
    answer = signed_in.post(at("boxes"), sent | {"form_key": form_key()})
    assert (answer.status_code, "There is a box called mug box" in answer.text) == (422, True)
    answer = signed_in.post(at("boxes"), sent | {"length_mm": "wide", "form_key": form_key()})
    assert answer.status_code == 422
    signed_in.post(at("box", made.id), sent | {"takes": "1", "form_key": form_key()})
    assert BoxType.objects.get().takes == 1
    assert "takes 1" in signed_in.get(at("boxes")).text
    page = signed_in.get(at("boxes")).text
    for label in ("Length inside (mm)", "Wall (mm)", "Weight with its usual fill (g)"):
        assert f">{label}<" in page
    Studio.objects.update_or_create(id=1, defaults={"length_unit": "in"})
    assert ">Length inside (in)<" in signed_in.get(at("boxes")).text
    assert ">Padding on each side (in)<" in signed_in.get(at("post")).text
    signed_in.post(at("drop-box", made.id), {"form_key": form_key()})
    assert not BoxType.objects.exists()


def test_a_name_that_cannot_be_printed_is_told(
    signed_in: Client, potter: User, december: Shipment
) -> None:
    Supporter.objects.filter(name="Ada").update(name="Ada བོད")
    ada = december.parcels.get(supporter__number=1)
    assert "letters missing" in signed_in.get(at("shipment", december.id)).text
    assert "No font here has བ ོ ད" in signed_in.get(at("parcel", ada.id)).text
    assert "No font" not in signed_in.get(at("parcel", parcel_of(december, "Bo").id)).text
