"""Who supports the demo studio, and since when have they paid?"""

from __future__ import annotations

import csv
import io

from django.contrib.auth.models import User

import studio.parcels.services as parcels
from studio.home.demo.fixture import FOLDER, Clock
from studio.parcels.models import Tier
from studio.parcels.roll import read_roll
from studio.parcels.rules import month_text, write_months, write_spans
from studio.wares.models import Form, Glaze


def build_supporters(*, clock: Clock, by: User) -> None:
    """Bring the fixture's supporters in through the same import that a potter uses."""
    roll = read_roll(
        _dated(clock).encode(),
        tiers=list(Tier.objects.values_list("name", flat=True)),
        forms=list(Form.objects.values_list("name", flat=True)),
        glazes=list(Glaze.objects.values_list("name", flat=True)),
        this_month=clock.month(0),
    )
    # The file is as of today, though the story needs its people from the first month on.
    parcels.import_supporters(rows=roll, by=by, at=clock.at(0))


def _dated(clock: Clock) -> str:
    """Answer the fixture's file with months of the calendar instead of months ago."""
    with (FOLDER / "supporters.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        joined = clock.month(int(row.pop("months_ago_joined")))
        row["joined_month"] = month_text(joined)
        # Somebody who pauses stopped paying two months ago, somebody who left when they left.
        left_ago = row.pop("left_months_ago")
        last = clock.month(int(left_ago or (2 if row["paused"] else 0)))
        row["left_month"] = month_text(last) if left_ago else ""
        row["paused"] = write_spans([(last + 1, None)] if row["paused"] else [])
        lost = {}
        for state in ("refunded", "failed"):
            ago = row.pop(f"{state}_months_ago")
            lost[state] = [clock.month(int(ago))] if ago else []
            row[f"{state}_months"] = write_months(lost[state])
        paid = set(range(joined, last + 1)) - {month for some in lost.values() for month in some}
        row["paid_months"] = write_months(paid)
        row["address_confirmed_date"] = clock.day(-9).isoformat()
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
