"""Which piece stands on which spot of a drawn load, after boards went in or out?"""

from __future__ import annotations

from collections import defaultdict

from studio.firings.models import Firing, Sheet, Spot
from studio.firings.selectors.packing import Sort
from studio.firings.selectors.sheets import open_places, sort_of


def reseat(firing: Firing) -> None:
    """Give every piece in a load a free spot of its sort, and free the spots of what went out.

    Spots are taken in the order of their numbers. What finds none stays without a place; the page
    says so. Within the caller's transaction, with the firing held.
    """
    sheet = Sheet.objects.filter(firing=firing).first()
    if sheet is None:
        return
    places = {place.pk: place for place in open_places(firing)}
    is_bisque = firing.schedule.kind == "bisque"
    free: dict[Sort, list[Spot]] = defaultdict(list)
    seated, changed = set(), []
    for spot in sheet.spots.filter(what=Spot.What.WARE).order_by("number"):
        if spot.place_id in places:
            seated.add(spot.place_id)
            continue
        if spot.place_id is not None:
            spot.place = None
            changed.append(spot)
        if spot.mark != Spot.Mark.LEFT_OUT and spot.form_id and spot.clay_lot_id:
            free[Sort(spot.form_id, spot.clay_lot_id, spot.coats_id)].append(spot)
    Spot.objects.bulk_update(changed, ["place"])
    now_seated = []
    for pk, place in places.items():
        spots = free[sort_of(place, is_bisque=is_bisque)]
        if pk not in seated and spots:
            spot = spots.pop(0)
            spot.place = place
            now_seated.append(spot)
    Spot.objects.bulk_update(now_seated, ["place"])
