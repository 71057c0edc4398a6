"""What does today ask for, in which order, and where does each line lead?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from studio.firings.models import Firing
from studio.firings.selectors import KilnCare, LongerNow, care_of, kilns_now, longer_now
from studio.firings.selectors.kilns import KilnNow
from studio.parcels.models import Shipment
from studio.parcels.selectors import overdue
from studio.planning.models import DayOff
from studio.planning.selectors import due_work, may_wait_until
from studio.sales.models import SaleDay
from studio.wares.models import Stage
from studio.wares.selectors import Group, boards_now
from studio.web.models import Change, Studio

DAYS_TO_PACK = 7
"""How many days before a post date the parcels begin to show; our own choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One line of Today: what is asked, why, where it is done, and how much it presses."""

    text: str
    detail: str
    url: str
    is_late: bool = False
    count: int | None = None
    stage: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AskGroup:
    """Lines that belong together."""

    title: str
    asks: tuple[Ask, ...]
    all_url: str
    all_text: str


def studio_to_edit() -> Studio:
    """Answer the studio's row apart from the one that this page itself is made with.

    A form writes what was typed into its row, also when it is refused.
    """
    return Studio.objects.filter(id=1).first() or Studio(id=1)


def changes(*, word: str = "") -> QuerySet[Change]:
    """Answer every change, the newest first, each knowing whether it was undone.

    With a ``word``, those whose sentence or whose person's name holds it, whatever its case.
    """
    undone = Change.objects.filter(undoes=OuterRef("pk"))
    found = Change.objects.select_related("by").annotate(was_undone=Exists(undone))
    if not word:
        return found
    who = Q(by__username__icontains=word) | Q(by__first_name__icontains=word)
    return found.filter(who | Q(said__icontains=word))


def asks(*, today_date: date) -> tuple[AskGroup, ...]:
    """Answer what today asks for, the hot things first; groups with nothing to say are left out."""
    groups = (
        _group("Kilns", _of_kilns(today_date), "firings:kilns", "All kilns"),
        _group("The plan", _of_the_plan(today_date), "planning:plan", "The whole plan"),
        _group("Boards", _of_boards(today_date), "wares:boards", "All boards"),
        _group("Parcels", _of_parcels(today_date), "parcels:parcels", "All shipments"),
        _group("Sales", _of_sales(today_date), "sales:sales", "All sale days"),
    )
    return tuple(group for group in groups if group.asks)


def _group(title: str, asks: Iterator[Ask], url_name: str, all_text: str) -> AskGroup:
    return AskGroup(title=title, asks=tuple(asks), all_url=reverse(url_name), all_text=all_text)


def _of_kilns(today_date: date) -> Iterator[Ask]:
    all_now = kilns_now(now=timezone.now())
    for now in all_now:
        yield from _of_kiln(now, today_date)
    kilns = [now.kiln for now in all_now]
    longer = longer_now(kilns)
    for kept in care_of(kilns, today_date=today_date):
        yield from _of_care(kept, longer.get(kept.kiln.pk))


def _of_care(kept: KilnCare, longer: LongerNow | None) -> Iterator[Ask]:
    """One line a kiln: what of it is to be changed or looked at."""
    parts = [f"{part.name.lower()}: {part.said}" for part in kept.asking]
    if longer is not None:
        parts.insert(0, f"its last heating took {longer.longer.percent} % longer than usual")
    if parts:
        url = reverse("firings:care", args=[kept.kiln.pk])
        yield Ask(text=f"Care of {kept.kiln}", detail="; ".join(parts), url=url)


def _of_kiln(now: KilnNow, today_date: date) -> Iterator[Ask]:
    name = now.kiln.name
    if now.firing is not None:
        url = reverse("firings:firing", args=[now.firing.pk])
        schedule = str(now.firing.schedule)
        if now.state == "loaded":
            yield Ask(text=f"Light {name}", detail=f"loaded for {schedule}", url=url)
        elif now.state == "firing":
            yield Ask(
                text=f"Be there when {name} ends",
                detail=f"{schedule}: see the cones, switch off at the wall",
                url=url,
            )
        elif now.opening_at is not None:
            when = timezone.localtime(now.opening_at)
            if now.is_late:
                yield Ask(text=f"Open {name}", detail=f"{schedule}, once it reads cool", url=url)
            else:
                detail = f"{schedule}; to open from about {when:%a %d %b, %H:%M}"
                yield Ask(text=f"{name} is cooling", detail=detail, url=url)
        return
    planned = now.next_firing
    if planned is not None and planned.start_date <= today_date:
        late = planned.start_date < today_date
        yield Ask(
            text=f"Load {name}",
            detail=f"{planned.schedule}, planned for {planned.start_date:%a %d %b}"
            + (_may_wait(planned, today_date) if late else ""),
            url=reverse("firings:firing", args=[planned.pk]),
            is_late=late,
        )


def _may_wait(firing: Firing, today_date: date) -> str:
    """How long a firing that is late may still wait, by the plan in force."""
    until = may_wait_until(firing)
    if until is None:
        return ""
    if until < today_date:
        return "; something promised comes too late now: work the plan out again"
    if until == today_date:
        return "; today is the last day that is early enough"
    return f"; it may wait until {until:%a %d %b}"


def _of_the_plan(today_date: date) -> Iterator[Ask]:
    for work in due_work(today_date=today_date):
        yield Ask(
            text=work.text,
            detail=work.detail,
            url=reverse(work.url_name, args=work.url_args) + work.query,
            is_late=work.is_late,
            count=work.count,
        )


def _of_boards(today_date: date) -> Iterator[Ask]:
    for group in boards_now():
        if group.firing_id is not None or group.form is None:
            continue
        if group.stage == Stage.FIRED:
            yield _board_ask(group, "Grade", "out of the kiln, not looked at yet", "wares:grade")
        elif _should_be_dry(group, today_date):
            yield _board_ask(group, "Is it dry?", f"thrown {group.made_date:%d %b}", "wares:board")


def _should_be_dry(group: Group, today_date: date) -> bool:
    if group.stage != Stage.THROWN or group.is_dry or group.form is None:
        return False
    made = group.last_made_date
    return made is not None and made + timedelta(days=group.form.drying_days) <= today_date


def _board_ask(group: Group, verb: str, detail: str, url_name: str) -> Ask:
    return Ask(
        text=f"{verb} {group.board.label}: {group.form}",
        detail=detail,
        url=reverse(url_name, args=[group.board.pk]),
        count=group.count,
        stage=group.shows_stage,
    )


def _of_parcels(today_date: date) -> Iterator[Ask]:
    near = Shipment.objects.filter(post_date__lte=today_date + timedelta(days=DAYS_TO_PACK))
    # A month whose parcels are all posted, or that passed without any, asks for nothing.
    open_still = Q(parcels__state__in=["picked", "packed"]) | Q(
        parcels__isnull=True, post_date__gte=today_date
    )
    shipments = near.filter(open_still).order_by("month").annotate(
        to_pack=Count("parcels", filter=Q(parcels__state="picked"), distinct=True),
        to_post=Count("parcels", filter=Q(parcels__state="packed"), distinct=True),
    )  # fmt: skip
    for shipment in shipments:
        if shipment.to_pack:
            text, count = "Pack parcels", shipment.to_pack
        elif shipment.to_post:
            text, count = "Post parcels", shipment.to_post
        else:
            text, count = "Pick this month's pots", shipment.parcel_count
        yield Ask(
            text=text,
            detail=f"they go to the post on {shipment.post_date:%a %d %b}",
            url=reverse("parcels:shipment", args=[shipment.pk]),
            is_late=shipment.post_date < today_date,
            count=count,
        )
    late = overdue(today_date=today_date).count()
    if late:
        yield Ask(
            text="Ask after parcels",
            detail="posted long ago, and not said to have arrived",
            url=reverse("parcels:parcels"),
            is_late=True,
            count=late,
        )


def _of_sales(today_date: date) -> Iterator[Ask]:
    ahead = SaleDay.objects.filter(members_at__gte=timezone.now()).order_by("members_at").first()
    if ahead is None:
        return
    days = (timezone.localtime(ahead.members_at).date() - today_date).days
    opens_at = timezone.localtime(ahead.members_at)
    yield Ask(
        text=f"{ahead.name} {in_days(days)}",
        detail=f"members' hours open {opens_at:%a %d %b, %H:%M}",
        url=reverse("sales:sale", args=[ahead.pk]),
    )


def in_days(days: int) -> str:
    """Say how far off a day is: today, tomorrow, in 38 days."""
    return {0: "today", 1: "tomorrow"}.get(days, f"in {days} days")


def day_off(*, today_date: date) -> DayOff | None:
    """Answer whether nobody works today, and why."""
    return DayOff.objects.filter(date=today_date).first()
