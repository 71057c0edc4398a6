"""How does a firing change, so that of two phones at the same moment one acts?

Laws of this room's services:

1. The kiln's row is held first, then the firing's, then the boards' or the circuit's, always in
   this order, so that two people neither overtake nor wait for each other for ever.
2. Everything is read again after it is held; what a page showed is only a wish.
"""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from studio.firings.models import Circuit, Firing, Kiln


def held(firing: Firing) -> Firing:
    """Hold a firing and its kiln for this transaction and answer it as it is now."""
    hold_kiln(firing.kiln_id)
    Firing.objects.select_for_update().get(pk=firing.pk)
    return Firing.objects.select_related("kiln__circuit", "schedule").get(pk=firing.pk)


def hold_kiln(kiln_id: int) -> None:
    """Hold a kiln, so that nobody else plans, loads or opens it meanwhile."""
    Kiln.objects.select_for_update().get(pk=kiln_id)


def held_to_light(firing: Firing) -> Firing:
    """Hold a firing, its kiln and the circuit, so that no second kiln is lit on it meanwhile."""
    now = held(firing)
    now.kiln.circuit = Circuit.objects.select_for_update().get(pk=now.kiln.circuit_id)
    return now


def day(moment: datetime) -> str:
    """A moment as it is told: '10:04', with the day when it is another than today."""
    local = timezone.localtime(moment)
    if local.date() == timezone.localdate():
        return f"{local:%H:%M}"
    return f"{local:%H:%M on %a %d %b}"
