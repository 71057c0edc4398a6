"""What did the person see of a row when the form was opened?"""

from __future__ import annotations

from django.db.models import Model
from django.http import HttpRequest

from studio.firings import selectors


def seen_token(request: HttpRequest, row: Model | None) -> str:
    """The token a form carries: of the row as it is, or as it was when a form comes back."""
    return request.POST.get("seen") or (selectors.seen_of(row) if row is not None else "")
