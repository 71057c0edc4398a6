"""Is the demo the studio that README promises, on whatever day it is opened?"""

from __future__ import annotations

import functools
import os
import sqlite3
import subprocess
import sys
import unicodedata
from datetime import date, timedelta
from io import StringIO
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.test import override_settings
from django.utils import timezone
from pypdf import PdfReader

from studio.craft.plan_record import plan_from_json
from studio.craft.referee import broken_promises
from studio.drawing.portraits import portrait
from studio.firings.models import Firing, Kiln
from studio.home.demo import pictures
from studio.home.demo.build import build
from studio.home.demo.fresh import DEMO_ID
from studio.home.selectors import asks
from studio.parcels.models import Parcel, Supporter
from studio.planning.models import BackPlan, CalendarAddress, Task
from studio.planning.selectors.question import question_from_json
from studio.sales.models import SaleDay
from studio.wares.models import Move, Piece, Stage
from studio.wares.selectors import broken_sums
from studio.web.models import Change

START_FRESH = """
import django
django.setup()
from django.conf import settings
from studio.home.demo.fresh import start_fresh
start_fresh(data=settings.DATA)
"""
SCRIPTS = {"LATIN", "GREEK", "HEBREW", "ARABIC", "CJK"}


@pytest.fixture(autouse=True)
def each_pot_drawn_once(monkeypatch: pytest.MonkeyPatch, photos: Path) -> None:
    """The same pot is drawn the same way each time, so a test need not draw it again."""
    monkeypatch.setattr(pictures, "portrait", _portrait)


@functools.cache
def _portrait(**asked: object) -> bytes:
    return portrait(**asked)  # type: ignore[arg-type]


def scripts_of(text: str) -> set[str]:
    """Answer the scripts that letters of a text belong to, by their Unicode names."""
    found = {unicodedata.name(letter, "?").split()[0] for letter in text if letter.isalpha()}
    return {"CJK" if name in ("HIRAGANA", "KATAKANA") else name for name in found}


@pytest.mark.django_db
@pytest.mark.parametrize(
    "today_date",
    # An ordinary day, the longest months' ends, a first of March after a short month, a leap day.
    [date(2026, 11, 25), date(2027, 1, 31), date(2027, 3, 1), date(2028, 2, 29)],
    ids=str,
)
def test_the_studio_stands_as_promised(today_date: date) -> None:
    with time_machine.travel(f"{today_date} 09:30"):
        build(today_date=today_date)
        on_hand = Piece.objects.filter(parting="")
        assert 270 <= on_hand.count() <= 330
        assert set(on_hand.values_list("stage", flat=True)) == set(Stage.values)
        assert broken_sums() == []
        assert Kiln.objects.values("glaze_room_tenths").distinct().count() == 3
        people = Supporter.objects.all()
        assert people.count() == 60
        assert len(set(people.values_list("country_code", flat=True))) == 8
        assert set().union(*(scripts_of(person.name) for person in people)) == SCRIPTS
        opened = Firing.objects.filter(state="opened")
        assert opened.count() >= 15
        assert all(firing.witness_cones.exists() for firing in opened)
        assert Firing.objects.filter(state="cooling").exists()
        sale = SaleDay.objects.get(members_at__gt=timezone.now())
        ahead = (timezone.localtime(sale.members_at).date() - today_date).days
        assert 5 * 7 <= ahead <= 7 * 7
        month = today_date.year * 12 + today_date.month - 1
        assert Parcel.objects.filter(shipment__month=month, state="picked").count() == 6
        assert not Parcel.objects.filter(lines__isnull=True).exists()


@pytest.mark.django_db
def test_nothing_happened_after_now_and_everything_in_its_order() -> None:
    with time_machine.travel("2026-11-25 09:30"):
        build(today_date=date(2026, 11, 25))
        now = timezone.now()
        assert not Change.objects.filter(at__gt=now).exists()
        assert not Move.objects.filter(at__gt=now).exists()
        for piece in Piece.objects.prefetch_related("moves"):
            moments = [move.at for move in piece.moves.all()]
            assert moments == sorted(moments), f"piece {piece.pk} went back in time"


