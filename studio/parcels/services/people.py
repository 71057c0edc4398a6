"""Keep the supporters, their tiers, and the rule of turns."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max
from django.db.models.functions import Lower
from django.utils import timezone

from studio.parcels import address, rules
from studio.parcels.models import FormerTier, Supporter, Tier, TurnRule
from studio.parcels.services.record import ADDRESS, AGAIN, FIELDS, or_refuse, plain, write_down
from studio.wares.models import Form, Glaze
from studio.web.models import Change
from studio.web.refusal import Refusal, refuse


@transaction.atomic
def add_supporter(
    *,
    values: Mapping[str, Any],
    please_no: Collection[Form] = (),
    no_glazes: Collection[Glaze] = (),
    by: User,
    at: datetime,
) -> Change:
    """Take a supporter in; the subject of the change is the new one.

    ``values`` holds the fields of ``record.FIELDS`` (``tier`` a Tier) and may hold ``number``; a
    missing number is the next one. Raises Refusal.
    """
    supporter = create_supporter(values=values, please_no=please_no, no_glazes=no_glazes, at=at)
    return write_down(
        action="add_supporter",
        said=f"Took in supporter {supporter.number}, {supporter.name}",
        by=by,
        at=at,
        subject="supporter",
        subject_id=supporter.id,
        undo={},
    )


@transaction.atomic
def change_supporter(
    *,
    supporter: Supporter,
    values: Mapping[str, Any],
    please_no: Collection[Form] | None = None,
    no_glazes: Collection[Glaze] | None = None,
    by: User,
    at: datetime,
) -> Change:
    """Change a supporter. Wishes that are None stay as they are. Raises Refusal."""
    held = Supporter.objects.select_for_update().get(id=supporter.id)
    was, now = set_supporter(
        supporter=held, values=values, please_no=please_no, no_glazes=no_glazes, at=at
    )
    return write_down(
        action="change_supporter",
        said=f"Changed supporter {held.number}, {held.name}",
        by=by,
        at=at,
        subject="supporter",
        subject_id=held.id,
        undo={"was": was, "now": now},
    )


@transaction.atomic
def set_tier(
    *, tier: Tier | None, name: str, monthly_pence: int, weight: int, by: User, at: datetime
) -> Change:
    """Add a tier (``tier`` None) or change one. Raises Refusal."""
    plain_name = " ".join(name.split())
    refuse(None if plain_name else "A tier needs a name.")
    refuse(None if weight >= 1 else f"A tier's weight is 1 or more, not {weight}.")
    refuse(None if monthly_pence >= 0 else "A monthly amount is 0 or more.")
    same = Tier.objects.annotate(low=Lower("name")).filter(low=plain_name.lower())
    if tier is not None:
        same = same.exclude(id=tier.id)
    refuse(f"There is a tier called {plain_name} already." if same.exists() else None)
    held = Tier.objects.select_for_update().get(id=tier.id) if tier else Tier()
    was = _tier_values(held) if tier else None
    held.name, held.monthly_pence, held.weight = plain_name, monthly_pence, weight
    with or_refuse(lambda: f"There is a tier called {plain_name} already."):
        held.save()
    return write_down(
        action="set_tier",
        said=f"{'Changed' if tier else 'Added'} the tier {held.name}",
        by=by,
        at=at,
        subject="tier",
        subject_id=held.id,
        undo={"was": was, "now": _tier_values(held)},
    )


@transaction.atomic
def set_turn_rule(*, months_needed: int, equal_turns: bool, by: User, at: datetime) -> Change:
    """Say after how many paid months turns begin, and whether tiers weigh. Raises Refusal."""
    if not 0 <= months_needed <= 120:
        raise Refusal(f"Paid months before a first turn: 0 to 120, not {months_needed}.")
    rule, _ = TurnRule.objects.select_for_update().get_or_create(id=1)
    was = {"months_needed": rule.months_needed, "equal_turns": rule.equal_turns}
    rule.months_needed, rule.equal_turns = months_needed, equal_turns
    rule.save()
    turns = "every tier alike" if equal_turns else "by the weight of the tier"
    return write_down(
        action="set_turn_rule",
        said=f"Turns after {months_needed} paid months, {turns}",
        by=by,
        at=at,
        subject="",
        subject_id=None,
        undo={"was": was, "now": {"months_needed": months_needed, "equal_turns": equal_turns}},
    )


def create_supporter(
    *,
    values: Mapping[str, Any],
    please_no: Collection[Form],
    no_glazes: Collection[Glaze],
    at: datetime,
) -> Supporter:
    """Make the row of a new supporter, within the caller's transaction. Raises Refusal."""
    given = {**values}
    number = given.pop("number", None)
    if number is None:
        number = (Supporter.objects.aggregate(top=Max("number"))["top"] or 0) + 1
    refuse(_number_taken(number))
    supporter = Supporter(number=number, joined_month=rules.month_of(timezone.localdate(at)))
    _put(supporter, given, at)
    with or_refuse(lambda: _taken(supporter)):
        supporter.save()
    supporter.please_no.set(please_no)
    supporter.no_glazes.set(no_glazes)
    return supporter


