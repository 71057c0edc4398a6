"""Does Today ask for what the boards, kilns, parcels and sales ask for, and lead there?"""

from __future__ import annotations

import os
import time
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.firings.models import Firing
from studio.home.selectors import Ask, asks
from studio.parcels import uploads
from studio.parcels.models import Parcel, Shipment, Supporter, Tier
from studio.planning.models import DayOff
from studio.sales.models import SaleDay
from studio.wares.models import Board
from studio.web.services import record
from tests import make

TODAY = date(2026, 3, 25)


@pytest.fixture(autouse=True)
def on_the_day(db: None) -> object:
    """Every test here happens on one morning."""
    with time_machine.travel("2026-03-25 09:00"):
        yield


def asked(title: str) -> tuple[Ask, ...]:
    """Answer the lines of one group of Today."""
    return next((group.asks for group in asks(today_date=TODAY) if group.title == title), ())


def test_an_empty_studio_is_asked_nothing(signed_in: Client) -> None:
    assert asks(today_date=TODAY) == ()
    page = signed_in.get(reverse("today")).content.decode()
    assert "Nothing presses today" not in page  # its first steps do, see test_first_steps
    assert "First steps" in page


def test_a_fired_board_asks_to_be_graded() -> None:
    board = make.board("fired", 5)
    (line,) = asked("Boards")
    assert line.text.startswith(f"Grade {board.label}")
    assert line.count == 5
    assert line.url == reverse("wares:grade", args=[board.pk])


def test_a_thrown_board_asks_once_its_drying_days_are_over() -> None:
    board = make.board("thrown", 6)
    piece = board.pieces.select_related("form").get(pk=board.pieces.values("pk")[:1])
    form, made = piece.form, piece.made_date
    before = made + timedelta(days=form.drying_days - 1)
    assert [g for g in asks(today_date=before) if g.title == "Boards"] == []
    (group,) = [g for g in asks(today_date=before + timedelta(days=1)) if g.title == "Boards"]
    assert group.asks[0].text.startswith("Is it dry?")
    Board.objects.filter(pk=board.pk).update(dry_date=TODAY)
    assert asked("Boards") == ()


@pytest.mark.parametrize(
    ("days", "text", "late"),
    [(0, "Load Acorn", False), (-2, "Load Acorn", True), (1, None, False)],
)
def test_a_planned_firing_asks_to_be_loaded_on_its_day(
    days: int, text: str | None, late: bool
) -> None:
    Firing.objects.create(
        kiln=make.kiln(name="Acorn"),
        schedule=make.schedule(),
        start_date=TODAY + timedelta(days=days),
        busy_days=2,
    )
    lines = asked("Kilns")
    assert [line.text for line in lines] == ([text] if text else [])
    assert [line.is_late for line in lines] == ([late] if text else [])


@pytest.mark.parametrize(
    ("picked", "packed", "posted", "text"),
    [
        (2, 1, 0, "Pack parcels"),
        (0, 1, 1, "Post parcels"),
        (0, 0, 2, None),
    ],
)
def test_a_shipment_asks_for_its_next_step_until_all_is_posted(
    picked: int, packed: int, posted: int, text: str | None
) -> None:
    shipment = Shipment.objects.create(month=2026 * 12 + 2, post_date=TODAY - timedelta(days=1))
    tier = Tier.objects.create(name="Cup", monthly_pence=500)
    states = ["picked"] * picked + ["packed"] * packed + ["posted"] * posted
    for number, state in enumerate(states, 1):
        Parcel.objects.create(
            shipment=shipment,
            supporter=Supporter.objects.create(
                number=number, name="A", tier=tier, joined_month=24300, country_code="GB"
            ),
            state=state,
            posted_date=TODAY if state == "posted" else None,
        )
    lines = asked("Parcels")
    assert [line.text for line in lines] == ([text] if text else [])
    if text:
        assert lines[0].count == (picked or packed)
        assert lines[0].is_late


