"""What do the hands get done, day by day, when the kiln calendar stands?

Forward simulation over a fixed calendar: every morning brings what is dry or open, loads take
what is really there, hands take the most urgent first. Counts are hundredths of a piece.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from studio.craft.answer import Job, Kept, Plan, Work
from studio.craft.backplan_frame import NEVER, Frame, Slot, Want
from studio.craft.problem import BISQUE, Load, Ware


@dataclass(kw_only=True, slots=True)
class Draft:
    """A load before it has a day: which kiln and what it should hold by which day."""

    slot: Slot
    deadline: int
    contents: dict[str, int] = field(default_factory=dict)
    trial: bool = False


def ware_in(made: Frame, schedule: str, key: str) -> Ware:
    """The ware of what stands in a load: itself in a bisque, that of its line in a glaze load."""
    return made.wares[key] if schedule == BISQUE else made.ware_of(key)


@dataclass(kw_only=True, slots=True)
class Studio:
    """What stands where on the morning of a day, in hundredths of a piece, and what was done."""

    made: Frame
    shelf: defaultdict[tuple[str, str], int]
    coming: defaultdict[int, Counter[tuple[str, str]]]
    left: dict[tuple[str, str], int]
    jobs: list[Job] = field(default_factory=list)
    loads: list[Load] = field(default_factory=list)
    cost_pence: int = 0
    proven_from: dict[str, int] = field(default_factory=dict)
    finished: dict[str, Counter[int]] = field(default_factory=dict)

    def wake(self, day: int) -> None:
        """Put what this morning brings on its shelves."""
        for shelf, count in self.coming[day].items():
            self.shelf[shelf] += count


def open_studio(made: Frame) -> Studio:
    """The studio before the first morning."""
    coming: defaultdict[int, Counter[tuple[str, str]]] = defaultdict(Counter)
    for shelf, counts in made.arrives.items():
        for day, count in enumerate(counts):
            coming[day][shelf] += count - (counts[day - 1] if day else 0)
    return Studio(
        made=made,
        shelf=defaultdict(int),
        coming=coming,
        left=dict(made.most),
        proven_from=dict(made.proven_from),
        finished={key: Counter() for key in made.lines},
    )


def walk(made: Frame, drafts: list[Draft]) -> Plan:
    """Live through the days over a fixed kiln calendar; loads take what is really there."""
    studio = open_studio(made)
    drafts = sorted(drafts, key=lambda d: (d.slot.start, d.slot.schedule_key != BISQUE))
    to_throw = _queue(drafts, bisque=True)
    to_glaze = _queue(drafts, bisque=False)
    for day in range(made.span):
        studio.wake(day)
        for draft in drafts:
            if draft.slot.start == day:
                fire(studio, draft)
        throw(studio, day, to_throw)
        glaze(studio, day, to_glaze)
        finish(studio, day)
    return close(studio)


def drafts_of(*, made: Frame, plan: Plan) -> list[Draft]:
    """The loads of a plan that still have a place in the question, to be filled anew."""
    slots = {(slot.kiln_key, slot.schedule_key, slot.start): slot for slot in made.slots}
    drafts: list[Draft] = []
    tried: set[str] = set()
    for load in sorted(plan.loads, key=lambda load: load.start_date):
        start = (load.start_date - made.problem.today_date).days
        slot = slots.get((load.kiln_key, load.schedule_key, start))
        if slot is None:
            continue
        untried = {key for key, _ in load.contents if made.proven_from.get(key, 0) == NEVER} - tried
        tried |= untried
        contents = dict(load.contents)
        drafts.append(Draft(slot=slot, deadline=slot.open, contents=contents, trial=bool(untried)))
    return drafts


def close(studio: Studio) -> Plan:
    """The plan of a studio that has lived through its days."""
    made = studio.made
    kept = share_out(made=made, finished=studio.finished)
    importance = {want.need_key: want.importance for want in made.wants}
    return Plan(
        jobs=tuple(studio.jobs),
        loads=tuple(studio.loads),
        kept=kept,
        cost_pence=studio.cost_pence,
        weighted_short=sum(importance[k.need_key] * k.short for k in kept),
        short_bound=0,
        cost_bound_pence=0,
        proven=False,
    )


def _queue(drafts: Iterable[Draft], *, bisque: bool) -> list[str]:
    """Keys in the order in which their loads start; each may come again."""
    keys = [
        key
        for draft in drafts
        if (draft.slot.schedule_key == BISQUE) == bisque
        for key in draft.contents
    ]
    return list(dict.fromkeys(keys))


def fire(studio: Studio, draft: Draft) -> None:
    """Load what is there: first what the draft wishes, then whatever else may stand in it."""
    made, slot = studio.made, draft.slot
    bisque = slot.schedule_key == BISQUE
    step, place = ("bisque", "dry") if bisque else ("fire", "glazed")
    room = slot.room_tenths
    contents: dict[str, int] = {}
    may = made.holds[slot]
    wishes = [(key, count) for key, count in draft.contents.items() if key in may]
    wishes += [(key, NEVER) for key in may]
    rule = made.problem.trial_rule
    for key, wish in wishes:
        most = NEVER
        trial = not bisque and studio.proven_from[key] > slot.start
        if trial:
            open_ = draft.trial and key in draft.contents and studio.proven_from[key] == NEVER
            most = rule.most_pieces if open_ else 0
        ware = ware_in(made, slot.schedule_key, key)
        count = min(
            wish,
            studio.shelf[place, key] // 100,
            studio.left[step, key],
            room // ware.room_tenths,
            made.most_in(slot=slot, key=key) - contents.get(key, 0),
            most - contents.get(key, 0),
        )
        if count <= 0 or (trial and contents.get(key, 0) + count < rule.least_pieces):
            continue
        contents[key] = contents.get(key, 0) + count
        studio.shelf[place, key] -= 100 * count
        studio.left[step, key] -= count
        room -= count * ware.room_tenths
    if not contents:
        return
    yields = made.problem.yields
    percent = yields.bisque_percent if bisque else yields.glaze_percent
    for key, count in contents.items():
        studio.coming[slot.open]["bisqued" if bisque else "fired", key] += count * percent
        if not bisque:
            studio.proven_from[key] = min(studio.proven_from[key], slot.open)
    studio.loads.append(load_of(made=made, slot=slot, contents=contents))
    studio.cost_pence += slot.cost_pence


def load_of(*, made: Frame, slot: Slot, contents: dict[str, int]) -> Load:
    """A load of a plan from a slot and what stands in it."""
    return Load(
        kiln_key=slot.kiln_key,
        schedule_key=slot.schedule_key,
        start_date=made.date_of(slot.start),
        busy_days=slot.open - slot.start,
        contents=tuple(sorted((key, n) for key, n in contents.items() if n)),
    )


def throw(studio: Studio, day: int, queue: list[str]) -> None:
    """Throw for a day, the first of the queue as far as it goes, then the next."""
    made = studio.made
    minutes = made.problem.days[day].throwing_min
    for key in queue:
        ware = made.wares[key]
        count = min(studio.left["throw", key], affords(minutes, ware.throwing_min))
        if count and day <= made.last["throw", key]:
            minutes -= count * ware.throwing_min
            throw_some(studio, day, key, count)


def throw_some(studio: Studio, day: int, key: str, count: int) -> None:
    """Throw so many; they are dry some days later."""
    studio.left["throw", key] -= count
    note(studio, Work.THROWING, day, key, count)
    percent = studio.made.problem.yields.drying_percent
    dry = day + studio.made.wares[key].drying_days
    studio.coming[dry]["dry", key] += count * percent


def affords(minutes: int, each_min: int) -> int:
    """How many pieces so many minutes allow."""
    return minutes // each_min if each_min else NEVER


def note(studio: Studio, work: Work, day: int, key: str, count: int) -> None:
    """Write down a job."""
    studio.jobs.append(Job(work=work, date=studio.made.date_of(day), key=key, count=count))


def glaze(studio: Studio, day: int, queue: list[str]) -> None:
    """Glaze for a day, in the order of the queue."""
    made = studio.made
    minutes = made.problem.days[day].glazing_min
    for key in queue:
        ware = made.ware_of(key)
        count = min(
            studio.left["glaze", key],
            studio.shelf["bisqued", ware.key] // 100,
            affords(minutes, ware.glazing_min),
        )
        if count and day <= made.last["glaze", key]:
            minutes -= count * ware.glazing_min
            glaze_some(studio, day, key, count)


def glaze_some(studio: Studio, day: int, key: str, count: int) -> None:
    """Glaze so many; they may be loaded tomorrow."""
    studio.left["glaze", key] -= count
    studio.shelf["bisqued", studio.made.ware_of(key).key] -= 100 * count
    note(studio, Work.GLAZING, day, key, count)
    studio.coming[day + 1]["glazed", key] += 100 * count


def finish(studio: Studio, day: int) -> None:
    """Grade, photograph and list for a day, the earliest date first."""
    made = studio.made
    minutes = made.problem.days[day].finishing_min
    order = sorted(made.wants, key=lambda want: (want.due, -want.importance))
    for key in dict.fromkeys(want.line_key for want in order if want.due > day):
        ware = made.ware_of(key)
        count = min(
            studio.left["finish", key],
            studio.shelf["fired", key] // 100,
            affords(minutes, ware.finishing_min),
        )
        if count:
            minutes -= count * ware.finishing_min
            studio.left["finish", key] -= count
            studio.shelf["fired", key] -= 100 * count
            note(studio, Work.FINISHING, day, key, count)
            studio.finished[key][day] += count


def share_out(*, made: Frame, finished: dict[str, Counter[int]]) -> tuple[Kept, ...]:
    """Hand finished pieces to needs: the most important first, and early where it can be.

    For one line, pieces with dates form a matroid, so greedy by importance keeps the most.
    ``finished`` counts pieces by line and the day they were finished on.
    """
    kept = []
    for key in made.lines:
        there = [count // 100 for count in made.arrives["finished", key]]
        for day, count in finished.get(key, Counter()).items():
            for later in range(day + 1, made.span):
                there[later] += count
        wants = sorted(
            (want for want in made.wants if want.line_key == key),
            key=lambda want: (-want.importance, want.due),
        )
        given: dict[Want, int] = {}
        for want in wants:
            given[want] = min(want.asked, min(there[want.due :]))
            for day in range(want.due, made.span):
                there[day] -= given[want]
        late = dict(given)
        for want in wants:
            early = min((given[want], *there[want.early : want.due]))
            for day in range(want.early, want.due):
                there[day] -= early
            late[want] -= early
        kept += [
            Kept(
                need_key=want.need_key,
                line_key=key,
                asked=want.asked,
                kept=given[want],
                in_buffer=late[want],
            )
            for want in wants
        ]
    return tuple(kept)
