"""Is a parcel whose address changed after the lock posted only where a person said?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import reverse

from studio.parcels import selectors, services
from studio.parcels.models import AddressLook, Parcel, Shipment
from studio.web.models import Change
from studio.web.people import add_sign_in
from studio.web.refusal import Refusal
from tests.conftest import MODEL_BACKEND
from tests.parcels import cast
from tests.parcels.cast import LEEDS, NOW, parcel_of, state_of

pytestmark = pytest.mark.django_db
Key = Callable[[], str]
ASH = LEEDS | {"street_address": "9 Ash Lane"}
ELM = LEEDS | {"street_address": "2 Elm Court"}


@pytest.fixture
def packed(potter: User) -> Shipment:
    """Three parcels, locked and packed; Ada moved after that."""
    shipment = cast.asked(potter)
    cast.lock(shipment, potter)
    services.mark_packed(parcels=list(shipment.parcels.all()), by=potter, at=NOW)
    ada = parcel_of(shipment, "Ada").supporter
    services.set_own_address(supporter=ada, fields=ASH, at=NOW)
    return shipment


def at(name: str, *args: int) -> str:
    return reverse(f"parcels:{name}", args=args)


def all_of(shipment: Shipment) -> list[Parcel]:
    return list(shipment.parcels.select_related("supporter", "shipment"))


def states(shipment: Shipment) -> dict[str, str]:
    return {one.supporter.name: one.state for one in all_of(shipment)}


def test_no_service_posts_past_a_change_of_address(potter: User, packed: Shipment) -> None:
    ada = parcel_of(packed, "Ada")
    sentence = (
        "The address of Ada changed after it was locked. Look at both, then post to the printed"
        " one, or take the new one and print again."
    )
    for parcels in ([ada], all_of(packed)):
        with pytest.raises(Refusal) as refused:
            services.mark_posted(parcels=parcels, by=potter, at=NOW)
        assert str(refused.value) == sentence
    assert cast.row_of(packed, "Ada").cannot_post == sentence
    with pytest.raises(Refusal, match="changed after it was locked"):
        services.mark_posted(parcels=[ada], as_printed={ada.id: "seen"}, by=potter, at=NOW)
    assert set(states(packed).values()) == {"packed"}
    others = [one for one in all_of(packed) if one.id != ada.id]
    services.mark_posted(parcels=others, by=potter, at=NOW)
    assert states(packed) == {"Ada": "packed", "Bo": "posted", "Cy": "posted"}


def test_it_goes_to_the_printed_one_when_that_is_said_of_the_one_that_stands_now(
    potter: User, packed: Shipment
) -> None:
    ada = parcel_of(packed, "Ada")
    seen = {ada.id: selectors.address_mark(ada.supporter)}
    services.set_own_address(supporter=ada.supporter, fields=ELM, at=NOW)
    with pytest.raises(Refusal, match="changed after it was locked"):
        services.mark_posted(parcels=[ada], as_printed=seen, by=potter, at=NOW)
    services.set_own_address(supporter=ada.supporter, fields=ASH, at=NOW)
    change = services.mark_posted(parcels=[ada], as_printed=seen, by=potter, at=NOW)
    posted = parcel_of(packed, "Ada")
    assert (posted.state, posted.locked_address["street_address"]) == ("posted", "4 Kiln Row")
    services.undo(change=change, by=potter, at=NOW)
    assert parcel_of(packed, "Ada").state == "packed"


def test_who_takes_the_new_one_stays_until_it_is_printed(potter: User, packed: Shipment) -> None:
    ada = parcel_of(packed, "Ada")
    services.keep_looks(page="slips", by=potter, at=NOW, parcels=[ada])
    later = NOW + timedelta(minutes=5)
    changes = services.post_or_take(
        parcels=all_of(packed), as_printed={}, taken=[ada], by=potter, at=later
    )
    assert [change.action for change in changes] == ["take_address", "post"]
    assert states(packed) == {"Ada": "packed", "Bo": "posted", "Cy": "posted"}
    assert state_of(ada).print_again
    with pytest.raises(Refusal) as refused:
        services.mark_posted(parcels=[parcel_of(packed, "Ada")], by=potter, at=later)
    assert str(refused.value) == (
        "The address of Ada was taken anew after papers were printed. Print its slip or label"
        " again, then post."
    )
    printed = later + timedelta(minutes=1)
    services.keep_looks(page="labels", by=potter, at=printed, parcels=[ada])
    services.mark_posted(parcels=[parcel_of(packed, "Ada")], by=potter, at=printed)
    assert parcel_of(packed, "Ada").locked_address["street_address"] == "9 Ash Lane"


def test_one_that_cannot_go_leaves_every_address_as_it_was(potter: User, packed: Shipment) -> None:
    bo = parcel_of(packed, "Bo")
    Parcel.objects.filter(id=bo.id).update(state="picked")
    with pytest.raises(Refusal, match="The parcel of Bo is not packed yet"):
        services.post_or_take(
            parcels=all_of(packed),
            as_printed={},
            taken=[parcel_of(packed, "Ada")],
            by=potter,
            at=NOW,
        )
    assert not Change.objects.filter(action="take_address").exists()
    assert parcel_of(packed, "Ada").locked_address["street_address"] == "4 Kiln Row"


def test_the_page_shows_both_and_asks(
    signed_in: Client, form_key: Key, potter: User, packed: Shipment
) -> None:
    ada, ids = parcel_of(packed, "Ada"), [one.id for one in all_of(packed)]
    with time_machine.travel(NOW, tick=False):
        post = {"parcel": ids, "do": "post", "form_key": form_key()}
        answer = signed_in.post(at("mark", packed.id), post)
        asked = answer["Location"]
        assert asked.startswith(at("moved", packed.id))
        assert set(states(packed).values()) == {"packed"}
        page = signed_in.get(asked).text
        assert "4 Kiln Row" in page
        assert "9 Ash Lane" in page
        assert "Bo, Cy" in page
        assert "checked" not in page  # neither way is taken by a tap on the button alone
        assert [look.supporter.name for look in AddressLook.objects.all()] == ["Ada"]
        sent = {"parcel": ids, f"seen-{ada.id}": selectors.address_mark(ada.supporter)}
        answer = signed_in.post(at("moved", packed.id), sent | {"form_key": form_key()})
        assert answer.status_code == 422
        assert "Say to which address the parcel of Ada goes." in answer.text
        wrong = sent | {f"address-{ada.id}": "both", "form_key": form_key()}
        assert signed_in.post(at("moved", packed.id), wrong).status_code == 422
        assert set(states(packed).values()) == {"packed"}
        right = sent | {f"address-{ada.id}": "printed", "form_key": form_key()}
        answer = signed_in.post(at("moved", packed.id), right)
        assert answer["Location"] == at("shipment", packed.id)
        assert set(states(packed).values()) == {"posted"}
        again = signed_in.get(asked).text
        assert "No address of these parcels differs" in again


def test_an_address_that_changes_while_it_is_looked_at_is_shown_again(
    signed_in: Client, form_key: Key, packed: Shipment
) -> None:
    ada, ids = parcel_of(packed, "Ada"), [one.id for one in all_of(packed)]
    seen = selectors.address_mark(ada.supporter)
    services.set_own_address(supporter=ada.supporter, fields=ELM, at=NOW)
    with time_machine.travel(NOW, tick=False):
        for mark in (seen, ""):
            sent = {
                "parcel": ids, f"seen-{ada.id}": mark, f"address-{ada.id}": "printed",
                "form_key": form_key(),
            }  # fmt: skip
            answer = signed_in.post(at("moved", packed.id), sent, follow=True)
            assert "An address changed at this moment, so nothing was posted" in answer.text
            assert "2 Elm Court" in answer.text
        assert set(states(packed).values()) == {"packed"}


def test_a_helper_answers_too_and_the_look_is_kept(
    form_key: Key, potter: User, packed: Shipment
) -> None:
    add_sign_in(name="sam", password="knead and knead again", helper=True, by=potter, at=NOW)
    sam, client = User.objects.get(username="sam"), Client()
    client.force_login(sam, backend=MODEL_BACKEND)
    ada = parcel_of(packed, "Ada")
    services.keep_looks(page="slips", by=potter, at=NOW, parcels=[ada])
    with time_machine.travel(NOW + timedelta(hours=1), tick=False):
        asked = f"{at('moved', packed.id)}?parcel={ada.id}&parcel=x&parcel=99999"
        assert "9 Ash Lane" in client.get(asked).text
        assert AddressLook.objects.filter(by=sam, page="parcel").count() == 1
        sent = {
            "parcel": [ada.id], f"seen-{ada.id}": selectors.address_mark(ada.supporter),
            f"address-{ada.id}": "new", "form_key": form_key(),
        }  # fmt: skip
        answer = client.post(at("moved", packed.id), sent, follow=True)
        assert "Took the new address of Ada" in answer.text
        assert "print again" in answer.text
    assert states(packed)["Ada"] == "packed"
    # A month off the bench is closed to a helper, this page of it too.
    packed.parcels.update(state="posted", posted_date=NOW.date())
    with time_machine.travel(NOW + timedelta(days=9), tick=False):
        assert client.get(asked).status_code == 403