def test_a_cooling_kiln_is_to_be_opened_only_once_it_should_be_cool() -> None:
    now = timezone.now()
    kiln = make.kiln(name="Acorn")
    firing = Firing.objects.create(
        kiln=kiln,
        schedule=make.schedule(),
        start_date=TODAY,
        busy_days=2,
        state="cooling",
        lit_at=now - timedelta(hours=12),
        off_at=now - timedelta(hours=1),
    )
    assert asked("Kilns")[0].text == "Acorn is cooling"
    later = now - timedelta(days=4)
    Firing.objects.filter(pk=firing.pk).update(lit_at=later, off_at=later + timedelta(hours=9))
    assert asked("Kilns")[0].text == "Open Acorn"


def test_a_day_off_is_said(signed_in: Client) -> None:
    assert "day off" not in signed_in.get(reverse("today")).content.decode()
    DayOff.objects.create(date=TODAY, why="Wedding")
    assert "Wedding" in signed_in.get(reverse("today")).content.decode()


@pytest.mark.parametrize(("days", "words"), [(0, "today"), (1, "tomorrow"), (38, "in 38 days")])
def test_a_sale_says_how_far_off_it_is(days: int, words: str) -> None:
    opens_at = timezone.now() + timedelta(days=days, hours=2)
    SaleDay.objects.create(name="Restock", members_at=opens_at, public_at=opens_at)
    (line,) = asked("Sales")
    assert line.text == f"Restock {words}"


@pytest.mark.parametrize(
    ("post_days", "text"), [(7, "Pick this month's pots"), (8, None), (-1, None)]
)
def test_a_shipment_asks_a_week_before_it_is_posted(post_days: int, text: str | None) -> None:
    Shipment.objects.create(month=2026 * 12 + 2, post_date=TODAY + timedelta(days=post_days))
    assert [line.text for line in asked("Parcels")] == ([text] if text else [])


def test_the_first_look_of_a_day_forgets_what_was_kept_long_enough(
    signed_in: Client, potter: User, tmp_path: Path, settings: Any
) -> None:
    cache.delete(f"tidied-{TODAY}")
    settings.SENT_ROOT = tmp_path
    old, fresh = uploads.keep(data=b"x", by_id=1), uploads.keep(data=b"y", by_id=1)
    os.utime(tmp_path / f"1-{old}", (0, time.time() - uploads.KEPT.total_seconds() - 1))
    assert uploads.kept(token=old, by_id=1) is None  # too old to be taken in, tidied away or not
    tier = Tier.objects.create(name="Saucer", monthly_pence=500)
    kept: dict[str, Parcel] = {}
    for number, (name, days) in enumerate({"long ago": 91, "lately": 90}.items(), start=1):
        month = Shipment.objects.create(month=24300 + number, post_date=TODAY)
        person = Supporter.objects.create(
            number=number, name=name, tier=tier, joined_month=24300, country_code="GB"
        )
        kept[name] = Parcel.objects.create(
            shipment=month, supporter=person, state="posted", locked_name=name,
            posted_date=TODAY - timedelta(days=days), locked_address={"city": "Leeds"},
            locked_at=timezone.now(),
        )  # fmt: skip
    change = record(
        room="parcels", action="take_address", said="Took the new address", by=potter,
        subject="parcel", subject_id=kept["long ago"].pk, undo={"was": {"address": "1 Kiln Row"}},
    )  # fmt: skip
    assert signed_in.get(reverse("today")).status_code == 200
    assert list(tmp_path.iterdir()) == [tmp_path / f"1-{fresh}"]
    for name, left in (("long ago", ""), ("lately", "lately")):
        kept[name].refresh_from_db()
        assert kept[name].locked_name == left
        assert bool(kept[name].locked_address) is bool(left)
    change.refresh_from_db()
    assert change.undo is None
