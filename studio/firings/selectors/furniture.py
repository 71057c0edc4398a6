"""Which shelves and posts has a kiln, and are they still as somebody saw them?"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any, Final

from studio.craft.load import SHELF_MM
from studio.firings.models import Kiln
from studio.firings.selectors.packing import POSTS_MM

FIELDS: Final = (
    "shelf_gap_mm", "wall_mm", "lid_mm", "floor_post_mm", "post_across_mm", "probe_side",
    "probe_in_mm", "probe_height_mm",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Furniture:
    """Clearances and thermocouple; shelves (kind, thickness, count); posts (height, count)."""

    values: dict[str, Any]
    shelves: list[tuple[str, int, int]]
    posts: list[tuple[int, int]]

    @property
    def token(self) -> str:
        """Another word of it gives another token."""
        words = json.dumps([self.values, self.shelves, self.posts], sort_keys=True)
        return hashlib.sha256(words.encode()).hexdigest()[:16]

    @property
    def as_kept(self) -> dict[str, Any]:
        """As a change keeps it for the way back."""
        return {"values": self.values, "shelves": self.shelves, "posts": self.posts}


def furniture_of(kiln: Kiln, *, usual: bool = False) -> Furniture:
    """The furniture that is written down; with ``usual`` what is reckoned with until it is."""
    shelves = [
        (row.kind, row.thickness_mm, row.count)
        for row in kiln.shelves.order_by("kind", "thickness_mm")
    ]
    posts = [(row.height_mm, row.count) for row in kiln.posts.order_by("height_mm")]
    if usual:
        shelves = shelves or [("whole", SHELF_MM, kiln.shelf_count)]
        posts = posts or [(height, 3 * kiln.shelf_count) for height in POSTS_MM]
    return Furniture(
        values={name: getattr(kiln, name) for name in FIELDS}, shelves=shelves, posts=posts
    )
