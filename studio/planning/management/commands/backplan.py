"""Which firings and which throwing do the promised dates need, counted back from today's stock?

Prints the plan as plain tables, or the whole question and answer as JSON. Nothing is stored unless
``--propose`` or ``--accept`` is given. Ctrl-C ends the search and keeps the best plan so far.

Ends with 2 when no plan could be looked for (the causes are told), with 3 when none was found in
time, with 1 when a plan was refused.
"""

from __future__ import annotations

import json
import signal
from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from datetime import date
from threading import Event, current_thread, main_thread
from types import FrameType
from typing import Any

from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.craft import plan_reading as reading
from studio.craft.backplan import NotFoundInTime
from studio.craft.money import show_money
from studio.craft.plan_reading import KeptRow
from studio.craft.plan_record import plan_to_json, problem_to_json
from studio.craft.problem import BadProblem
from studio.drawing.strip import short_date
from studio.planning import services
from studio.planning.selectors.page import Shortage, schedule_names, shortage, throw_by_rows
from studio.planning.selectors.sureness import Choice, choice
from studio.planning.selectors.words import gets, proof
from studio.planning.services.seek import SECONDS, Answer, BrokenPlan, seek
from studio.web.refusal import Refusal
from studio.web.selectors import the_studio


class Command(BaseCommand):
    """``manage.py backplan``."""

    help = "Work out which firings and which throwing the promised dates need."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print question and answer whole")
        parser.add_argument(
            "--seconds",
            type=float,
            default=SECONDS,
            help=f"how long to look (default {SECONDS:g})",
        )
        parser.add_argument("--until", type=_date, help="plan no further than this day, YYYY-MM-DD")
        parser.add_argument(
            "--afresh", action="store_true", help="let go of the firings of the plan in force"
        )
        price = parser.add_mutually_exclusive_group()
        price.add_argument(
            "--cheaper", action="store_true", help="of two plans take the cheaper one"
        )
        price.add_argument("--surer", action="store_true", help="of two plans take the surer one")
        parser.add_argument("--propose", action="store_true", help="store it as the proposal")
        parser.add_argument("--accept", action="store_true", help="store it and put it in force")
        parser.add_argument("--by", help="who does so: a name of a person who may sign in")

    def handle(self, *args: Any, **options: Any) -> None:
        by = _person(options["by"]) if options["propose"] or options["accept"] else None
        answer = _sought(options)
        if answer.other is not None:
            is_cheaper = answer.plan.cost_pence < answer.other.cost_pence
            if options["surer" if is_cheaper else "cheaper"]:
                answer = answer.turned
        if by is not None:
            self.stderr.write(_keep(answer, by, accept=options["accept"]))
        if options["json"]:
            record = {
                "problem": problem_to_json(answer.question.problem),
                "plan": plan_to_json(answer.plan),
                "outcome": answer.plan.outcome.value,
                "gets": [asdict(row) | {"gets": gets(row)} for row in _kept(answer)],
                "other": answer.other and plan_to_json(answer.other),
                "drawn": list(answer.drawn),
                "remarks": list(answer.question.remarks),
            }
            json.dump(record, self.stdout, indent=1, ensure_ascii=False, default=str)
            self.stdout.write("")
            return
        for line in _told(answer):
            self.stdout.write(line)


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"{text} is no day; write it as 2026-12-24") from None


def _person(name: str | None) -> User:
    people = User.objects.filter(is_active=True)
    if name is not None:
        person = people.filter(username=name).first()
        if person is None:
            raise CommandError(f"Nobody who may sign in is called {name}.")
        return person
    if people.count() != 1:
        raise CommandError("Say who does this: --by NAME.")
    return people.get()


def _sought(options: dict[str, Any]) -> Answer:
    now = timezone.now()
    try:
        with _stop_at_ctrl_c() as stop:
            return seek(
                today_date=timezone.localdate(now),
                now=now,
                last_date=options["until"],
                keep_planned=not options["afresh"],
                seconds=options["seconds"],
                stop=stop.is_set,
            )
    except BadProblem as problem:
        causes = "\n".join(f"- {cause}" for cause in problem.causes)
        raise CommandError(f"No plan can be looked for yet:\n{causes}", returncode=2) from problem
    except NotFoundInTime as late:
        raise CommandError(f"{late} (--seconds)", returncode=3) from late
    except (BrokenPlan, ValueError) as wrong:
        raise CommandError(str(wrong)) from wrong


