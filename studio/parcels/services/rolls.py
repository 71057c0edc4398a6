"""Take a whole file of supporters in: all of it, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from studio.parcels.models import PaidMonth, Supporter, Tier
from studio.parcels.roll import BadRoll, RollRow
from studio.parcels.services.people import create_supporter, set_supporter
from studio.parcels.services.record import write_down
from studio.wares.models import Form
from studio.web.models import Change
from studio.web.refusal import Refusal

NOT_FIELDS = ("tier", "please_no", "paid_months", "number")


@dataclass(frozen=True, kw_only=True, slots=True)
class Imported:
    """What an import did. ``change`` is None when the file held nothing new."""

    change: Change | None
    added: int
    changed: int
    same: int

    @property
    def said(self) -> str:
        """The outcome in a sentence."""
        if self.change is not None:
            return self.change.said
        return f"Nothing to change: all {self.same} supporters are as the file has them."


@transaction.atomic
def import_supporters(*, rows: Sequence[RollRow], by: User, at: datetime) -> Imported:
    """Take the rows in. A person is known again by number, else by e-mail.

    Paid months are added to those there, never taken away. The same file a second time changes
    nothing and records nothing.

    Raises: BadRoll naming every row that cannot be taken; then nothing is saved.
    """
    tiers = {tier.name: tier for tier in Tier.objects.all()}
    forms = {form.name: form for form in Form.objects.all()}
    causes: list[str] = []
    added: list[int] = []
    changes: list[dict[str, Any]] = []
    months: list[list[int]] = []
    touched: set[int] = set()
    for row in rows:
        try:
            supporter = _known(row)
            values = {k: v for k, v in row.values.items() if k not in NOT_FIELDS}
            values["tier"] = tiers[row.values["tier"]]
            names = row.values.get("please_no")
            please_no = None if names is None else [forms[name] for name in names]
            if supporter is None:
                values["number"] = row.values.get("number")
                supporter = create_supporter(values=values, please_no=please_no or [], at=at)
                added.append(supporter.id)
            elif not _is_so(supporter, values, please_no):
                was, now = set_supporter(
                    supporter=supporter, values=values, please_no=please_no, at=at
                )
                if now:
                    changes.append({"id": supporter.id, "was": was, "now": now})
                    touched.add(supporter.id)
            months += _add_months(row, supporter)
        except Refusal as refusal:
            causes.append(f"Row {row.row}: {refusal}")
    if causes:
        raise BadRoll(*causes)  # out of the transaction, which takes everything back
    touched |= {supporter_id for supporter_id, _ in months} - set(added)
    change = None
    if added or touched:
        change = write_down(
            action="import_supporters",
            said=f"Imported supporters: {len(added)} new, {len(touched)} changed,"
            f" {len(rows) - len(added) - len(touched)} as they were",
            by=by,
            at=at,
            subject="",
            subject_id=None,
            undo={"added": added, "changes": changes, "paid": months},
        )
    return Imported(
        change=change,
        added=len(added),
        changed=len(touched),
        same=len(rows) - len(added) - len(touched),
    )


def _known(row: RollRow) -> Supporter | None:
    """The supporter a row means. Raises Refusal when number and e-mail mean two people."""
    number, email = row.values.get("number"), row.values.get("email", "")
    held = Supporter.objects.select_for_update()
    by_number = held.filter(number=number).first() if number else None
    by_email = held.filter(email__iexact=email).first() if email else None
    if by_number is not None and by_email is not None and by_number != by_email:
        raise Refusal(
            f"number {number} is {by_number.name}, but the e-mail {email} is"
            f" supporter {by_email.number}'s. Correct one of the two."
        )
    if number and by_number is None and by_email is not None:
        raise Refusal(
            f"the e-mail {email} is supporter {by_email.number}'s, not number {number}'s."
            " Correct the number, or leave it empty."
        )
    return by_number or by_email


def _is_so(supporter: Supporter, values: dict[str, Any], please_no: list[Form] | None) -> bool:
    """Whether a supporter is already as the row has them, so that nothing need be written."""
    if any(getattr(supporter, field) != value for field, value in values.items()):
        return False
    return please_no is None or set(supporter.please_no.all()) == set(please_no)


def _add_months(row: RollRow, supporter: Supporter) -> list[list[int]]:
    wanted = set(row.values.get("paid_months", ()))
    early = [month for month in wanted if month < supporter.joined_month]
    if early:
        raise Refusal("paid_months: a paid month lies before joined_month. Correct one of the two.")
    have = set(supporter.paid_months.filter(month__in=wanted).values_list("month", flat=True))
    new = sorted(wanted - have)
    PaidMonth.objects.bulk_create(PaidMonth(supporter=supporter, month=month) for month in new)
    return [[supporter.id, month] for month in new]