@pytest.mark.django_db
def test_the_command_plans_prints_and_says_how_to_sign_in(tmp_path: Path) -> None:
    said = StringIO()
    # What Today asks depends on the day of the week; this is a Wednesday.
    with override_settings(DATA=tmp_path), time_machine.travel("2026-11-25 09:30"):
        call_command("demo", no_serve=True, seconds=2, stdout=said, stderr=StringIO())
        first_date = Task.objects.filter(work="throwing").earliest("date").date
        titles = [group.title for group in asks(today_date=date(2026, 11, 25))]
        titles_then = [group.title for group in asks(today_date=first_date)]
        [the_plan] = [g for g in asks(today_date=date(2026, 11, 25)) if g.title == "The plan"]
    text = said.getvalue()
    assert "What each date gets" in text
    assert "Sign in as maren with" in text
    backplan = BackPlan.objects.get(state="accepted")
    problem = question_from_json(backplan.problem).problem
    plan = plan_from_json(backplan.plan)
    assert broken_promises(problem=problem, plan=plan) == ()
    assert Firing.objects.filter(state="planned").count() >= len(plan.loads) - 1 >= 1
    slips = PdfReader(tmp_path / "papers" / "slips-2026-11.pdf")
    assert len(slips.pages) == 6
    names = {path.name for path in (tmp_path / "papers").iterdir()}
    assert {"plan.pdf", "packers-list-2026-11.pdf"} <= names
    assert sum(name.startswith("load-") for name in names) >= 1
    # A board was lost since: Today says so, and another plan waits with what it changes.
    assert the_plan.asks[0].text == "The plan no longer holds"
    assert "20 × Tumbler were lost" in the_plan.asks[0].detail
    assert the_plan.asks[0].detail.endswith("A new plan waits for your word.")
    again = BackPlan.objects.get(state="proposed")
    asked_again = question_from_json(again.problem).problem
    assert broken_promises(problem=asked_again, plan=plan_from_json(again.plan)) == ()
    assert again.follows == backplan
    assert "plan-again.pdf" in names
    assert CalendarAddress.objects.filter(withdrawn_at__isnull=True).count() == 1
    assert [t for t in titles if t != "The plan"] == ["Kilns", "Boards", "Parcels", "Sales"]
    assert "The plan" in titles_then


@pytest.mark.django_db
def test_a_studio_that_is_no_demo_is_left_alone(tmp_path: Path, potter: object) -> None:
    with (
        override_settings(DATA=tmp_path),
        pytest.raises(CommandError, match=r"it is not a demo\. Nothing was changed"),
    ):
        call_command("demo", no_serve=True)
    assert not Kiln.objects.exists()


def test_only_a_database_that_says_so_is_the_demos_to_empty(tmp_path: Path) -> None:
    """The way a potter would lose everything: a real studio where the demo stood before."""
    environment = {
        **os.environ,
        "WAREBOARD_DATA": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "studio.settings",
    }
    environment.pop("DATABASE_URL", None)

    def start_fresh() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-c", START_FRESH],
            cwd=Path(__file__).parents[2],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )

    database = tmp_path / "wareboard.sqlite3"
    assert start_fresh().returncode == 0
    opened = sqlite3.connect(database)
    opened.execute(
        "INSERT INTO auth_user (password, is_superuser, username, last_name, email, is_staff,"
        " is_active, date_joined, first_name) VALUES ('', 0, 'ann', '', '', 0, 1, '2026-01-01', '')"
    )
    opened.execute("PRAGMA application_id = 0")
    opened.commit()
    refused = start_fresh()
    assert refused.returncode != 0
    assert "it is not a demo. Nothing was changed" in refused.stderr
    assert opened.execute("SELECT username FROM auth_user").fetchall() == [("ann",)]
    opened.execute(f"PRAGMA application_id = {DEMO_ID}")
    opened.close()
    emptied = start_fresh()
    assert emptied.returncode == 0, emptied.stderr
    opened = sqlite3.connect(database)
    assert opened.execute("SELECT username FROM auth_user").fetchall() == []
    opened.close()


def test_the_weekday_of_a_sale_is_the_studios_own() -> None:
    from studio.home.demo.fixture import Clock

    for n in range(7):
        clock = Clock(today_date=date(2026, 11, 25) + timedelta(days=n))
        offset = clock.on_weekday(37, 5)
        assert clock.day(offset).weekday() == 5
        assert 37 <= offset <= 43


@pytest.mark.parametrize("seconds", ["0", "-4", "601"])
def test_a_senseless_time_is_refused_before_anything_is_made(seconds: str) -> None:
    with pytest.raises(CommandError, match=f"above 0 and at most 600, not {seconds}"):
        call_command("demo", "--no-serve", "--seconds", seconds)
