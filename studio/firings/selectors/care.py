"""How worn is each part of each kiln, what is due, and what was changed since a day?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from django.utils import timezone

from studio.craft.wear import (
    COUNT_LIFE,
    ELEMENT_LIVES,
    Due,
    Interval,
    Used,
    Wear,
    due,
    element_wear,
)
from studio.firings import rules
from studio.firings.models import Care, CareRule, ElementLife, Firing, Kiln, Part

TAG: Final = {"change": "bad", "soon": "warn", "look": "warn", "": "good"}
SAID: Final = {"change": "change it", "soon": "change it soon", "look": "look at it", "": "fine"}


@dataclass(frozen=True, kw_only=True, slots=True)
class PartCare:
    """One part of a kiln: when it was changed and looked at, how much it was used since."""

    part: str
    name: str
    changed_date: date | None
    looked_date: date | None
    used: Used
    interval: Interval
    wear: Wear | None
    due: Due
    is_own_rule: bool

    @property
    def asks(self) -> str:
        """'change', 'soon', 'look' or ''."""
        return self.due.asks

    @property
    def tag(self) -> str:
        """The colour of its label."""
        return TAG[self.asks]

    @property
    def said(self) -> str:
        """What it asks for, in a few words."""
        return SAID[self.asks]

    @property
    def after_change(self) -> str:
        """What is to be done first after a change that moves the heat; '' once it was fired in."""
        fresh = self.changed_date is not None and self.used.since_change == 0
        return rules.CHANGED_SAYS.get(self.part, "") if fresh else ""

    @property
    def source(self) -> str:
        """Where its start values come from; the studio's own word once it was said."""
        return "The studio's own numbers." if self.is_own_rule else rules.SOURCES[self.part]

    @property
    def words(self) -> str:
        """How much of its time it has had."""
        since = "since it was changed" if self.changed_date else "since these records began"
        count = self.used.since_change
        firings = "1 firing" if count == 1 else f"{count} firings"
        if self.wear is not None:
            return f"{firings} {since}: {self.wear.percent} % of a life used"
        if self.interval.change_firings:
            return f"{firings} {since}, of {self.interval.change_firings}"
        looked = self.used.since_look
        last = "1 firing" if looked == 1 else f"{looked} firings"
        if self.looked_date or self.changed_date:
            return f"{last} since it was last looked at"
        return f"{last}, never looked at in these records"


@dataclass(frozen=True, kw_only=True, slots=True)
class KilnCare:
    """A kiln with all its parts."""

    kiln: Kiln
    parts: tuple[PartCare, ...]

    @property
    def asking(self) -> tuple[PartCare, ...]:
        """The parts that ask for something, what is to be changed first."""
        order = {"change": 0, "soon": 1, "look": 2}
        asking = [part for part in self.parts if part.asks]
        return tuple(sorted(asking, key=lambda part: order[part.asks]))


def care_of(kilns: Iterable[Kiln], *, today_date: date) -> list[KilnCare]:
    """The care of kilns, by four questions for all of them."""
    asked = list(kilns)
    fired: dict[int, list[tuple[datetime, str]]] = {kiln.pk: [] for kiln in asked}
    for kiln_id, lit_at, cone in (
        Firing.objects.filter(kiln__in=asked, lit_at__isnull=False)
        .order_by("lit_at")
        .values_list("kiln_id", "lit_at", "schedule__cone")
    ):
        assert lit_at is not None
        fired[kiln_id].append((lit_at, cone))
    cares: dict[tuple[int, str, str], date] = {}
    for care in Care.objects.filter(kiln__in=asked).order_by("on_date"):
        cares[care.kiln_id, care.part, care.did] = care.on_date
    own = {(rule.kiln_id, rule.part): rule for rule in CareRule.objects.filter(kiln__in=asked)}
    lives: dict[int, dict[str, int]] = {}
    for life in ElementLife.objects.filter(kiln__in=asked):
        lives.setdefault(life.kiln_id, {})[life.cone] = life.firings
    return [
        KilnCare(
            kiln=kiln,
            parts=tuple(
                _part_care(
                    kiln,
                    part,
                    fired=fired[kiln.pk],
                    cares=cares,
                    rule=own.get((kiln.pk, part)),
                    lives=lives.get(kiln.pk) or ELEMENT_LIVES,
                    today_date=today_date,
                )
                for part in rules.parts_of(kiln.fuel)
            ),
        )
        for kiln in asked
    ]


def _part_care(
    kiln: Kiln,
    part: str,
    *,
    fired: list[tuple[datetime, str]],
    cares: dict[tuple[int, str, str], date],
    rule: CareRule | None,
    lives: dict[str, int],
    today_date: date,
) -> PartCare:
    changed, looked = (cares.get((kiln.pk, part, did)) for did in ("changed", "looked"))
    last = max((day for day in (changed, looked) if day is not None), default=None)
    since_change = [cone for at, cone in fired if changed is None or _day(at) >= changed]
    interval = interval_of(part, rule)
    wear = None
    if part == Part.ELEMENTS:
        wear = element_wear(
            since_change, lives=lives, count_life=interval.change_firings or COUNT_LIFE
        )
    used = Used(
        since_change=len(since_change),
        since_look=sum(last is None or _day(at) >= last for at, _ in fired),
        days_since_look=None if last is None else (today_date - last).days,
    )
    return PartCare(
        part=part,
        name=Part(part).label,
        changed_date=changed,
        looked_date=looked,
        used=used,
        interval=interval,
        wear=wear,
        due=due(interval, used, wear=wear),
        is_own_rule=rule is not None,
    )


def interval_of(part: str, rule: CareRule | None) -> Interval:
    """The studio's own interval for a part, else the start value."""
    if rule is None:
        return rules.INTERVALS[part]
    return Interval(
        look_firings=rule.look_firings,
        look_days=rule.look_days,
        change_firings=rule.change_firings,
    )


def care_numbers(kiln: Kiln) -> tuple[dict[str, Interval], dict[str, int]]:
    """A kiln's intervals by part and its elements' lives by cone, as they count now."""
    own = {rule.part: rule for rule in kiln.care_rules.all()}
    lives = {life.cone: life.firings for life in kiln.element_lives.all()}
    return {part: interval_of(part, own.get(part)) for part in Part.values}, (
        lives or dict(ELEMENT_LIVES)
    )


def parts_changed(kiln: Kiln, *, since_date: date) -> list[Care]:
    """The elements and thermocouples changed in a kiln from a day on: what was proven in it before
    that day was proven in another kiln, as far as heat goes."""
    return list(
        kiln.cares.filter(
            did=Care.Did.CHANGED,
            part__in=[Part.ELEMENTS, Part.THERMOCOUPLE],
            on_date__gte=since_date,
        )
    )


def fresh_changes(kiln: Kiln) -> list[str]:
    """What is to be done first after changes that move the heat and were not fired in yet."""
    last = kiln.firings.filter(lit_at__isnull=False).order_by("-lit_at").first()
    since = _day(last.lit_at) if last is not None and last.lit_at is not None else date.min
    fresh = {
        care.part
        for care in parts_changed(kiln, since_date=since)
        if last is None or care.on_date > since
    }
    return [words for part, words in rules.CHANGED_SAYS.items() if part in fresh]


def _day(moment: datetime) -> date:
    return timezone.localdate(moment)
