"""What came out of a kiln, and what did each pot cost to fire?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from django.db.models import Count, F, Q, QuerySet

from studio.craft.money import energy_cost, split_cost
from studio.firings.models import Firing, FuelPrice, Kiln, Place, Run, Tariff
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Fault, Line
from studio.wares.selectors import verdict_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Came:
    """One kind of ware of an opened firing: how many came through, and its share of the cost."""

    form: str
    clay: str
    coats: str
    through: int
    lost: int
    room_tenths: int
    cost_pence: int | None

    @property
    def stood(self) -> int:
        """How many stood in the load."""
        return self.through + self.lost

    @property
    def each_pence(self) -> int | None:
        """Its share of the firing for one that came through, to the nearest penny."""
        if self.cost_pence is None or not self.through:
            return None
        return (2 * self.cost_pence + self.through) // (2 * self.through)


@dataclass(frozen=True, kw_only=True, slots=True)
class Results:
    """An opened firing in sums."""

    rows: tuple[Came, ...]
    not_fired: int = 0

    @property
    def through(self) -> int:
        """How many came through."""
        return sum(row.through for row in self.rows)

    @property
    def lost(self) -> int:
        """How many were lost."""
        return sum(row.lost for row in self.rows)

    @property
    def stood(self) -> int:
        """How many stood in the load."""
        return self.through + self.lost


def results(firing: Firing) -> Results:
    """Through and lost by kind of ware, the firing's cost shared out by the room each took.

    A bisque firing is told by form and clay, because coats came later.
    """
    coats = [] if firing.schedule.kind == "bisque" else ["piece__coats_id", "piece__coats__name"]
    places = firing.places.filter(outcome__in=[Place.Outcome.THROUGH, Place.Outcome.LOST])
    groups = list(
        places.values(
            "piece__form_id",
            "piece__clay_lot_id",
            *coats,
            form=F("piece__form__name"),
            room=F("piece__form__room_tenths"),
            body=F("piece__clay_lot__body"),
        )
        .annotate(
            through=Count("id", filter=Q(outcome=Place.Outcome.THROUGH)),
            lost=Count("id", filter=Q(outcome=Place.Outcome.LOST)),
        )
        .order_by("form", "body", *coats[1:])
    )
    rooms = [group["room"] * (group["through"] + group["lost"]) for group in groups]
    costs: tuple[int | None, ...] = (None,) * len(groups)
    if firing.cost_pence is not None and any(rooms):
        costs = split_cost(firing.cost_pence, rooms)
    return Results(
        not_fired=firing.places.filter(outcome=Place.Outcome.NOT_FIRED).count(),
        rows=tuple(
            Came(
                form=group["form"],
                clay=group["body"],
                coats=group.get("piece__coats__name") or "",
                through=group["through"],
                lost=group["lost"],
                room_tenths=room,
                cost_pence=cost,
            )
            for group, room, cost in zip(groups, rooms, costs, strict=True)
        ),
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class OnTrial:
    """A line on trial that came through a firing: what it showed here and in all its firings."""

    line: Line
    through: int
    stood: int
    all_through: int
    all_stood: int
    firings: int
    said: str


def on_trial(firing: Firing) -> list[OnTrial]:
    """The lines on trial of which something came through this glaze firing, for the potter to
    judge."""
    if firing.schedule.kind == "bisque":
        return []
    here = _came(Place.objects.filter(firing=firing))
    kinds = {kind for kind, (through, _, _) in here.items() if through}
    lines = Line.objects.filter(standing=Line.Standing.TRIAL, schedule=firing.schedule)
    found = [
        line
        for line in lines.select_related("form", "clay_lot", "coats", "schedule")
        if kind_of(line) in kinds
    ]
    ever = _came(Place.objects.filter(firing__schedule__kind="glaze")) if found else {}
    return [
        OnTrial(
            line=line,
            through=here[kind_of(line)][0],
            stood=here[kind_of(line)][1],
            all_through=ever[kind_of(line)][0],
            all_stood=ever[kind_of(line)][1],
            firings=ever[kind_of(line)][2],
            said=verdict_of(line).said,
        )
        for line in found
    ]


def _came(places: QuerySet[Place]) -> dict[Kind, tuple[int, int, int]]:
    """By kind of ware: how many came through, how many stood, in how many firings."""
    keys = [f"piece__{name}" for name in Kind._fields]
    rows = (
        places.filter(outcome__in=[Place.Outcome.THROUGH, Place.Outcome.LOST])
        .values_list(*keys)
        .annotate(
            through=Count("id", filter=Q(outcome=Place.Outcome.THROUGH)),
            stood=Count("id"),
            firings=Count("firing_id", distinct=True),
        )
        .order_by()
    )
    return {Kind(*row[:4]): (row[4], row[5], row[6]) for row in rows}


def faults_of(firing: Firing) -> list[tuple[str, int]]:
    """The faults that were seen on the ware of a firing, the commonest first."""
    counts = Counter(
        fault.get_kind_display() for fault in Fault.objects.filter(firing=firing).only("kind")
    )
    return counts.most_common()


@dataclass(frozen=True, kw_only=True, slots=True)
class Cost:
    """A cost and where it is known from: a word of ``Firing.CostFrom``, '' when it is not known."""

    pence: int | None
    known_from: str


def tariff() -> Tariff | None:
    """What electricity costs; None before anyone has said it."""
    return Tariff.objects.filter(pk=1).first()


def fuel_price(kiln: Kiln) -> FuelPrice | None:
    """What a unit of a kiln's gas or wood costs; None for electricity and before it was said."""
    return FuelPrice.objects.filter(fuel=kiln.fuel).first()


