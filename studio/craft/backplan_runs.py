"""What comes of a calendar of firings, if hands and kilns always take what is most urgent?

The same days as ``studio.craft.forward`` lives through, made for speed: keys are numbers, counts
stand in lists, and a calendar that differs from another only late is lived through from there on.
Rules: a firing holds what is there, the line whose next date is nearest first, and is left out
when nothing is; throwing, glazing and finishing follow the nearest date, too. ``Lean`` shifts how
near dates look and how much of a thing is made at most, so that those who search have more than
the calendar to turn.
"""

from __future__ import annotations

from bisect import insort
from collections import Counter
from collections.abc import Callable

from studio.craft.answer import Job, Plan, Work
from studio.craft.backplan_frame import NEVER, Frame, Slot
from studio.craft.backplan_state import Holds, Lean, Light, Record, State
from studio.craft.backplan_targets import next_due, steps_of, targets_of
from studio.craft.backplan_thrown import Throwing
from studio.craft.backward_walk import load_of, share_out
from studio.craft.problem import BISQUE

GiveUp = Callable[[State], bool]
"""Whether a calendar that came to this by a morning is not worth living through to the end."""


class Runner:
    """Lives through calendars of one question."""

    def __init__(self, made: Frame) -> None:
        self.made = made
        self.wares, self.lines = list(made.wares), list(made.lines)
        ware_no = {key: i for i, key in enumerate(self.wares)}
        self.ware_of = [ware_no[made.lines[key].ware_key] for key in self.lines]
        self.lines_of = [
            [i for i, ware in enumerate(self.ware_of) if ware == w] for w in range(len(self.wares))
        ]
        wares = [made.wares[key] for key in self.wares]
        self.room = [ware.room_tenths for ware in wares]
        self.line_room = [self.room[w] for w in self.ware_of]
        self.glaze_min = [wares[w].glazing_min for w in self.ware_of]
        self.finish_min = [wares[w].finishing_min for w in self.ware_of]
        self.most = {
            step: [made.most[step, key] for key in keys]
            for step, keys in (
                ("throw", self.wares),
                ("bisque", self.wares),
                ("glaze", self.lines),
                ("fire", self.lines),
                ("finish", self.lines),
            )
        }
        self.last_glaze = [made.last["glaze", key] for key in self.lines]
        targets = targets_of(made)
        self.target = {
            step: [steps_of(targets[step, key]) for key in keys]
            for step, keys in (
                ("throw", self.wares),
                ("bisque", self.wares),
                ("glaze", self.lines),
                ("fire", self.lines),
            )
        }
        self.next = {
            step: [next_due(target, self.most[step][i]) for i, target in enumerate(targets)]
            for step, targets in self.target.items()
            if step != "throw"
        }
        self.arrive = self._arrivals()
        self.asked = [self._asked(key, early=False) for key in self.lines]
        self.asked_early = [self._asked(key, early=True) for key in self.lines]
        self.judged = [
            [
                (late, i, asked[day])
                for late, all_asked in ((True, self.asked), (False, self.asked_early))
                for i, asked in enumerate(all_asked)
                if day in asked and asked[day] > 0
            ]
            for day in range(made.span)
        ]
        self.finish_order = self._finish_order()
        self.least_finish_min = min(self.finish_min, default=0)
        self.least_glaze_min = min(self.glaze_min, default=0)
        self.longest = max((slot.open - slot.start for slot in made.slots), default=1)
        self.throwing = Throwing(made, self.target["throw"])
        self.takes = {kiln.key for kiln in made.problem.kilns if kiln.takes_trials}
        self.held: dict[int, Holds] = {}

    def _arrivals(self) -> list[list[tuple[int, int, int]]]:
        places = (("dry", self.wares), ("bisqued", self.wares), ("glazed", self.lines))
        arrive: list[list[tuple[int, int, int]]] = [[] for _ in range(self.made.span)]
        for kind, (place, keys) in enumerate((*places, ("fired", self.lines))):
            for i, key in enumerate(keys):
                before = 0
                for day, count in enumerate(self.made.arrives[place, key]):
                    if count > before:
                        arrive[day].append((kind, i, count - before))
                    before = count
        return arrive

    def _asked(self, key: str, *, early: bool) -> dict[int, int]:
        """Pieces still to be finished by a morning, what stands there netted."""
        asked: Counter[int] = Counter()
        for want in self.made.wants:
            if want.line_key == key:
                asked[want.early if early else want.due] += want.asked
        total, net = 0, {}
        for day in sorted(asked):
            total += asked[day]
            net[day] = total - self.made.arrives["finished", key][day] // 100
        return net

    def _finish_order(self) -> list[list[int]]:
        """Lines by the nearest date that still comes, for every day."""
        line_no = {key: i for i, key in enumerate(self.lines)}
        order = sorted(self.made.wants, key=lambda want: (want.due, -want.importance))
        return [
            list(dict.fromkeys(line_no[want.line_key] for want in order if want.due > day))
            for day in range(self.made.span)
        ]

    def straight(self) -> Lean:
        """No leaning: every date as near as it is, and as much made as is of use."""
        return Lean(
            line=[0] * len(self.lines),
            ware=[0] * len(self.wares),
            throw=self.most["throw"][:],
            glaze=self.most["glaze"][:],
        )

    def holds_of(self, slot: Slot) -> Holds:
        """What may stand in a slot, by number."""
        held = self.held.get(id(slot))
        if held is None:
            bisque = slot.schedule_key == BISQUE
            names = self.wares if bisque else self.lines
            keys = self.made.holds[slot]
            held = self.held[id(slot)] = Holds(
                slot,
                bisque,
                tuple(names.index(key) for key in keys),
                tuple(self.made.most_in(slot=slot, key=key) for key in keys),
                slot.kiln_key in self.takes,
            )
        return held

    def morning(self) -> State:
        """The studio on the first morning."""
        wares, lines = len(self.wares), len(self.lines)
        return State(
            day=0,
            dry=[0] * wares,
            bisqued=[0] * wares,
            glazed=[0] * lines,
            fired=[0] * lines,
            put=[0] * wares,
            coated=[0] * lines,
            burnt=[0] * lines,
            finished=[0] * lines,
            proven_from=[self.made.proven_from[key] for key in self.lines],
            coming=[],
            missing=[0] * lines,
            early=[0] * lines,
            cost_pence=0,
        )

    def live(
        self,
        *,
        state: State,
        starts: dict[int, list[Slot]],
        lean: Lean,
        light: Light | None = None,
        keep_every: int = 0,
        kept: list[State] | None = None,
        record: Record | None = None,
        give_up: GiveUp | None = None,
    ) -> State | None:
        """Live from a morning to the last day; ``kept`` gets the mornings on the way.

        ``give_up`` is asked when dates have been judged; None once it says yes.
        """
        coming: list[list[tuple[int, int, int]]] = [[] for _ in range(self.made.span + 1)]
        for day, kind, i, count in state.coming:
            coming[day].append((kind, i, count))
        span, days = self.made.span, self.made.problem.days
        shelves = (state.dry, state.bisqued, state.glazed, state.fired)
        thrown, dried = self.throwing.with_lean(lean)
        dry = state.dry
        for day in range(state.day, span):
            if kept is not None and day % keep_every == 0:
                state.day = day
                ends = min(span, day + self.longest + 1)
                state.coming = [(when, *one) for when in range(day, ends) for one in coming[when]]
                kept.append(state.copy())
            for kind, i, count in self.arrive[day]:
                shelves[kind][i] += count
            for kind, i, count in coming[day]:
                shelves[kind][i] += count
            for i, count in dried[day]:
                dry[i] += count
            if self.judged[day]:
                self._judge(state, day)
                if give_up is not None and give_up(state):
                    return None
            for slot in starts.get(day, ()):
                self._fire(state, slot, coming, lean, record)
            if light is not None:
                while (lit := light(state, day)) is not None:
                    self._fire(state, lit, coming, lean, record)
            if record is not None:
                for i, count in thrown[day]:
                    self._note(record, Work.THROWING, day, self.wares[i], count)
            if days[day].glazing_min:
                self._glaze(state, day, coming, lean, record)
            if days[day].finishing_min or not self.least_finish_min:
                self._finish(state, day, record)
        state.day, state.coming = span, []
        return state

    def _judge(self, state: State, day: int) -> None:
        """What a date of this morning lacks of what should be finished by now."""
        for late, i, asked in self.judged[day]:
            lacks = state.missing if late else state.early
            if asked - state.finished[i] > lacks[i]:
                lacks[i] = asked - state.finished[i]

    def _fire(
        self,
        state: State,
        slot: Slot,
        coming: list[list[tuple[int, int, int]]],
        lean: Lean,
        record: Record | None,
    ) -> None:
        holds = self.holds_of(slot)
        rule = self.made.problem.trial_rule
        if holds.bisque:
            shelf, done, step, rooms = state.dry, state.put, "bisque", self.room
        else:
            shelf, done, step, rooms = state.glazed, state.burnt, "fire", self.line_room
        left, room = self.most[step], slot.room_tenths
        inside: dict[int, int] = {}
        waiting: list[tuple[int, int]] = []
        for i, most in zip(holds.keys, holds.most, strict=True):
            there = min(shelf[i] // 100, left[i] - done[i], most)
            if there <= 0:
                continue
            if not holds.bisque and state.proven_from[i] > slot.start:
                there = min(there, rule.most_pieces, room // rooms[i])
                if (
                    holds.takes_trials
                    and state.proven_from[i] == NEVER
                    and there >= rule.least_pieces
                ):
                    inside[i] = there
                    room -= there * rooms[i]
                continue
            waiting.append((i, there))
        following = self.next[step]
        pressing: list[tuple[int, int, int, int, int]] = []
        for n, (i, there) in enumerate(waiting):
            due, want = following[i][done[i]]
            pressing.append((due + (0 if holds.bisque else lean.line[i]), n, i, there, want))
        pressing.sort()
        for n, (_, order, i, there, want) in enumerate(pressing):
            count = min(there, want, room // rooms[i])
            if not count:
                continue
            inside[i] = inside.get(i, 0) + count
            room -= count * rooms[i]
            if room <= 0:
                break
            if count == want < there:
                due, want = following[i][done[i] + inside[i]]
                due += 0 if holds.bisque else lean.line[i]
                insort(pressing, (due, order, i, there - count, want), lo=n + 1)
        if not inside:
            return
        yields = self.made.problem.yields
        percent = yields.bisque_percent if holds.bisque else yields.glaze_percent
        kind = 1 if holds.bisque else 3
        for i, count in inside.items():
            shelf[i] -= 100 * count
            done[i] += count
            if slot.open < self.made.span:
                coming[slot.open].append((kind, i, count * percent))
            if not holds.bisque and slot.open < state.proven_from[i]:
                state.proven_from[i] = slot.open
        state.cost_pence += slot.cost_pence
        if record is not None:
            names = self.wares if holds.bisque else self.lines
            record.loads.append((slot, {names[i]: n for i, n in inside.items()}))

    def _glaze(
        self,
        state: State,
        day: int,
        coming: list[list[tuple[int, int, int]]],
        lean: Lean,
        record: Record | None,
    ) -> None:
        minutes = self.made.problem.days[day].glazing_min
        most, following, bisqued = lean.glaze, self.next["glaze"], state.bisqued
        least = self.made.problem.trial_rule.least_pieces
        urgent: list[tuple[int, int, int]] = []
        ready = [i for w, n in enumerate(bisqued) if n >= 100 for i in self.lines_of[w]]
        for i in ready:
            done = state.coated[i]
            if done < most[i] and day <= self.last_glaze[i]:
                if state.proven_from[i] == NEVER and done < least:
                    urgent.append((-NEVER, min(least, most[i]) - done, i))
                else:
                    due, want = following[i][done]
                    urgent.append((due + lean.line[i], min(want, most[i] - done), i))
        urgent.sort()
        for n, (_, want, i) in enumerate(urgent):
            each, ware = self.glaze_min[i], self.ware_of[i]
            there = min(bisqued[ware] // 100, minutes // each if each else NEVER)
            count = min(want, there)
            if count <= 0:
                continue
            minutes -= count * each
            state.coated[i] += count
            bisqued[ware] -= 100 * count
            coming[day + 1].append((2, i, 100 * count))
            if record is not None:
                self._note(record, Work.GLAZING, day, self.lines[i], count)
            done = state.coated[i]
            if count == want < there and done < most[i]:
                due, want = following[i][done]
                insort(urgent, (due + lean.line[i], min(want, most[i] - done), i), lo=n + 1)
            if minutes < self.least_glaze_min:
                break

    def _finish(self, state: State, day: int, record: Record | None) -> None:
        minutes, most = self.made.problem.days[day].finishing_min, self.most["finish"]
        fired = state.fired
        for i in self.finish_order[day]:
            if fired[i] < 100:
                continue
            there = fired[i] // 100
            each = self.finish_min[i]
            count = min(there, most[i] - state.finished[i], minutes // each if each else NEVER)
            if count > 0:
                minutes -= count * each
                fired[i] -= 100 * count
                state.finished[i] += count
                if record is not None:
                    self._note(record, Work.FINISHING, day, self.lines[i], count)
                    record.finished.setdefault(self.lines[i], Counter())[day] += count

    def _note(self, record: Record, work: Work, day: int, key: str, count: int) -> None:
        date = self.made.date_of(day)
        last = record.jobs[-1] if record.jobs else None
        if last and (last.work, last.date, last.key) == (work, date, key):
            record.jobs.pop()
            count += last.count
        record.jobs.append(Job(work=work, date=date, key=key, count=count))

    def plan(
        self, *, starts: dict[int, list[Slot]], lean: Lean, light: Light | None = None
    ) -> Plan:
        """The whole plan that comes of a calendar, or of lighting kilns by a rule."""
        made, record = self.made, Record()
        self.live(state=self.morning(), starts=starts, lean=lean, light=light, record=record)
        jobs: Counter[tuple[Work, str, int]] = Counter()
        for job in record.jobs:
            jobs[job.work, job.key, (job.date - made.problem.today_date).days] += job.count
        kept = share_out(made=made, finished=record.finished)
        importance = {want.need_key: want.importance for want in made.wants}
        return Plan(
            jobs=tuple(
                Job(work=work, key=key, date=made.date_of(day), count=count)
                for (work, key, day), count in sorted(jobs.items(), key=lambda one: one[0][::-1])
            ),
            loads=tuple(
                load_of(made=made, slot=slot, contents=contents) for slot, contents in record.loads
            ),
            kept=kept,
            cost_pence=sum(slot.cost_pence for slot, _ in record.loads),
            weighted_short=sum(importance[one.need_key] * one.short for one in kept),
            short_bound=0,
            cost_bound_pence=0,
            proven=False,
        )
