"""What does the database keep for a room, so that a test can show that each was tried?"""

from __future__ import annotations

from django.apps import apps


def kept_by_the_database(room: str) -> set[str]:
    """The names of a room's constraints, and ``Model.field`` for a field that is unique."""
    found: set[str] = set()
    for model in apps.get_app_config(room).get_models():
        found |= {constraint.name for constraint in model._meta.constraints}
        found |= {
            f"{model.__name__}.{field.name}"
            for field in model._meta.local_fields
            if field.unique and not field.primary_key
        }
    return found