def cost_of(
    firing: Firing,
    *,
    used_wh: int | None,
    stated_pence: int | None,
    fuel_thousandths: int | None = None,
) -> Cost:
    """What a firing cost: as stated, by meter and tariff, by the usual energy, or as usual."""
    if stated_pence is not None:
        return Cost(pence=stated_pence, known_from=Firing.CostFrom.STATED)
    run = Run.objects.filter(kiln=firing.kiln_id, schedule=firing.schedule_id).first()
    price = tariff()
    is_electric = firing.kiln.fuel == Kiln.Fuel.ELECTRIC
    if price is not None and is_electric and used_wh is not None:
        pence = energy_cost(used_wh, price_hundredths=price.price_hundredths)
        return Cost(pence=pence, known_from=Firing.CostFrom.METER)
    if price is not None and is_electric and run is not None and run.energy_wh is not None:
        pence = energy_cost(run.energy_wh, price_hundredths=price.price_hundredths)
        return Cost(pence=pence, known_from=Firing.CostFrom.ESTIMATE)
    if found := _fuel_cost(firing, run, fuel_thousandths):
        return found
    if run is None:
        return Cost(pence=None, known_from="")
    return Cost(pence=run.cost_pence, known_from=Firing.CostFrom.USUAL)


def _fuel_cost(firing: Firing, run: Run | None, used: int | None) -> Cost | None:
    """What its gas or wood cost by the unit: as measured, else as usual."""
    price = fuel_price(firing.kiln)
    if price is None:
        return None
    # What is usual counts only in the unit that the price is for.
    usual = run.fuel_thousandths if run is not None and run.fuel_unit == price.unit else None
    amount = used if used is not None else usual
    if amount is None:
        return None
    # Thousandths of a unit are to the unit what Wh are to the kWh.
    pence = energy_cost(amount, price_hundredths=price.price_hundredths)
    known = Firing.CostFrom.METER if used is not None else Firing.CostFrom.ESTIMATE
    return Cost(pence=pence, known_from=known)


def past_firings() -> QuerySet[Firing]:
    """Opened and called-off firings, the latest first, with how many came through and were lost."""
    return (
        Firing.objects.filter(state__in=[Firing.State.OPENED, Firing.State.CALLED_OFF])
        .select_related("kiln", "schedule")
        .annotate(
            through=Count("places", filter=Q(places__outcome=Place.Outcome.THROUGH)),
            lost=Count("places", filter=Q(places__outcome=Place.Outcome.LOST)),
        )
        .order_by("-start_date", "-id")
    )
