"""What comes of a calendar of firings, if hands and kilns always take what is most urgent?

The same days as ``studio.craft.forward`` lives through, made for speed: keys are numbers, counts
stand in lists, and a calendar that differs from another only late is lived through from there on.
Rules: a firing holds what is there, the line whose next date is nearest first, and is left out
when nothing is; throwing, glazing and finishing follow the nearest date, too. ``Lean`` shifts how
near dates look and how much of a thing is made at most, so that those who search have more than
the calendar to turn.
"""

from __future__ import annotations

from collections import Counter

from studio.craft.answer import Job, Plan, Work
from studio.craft.backplan_frame import NEVER, Frame, Slot
from studio.craft.backplan_state import Holds, Lean, Light, Record, State
from studio.craft.backplan_targets import steps_of, targets_of
from studio.craft.backward_walk import load_of, share_out
from studio.craft.problem import BISQUE


class Runner:
    """Lives through calendars of one question."""

    def __init__(self, made: Frame) -> None:
        self.made = made
        self.wares, self.lines = list(made.wares), list(made.lines)
        ware_no = {key: i for i, key in enumerate(self.wares)}
        self.ware_of = [ware_no[made.lines[key].ware_key] for key in self.lines]
        wares = [made.wares[key] for key in self.wares]
        self.room = [ware.room_tenths for ware in wares]
        self.line_room = [self.room[w] for w in self.ware_of]
        self.throw_min = [ware.throwing_min for ware in wares]
        self.drying = [ware.drying_days for ware in wares]
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
        self.last_throw = [made.last["throw", key] for key in self.wares]
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
        self.arrive = self._arrivals()
        self.asked = [self._asked(key, early=False) for key in self.lines]
        self.asked_early = [self._asked(key, early=True) for key in self.lines]
        self.finish_order = self._finish_order()
        self.takes = {kiln.key for kiln in made.problem.kilns if kiln.takes_trials}
        self.held: dict[Slot, Holds] = {}

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
        if slot not in self.held:
            bisque = slot.schedule_key == BISQUE
            names = self.wares if bisque else self.lines
            keys = self.made.holds[slot]
            self.held[slot] = Holds(
                bisque,
                tuple(names.index(key) for key in keys),
                tuple(self.made.most_in(slot=slot, key=key) for key in keys),
                slot.kiln_key in self.takes,
            )
        return self.held[slot]

    def morning(self) -> State:
        """The studio on the first morning."""
        wares, lines = len(self.wares), len(self.lines)
        return State(
            day=0,
            dry=[0] * wares,
            bisqued=[0] * wares,
            glazed=[0] * lines,
            fired=[0] * lines,
            thrown=[0] * wares,
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
    ) -> State:
        """Live from a morning to the last day; ``kept`` gets the mornings on the way."""
        coming: list[list[tuple[int, int, int]]] = [[] for _ in range(self.made.span + 1)]
        for day, kind, i, count in state.coming:
            coming[day].append((kind, i, count))
        span = self.made.span
        shelves = (state.dry, state.bisqued, state.glazed, state.fired)
        for day in range(state.day, span):
            if kept is not None and day % keep_every == 0:
                state.day = day
                state.coming = [(when, *one) for when in range(day, span) for one in coming[when]]
                kept.append(state.copy())
            for kind, i, count in self.arrive[day]:
                shelves[kind][i] += count
            for kind, i, count in coming[day]:
                shelves[kind][i] += count
            self._judge(state, day)
            for slot in starts.get(day, ()):
                self._fire(state, slot, coming, lean, record)
            if light is not None:
                while (lit := light(state, day)) is not None:
                    self._fire(state, lit, coming, lean, record)
            self._throw(state, day, coming, lean, record)
            self._glaze(state, day, coming, lean, record)
            self._finish(state, day, record)
        state.day, state.coming = span, []
        return state

    def _judge(self, state: State, day: int) -> None:
        """What a date of this morning lacks of what should be finished by now."""
        for i, asked in enumerate(self.asked):
            if day in asked and asked[day] - state.finished[i] > state.missing[i]:
                state.missing[i] = asked[day] - state.finished[i]
        for i, asked in enumerate(self.asked_early):
            if day in asked and asked[day] - state.finished[i] > state.early[i]:
                state.early[i] = asked[day] - state.finished[i]

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
        left, target = self.most[step], self.target[step]
        room = slot.room_tenths
        inside: dict[int, int] = {}
        waiting: list[list[int]] = []
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
            waiting.append([i, there])
        shift = None if holds.bisque else lean.line
        while waiting and room > 0:
            best, best_due, best_want = -1, NEVER * 2, 0
            for n, (i, _) in enumerate(waiting):
                made_so_far = done[i] + inside.get(i, 0)
                due, want = NEVER, NEVER
                for when, total in target[i]:
                    if total > made_so_far:
                        due, want = when, total - made_so_far
                        break
                if shift is not None:
                    due += shift[i]
                if due < best_due:
                    best, best_due, best_want = n, due, want
            i, there = waiting[best]
            count = min(there, best_want, room // rooms[i])
            if count:
                inside[i] = inside.get(i, 0) + count
                room -= count * rooms[i]
                waiting[best][1] -= count
            if count < best_want or not waiting[best][1]:
                waiting.pop(best)
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

    def _throw(
        self,
        state: State,
        day: int,
        coming: list[list[tuple[int, int, int]]],
        lean: Lean,
        record: Record | None,
    ) -> None:
        hands = self.made.problem.days[day]
        minutes, most, target = hands.throwing_min, lean.throw, self.target["throw"]
        percent = self.made.problem.yields.drying_percent
        urgent = []
        for i, done in enumerate(state.thrown):
            if done < most[i] and day <= self.last_throw[i] and self.throw_min[i] <= minutes:
                before = 0
                for due, total in target[i]:
                    if total > done:
                        by = due - self.drying[i] + lean.ware[i]
                        urgent.append((by, min(total, most[i]) - max(done, before), i))
                        if total >= most[i]:
                            before = total
                            break
                    before = total
                if before < most[i]:
                    urgent.append((NEVER, most[i] - max(done, before), i))
        urgent.sort()
        for _, want, i in urgent:
            each = self.throw_min[i]
            count = min(want, minutes // each) if each else want
            if count:
                minutes -= count * each
                state.thrown[i] += count
                dry = day + self.drying[i]
                if dry < self.made.span:
                    coming[dry].append((0, i, count * percent))
                if record is not None:
                    self._note(record, Work.THROWING, day, self.wares[i], count)

    def _glaze(
        self,
        state: State,
        day: int,
        coming: list[list[tuple[int, int, int]]],
        lean: Lean,
        record: Record | None,
    ) -> None:
        minutes = self.made.problem.days[day].glazing_min
        if not minutes:
            return
        most, target, least = (
            lean.glaze,
            self.target["glaze"],
            self.made.problem.trial_rule.least_pieces,
        )
        urgent = []
        for i, done in enumerate(state.coated):
            if (
                done < most[i]
                and day <= self.last_glaze[i]
                and state.bisqued[self.ware_of[i]] >= 100
            ):
                before = 0
                if state.proven_from[i] == NEVER and done < least:
                    urgent.append((-NEVER, least - done, i))
                    before = least
                for due, total in target[i]:
                    if total > max(done, before):
                        by = due + lean.line[i]
                        urgent.append((by, min(total, most[i]) - max(done, before), i))
                        if total >= most[i]:
                            before = total
                            break
                    before = max(before, total)
                if before < most[i]:
                    urgent.append((NEVER, most[i] - max(done, before), i))
        urgent.sort()
        for _, want, i in urgent:
            each, ware = self.glaze_min[i], self.ware_of[i]
            count = min(want, state.bisqued[ware] // 100, minutes // each if each else NEVER)
            if count > 0:
                minutes -= count * each
                state.coated[i] += count
                state.bisqued[ware] -= 100 * count
                coming[day + 1].append((2, i, 100 * count))
                if record is not None:
                    self._note(record, Work.GLAZING, day, self.lines[i], count)

    def _finish(self, state: State, day: int, record: Record | None) -> None:
        minutes, most = self.made.problem.days[day].finishing_min, self.most["finish"]
        for i in self.finish_order[day]:
            there = state.fired[i] // 100
            if there <= 0:
                continue
            each = self.finish_min[i]
            count = min(there, most[i] - state.finished[i], minutes // each if each else NEVER)
            if count > 0:
                minutes -= count * each
                state.fired[i] -= 100 * count
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