@contextmanager
def _stop_at_ctrl_c() -> Iterator[Event]:
    """While a plan is sought, let Ctrl-C end the search; a second one ends the command."""
    stop = Event()
    if current_thread() is not main_thread():  # only there signals may be caught
        yield stop
        return
    before = signal.getsignal(signal.SIGINT)

    def heed(number: int, frame: FrameType | None) -> None:
        stop.set()
        signal.signal(signal.SIGINT, before)

    signal.signal(signal.SIGINT, heed)
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, before)


def _keep(answer: Answer, by: User, *, accept: bool) -> str:
    now = timezone.now()
    try:
        backplan = services.propose(answer=answer, by=by, at=now)
        if accept:
            return services.accept(backplan=backplan, by=by, at=now).said
    except Refusal as refusal:
        raise CommandError(str(refusal)) from refusal
    return "Stored as the plan proposed."


def _told(answer: Answer) -> Iterator[str]:
    problem, plan = answer.question.problem, answer.plan
    schedules = schedule_names()
    short = shortage(problem=problem, plan=plan, schedules=schedules)
    yield reading.headline(problem=problem, plan=plan)
    if short:
        yield short.outcome
    yield proof(problem=problem, plan=plan)
    yield f"Its firings cost {show_money(plan.cost_pence, currency=the_studio().currency)}."
    if answer.other:
        other = choice(problem=problem, plan=plan, other=answer.other)
        option = "--cheaper" if other.is_surer else "--surer"
        yield f"{other.said} The other, with {option}, costs {_money(other)}."
        yield from (f"  {gain}" for gain in other.gains)
    yield from answer.question.remarks
    yield from _table(
        "Firings",
        ("Starts", "Kiln", "Firing", "Opens", "Full", "Spare days", "", "Holds"),
        [
            (
                short_date(row.start_date),
                row.kiln,
                row.schedule,
                short_date(row.open_date),
                f"{row.used_percent} %",
                "" if row.slack_days is None else str(row.slack_days),
                "" if row.standing == "new" else row.standing,
                row.holds or "nothing",
            )
            for row in reading.firing_rows(problem=problem, plan=plan, schedules=schedules)
        ],
    )
    days = reading.work_days(problem=problem, plan=plan, schedules=schedules)
    yield from _table(
        "Work by day",
        ("Day", "Work", "What"),
        [
            (
                short_date(day.date),
                kind,
                ", ".join(map(str, rows)),
            )
            for day in days
            for kind, rows in day.kinds
        ],
    )
    yield from _table(
        "What each date gets",
        ("For", "Wanted", "Gets"),
        [
            (
                f"{row.need}, {short_date(row.due_date)}",
                reading.counted(row.asked, row.line),
                gets(row),
            )
            for row in _kept(answer)
        ],
    )
    yield from _table(
        "Throw by",
        ("At the latest", "Throw", "For"),
        [
            (
                short_date(row.latest_date) if row.latest_date else "too late",
                reading.counted(row.count, row.line),
                f"{row.need}, {short_date(row.due_date)}",
            )
            for row in throw_by_rows(problem)
        ],
    )
    if short:
        yield from _short(short)


def _kept(answer: Answer) -> list[KeptRow]:
    return reading.kept_rows(problem=answer.question.problem, plan=answer.plan)


def _money(other: Choice) -> str:
    return show_money(other.other_cost_pence, currency=the_studio().currency)


def _short(short: Shortage) -> Iterator[str]:
    yield ""
    yield short.most
    for cause in short.causes:
        yield f"{cause.gain} more would come with {cause.freed_by}."
    yield from short.firings_more
    uses = [(use, "min") for use in short.hands] + [(use, "days") for use in short.kiln_days]
    yield from _table(
        "How full hands and kilns are",
        ("What", "Used", "Of", "Share"),
        [(use.name, str(use.used), f"{use.given} {unit}", f"{use.percent} %")
         for use, unit in uses],
    )  # fmt: skip


def _table(name: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """A heading and aligned columns; numbers stand right."""
    yield ""
    yield name
    if not rows:
        yield "  none"
        return
    table = [heads, *rows]
    widths = [max(len(row[i]) for row in table) for i in range(len(heads))]
    numeric = [all(row[i].rstrip(" %").isdigit() for row in rows) for i in range(len(heads))]
    for row in table:
        cells = (
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, numeric, strict=True)
        )
        yield ("  " + "  ".join(cells)).rstrip()
