"""Which calendar addresses are given out?"""

from __future__ import annotations

from django.db.models import QuerySet
from django.urls import reverse

from studio.planning.models import CalendarAddress


def open_addresses() -> QuerySet[CalendarAddress]:
    """Those that were not withdrawn, oldest first."""
    return CalendarAddress.objects.filter(withdrawn_at__isnull=True)


def path_of(token: str) -> str:
    """Where a calendar that holds this token reads."""
    return reverse("planning:feed", args=[token])
