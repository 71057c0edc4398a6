"""A small invented studio for the planning tests: two kilns, two forms, one clay, one glaze firing.

All of it is made from given values only, so that a test can show its sums.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.contrib.auth.models import User
from django.utils import timezone

from studio.firings.models import Circuit, Firing, Kiln, Place, Run, Schedule
from studio.parcels.models import Shipment
from studio.planning.models import Hands
from studio.sales.models import SaleDay
from studio.wares.models import Board, ClayLot, Coats, Form, Line, Move, Piece
from studio.web.models import Change

TODAY = date(2026, 11, 25)
"""A Wednesday."""


def at(day: date, hour: int = 9, minute: int = 0) -> datetime:
    """A moment of a day where the studio is."""
    return timezone.make_aware(datetime.combine(day, time(hour, minute)))


NOW = at(TODAY)


@dataclass(kw_only=True)
class Cast:
    """What the tests speak of."""

    by: User
    wide: Kiln
    little: Kiln
    bisque: Schedule
    gloss: Schedule
    clay: ClayLot
    mug: Form
    bowl: Form
    sky: Coats
    mugs: Line
    bowls: Line

    def board(
        self,
        label: str,
        count: int,
        *,
        stage: str = "thrown",
        form: Form | None = None,
        made_date: date | None = None,
        dry_date: date | None = None,
        grade: str = "",
    ) -> list[Piece]:
        """A board of so many pieces at a stage, with the firings behind them."""
        board = Board.objects.create(label=label, dry_date=dry_date)
        glazed = stage not in ("thrown", "bisqued")
        fired = glazed and stage != "glazed"
        graded = stage in ("graded", "listed")
        number = Piece.objects.count()
        return [
            Piece.objects.create(
                form=form or self.mug,
                clay_lot=self.clay,
                coats=self.sky if glazed else None,
                schedule=self.gloss if glazed else None,
                stage=stage,
                board=board,
                made_date=made_date or TODAY - timedelta(days=30),
                bisque_firing=None if stage == "thrown" else self.opened(self.bisque),
                glaze_firing=self.opened(self.gloss) if fired else None,
                grade=(grade or "first") if graded else "",
                number=number + i + 1 if graded else None,
            )
            for i in range(count)
        ]

    def opened(self, schedule: Schedule) -> Firing:
        """A firing of long ago, the same at each call."""
        return Firing.objects.get_or_create(
            kiln=self.wide,
            schedule=schedule,
            state="opened",
            defaults={
                "start_date": TODAY - timedelta(days=20),
                "busy_days": 2,
                "lit_at": at(TODAY - timedelta(days=20)),
                "opened_at": at(TODAY - timedelta(days=18)),
            },
        )[0]

    def firing(
        self,
        kiln: Kiln,
        schedule: Schedule,
        *,
        state: str = "planned",
        start_date: date = TODAY,
        busy_days: int = 2,
        pieces: list[Piece] | None = None,
    ) -> Firing:
        """A firing with pieces standing in it."""
        lit = at(start_date) if state in ("firing", "cooling") else None
        firing = Firing.objects.create(
            kiln=kiln,
            schedule=schedule,
            state=state,
            start_date=start_date,
            busy_days=busy_days,
            lit_at=lit,
            **({"off_at": at(start_date, 20)} if state == "cooling" else {}),
        )
        for piece in pieces or []:
            Place.objects.create(firing=firing, piece=piece, board=piece.board)
        return firing

    def sale(
        self, name: str, day: date, wants: dict[Line, int], *, buffer_days: int = 3
    ) -> SaleDay:
        """A sale day whose members' hours begin at 10 in the morning of a day."""
        sale = SaleDay.objects.create(
            name=name,
            members_at=at(day, 10),
            public_at=at(day, 12),
            buffer_days=buffer_days,
        )
        for line, count in wants.items():
            sale.wants.create(line=line, count=count)
        return sale

    def shipment(self, post_date: date, wants: dict[Line, int]) -> Shipment:
        """A month's parcels."""
        shipment = Shipment.objects.create(
            month=post_date.year * 12 + post_date.month - 1, post_date=post_date
        )
        for line, count in wants.items():
            shipment.wants.create(line=line, count=count)
        return shipment

    def moved(self, piece: Piece, kind: str, to_stage: str, *, moment: datetime) -> Move:
        """A move of a piece as the wares room writes it."""
        change = Change.objects.create(
            room="wares", action="test", said="moved", by=self.by, at=moment
        )
        came_from = {"made": "", "step": None}.get(kind)
        before = ["", "thrown", "bisqued", "glazed", "fired", "graded"]
        after = ["thrown", "bisqued", "glazed", "fired", "graded", "listed"]
        return Move.objects.create(
            piece=piece,
            seq=piece.moves.count() + 1,
            kind=kind,
            from_stage=before[after.index(to_stage)] if came_from is None else came_from,
            to_stage=to_stage,
            change=change,
            by=self.by,
            at=moment,
        )


def make_cast(by: User) -> Cast:
    """Make the studio: Wide holds 60 mugs glazed and 90 bisqued, Little 20 and 30."""
    circuit = Circuit.objects.create(name="kiln room", at_once=2)
    kilns = {}
    for name, glaze, bisque, trials in (
        ("Wide", 600, 900, False),
        ("Little", 200, 300, True),
    ):
        kilns[name] = Kiln.objects.create(
            name=name,
            sides=10,
            inside_width_mm=600,
            inside_height_mm=500,
            top_cone="8",
            circuit=circuit,
            glaze_room_tenths=glaze,
            bisque_room_tenths=bisque,
            takes_trials=trials,
        )
    bisque = Schedule.objects.create(name="Slow bisque", kind="bisque", cone="04")
    gloss = Schedule.objects.create(name="Gloss", kind="glaze", cone="6")
    for kiln in kilns.values():
        for schedule, cost in ((bisque, 900), (gloss, 1400)):
            Run.objects.create(kiln=kiln, schedule=schedule, busy_days=2, cost_pence=cost)
    clay = ClayLot.objects.create(
        body="Speckled",
        lot="26-1",
        received_date=date(2026, 1, 5),
        shrinkage_permille=120,
        top_cone="8",
    )
    sky = Coats.objects.create(name="Sky", top_cone="7")
    forms = [
        Form.objects.create(
            name=name,
            silhouette=silhouette,
            width_mm=90,
            height_mm=height,
            weight_g=350,
            throwing_min=minutes,
            glazing_min=5,
            finishing_min=4,
            drying_days=5,
            room_tenths=room,
            price_pence=3200,
        )
        for name, silhouette, height, minutes, room in (
            ("Mug", "mug", 100, 12, 10),
            ("Bowl", "bowl", 80, 15, 20),
        )
    ]
    lines = [
        Line.objects.create(form=form, clay_lot=clay, coats=sky, schedule=gloss, standing="proven")
        for form in forms
    ]
    for weekday in range(5):
        Hands.objects.create(weekday=weekday, throwing_min=240, glazing_min=120, finishing_min=120)
    return Cast(
        by=by,
        wide=kilns["Wide"],
        little=kilns["Little"],
        bisque=bisque,
        gloss=gloss,
        clay=clay,
        mug=forms[0],
        bowl=forms[1],
        sky=sky,
        mugs=lines[0],
        bowls=lines[1],
    )
