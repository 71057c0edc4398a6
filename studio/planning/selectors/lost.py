"""What was lost since the plan in force was worked out, and what can therefore no longer come?

Counted by the mean, as a plan counts: what stands, what stands in kilns and what the plan still
throws, each less the losses of the steps ahead of it, against what the plan promises. The soonest
date takes first. Spares that a plan put in cover losses, so that a pot lost is not always told.

A firing that failed, or that was called off, is told by itself: its pots stand, its days are gone.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.db.models import Count, Q

from studio.craft.answer import Plan, Work
from studio.craft.plan_reading import counted
from studio.craft.problem import Need, Problem
from studio.drawing.strip import short_date
from studio.firings.models import Firing
from studio.planning.models import BackPlan
from studio.planning.selectors import stock
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Line, Move, Piece, Stage

LOST = (Piece.Parting.BROKEN, Piece.Parting.SCRAPPED)
MOST_NAMED = 3
"""So many kinds or firings are named; the others are counted."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Fewer:
    """So many fewer of a line come for a date than the plan in force promises."""

    need: str
    line: str
    count: int


def what_failed(
    *, backplan: BackPlan, problem: Problem, plan: Plan, needs: Iterable[Need], today_date: date
) -> list[str]:
    """What was lost and what became of firings since a plan was worked out, as clauses.

    ``needs`` are what the dates from today on still lack.
    """
    told = []
    lost = _lost(backplan, problem)
    fewer: list[Fewer] = []
    if lost or _seconds(backplan):
        fewer = fewer_come(
            backplan=backplan, problem=problem, plan=plan, needs=needs, today_date=today_date
        )
    if fewer and lost:
        names = _listed([counted(n, name) for name, n in lost.most_common()])
        told.append(f"{names} {'was' if lost.total() == 1 else 'were'} lost")
    elif fewer:
        told.append("fewer firsts came out than it reckoned with")
    told += [
        f"the firing of {firing.kiln} on {short_date(firing.start_date)} "
        f"{'failed' if firing.is_failed else 'was called off'}"
        for firing in _failed(backplan)[:MOST_NAMED]
    ]
    if fewer:
        names = _listed([f"{counted(one.count, one.line)} for {one.need}" for one in fewer])
        count = sum(one.count for one in fewer)
        told.append(f"about {count} fewer come than it promises ({names})")
    return told


def fewer_come(
    *, backplan: BackPlan, problem: Problem, plan: Plan, needs: Iterable[Need], today_date: date
) -> list[Fewer]:
    """What the plan promises and what stands and is still thrown no longer brings on average."""
    by_line, by_ware = _coming(backplan, problem, plan, today_date)
    names = {line.key: line.name for line in problem.lines}
    wares = {line.key: line.ware_key for line in problem.lines}
    given_up = {(kept.need_key, kept.line_key): kept.short for kept in plan.kept}
    found = []
    for need in needs:
        for key, count in need.counts:
            if (need.key, key) not in given_up:
                continue
            lacks = Fraction(max(0, count - given_up[need.key, key]))
            for pool, at in ((by_line, key), (by_ware, wares[key])):
                taken = min(lacks, pool[at])
                pool[at] -= taken
                lacks -= taken
            if lacks >= 1:
                found.append(Fewer(need=need.name, line=names[key], count=int(lacks)))
    return found


def _coming(
    backplan: BackPlan, problem: Problem, plan: Plan, today_date: date
) -> tuple[defaultdict[str, Fraction], defaultdict[str, Fraction]]:
    """Good pieces to be expected by line, and those whose coats are still open by ware."""
    percent = problem.yields
    glaze = Fraction(percent.glaze_percent, 100)
    bisque = glaze * Fraction(percent.bisque_percent, 100)
    drying = bisque * Fraction(percent.drying_percent, 100)
    good = {Stage.GLAZED: glaze, Stage.BISQUED: glaze, Stage.THROWN: bisque}
    by_line: defaultdict[str, Fraction] = defaultdict(Fraction)
    by_ware: defaultdict[str, Fraction] = defaultdict(Fraction)
    asked_for = Line.objects.filter(pk__in=[int(line.key) for line in problem.lines])
    lines = {kind_of(line): str(line.pk) for line in asked_for}

    def add(stage: str, kind: Kind, count: int, *, wet: bool = False) -> None:
        share = drying if wet else good.get(Stage(stage), Fraction(1))
        if not stock.is_glazed(kind):
            by_ware[stock.ware_key_of(kind)] += count * share
        elif kind in lines:
            by_line[lines[kind]] += count * share

    for group in stock.free_groups(today_date=today_date):
        add(group.stage, group.kind, group.count, wet=group.ready_date > today_date)
    for held in stock.in_kilns().values():
        for kind, count in held:
            add(Stage.GLAZED if stock.is_glazed(kind) else Stage.THROWN, kind, count)
    made = _made(backplan)
    asked: Counter[str] = Counter()
    for job in plan.jobs:
        if job.work is Work.THROWING:
            asked[job.key] += job.count
    for key, count in asked.items():
        by_ware[key] += max(0, count - made[key]) * drying
    return by_line, by_ware


def _made(backplan: BackPlan) -> Counter[str]:
    """What was thrown since, by ware."""
    rows = (
        Move.objects.filter(
            kind=Move.Kind.MADE, at__gt=backplan.made_at, change__undone_by__isnull=True
        )
        .order_by()
        .values_list("piece__form_id", "piece__clay_lot_id")
        .annotate(count=Count("id"))
    )
    return Counter({stock.ware_key(form, clay_lot): n for form, clay_lot, n in rows})


def _lost(backplan: BackPlan, problem: Problem) -> Counter[str]:
    """What broke or was scrapped since, of the wares that a plan is about, by their names."""
    names = {ware.key: ware.name for ware in problem.wares}
    rows = (
        Move.objects.filter(
            kind=Move.Kind.PARTING,
            parting__in=LOST,
            at__gt=backplan.made_at,
            change__undone_by__isnull=True,
        )
        .order_by()
        .values_list("piece__form_id", "piece__clay_lot_id")
        .annotate(count=Count("id"))
    )
    found: Counter[str] = Counter()
    for form, clay_lot, count in rows:
        key = stock.ware_key(form, clay_lot)
        if key in names:
            found[names[key]] += count
    return found


def _seconds(backplan: BackPlan) -> bool:
    """Was anything graded a second since?"""
    return Move.objects.filter(
        kind=Move.Kind.STEP,
        to_stage=Stage.GRADED,
        piece__grade=Piece.Grade.SECOND,
        at__gt=backplan.made_at,
        change__undone_by__isnull=True,
    ).exists()


def _failed(backplan: BackPlan) -> list[Firing]:
    """The firings that failed since, and those of the plan that were called off."""
    failed = Q(is_failed=True, opened_at__gt=backplan.made_at)
    gone = Q(planned_by__backplan=backplan, state=Firing.State.CALLED_OFF)
    return list(
        Firing.objects.filter(failed | gone).select_related("kiln").order_by("start_date", "id")
    )


def _listed(words: list[str]) -> str:
    more = len(words) - MOST_NAMED
    shown = ", ".join(words[:MOST_NAMED])
    return f"{shown} and {more} more" if more > 0 else shown
