"""Look at what a file of supporters would change, some thousand rows at a time.

A phone does not wait minutes for one answer: each request looks at ``AT_ONCE`` rows, and what was
found so far waits beside the sent file until the next goes on from there. Nothing is saved of it.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from datetime import datetime
from itertools import islice
from typing import Self

from django.contrib.auth.models import User

from studio.parcels import roll, selectors
from studio.parcels.models import Supporter
from studio.parcels.roll_row import Known
from studio.parcels.services import rolls
from studio.parcels.services.addresses import keep_looks
from studio.parcels.services.record import ADDRESS

STEPS = 2
"""So many steps of ``rolls.STEP`` rows are looked at in one request."""


@dataclass(kw_only=True, slots=True)
class Look:
    """How far a look at a file has come. ``by`` says by which columns it is read.

    ``after`` is the last row looked at, ``seen`` in which row each person stood first.
    """

    by: str
    total: int
    at: str = ""
    after: int = 0
    done: int = 0
    is_done: bool = False
    seen: dict[str, int] = field(default_factory=dict)
    preview: selectors.Preview = field(default_factory=selectors.Preview)

    @property
    def is_long(self) -> bool:
        """Whether it takes more than one request."""
        return self.total > STEPS * rolls.STEP

    @property
    def looked_at(self) -> datetime | None:
        """When the last rows were looked at."""
        return datetime.fromisoformat(self.at) if self.at else None

    def written(self) -> bytes:
        """All of it, to be read again by ``read``."""
        return json.dumps(asdict(self)).encode()

    @classmethod
    def read(cls, data: bytes) -> Self:
        """What ``written`` wrote."""
        values = json.loads(data)
        shown = [selectors.Outcome(**one) for one in values["preview"].pop("shown")]
        preview = selectors.Preview(**values.pop("preview"), shown=shown)
        return cls(**values, preview=preview)


def look_on(
    look: Look, *, sheet: roll.Sheet, matching: roll.Matching, known: Known, by: User, at: datetime
) -> None:
    """Look at the next rows of a file, and keep whose addresses are thereby shown."""
    rows = roll.read_rows(
        sheet=sheet, matching=matching, known=known, seen=look.seen, after=look.after
    )
    tiers = selectors.tier_names()
    most = STEPS * rolls.STEP
    for step in rolls.steps(islice(rows, most)):
        shown = _add(look.preview, step, tiers, at)
        people = Supporter.objects.filter(id__in=shown)
        keep_looks(page="import", by=by, at=at, people=people)
        look.done += len(step)
        look.after = step[-1].row
    look.is_done = look.done >= look.total
    look.at = at.isoformat()


def _add(
    preview: selectors.Preview, step: list[roll.RollRow], tiers: dict[int, str], at: datetime
) -> list[int]:
    """Put what a step asks for into the preview; whose address it shows, by id."""
    ready = rolls.prepare_import(rows=step, at=at)
    names = {row.row: str(row.values.get("name", "")) for row in step}
    preview.refused += len({row for row, _ in ready.refused})
    outcomes: list[tuple[selectors.Outcome, int]] = [
        (selectors.Outcome(row=row, kind="refused", name=names[row], words=cause), 0)
        for row, cause in ready.refused
    ]
    for one in ready.asked:
        months = len(one.payments)
        words = (
            selectors.new_words(one.person, months=months)
            if one.is_new
            else selectors.change_words(was=one.was, now=one.now, months=months, tiers=tiers)
        )
        kind = "new" if one.is_new else "same" if one.is_same else "changed"
        setattr(preview, kind, getattr(preview, kind) + 1)
        if kind != "same":
            moved = kind == "changed" and bool(set(one.was) & set(ADDRESS))
            outcome = selectors.Outcome(row=one.row, kind=kind, name=one.person.name, words=words)
            outcomes.append((outcome, one.person.id if moved else 0))
    shown = []
    for outcome, supporter_id in sorted(outcomes, key=lambda one: one[0].row):
        if preview.show(outcome) and supporter_id:
            shown.append(supporter_id)
    return shown
