"""Which papers does the demo leave in its folder?"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from django.core.management import call_command
from django.utils import timezone

from studio.firings.models import Firing
from studio.firings.papers import load_sheet
from studio.parcels.models import Shipment, Supporter
from studio.parcels.papers import customs_paper, labels_paper, packers_paper, turn_paper
from studio.planning.feeds import plan_calendar
from studio.planning.models import BackPlan
from studio.planning.papers import plan_paper

SHEETS = 3
"""How many of the next firings get their load sheet printed."""


def write_papers(*, folder: Path, today_date: date) -> Iterator[Path]:
    """Write this month's slips and packer's list, the next load sheets and the plan, as PDF."""
    folder.mkdir(parents=True, exist_ok=True)
    month = f"{today_date:%Y-%m}"
    slips = folder / f"slips-{month}.pdf"
    call_command("slips", month, out=slips, verbosity=0)
    yield slips
    shipment = Shipment.objects.get(month=today_date.year * 12 + today_date.month - 1)
    yield _kept(folder / f"packers-list-{month}.pdf", packers_paper(shipment))
    yield _kept(folder / f"labels-{month}.pdf", labels_paper(shipment, sheet="a4"))
    yield _kept(folder / f"labels-4x6-{month}.pdf", labels_paper(shipment, sheet="4x6"))
    yield _kept(folder / f"customs-{month}.pdf", customs_paper(shipment))
    person = Supporter.objects.filter(parcels__shipment=shipment).order_by("number")[0]
    turn = turn_paper(person, today_date=today_date)
    yield _kept(folder / f"turn-{person.number}.pdf", turn)
    ahead = Firing.objects.filter(state__in=["planned", "loaded"]).order_by("start_date", "id")
    for firing in ahead.select_related("kiln", "schedule")[:SHEETS]:
        name = f"load-{firing.start_date:%Y-%m-%d}-{firing.kiln.name.lower()}.pdf"
        yield _kept(folder / name, load_sheet(firing))
    plan = BackPlan.objects.get(state=BackPlan.State.ACCEPTED)
    yield _kept(folder / "plan.pdf", plan_paper(backplan=plan, paper="A4"))
    again = BackPlan.objects.filter(state=BackPlan.State.PROPOSED).first()
    if again is not None:
        yield _kept(folder / "plan-again.pdf", plan_paper(backplan=again, paper="A4"))
    yield _kept(folder / "plan.ics", plan_calendar(now=timezone.now()))


def _kept(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path
