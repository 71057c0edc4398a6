"""Do months, links and tiers refuse what their pages do not offer, and save nothing of it?"""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User

from studio.parcels import selectors, services
from studio.parcels.models import Shipment, Supporter
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def december(potter: User) -> Shipment:
    for name in ("Ada", "Bo"):
        cast.supporter(name, potter)
    wares_cast.pots(wares_cast.line(), 2, potter)
    shipment = cast.shipment(potter, parcel_count=2)
    services.pick_parcels(shipment=shipment, by=potter, at=NOW)
    return shipment


def test_a_full_month_needs_no_more_lines(potter: User, december: Shipment) -> None:
    sentence = "Every parcel of December 2026 is picked, so nothing more is needed."
    assert selectors.cannot_set_aside(december) == sentence
    with pytest.raises(Refusal) as refused:
        services.set_aside(shipment=december, by=potter, at=NOW)
    assert str(refused.value) == sentence


def test_the_link_of_somebody_erased_keeps_nothing(potter: User) -> None:
    zoe = cast.supporter("Zoe", potter)
    services.erase(supporter=zoe, by=potter, at=NOW)
    with pytest.raises(Refusal, match="This link opens nothing any more"):
        services.set_own_address(supporter=zoe, fields={"city": "Oban"}, at=NOW)
    zoe.refresh_from_db()
    assert zoe.city == ""


def test_a_tier_that_somebody_is_in_stays(potter: User) -> None:
    added = services.set_tier(
        tier=None, name="Bowl", monthly_pence=1500, weight=2, by=potter, at=NOW
    )
    bo = cast.supporter("Bo", potter)
    Supporter.objects.filter(id=bo.id).update(tier=added.subject_id)
    with pytest.raises(Refusal, match="supporters are in that tier"):
        services.undo(change=added, by=potter, at=NOW)
    bo.refresh_from_db()
    assert bo.tier.name == "Bowl"
