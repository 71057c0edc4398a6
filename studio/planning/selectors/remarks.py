"""What was assumed or left out on the way to a question, one sentence for each kind of thing?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time

from django.utils import timezone

from studio.craft.calendar import say_date
from studio.craft.plan_reading import counted
from studio.planning.selectors import stock
from studio.wares.kinds import kind_of
from studio.wares.models import KilnTrial, Line


def on_trial(
    *, lines: Mapping[str, Line], names: Mapping[str, str], share_percent: int
) -> list[str]:
    """The wanted lines whose trial was opened and that nobody has called proven."""
    tried = sorted(
        names[key] for key, line in lines.items() if line.standing == Line.Standing.TRIAL
    )
    if not tried:
        return []
    return [
        f"On trial: {', '.join(tried)}. The plan asks for no second trial; a first full load is a "
        f"risk you take. Until you mark it proven, no load may hold more than {share_percent} % of "
        "a kiln of it."
    ]


def tried_in_kilns(
    trials: Sequence[KilnTrial], *, lines: Mapping[str, Line], share_percent: int
) -> list[str]:
    """The wanted lines that are on trial in a kiln of which elements or thermocouple are new."""
    by_kiln: dict[str, list[str]] = {}
    for one in trials:
        wanted = lines.get(str(one.line_id))
        if wanted is not None and wanted.standing == Line.Standing.PROVEN:
            by_kiln.setdefault(one.kiln.name, []).append(str(one.line))
    return [
        f"{kiln} has new elements or a new thermocouple: {', '.join(sorted(names))} on trial in it."
        f" No load of it may hold more than {share_percent} % of {kiln} of one of them until a load"
        " came out well."
        for kiln, names in sorted(by_kiln.items())
    ]


def not_called_dry(*, groups: Sequence[stock.Group], names: Mapping[str, str]) -> list[str]:
    """The thrown ware whose drying is counted in days; ``names`` are the wares by key."""
    wet = [g for g in groups if not g.called_dry and stock.ware_key_of(g.kind) in names]
    if not wet:
        return []
    counts: Counter[str] = Counter()
    for group in wet:
        counts[names[stock.ware_key_of(group.kind)]] += group.count
    return [
        f"Not called dry by anybody yet: {_listed(counts)}. They are taken as dry after their "
        f"drying days, the last of them on {say_date(max(group.ready_date for group in wet))}."
    ]


def still_listed(
    *, today_date: date, now: datetime | None, lines: Mapping[str, Line], names: Mapping[str, str]
) -> list[str]:
    """The wanted pieces that a sale which is over left listed."""
    moment = now or timezone.make_aware(datetime.combine(today_date, time.min))
    wanted = {kind_of(line): names[key] for key, line in lines.items()}
    by_sale: dict[str, Counter[str]] = {}
    for sale, kind, count in stock.left_listed(now=moment):
        if kind in wanted:
            by_sale.setdefault(sale, Counter())[wanted[kind]] += count
    return [
        f"Still listed for {sale}, which is over: {_listed(counts)}. They do not count until "
        "they are taken back."
        for sale, counts in by_sale.items()
    ]


def _listed(counts: Mapping[str, int]) -> str:
    return ", ".join(counted(count, name) for name, count in sorted(counts.items()))
