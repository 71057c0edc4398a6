"""Hold parcels and what is in them while a service changes them."""

from __future__ import annotations

from collections.abc import Iterable

from studio.parcels.models import Parcel, ParcelPiece
from studio.wares import services as wares


def hold(parcel: Parcel) -> Parcel:
    """A parcel as it is now, held, with its person and month."""
    held = Parcel.objects.select_for_update(of=("self",)).select_related("supporter", "shipment")
    return held.get(id=parcel.id)


def lock_contents(parcels: Iterable[Parcel]) -> None:
    """Lock the pieces that lie in these parcels."""
    rows = ParcelPiece.objects.filter(parcel__in=[parcel.id for parcel in parcels])
    wares.lock_pieces(rows.values_list("piece_id", flat=True))
