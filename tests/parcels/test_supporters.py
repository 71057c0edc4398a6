"""Are supporters, tiers and paid months kept as asked, and every wrong one refused in words?"""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.models import User

from studio.parcels import rules, selectors, services
from studio.parcels.models import Payment, Supporter, Tier, TurnRule
from studio.parcels.rules import BadMonth, month_name, month_text, read_month
from studio.web.models import Change
from studio.web.refusal import Refusal
from tests.parcels import cast
from tests.parcels.cast import NOVEMBER, NOW
from tests.sales import cast as wares_cast

pytestmark = pytest.mark.django_db


def test_a_supporter_is_taken_in_changed_and_put_back(potter: User) -> None:
    mug = wares_cast.line().form
    ada = cast.supporter("  Ada   Lind ", potter, please_no=(mug,))
    assert (ada.number, ada.name, ada.city, list(ada.please_no.all())) == (
        1, "Ada Lind", "Leeds", [mug],
    )  # fmt: skip
    change = services.change_supporter(
        supporter=ada, values={"city": "York", "postal_code": "yo1 7hh"}, by=potter, at=NOW
    )
    assert change.said == "Changed supporter 1, Ada Lind"
    ada.refresh_from_db()
    assert (ada.city, ada.postal_code) == ("York", "YO1 7HH")
    services.undo(change=change, by=potter, at=NOW)
    ada.refresh_from_db()
    assert (ada.city, ada.postal_code) == ("Leeds", "LS1 4DY")


def test_taking_in_is_undone_while_nothing_was_sent(potter: User) -> None:
    cast.supporter("Ada", potter)
    change = Change.objects.get(action="add_supporter")
    services.undo(change=change, by=potter, at=NOW)
    assert not Supporter.objects.exists()
    with pytest.raises(Refusal, match="This was undone already"):
        services.undo(change=change, by=potter, at=NOW)


def test_a_later_change_stands_in_the_way_of_an_undo(potter: User) -> None:
    ada = cast.supporter("Ada", potter)
    first = services.change_supporter(
        supporter=ada, values={"packing_note": "no tape"}, by=potter, at=NOW
    )
    services.change_supporter(supporter=ada, values={"packing_note": "wool"}, by=potter, at=NOW)
    with pytest.raises(Refusal, match="Ada was changed since"):
        services.undo(change=first, by=potter, at=NOW)


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"name": "  "}, "A supporter needs a name."),
        (
            {"country_code": ""},
            "The country is missing. Without one a parcel cannot be addressed: choose it.",
        ),
        ({"postal_code": ""}, "United Kingdom: the postcode is missing."),
        (
            {"joined_month": read_month("2026-12")},
            "December 2026 is still to come. Write the month they joined.",
        ),
        ({"is_gift": True}, "A gift names its giver: write who it is from."),
        ({"email": "BO@example.org"}, "The e-mail BO@example.org is supporter 1's."),
        ({"number": 1}, "Number 1 is Bo's already."),
    ],
)
def test_a_wrong_supporter_is_refused(potter: User, values: dict[str, Any], sentence: str) -> None:
    cast.supporter("Bo", potter, email="bo@example.org")
    given = {"name": "Ada", "tier": cast.tier(), **cast.LEEDS, **values}
    with pytest.raises(Refusal) as refusal:
        services.add_supporter(values=given, by=potter, at=NOW)
    assert str(refusal.value) == sentence
    assert Supporter.objects.count() == 1


def test_a_pause_has_months_and_ends(potter: User) -> None:
    ada = cast.supporter("Ada", potter)
    who: dict[str, Any] = {"supporter": ada, "by": potter, "at": NOW}
    change = services.pause(from_month=NOVEMBER, to_month=None, **who)
    assert change.said == "Paused supporter 1, Ada, from November 2026 on"
    with pytest.raises(Refusal) as refusal:
        services.pause(from_month=NOVEMBER + 3, to_month=NOVEMBER + 4, **who)
    assert str(refusal.value) == (
        "The pause from November 2026 runs into the one from February 2027."
        " End it before, or make one of the two."
    )
    with pytest.raises(Refusal, match="A pause ends in the month it begins, or later"):
        services.pause(from_month=NOVEMBER, to_month=NOVEMBER - 1, **who)
    with pytest.raises(Refusal) as refusal:
        services.pause(from_month=read_month("2023-12"), to_month=read_month("2023-12"), **who)
    assert str(refusal.value) == ("Ada joined in January 2024, so December 2023 cannot be paused.")
    # A pause of this very month that ends is as if it had never been.
    services.go_on(**who)
    assert selectors.pauses(ada) == []
    with pytest.raises(Refusal, match="Ada is not paused this month"):
        services.go_on(**who)
    services.pause(from_month=NOVEMBER - 2, to_month=NOVEMBER + 1, **who)
    ended = services.go_on(**who)
    assert selectors.pauses(ada) == [(NOVEMBER - 2, NOVEMBER - 1)]
    services.undo(change=ended, by=potter, at=NOW)
    assert selectors.pauses(ada) == [(NOVEMBER - 2, NOVEMBER + 1)]
    dropped = services.drop_pause(from_month=NOVEMBER - 2, **who)
    assert selectors.pauses(ada) == []
    assert "was" in (dropped.undo or {})
    with pytest.raises(Refusal, match="That pause was taken away already"):
        services.drop_pause(from_month=NOVEMBER - 2, **who)
    services.pause(from_month=NOVEMBER, to_month=NOVEMBER, **who)
    with pytest.raises(Refusal, match="the pauses were changed since"):
        services.undo(change=dropped, by=potter, at=NOW)


