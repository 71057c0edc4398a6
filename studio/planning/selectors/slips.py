"""Which lines slip, and how long may a firing of the plan in force still wait?

A line slips when what its date still lacks was to be thrown by a day that is past. The plan gave up
what it left short from the beginning; that slips no more.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from studio.craft.answer import Plan
from studio.craft.backplan import latest_throw_dates
from studio.craft.plan_record import BadRecord
from studio.craft.plan_slack import slack_days
from studio.craft.problem import Problem
from studio.firings.models import Firing
from studio.planning.selectors.parts import stands_for
from studio.planning.selectors.plans import in_force, stored
from studio.planning.selectors.standing import stand_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class Lacking:
    """So many of a line that a date still lacks and that nobody has thrown; the last day for it."""

    line: str
    ware_key: str
    need: str
    count: int
    latest_date: date


def lacking(*, today_date: date, now: datetime | None = None) -> list[Lacking]:
    """What the plan in force promises and nobody has thrown yet, the most pressing first."""
    read = _read()
    if read is None:
        return []
    problem, plan = read
    latest = latest_throw_dates(problem)
    wares = {line.key: line.ware_key for line in problem.lines}
    given_up = {(kept.need_key, kept.line_key): kept.short for kept in plan.kept}
    found = []
    for row in stand_rows(today_date=today_date, now=now):
        key = row.need_key, row.line_key
        count = row.missing - given_up.get(key, row.missing)
        if count > 0 and key in latest:
            found.append(
                Lacking(
                    line=row.line,
                    ware_key=wares[row.line_key],
                    need=row.need,
                    count=count,
                    latest_date=latest[key],
                )
            )
    return sorted(found, key=lambda one: (one.latest_date, one.line))


def may_wait_until(firing: Firing) -> date | None:
    """The last day on which a firing of the plan in force may start and nothing promised is late.

    None for a firing that is none of the plan's.
    """
    read = _read()
    if read is None:
        return None
    problem, plan = read
    load = next((one for one in plan.loads if stands_for(firing, one, problem.today_date)), None)
    if load is None:
        return None
    return load.start_date + timedelta(days=slack_days(problem=problem, plan=plan)[load])


def _read() -> tuple[Problem, Plan] | None:
    backplan = in_force()
    if backplan is None:
        return None
    try:
        problem, plan, _ = stored(backplan)
    except BadRecord:
        return None
    return problem, plan
