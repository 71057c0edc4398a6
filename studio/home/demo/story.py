"""What happened in the demo studio, told to the services day by day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User

import studio.firings.services as firings
import studio.wares.services as wares
from studio.firings.models import Firing, Kiln, Schedule
from studio.home.demo.fixture import Clock, read
from studio.home.demo.loads import draw_load
from studio.home.demo.logs import keep_log
from studio.home.demo.results import read_meter
from studio.wares.models import Board, ClayLot, Coats, Form
from studio.wares.selectors import board_group
from studio.web.models import Change

HOUR = {"throw": 10, "dry": 8, "glaze": 11, "fire": 16, "grade": 14}


@dataclass(frozen=True, slots=True, kw_only=True)
class Teller:
    """Tells one event after another; the potter did them all."""

    clock: Clock
    by: User

    def tell(self, *, after: int, until: int) -> None:
        """Tell what happened after one day and until another, both in days from today."""
        for event in read("story.json")["events"]:
            if not after < event["day"] <= until:
                continue
            what = event["do"]
            at = self.clock.at(event["day"], HOUR[what])
            last = Change.objects.order_by("-id").values_list("id", flat=True).first() or 0
            getattr(self, f"_{what}")(event, at)
            # Records are stamped when they are written; in a story they belong to their own day.
            Change.objects.filter(id__gt=last).update(at=at)

    def _throw(self, event: dict[str, Any], at: datetime) -> None:
        wares.throw(
            form=Form.objects.get(name=event["form"]),
            clay_lot=ClayLot.objects.get(lot=event["clay_lot"]),
            count=event["count"],
            board_label=event["board"],
            place="drying rack",
            made_date=self.clock.day(event["day"]),
            by=self.by,
            at=at,
        )

    def _dry(self, event: dict[str, Any], at: datetime) -> None:
        wares.mark_dry(
            board=_board(event["board"]),
            dry_date=self.clock.day(event["day"]),
            sure=True,
            by=self.by,
            at=at,
        )

    def _glaze(self, event: dict[str, Any], at: datetime) -> None:
        wares.glaze(
            board=_board(event["board"]),
            coats=Coats.objects.get(name=event["coats"]),
            schedule=Schedule.objects.get(name=event["schedule"]),
            count=event["count"],
            new_label=event["new_board"],
            by=self.by,
            at=at,
        )

    def _fire(self, event: dict[str, Any], at: datetime) -> None:
        planned = firings.plan_firing(
            kiln=Kiln.objects.get(name=event["kiln"]),
            schedule=Schedule.objects.get(name=event["schedule"]),
            start_date=self.clock.day(event["day"]),
            by=self.by,
            at=at,
        )
        assert planned.subject_id is not None
        firing = Firing.objects.get(id=planned.subject_id)
        boards = [(_board(label), lost, fault) for label, lost, fault in event["boards"]]
        for board, _, _ in boards:
            firings.load(firing=firing, board=board, by=self.by, at=at)
        draw_load(firing, day=event["day"], by=self.by, at=at)
        lit_at = self.clock.at(event["day"], 16, 30)
        failed = event.get("failed")
        off_at = self.clock.at(event["day"], 22) if failed else self.clock.at(event["day"] + 1, 8)
        firings.light(firing=firing, lit_at=lit_at, by=self.by, at=lit_at)
        firings.switch_off(firing=firing, off_at=off_at, by=self.by, at=off_at)
        if not event["opened"]:
            return
        if failed:
            found_at = self.clock.at(event["day"] + 1, 7)
            firings.open_kiln(
                firing=firing,
                opened_at=found_at,
                opened_c=44,
                peak_c=event["peak_c"],
                failed_why=failed,
                witness=[
                    firings.Witness(cone=event["witness"], where=where, bend="up")
                    for where in ("top", "middle", "bottom")
                ],
                by=self.by,
                at=found_at,
            )
            return
        opened_at = self.clock.at(event["day"] + event["days"], 8)
        firings.open_kiln(
            firing=firing,
            opened_at=opened_at,
            opened_c=48,
            peak_c=event["peak_c"],
            lost={board.pk: (lost, fault) for board, lost, fault in boards if lost},
            energy=read_meter(firing, event),
            witness=[
                firings.Witness(cone=event["witness"], where=where, bend=bend)
                for where, bend in (("top", "down"), ("middle", "down"), ("bottom", "bending"))
            ],
            by=self.by,
            at=opened_at,
        )
        keep_log(Firing.objects.get(id=firing.id), name=event["firing"], by=self.by)

    def _grade(self, event: dict[str, Any], at: datetime) -> None:
        board = _board(event["board"])
        count, seconds = board_group(board).count, event["seconds"]
        wares.grade(
            board=board,
            firsts=count - seconds,
            seconds=seconds,
            faults={"second": "pinhole"} if seconds else {},
            by=self.by,
            at=at,
        )


def _board(label: str) -> Board:
    return Board.objects.get(label=label)
