"""Do the tables of a database fit this Wareboard, or are they of a newer one?"""

from __future__ import annotations

from collections.abc import Collection

from django.db.migrations.loader import MigrationLoader

Migration = tuple[str, str]
"""A room and the name of one of its migrations."""


def known_migrations() -> set[Migration]:
    """The migrations that this Wareboard has."""
    return set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)


def of_a_newer_one(*, applied: Collection[Migration], known: Collection[Migration]) -> str | None:
    """Say that tables were made by a newer Wareboard; None when all of their changes are known."""
    rooms = {room for room, _ in known}
    unknown = sorted(f"{room} {name}" for room, name in {*applied} - {*known} if room in rooms)
    if not unknown:
        return None
    return (
        f"Its tables are of a newer Wareboard, which this one does not know ({unknown[-1]}). "
        "Install that Wareboard first."
    )
