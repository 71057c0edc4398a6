"""Is every look at an address kept?"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from studio.parcels import services
from studio.parcels.models import AddressLook, Shipment, Supporter
from studio.web.models import Change
from tests.parcels import cast
from tests.parcels.cast import NOW, parcel_of

pytestmark = pytest.mark.django_db
Key = Callable[[], str]


@pytest.fixture(autouse=True)
def no_counts() -> None:
    """Forget what the limits counted in the tests before."""
    cache.clear()


@pytest.fixture
def december(potter: User) -> Shipment:
    return cast.asked(potter)


@pytest.fixture
def ada(december: Shipment) -> Supporter:
    return Supporter.objects.get(name="Ada")


def test_every_look_at_an_address_is_kept(
    signed_in: Client, potter: User, december: Shipment, ada: Supporter
) -> None:
    parcel = parcel_of(december, "Ada")
    cast.lock(december, potter)
    signed_in.get(reverse("parcels:parcel", args=[parcel.id]))
    assert not AddressLook.objects.exists()  # the address was not on the page
    signed_in.get(reverse("parcels:parcel", args=[parcel.id]) + "?address=1")
    signed_in.get(reverse("parcels:supporter", args=[ada.id]))
    signed_in.get(reverse("parcels:edit-supporter", args=[ada.id]))
    signed_in.get(reverse("parcels:slips", args=[december.id]))
    signed_in.get(reverse("parcels:labels", args=[december.id]) + f"?parcel={parcel.id}")
    signed_in.get(reverse("parcels:packers", args=[december.id]))
    looks = AddressLook.objects.order_by("id").values_list(
        "page", "supporter__name", "by__username"
    )
    assert list(looks) == [
        ("parcel", "Ada", "ada"),
        ("person", "Ada", "ada"),
        ("edit", "Ada", "ada"),
        ("slips", "Ada", "ada"),
        ("slips", "Bo", "ada"),
        ("slips", "Cy", "ada"),
        ("labels", "Ada", "ada"),
    ]
    page = signed_in.get(reverse("parcels:looks")).text
    assert page.count("packing slips") == 3
    one = signed_in.get(reverse("parcels:looks-at", args=[ada.id])).text
    assert "Who saw the address of Ada" in one
    assert one.count("packing slips") == 1
    body = b"".join(signed_in.get(reverse("parcels:export")))  # type: ignore[arg-type]
    assert b"4 Kiln Row" in body
    assert AddressLook.objects.filter(page="export").count() == 3


def test_a_paper_that_was_refused_showed_nobody(signed_in: Client, december: Shipment) -> None:
    assert signed_in.get(reverse("parcels:slips", args=[december.id])).status_code == 409
    assert not AddressLook.objects.exists()


def test_erasing_takes_the_printed_address_too(
    potter: User, december: Shipment, ada: Supporter
) -> None:
    cast.lock(december, potter)
    parcels = list(december.parcels.all())
    services.mark_packed(parcels=parcels, by=potter, at=NOW)
    services.mark_posted(parcels=parcels, by=potter, at=NOW)
    box = parcel_of(december, "Ada")
    services.set_tracking(parcel=box, number="RR473124829GB", by=potter, at=NOW)
    services.report_broken(parcel=box, note="Ada says: in pieces", by=potter, at=NOW)
    services.erase(supporter=ada, by=potter, at=NOW)
    box.refresh_from_db()
    assert (box.locked_name, box.locked_address, box.tracking, box.broken_note) == ("", {}, "", "")
    for change in Change.objects.all():
        assert "4 Kiln Row" not in str(change.undo or "") or change.subject != "supporter"
        assert "RR473124829GB" not in change.said


def test_a_look_outlives_the_taking_in_that_was_undone(
    signed_in: Client, potter: User, december: Shipment
) -> None:
    change = services.add_supporter(
        values={"name": "Di", "tier": cast.tier(), "joined_month": cast.NOVEMBER, **cast.LEEDS},
        by=potter,
        at=NOW,
    )
    signed_in.get(reverse("parcels:supporter", args=[change.subject_id]))
    services.undo(change=change, by=potter, at=NOW)
    assert not Supporter.objects.filter(name="Di").exists()
    look = AddressLook.objects.get()
    assert (look.supporter, look.name, look.number, look.by) == (None, "Di", 4, potter)
    page = signed_in.get(reverse("parcels:looks")).text
    assert "No. 4, taken out again" in page
    # The next to be taken in has that number too: the look is not theirs.
    di = cast.supporter("Elm", potter)
    assert di.number == 4
    assert "Nobody yet" in signed_in.get(reverse("parcels:looks-at", args=[di.id])).text


def test_a_look_forgets_the_name_of_who_is_erased(
    signed_in: Client, potter: User, december: Shipment
) -> None:
    di = cast.supporter("Di", potter)
    signed_in.get(reverse("parcels:supporter", args=[di.id]))
    services.erase(supporter=di, by=potter, at=NOW)
    assert [look.name for look in AddressLook.objects.all()] == ["supporter 4"]


def test_slips_written_by_a_command_are_a_look_too(
    potter: User, december: Shipment, tmp_path: Path
) -> None:
    out = tmp_path / "december.pdf"
    with pytest.raises(CommandError, match="are not locked yet"):
        call_command("slips", "2026-12", "--out", str(out))
    cast.lock(december, potter)
    with pytest.raises(CommandError, match="There is no folder"):
        call_command("slips", "2026-12", "--out", str(tmp_path / "none" / "x.pdf"))
    with pytest.raises(CommandError, match="There are parcels for 2026-12"):
        call_command("slips", "2027-01", "--out", str(out))
    assert not AddressLook.objects.exists()
    said = io.StringIO()
    call_command("slips", "2026-12", "--out", str(out), stdout=said)
    assert out.read_bytes().startswith(b"%PDF")
    assert said.getvalue() == f"Wrote 3 slips to {out}.\n"
    looks = AddressLook.objects.values_list("page", "name", "by__username")
    assert sorted(looks) == [("slips", name, "by-a-command") for name in ("Ada", "Bo", "Cy")]
    assert not User.objects.get(username="by-a-command").has_usable_password()
