"""A small studio: two kilns, three schedules, two clays, two coats, and boards to load."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.contrib.auth.models import User

from studio.firings import services
from studio.firings.models import Circuit, Firing, Kiln, Run, Schedule, Segment
from studio.wares import services as wares
from studio.wares.models import Board, ClayLot, Coats, Form, Line
from tests.browser.conftest import signed_in_page

__all__ = ["signed_in_page"]

NOW = datetime(2026, 11, 25, 10, 0, tzinfo=ZoneInfo("Europe/London"))
TODAY = NOW.date()
LONG_AGO = NOW - timedelta(days=8)
"""Ware was dry, and loads are written down, before anything is lit."""


@pytest.fixture(autouse=True)
def today() -> object:
    """Let the clock stand: a firing's hours are compared with it."""
    with time_machine.travel(NOW, tick=False):
        yield


@dataclass(kw_only=True)
class World:
    """The rows a test of this room needs, and the few steps that lead to a load."""

    by: User
    small: Kiln
    big: Kiln
    bisque: Schedule
    six: Schedule
    eight: Schedule
    mug: Form
    bowl: Form
    grey: ClayLot
    low: ClayLot
    tenmoku: Coats
    soft: Coats
    line: Line

    def thrown(self, count: int = 10, *, form: Form | None = None, clay: ClayLot | None = None,
               dry: bool = True) -> Board:  # fmt: skip
        """A board of thrown ware, bone dry unless told otherwise."""
        change = wares.throw(
            form=form or self.mug, clay_lot=clay or self.grey, count=count,
            made_date=TODAY - timedelta(days=18), by=self.by, at=NOW,
        )  # fmt: skip
        board = Board.objects.get(pk=change.subject_id)
        if dry:
            wares.mark_dry(board=board, dry_date=LONG_AGO.date(), by=self.by, at=NOW)
            board.refresh_from_db()
        return board

    def planned(self, kiln: Kiln | None = None, schedule: Schedule | None = None, *,
                start: date | None = None) -> Firing:  # fmt: skip
        """A planned firing; the big kiln and cone 6 unless told otherwise."""
        kiln = kiln or self.big
        busy = [f.start_date + timedelta(days=f.busy_days) for f in kiln.firings.all()]
        change = services.plan_firing(
            kiln=kiln, schedule=schedule or self.six,
            start_date=start or max([TODAY, *busy]), by=self.by, at=NOW,
        )  # fmt: skip
        return Firing.objects.get(pk=change.subject_id)

    def bisqued(self, count: int = 10, *, form: Form | None = None, clay: ClayLot | None = None
                ) -> Board:  # fmt: skip
        """A board that went through an opened bisque firing of the small kiln."""
        board = self.thrown(count, form=form, clay=clay)
        firing = self.planned(self.small, self.bisque)
        self.load(firing, board)
        self.fired(firing)
        return board

    def glazed(self, count: int = 10, *, form: Form | None = None, clay: ClayLot | None = None,
               coats: Coats | None = None, schedule: Schedule | None = None) -> Board:  # fmt: skip
        """A glazed board, bisqued for real."""
        board = self.bisqued(count, form=form, clay=clay)
        wares.glaze(
            board=board, coats=coats or self.tenmoku, schedule=schedule or self.six,
            count=count, by=self.by, at=NOW,
        )  # fmt: skip
        return board

    def load(self, firing: Firing, board: Board, count: int | None = None) -> None:
        """Put a board into a load."""
        services.load(firing=firing, board=board, count=count, by=self.by, at=LONG_AGO)

    def lit(self, firing: Firing, *, hours_ago: float = 30) -> Firing:
        """Light a loaded firing some hours ago."""
        at = NOW - timedelta(hours=hours_ago)
        services.light(firing=firing, lit_at=at, by=self.by, at=NOW)
        firing.refresh_from_db()
        return firing

    def free_from(self, kiln: Kiln) -> datetime:
        """When a kiln was opened last, or six days ago."""
        opened = kiln.firings.filter(state="opened").order_by("opened_at").last()
        return opened.opened_at if opened else NOW - timedelta(days=6)

    def fired(self, firing: Firing, lost: dict[int, tuple[int, str]] | None = None) -> Firing:
        """Light, switch off and open a loaded firing, all in the 20 hours after the kiln's last,
        or after the last bisque of its load."""
        bisques = firing.places.filter(outcome="", piece__bisque_firing__isnull=False)
        before = bisques.values_list("piece__bisque_firing__opened_at", flat=True)
        lit_at = max([self.free_from(firing.kiln), *before])
        self.lit(firing, hours_ago=(NOW - lit_at).total_seconds() / 3600)
        services.switch_off(firing=firing, off_at=lit_at + timedelta(hours=12), by=self.by, at=NOW)
        opened_at = lit_at + timedelta(hours=20)
        services.open_kiln(
            firing=firing, opened_at=opened_at, is_cool=True, lost=lost, by=self.by, at=NOW
        )
        firing.refresh_from_db()
        return firing


