"""What does a new studio still have to say before its first plan, and where is each thing said?

The steps stand in the order in which one needs the other: a run needs a kiln and a schedule, a
line needs a form, a clay lot, coats and a glaze schedule, a plan needs all of them and a date.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.urls import reverse

from studio.firings.models import Circuit, Kiln, Run, Schedule
from studio.parcels.models import Shipment, ShipmentWant
from studio.planning.models import BackPlan, Hands
from studio.sales.models import SaleDay, Want
from studio.wares.models import ClayLot, Coats, Form, Glaze, Line, Piece
from studio.web.models import Studio


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstStep:
    """One thing that is still to be said: what, why, and the page for it."""

    text: str
    detail: str
    url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstSteps:
    """The steps that are left, the next one first, and how many there are in all."""

    left: tuple[FirstStep, ...]
    total: int

    @property
    def done(self) -> int:
        """How many are done."""
        return self.total - len(self.left)


def first_steps() -> FirstSteps:
    """Answer the first steps that this studio has not taken yet; none are left in a running one."""
    left = tuple(
        FirstStep(text=text, detail=detail, url=url())
        for is_done, text, detail, url in _STEPS
        if not is_done()
    )
    return FirstSteps(left=left, total=len(_STEPS))


def _to(name: str) -> Callable[[], str]:
    return lambda: reverse(name)


def _run_url() -> str:
    """The page that takes a run: that of the first kiln which has none of a kind."""
    for kiln in Kiln.objects.all():
        if not all(_has_run(kind, kiln) for kind in Schedule.Kind.values):
            return reverse("firings:run", args=[kiln.pk])
    return reverse("firings:kilns")


def _has_run(kind: str, kiln: Kiln | None = None) -> bool:
    runs = Run.objects.filter(schedule__kind=kind)
    return (runs.filter(kiln=kiln) if kiln else runs).exists()


def _date_url() -> str:
    """A sale day that asks for nothing yet, else a new one."""
    day = SaleDay.objects.filter(wants__isnull=True).order_by("-members_at").first()
    return reverse("sales:sale", args=[day.pk]) if day else reverse("sales:new-sale")


def _has_date() -> bool:
    """Whether something was ever wanted by a date, or a date is over."""
    return (
        Want.objects.exists()
        or ShipmentWant.objects.exists()
        or Shipment.objects.filter(parcels__isnull=False).exists()
        or BackPlan.objects.exists()
    )


_STEPS: tuple[tuple[Callable[[], bool], str, str, Callable[[], str]], ...] = (
    (
        Studio.objects.exists,
        "Say who you are",
        "name, address for slips, °C or °F",
        _to("settings"),
    ),
    (
        Circuit.objects.exists,
        "Add a circuit",
        "the supply, and how many kilns it heats at once",
        _to("firings:circuit-new"),
    ),
    (
        Kiln.objects.exists,
        "Add a kiln",
        "its inside, and how many mugs it holds",
        _to("firings:kiln-new"),
    ),
    (
        lambda: Schedule.objects.filter(kind="bisque").exists(),
        "Add a bisque schedule",
        "cone, rates and holds",
        _to("firings:schedule-new"),
    ),
    (
        lambda: Schedule.objects.filter(kind="glaze").exists(),
        "Add a glaze schedule",
        "cone, rates and holds",
        _to("firings:schedule-new"),
    ),
    (
        lambda: _has_run("bisque") and _has_run("glaze"),
        "Say how long each kiln is busy",
        "a run for the bisque and one for the glaze: days and cost",
        _run_url,
    ),
    (Form.objects.exists, "Add a form", "what you throw: a mug, a bowl", _to("wares:forms_add")),
    (
        ClayLot.objects.exists,
        "Add a clay lot",
        "a body, and the delivery it came in",
        _to("wares:clay_lots_add"),
    ),
    (
        Glaze.objects.exists,
        "Add a glaze",
        "a bucket, and the cone it may go to",
        _to("wares:glazes_add"),
    ),
    (
        Coats.objects.exists,
        "Add coats",
        "the glazes on a pot, the one nearest the clay first",
        _to("wares:coats_add"),
    ),
    (
        Line.objects.exists,
        "Add a line",
        "form, clay, coats and schedule together; say which are proven",
        _to("wares:lines_add"),
    ),
    (
        Hands.objects.exists,
        "Say how much your hands can do",
        "minutes of each weekday",
        _to("planning:hands"),
    ),
    (
        Piece.objects.exists,
        "Count in what stands here",
        "bisqued, glazed and finished pots; or throw the first board",
        _to("wares:count_in"),
    ),
    (_has_date, "Set a sale day", "and what should stand ready by it", _date_url),
    (
        BackPlan.objects.exists,
        "Work out the first plan",
        "from that day back to the firings and the throwing",
        _to("planning:plan"),
    ),
)
