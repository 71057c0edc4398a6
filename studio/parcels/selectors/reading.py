"""What do the pages of a month ask of the database again and again? Read once, and kept.

A ``Reading`` is made for one page or one service call and thrown away after it: it does not see
what is written later.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from functools import cached_property

from django.db.models import Model, QuerySet, Sum
from django.utils import timezone

from studio.craft.picks import Wisher
from studio.parcels.models import ParcelPiece, Shipment, ShipmentWant, Skip, Supporter
from studio.parcels.selectors.turns import Standing, standings
from studio.wares.kinds import Kind, kind_of
from studio.wares.models import Coat, Line, Piece, Stage

LINE_PARTS = ("form", "clay_lot", "coats", "schedule")


class Reading:
    """Pots, lines, wants and turns of a month, each read when it is first asked for."""

    def __init__(self, shipment: Shipment) -> None:
        self.shipment = shipment

    @cached_property
    def pots(self) -> list[Piece]:
        """The pieces that ``free_pots`` finds."""
        return list(free_pots())

    @cached_property
    def lines(self) -> dict[Kind, Line]:
        """Every line by what makes it, in the order of their ids."""
        return lines_by_kind()

    @cached_property
    def glazes(self) -> dict[int, frozenset[str]]:
        """The glazes of every coats."""
        return glazes_of_coats()

    @cached_property
    def wants(self) -> list[ShipmentWant]:
        """What the month has set aside."""
        return list(wants_of(self.shipment))

    @cached_property
    def picked(self) -> Counter[int]:
        """How many firsts of each line lie in its parcels, by line id."""
        return picked_of(self.shipment)

    @cached_property
    def asked(self) -> Counter[Kind]:
        """What the sales to come still ask for."""
        return asked_by_sales()

    @cached_property
    def standings(self) -> list[Standing]:
        """Everybody as the turns of the month see them, nobody skipped."""
        return standings(month=self.shipment.month)

    @cached_property
    def served(self) -> dict[int, bool]:
        """Who has a parcel in the month, by id, and whether it uses a turn."""
        rows = self.shipment.parcels.order_by().values_list("supporter_id", "replaces_id")
        found: dict[int, bool] = {}
        for supporter_id, replaces_id in rows:
            found[supporter_id] = found.get(supporter_id, False) or replaces_id is None
        return found

    @cached_property
    def skips(self) -> list[Skip]:
        """Who is skipped in it, with the reason."""
        return list(self.shipment.skips.select_related("supporter"))

    @property
    def turns_picked(self) -> int:
        """How many of its parcels use a turn."""
        return sum(self.served.values())

    @property
    def eligible(self) -> int:
        """How many may have a turn in the month."""
        return sum(one.turner.eligible for one in self.standings)


def free_pots() -> QuerySet[Piece]:
    """The graded pieces on hand that nobody was promised, by number. Listed ones are not here."""
    return (
        Piece.objects.free()
        .filter(stage=Stage.GRADED, parcel_piece__isnull=True)
        .select_related(*LINE_PARTS, "board", "photo", "reservation", "parcel_piece")
        .order_by("number")
    )


def lines_by_kind() -> dict[Kind, Line]:
    """Every line by what makes it, in the order of their ids."""
    lines = Line.objects.select_related(*LINE_PARTS).order_by("id")
    return {kind_of(line): line for line in lines}


def glazes_of_coats() -> dict[int, frozenset[str]]:
    """The glazes of every coats, as the pick names them."""
    found: dict[int, set[str]] = defaultdict(set)
    for coats_id, glaze_id in Coat.objects.values_list("coats_id", "glaze_id"):
        found[coats_id].add(str(glaze_id))
    return {coats_id: frozenset(glazes) for coats_id, glazes in found.items()}


def wants_of(shipment: Shipment) -> QuerySet[ShipmentWant]:
    """The wants of a month with their lines."""
    return shipment.wants.select_related(*(f"line__{part}" for part in LINE_PARTS))


def picked_of(shipment: Shipment) -> Counter[int]:
    """How many firsts of each line lie in the parcels of a month, by line id."""
    rows = ParcelPiece.objects.filter(parcel__shipment=shipment, piece__grade="first")
    return Counter(rows.order_by().values_list("line_id", flat=True))


def asked_by_sales() -> Counter[Kind]:
    """How many firsts of each kind the sale days to come still ask for.

    Asked through the lines and pieces that both rooms share, because they do not know each other:
    what a sale wants, less the firsts that are listed for it or sold at it.
    """
    to_come = {"wants__sale_day__members_at__gt": timezone.now()}
    wanted: Counter[tuple[int, Kind]] = Counter()
    rows = Line.objects.filter(**to_come).annotate(asked=Sum("wants__count"))
    for day_id, asked, *kind in rows.values_list("wants__sale_day", "asked", *Kind._fields):
        wanted[day_id, Kind(*kind)] += asked
    listed = Piece.objects.filter(
        listing__sale_day__members_at__gt=timezone.now(), grade="first", parting__in=["", "sold"]
    )
    done: Counter[tuple[int, Kind]] = Counter()
    for day_id, *kind in listed.values_list("listing__sale_day", *Kind._fields):
        done[day_id, Kind(*kind)] += 1
    asked_of: Counter[Kind] = Counter()
    for (day_id, kind_), count in wanted.items():
        asked_of[kind_] += max(0, count - done[day_id, kind_])
    return asked_of


def wishers(people: Iterable[Supporter]) -> list[Wisher]:
    """What each of these people had and would rather not have, all read at once."""
    asked = list(people)
    had: dict[int, list[tuple[int, int, str, int]]] = defaultdict(list)
    rows = ParcelPiece.objects.filter(supporter__in=asked)
    fields = ("line_id", "line__form_id", "piece__grade", "piece__form__price_pence")
    for id_, *row in rows.values_list("supporter_id", *fields):
        had[id_].append((row[0], row[1], row[2], row[3]))
    forms = _wishes(Supporter.please_no.through, "form_id", asked)
    glazes = _wishes(Supporter.no_glazes.through, "glaze_id", asked)
    return [
        wisher_of(person, had=had[person.id], forms=forms[person.id], glazes=glazes[person.id])
        for person in asked
    ]


def wisher_of(
    supporter: Supporter,
    *,
    had: Iterable[tuple[int, int, str, int]],
    forms: Iterable[str],
    glazes: Iterable[str],
) -> Wisher:
    """A person as the pick sees them. ``had`` are (line, form, grade, price in pence) of a pot."""
    rows = list(had)
    return Wisher(
        key=str(supporter.id),
        had_lines=frozenset(str(row[0]) for row in rows),
        had_forms=frozenset(str(row[1]) for row in rows),
        please_no=frozenset(forms),
        no_glazes=frozenset(glazes),
        takes_seconds=supporter.takes_seconds,
        had_seconds=sum(row[2] == "second" for row in rows),
        had_pounds=sum(row[3] for row in rows) // (100 * len(rows)) if rows else 0,
    )


def _wishes(through: type[Model], key: str, people: list[Supporter]) -> Mapping[int, set[str]]:
    found: dict[int, set[str]] = defaultdict(set)
    rows = through._default_manager.filter(supporter__in=people)
    for supporter_id, id_ in rows.values_list("supporter_id", key):
        found[supporter_id].add(str(id_))
    return found