def test_who_left_is_not_asked_to_pay_and_may_come_back(potter: User) -> None:
    ada = cast.supporter("Ada", potter, paid=())
    with pytest.raises(Refusal) as refusal:
        services.change_supporter(
            supporter=ada, values={"left_month": read_month("2023-05")}, by=potter, at=NOW
        )
    assert str(refusal.value) == (
        "They joined in January 2024 and cannot have left before: May 2023 is no last month."
    )
    with pytest.raises(Refusal, match="The last month is out of range"):
        services.change_supporter(supporter=ada, values={"left_month": 12}, by=potter, at=NOW)
    services.change_supporter(supporter=ada, values={"left_month": NOVEMBER - 1}, by=potter, at=NOW)
    assert selectors.not_paid(NOVEMBER) == []
    assert selectors.not_paid(NOVEMBER - 1) == [ada]
    services.change_supporter(supporter=ada, values={"left_month": None}, by=potter, at=NOW)
    assert selectors.not_paid(NOVEMBER) == [ada]


def test_a_tier_that_changes_is_kept_for_the_months_before(potter: User) -> None:
    ada, bowl = cast.supporter("Ada", potter), cast.tier("Bowl", 3)
    saucer = ada.tier
    change = services.change_supporter(supporter=ada, values={"tier": bowl}, by=potter, at=NOW)
    former = list(ada.former_tiers.values_list("to_month", "tier"))
    assert former == [(NOVEMBER - 1, saucer.id)]
    # A second change in the same month keeps the tier the month began with.
    cup = cast.tier("Cup", 2)
    again = services.change_supporter(supporter=ada, values={"tier": cup}, by=potter, at=NOW)
    assert list(ada.former_tiers.values_list("to_month", "tier")) == former
    services.undo(change=again, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert not ada.former_tiers.exists()


def test_a_month_is_marked_paid_for_all_active_but_some(potter: User) -> None:
    ada, bo, cy = (cast.supporter(name, potter, paid=()) for name in ("Ada", "Bo", "Cy"))
    services.pause(supporter=cy, from_month=NOVEMBER, to_month=None, by=potter, at=NOW)
    change = services.mark_paid(month=NOVEMBER, but=[bo.id], by=potter, at=NOW)
    assert change.said == "Marked November 2026 paid for 1 supporter"
    assert list(Payment.objects.values_list("supporter_id", "month")) == [(ada.id, NOVEMBER)]
    services.mark_paid(month=NOVEMBER, by=potter, at=NOW)
    with pytest.raises(Refusal, match="Nobody is left to mark for November 2026"):
        services.mark_paid(month=NOVEMBER, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert list(Payment.objects.values_list("supporter_id", flat=True)) == [bo.id]


def test_months_to_come_and_before_joining_are_not_paid(potter: User) -> None:
    ada = cast.supporter("Ada", potter, paid=(), joined_month=read_month("2026-01"))
    with pytest.raises(Refusal, match="December 2026 is still to come"):
        services.mark_paid(month=NOVEMBER + 1, by=potter, at=NOW)
    with pytest.raises(Refusal) as refusal:
        services.set_payments(
            supporter=ada, states={"paid": [read_month("2025-12")]}, by=potter, at=NOW
        )
    assert str(refusal.value) == "Ada joined in January 2026, so December 2025 cannot be paid."
    # Who joined later than the month is not marked for it.
    services.mark_paid(month=read_month("2026-01"), by=potter, at=NOW)
    with pytest.raises(Refusal, match="Nobody is left"):
        services.mark_paid(month=read_month("2025-12"), by=potter, at=NOW)


def test_the_months_of_one_are_set_and_put_back(potter: User) -> None:
    ada = cast.supporter("Ada", potter, paid=("2026-09",))
    states = {"paid": [NOVEMBER], "refunded": [NOVEMBER - 1], "failed": []}
    change = services.set_payments(supporter=ada, states=states, by=potter, at=NOW)
    assert selectors.months_of(ada) == states
    assert change.said == "Set the months of supporter 1, Ada: 1 paid"
    with pytest.raises(Refusal, match="marked so already"):
        services.set_payments(supporter=ada, states=states, by=potter, at=NOW)
    with pytest.raises(Refusal) as refusal:
        services.set_payments(
            supporter=ada, states={"paid": [NOVEMBER], "failed": [NOVEMBER]}, by=potter, at=NOW
        )
    assert str(refusal.value) == "November 2026 is paid and failed. Leave one of the two."
    services.undo(change=change, by=potter, at=NOW)
    assert selectors.months_of(ada)["paid"] == [read_month("2026-09")]


def test_a_refunded_or_failed_month_does_not_count(potter: User) -> None:
    ada = cast.supporter("Ada", potter, paid=("2026-08", "2026-09", "2026-10"))
    assert [turner.eligible for turner in selectors.turners(month=NOVEMBER)] == [True]
    states = {"paid": [NOVEMBER - 3, NOVEMBER - 2], "refunded": [NOVEMBER - 1], "failed": []}
    services.set_payments(supporter=ada, states=states, by=potter, at=NOW)
    (turner,) = selectors.turners(month=NOVEMBER)
    assert (turner.months_paid, turner.eligible) == (2, False)
    # A month that failed is asked for again; one that was refunded is not.
    services.set_payments(
        supporter=ada,
        states={"paid": [], "failed": [NOVEMBER], "refunded": [NOVEMBER - 1]},
        by=potter,
        at=NOW,
    )
    assert selectors.not_paid(NOVEMBER) == [ada]
    assert selectors.failed_in(NOVEMBER) == {ada.id}
    assert selectors.not_paid(NOVEMBER - 1) == []
    change = services.mark_paid(month=NOVEMBER, by=potter, at=NOW)
    assert selectors.months_of(ada)["paid"] == [NOVEMBER]
    services.undo(change=change, by=potter, at=NOW)
    assert selectors.months_of(ada)["failed"] == [NOVEMBER]


def test_tiers_are_added_changed_and_undone(potter: User) -> None:
    added = services.set_tier(
        tier=None, name=" Bowl ", monthly_pence=1500, weight=3, by=potter, at=NOW
    )
    bowl = Tier.objects.get(id=added.subject_id)
    assert (bowl.name, bowl.monthly_pence, bowl.weight) == ("Bowl", 1500, 3)
    with pytest.raises(Refusal, match="There is a tier called bowl already"):
        services.set_tier(tier=None, name="bowl", monthly_pence=1, weight=1, by=potter, at=NOW)
    with pytest.raises(Refusal, match="weight is 1 or more, not 0"):
        services.set_tier(tier=bowl, name="Bowl", monthly_pence=1, weight=0, by=potter, at=NOW)
    with pytest.raises(Refusal, match="A tier needs a name"):
        services.set_tier(tier=bowl, name=" ", monthly_pence=1, weight=1, by=potter, at=NOW)
    with pytest.raises(Refusal, match="0 or more"):
        services.set_tier(tier=bowl, name="Bowl", monthly_pence=-1, weight=1, by=potter, at=NOW)
    changed = services.set_tier(
        tier=bowl, name="Big bowl", monthly_pence=1600, weight=4, by=potter, at=NOW
    )
    services.undo(change=changed, by=potter, at=NOW)
    bowl.refresh_from_db()
    assert (bowl.name, bowl.monthly_pence, bowl.weight) == ("Bowl", 1500, 3)
    services.undo(change=added, by=potter, at=NOW)
    assert not Tier.objects.exists()


def test_the_turn_rule_is_set_and_put_back(potter: User) -> None:
    change = services.set_turn_rule(months_needed=6, equal_turns=False, by=potter, at=NOW)
    assert change.said == "Turns after 6 paid months, by the weight of the tier"
    with pytest.raises(Refusal, match="0 to 120, not 121"):
        services.set_turn_rule(months_needed=121, equal_turns=True, by=potter, at=NOW)
    services.undo(change=change, by=potter, at=NOW)
    assert TurnRule.objects.get().months_needed == 3


@pytest.mark.parametrize(
    "text", ["", "2026", "2026-13", "2026-00", "Dec 2026", "12-2026", "1969-12", "2100-01"]
)
def test_what_is_no_month(text: str) -> None:
    with pytest.raises(BadMonth):
        read_month(text)


def test_months_are_read_and_shown() -> None:
    assert read_month(" 2026-12 ") == 2026 * 12 + 11
    assert month_text(2026 * 12 + 11) == "2026-12"
    assert month_name(2026 * 12) == "January 2026"
    assert rules.month_of(NOW.date()) == NOVEMBER


def test_a_pause_covers_its_first_and_its_last_month() -> None:
    spans = [(NOVEMBER, NOVEMBER + 2), (NOVEMBER + 6, None)]
    covered = [month - NOVEMBER for month in range(NOVEMBER - 1, NOVEMBER + 9)
               if rules.covered(spans, month)]  # fmt: skip
    assert covered == [0, 1, 2, 6, 7, 8]
