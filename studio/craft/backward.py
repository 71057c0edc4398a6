"""What would a potter plan by hand, counting back from each date?

Plain backward scheduling: net what stands in the studio, fill loads in the order of their dates,
put each load as late as its date allows, then let the hands work forward, the most urgent first.
It is quick, always finds a plan that the referee accepts, and is what the solver starts from.
Nothing is proven about it: its bounds are 0.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from studio.craft.answer import Plan
from studio.craft.backplan_frame import NEVER, Frame, Slot, frame
from studio.craft.backward_walk import Draft, walk, ware_in
from studio.craft.problem import BISQUE, Problem

PULLS = (0, 2, 4, 7, 10, 14)
"""Days by which every load is pulled forward from its latest place, one try each."""


def backward_plan(*, problem: Problem) -> Plan:
    """The best of a few plans made by plain backward scheduling; sound, nothing proven."""
    return backward_plan_in(made=frame(problem=problem))


def backward_plan_in(*, made: Frame) -> Plan:
    """The same for a question that is framed already."""
    plans = [walk(made, _calendar(made, pull)) for pull in PULLS]
    return min(plans, key=lambda plan: (plan.weighted_short, plan.in_buffer, plan.cost_pence))


def first_plan(*, made: Frame) -> Plan:
    """One plan by plain backward scheduling: what can be shown at once."""
    return walk(made, _calendar(made, PULLS[1]))


@dataclass(kw_only=True, slots=True)
class Books:
    """Which kilns and circuits are taken while loads are placed."""

    made: Frame
    busy: dict[str, set[int]]
    heats: Counter[tuple[str, int]] = field(default_factory=Counter)

    def is_free(self, slot: Slot) -> bool:
        """May a load take this slot?"""
        if not slot.kept:
            kiln = self.made.kiln(slot.kiln_key)
            circuit = next(c for c in self.made.problem.circuits if c.key == kiln.circuit_key)
            heats = self.made.heating.get((circuit.key, slot.start), 0)
            if heats + self.heats[circuit.key, slot.start] >= circuit.at_once:
                return False
        return not self.busy[slot.kiln_key] & set(range(slot.start, slot.open))

    def take(self, slot: Slot) -> None:
        """Write a load into the books."""
        self.busy[slot.kiln_key] |= set(range(slot.start, slot.open))
        if not slot.kept:
            self.heats[self.made.kiln(slot.kiln_key).circuit_key, slot.start] += 1


def _calendar(made: Frame, pull: int) -> list[Draft]:
    """Loads with days and wished contents, glaze loads first, then the bisques they need."""
    books = Books(made=made, busy={kiln.key: set() for kiln in made.problem.kilns})
    glaze: list[Draft] = []
    schedules = sorted({line.schedule_key for line in made.lines.values()})
    for schedule in schedules:
        glaze += _glaze_drafts(made, schedule, pull)
    placed = _place(made, books, glaze)
    bisques = _bisque_drafts(made, placed)
    return placed + _place(made, books, bisques)


@dataclass(kw_only=True, slots=True)
class _Demand:
    """So many pieces to be out of a kiln by a day."""

    deadline: int
    key: str
    count: int


def _glaze_drafts(made: Frame, schedule: str, pull: int) -> list[Draft]:
    demands: list[_Demand] = []
    yields = made.problem.yields
    for key, line in made.lines.items():
        if line.schedule_key != schedule:
            continue
        done = 0
        for want in sorted((w for w in made.wants if w.line_key == key), key=lambda w: w.due):
            asked = sum(w.asked for w in made.wants if w.line_key == key and w.due <= want.due)
            there = made.arrives["finished", key][want.due] // 100 * 100
            there += made.arrives["fired", key][want.due - 1] if want.due else 0
            fire = max(0, -((there - 100 * asked) // yields.glaze_percent))
            fire = min(fire, made.most["fire", key])
            if fire > done:
                deadline = want.early - 2 - pull
                demands.append(_Demand(deadline=deadline, key=key, count=fire - done))
                done = fire
    demands.sort(key=lambda d: (d.deadline, d.key))
    trials = _trial_drafts(made, schedule, demands)
    return trials + _pack(made, schedule, demands)


def _trial_drafts(made: Frame, schedule: str, demands: list[_Demand]) -> list[Draft]:
    """A small load before the main ones for lines nobody has fired yet."""
    rule = made.problem.trial_rule
    unproven = sorted({d.key for d in demands if made.proven_from[d.key] == NEVER})
    takes = {kiln.key for kiln in made.problem.kilns if kiln.takes_trials}
    slots = _kiln_choices(made, schedule, takes)
    drafts: list[Draft] = []
    for key in unproven:
        ware = made.ware_of(key)
        fitting = [slot for slot in slots if made.fits(slot=slot, ware=ware)]
        if not fitting:
            demands[:] = [d for d in demands if d.key != key]
            continue
        mine = [d for d in demands if d.key == key]
        wanted = sum(d.count for d in mine)
        count = rule.least_pieces if wanted > rule.most_pieces else max(wanted, rule.least_pieces)
        deadline = mine[0].deadline - (0 if wanted <= rule.most_pieces else 6)
        home = next((d for d in drafts if _room_left(made, d) >= ware.room_tenths * count), None)
        if home is None:
            slot = min(fitting, key=lambda s: (s.cost_pence, s.kiln_key))
            if slot.room_tenths < ware.room_tenths * count:
                demands[:] = [d for d in demands if d.key != key]
                continue
            home = Draft(slot=slot, deadline=deadline, trial=True)
            drafts.append(home)
        home.contents[key] = count
        home.deadline = min(home.deadline, deadline)
        left = count
        for demand in mine:
            used = min(left, demand.count)
            demand.count, left = demand.count - used, left - used
    return drafts


def _room_left(made: Frame, draft: Draft) -> int:
    used = sum(made.ware_of(key).room_tenths * n for key, n in draft.contents.items())
    return draft.slot.room_tenths - used


def _kiln_choices(made: Frame, schedule: str, among: set[str] | None = None) -> list[Slot]:
    """One slot for every kiln that fires a schedule; its day means nothing yet."""
    first: dict[str, Slot] = {}
    for slot in made.slots:
        if slot.schedule_key == schedule and (among is None or slot.kiln_key in among):
            first.setdefault(slot.kiln_key, slot)
    return list(first.values())


def _pack(made: Frame, schedule: str, demands: list[_Demand]) -> list[Draft]:
    """Fill loads in the order of dates, each in the kiln that is cheapest for what is left."""
    choices = _kiln_choices(made, schedule)
    drafts = []
    while open_ := [demand for demand in demands if demand.count]:
        first = ware_in(made, schedule, open_[0].key)
        fitting = [slot for slot in choices if made.fits(slot=slot, ware=first)]
        if not fitting:
            open_[0].count = 0
            continue
        rest = sum(ware_in(made, schedule, d.key).room_tenths * d.count for d in open_)
        slot = min(fitting, key=lambda s: (s.cost_pence / min(s.room_tenths, rest), -s.room_tenths))
        draft = Draft(slot=slot, deadline=open_[0].deadline)
        room = slot.room_tenths
        for demand in open_:
            ware = ware_in(made, schedule, demand.key)
            if made.fits(slot=slot, ware=ware):
                most = made.most_in(slot=slot, key=demand.key) - draft.contents.get(demand.key, 0)
                count = min(demand.count, room // ware.room_tenths, most)
                if count:
                    draft.contents[demand.key] = draft.contents.get(demand.key, 0) + count
                    demand.count -= count
                    room -= count * ware.room_tenths
        drafts.append(draft)
    return drafts


def _place(made: Frame, books: Books, drafts: list[Draft]) -> list[Draft]:
    """Put each load as late as its deadline allows, or else as early as it still can be."""
    placed = []
    for draft in sorted(drafts, key=lambda d: (-d.deadline, not d.trial)):
        slots = [
            slot
            for slot in made.slots
            if slot.kiln_key == draft.slot.kiln_key and slot.schedule_key == draft.slot.schedule_key
        ]
        in_time = [slot for slot in slots if slot.open <= draft.deadline]
        late = [slot for slot in slots if slot.open > draft.deadline]
        for slot in (*sorted(in_time, key=lambda s: -s.open), *late):
            if books.is_free(slot):
                books.take(slot)
                draft.slot = slot
                placed.append(draft)
                break
    return placed


def _bisque_drafts(made: Frame, glaze: list[Draft]) -> list[Draft]:
    """What the glaze loads want bisqued, each early enough to be glazed by hand before it."""
    glazed = {key: made.arrives["glazed", key][-1] // 100 for key in made.lines}
    bisqued = {key: made.arrives["bisqued", key][-1] for key in made.wares}
    most_min = max((day.glazing_min for day in made.problem.days), default=0)
    seen: Counter[str] = Counter()
    asked: Counter[str] = Counter()
    demands = []
    for draft in sorted(glaze, key=lambda d: d.slot.start):
        minutes = sum(made.ware_of(key).glazing_min * n for key, n in draft.contents.items())
        days = 1 + -(-minutes * 8 // (5 * most_min)) if most_min else 1
        for key, wanted in draft.contents.items():
            from_shelf = min(glazed[key], wanted)
            glazed[key] -= from_shelf
            ware_key = made.lines[key].ware_key
            seen[ware_key] += wanted - from_shelf
            total = max(
                0,
                -((bisqued[ware_key] - 100 * seen[ware_key]) // made.problem.yields.bisque_percent),
            )
            if total > asked[ware_key]:
                demands.append(
                    _Demand(
                        deadline=draft.slot.start - days,
                        key=ware_key,
                        count=total - asked[ware_key],
                    )
                )
                asked[ware_key] = total
    demands.sort(key=lambda d: (d.deadline, d.key))
    return _pack(made, BISQUE, demands)