def set_supporter(
    *,
    supporter: Supporter,
    values: Mapping[str, Any],
    please_no: Collection[Form] | None,
    no_glazes: Collection[Glaze] | None,
    at: datetime,
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Set fields of a supporter, within the caller's transaction: what they were and are.

    Only what differs is in the answer. Raises Refusal.
    """
    before = kept(supporter)
    _put(supporter, values, at)
    keep_former_tier(supporter, before["tier_id"], at)
    with or_refuse(lambda: _taken(supporter)):
        supporter.save()
    if please_no is not None:
        supporter.please_no.set(please_no)
    if no_glazes is not None:
        supporter.no_glazes.set(no_glazes)
    after = kept(supporter)
    changed = [field for field in after if after[field] != before[field]]
    return {f: before[f] for f in changed}, {f: after[f] for f in changed}


def kept(supporter: Supporter) -> dict[str, Any]:
    """The fields of a supporter and what they would rather not have, as JSON can keep them."""
    forms = sorted(supporter.please_no.values_list("id", flat=True))
    glazes = sorted(supporter.no_glazes.values_list("id", flat=True))
    former = [list(row) for row in supporter.former_tiers.values_list("to_month", "tier_id")]
    return {
        **kept_fields(supporter),
        "please_no": forms,
        "no_glazes": glazes,
        "former_tiers": former,
    }


def keep_former_tier(supporter: Supporter, was_id: int, at: datetime) -> None:
    """Keep the tier that somebody had until last month, when they have another one now.

    A second change within a month keeps the one that was there when the month began.
    """
    last_month = rules.month_of(timezone.localdate(at)) - 1
    if supporter.tier_id != was_id and supporter.joined_month <= last_month:
        FormerTier.objects.get_or_create(
            supporter=supporter, to_month=last_month, defaults={"tier_id": was_id}
        )


def put_former_tiers(supporter: Supporter, rows: Sequence[Sequence[int]]) -> None:
    """Set the former tiers of a supporter, within the caller's transaction."""
    supporter.former_tiers.all().delete()
    FormerTier.objects.bulk_create(
        FormerTier(supporter=supporter, to_month=month, tier_id=tier_id) for month, tier_id in rows
    )


def kept_fields(supporter: Supporter) -> dict[str, Any]:
    """The fields of a supporter as JSON can keep them."""
    return {field: plain(getattr(supporter, field)) for field in FIELDS}


def _put(supporter: Supporter, values: Mapping[str, Any], at: datetime) -> None:
    check_supporter(supporter=supporter, values=values, at=at)
    refuse(_email_taken(supporter))


def check_supporter(*, supporter: Supporter, values: Mapping[str, Any], at: datetime) -> None:
    """Set the fields and check the whole supporter, as the form and the file both do.

    Saves nothing and asks the database nothing. Raises Refusal.
    """
    for field, value in values.items():
        setattr(supporter, field, value)
    supporter.name = " ".join(supporter.name.split())
    supporter.email = supporter.email.strip()
    supporter.household = " ".join(supporter.household.split())
    refuse(None if supporter.name else "A supporter needs a name.")
    fields = {name: getattr(supporter, name) for name in ADDRESS if name != "country_code"}
    causes = address.address_causes(country_code=supporter.country_code, fields=fields)
    refuse(" ".join(causes.values()) or None)
    tidied = address.tidy_address(country_code=supporter.country_code, fields=fields)
    for name, value in tidied.items():
        setattr(supporter, name, value)
    this_month = rules.month_of(timezone.localdate(at))
    refuse(rules.can_join(joined_month=supporter.joined_month, this_month=this_month))
    refuse(rules.can_leave(joined_month=supporter.joined_month, left_month=supporter.left_month))
    refuse(rules.can_be_gift(is_gift=supporter.is_gift, gift_from=supporter.gift_from))


def _number_taken(number: int) -> str | None:
    taken = Supporter.objects.filter(number=number).first()
    return f"Number {number} is {taken.name}'s already." if taken else None


def _email_taken(supporter: Supporter) -> str | None:
    others = Supporter.objects.filter(email__iexact=supporter.email).exclude(email="")
    other = (others.exclude(id=supporter.id) if supporter.id else others).first()
    return f"The e-mail {supporter.email} is supporter {other.number}'s." if other else None


def _taken(supporter: Supporter) -> str:
    """What somebody took at the moment when this supporter was to be saved."""
    return (
        _email_taken(supporter)
        or (_number_taken(supporter.number) if not supporter.id else None)
        or f"Somebody changed a supporter at this moment. {AGAIN}"
    )


def _tier_values(tier: Tier) -> dict[str, Any]:
    return {"name": tier.name, "monthly_pence": tier.monthly_pence, "weight": tier.weight}