def make_world(by: User) -> World:
    """Write the studio down."""
    circuit = Circuit.objects.create(name="north wall", at_once=1)
    shed = Circuit.objects.create(name="shed", at_once=1)
    small = Kiln.objects.create(
        name="Wren", sides=8, inside_width_mm=445, inside_height_mm=457, top_cone="10",
        circuit=circuit, glaze_room_tenths=200, bisque_room_tenths=300, takes_trials=True,
    )  # fmt: skip
    big = Kiln.objects.create(
        name="Heron", sides=10, inside_width_mm=594, inside_height_mm=686, top_cone="8",
        circuit=shed, glaze_room_tenths=600, bisque_room_tenths=900,
    )  # fmt: skip
    bisque = Schedule.objects.create(name="Slow bisque", kind="bisque", cone="04")
    six = Schedule.objects.create(name="Cone 6 plain", kind="glaze", cone="6")
    eight = Schedule.objects.create(name="Cone 8 plain", kind="glaze", cone="8")
    for schedule, rows in (
        (bisque, [(60, 120, 120), (100, 600, 0), (150, 1063, 10)]),
        (six, [(100, 600, 0), (180, 1100, 0), (60, 1222, 15)]),
        (eight, [(100, 600, 0), (180, 1130, 0), (60, 1249, 15)]),
    ):
        Segment.objects.bulk_create(
            Segment(schedule=schedule, seq=seq, rate_c_per_h=rate, target_c=target, hold_min=hold)
            for seq, (rate, target, hold) in enumerate(rows, start=1)
        )
    for kiln in (small, big):
        for schedule, pence in ((bisque, 900), (six, 1300), (eight, 1500)):
            Run.objects.create(kiln=kiln, schedule=schedule, busy_days=2, cost_pence=pence)
    sizes = {"weight_g": 360, "throwing_min": 11, "glazing_min": 5, "finishing_min": 12}
    mug = Form.objects.create(
        name="Mug", silhouette="mug", width_mm=88, handle_mm=42, height_mm=95, drying_days=7,
        room_tenths=10, price_pence=2800, **sizes,
    )  # fmt: skip
    bowl = Form.objects.create(
        name="Bowl", silhouette="bowl", width_mm=150, height_mm=65, drying_days=5,
        room_tenths=25, price_pence=3600, **sizes,
    )  # fmt: skip
    clay = {"received_date": date(2026, 9, 1), "shrinkage_permille": 120}
    grey = ClayLot.objects.create(body="Grey stoneware", lot="7", top_cone="10", **clay)
    low = ClayLot.objects.create(body="Red earthenware", lot="2", top_cone="6", **clay)
    tenmoku = Coats.objects.create(name="Tenmoku", top_cone="10")
    soft = Coats.objects.create(name="Soft blue", top_cone="6")
    line = Line.objects.create(
        form=mug, clay_lot=grey, coats=tenmoku, schedule=six, standing="proven"
    )
    return World(
        by=by, small=small, big=big, bisque=bisque, six=six, eight=eight, mug=mug, bowl=bowl,
        grey=grey, low=low, tenmoku=tenmoku, soft=soft, line=line,
    )  # fmt: skip


@pytest.fixture
def world(potter: User) -> World:
    """The small studio, kept by ``potter``."""
    return make_world(potter)


@pytest.fixture
def refused() -> Callable[..., str]:
    """Run a service that must be refused and answer its sentence."""
    from studio.web.refusal import Refusal

    def run(service: Callable[..., object], **asked: object) -> str:
        with pytest.raises(Refusal) as refusal:
            service(**asked)
        return str(refusal.value)

    return run
