"""The least shortfall of a tiny studio, and the least cost at it, by trying everything.

Written from the laws of ``studio.craft.referee`` alone: no solver, no bounds, no windows, exact
fractions. Only for questions with a handful of pieces and days.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from itertools import product

from studio.craft.problem import BISQUE, Problem, Stage

Stock = tuple[tuple[tuple[str, str], Fraction], ...]
Coming = tuple[tuple[int, tuple[str, str], Fraction], ...]
Kilns = tuple[int, ...]
Firing = tuple[str, tuple[tuple[str, int], ...]]

_PLACE = {
    Stage.THROWN: "dry",
    Stage.BISQUED: "bisqued",
    Stage.GLAZED: "glazed",
    Stage.FIRED: "fired",
    Stage.GRADED: "finished",
    Stage.LISTED: "finished",
}


SHORT = 10**6
"""What a short piece weighs in pence: more than all firings together."""


class TooMany(Exception):
    """There is more to try than anybody wants to wait for."""


def least_short_and_cost(
    problem: Problem, *, most: int, most_states: int | None = None
) -> tuple[int, int]:
    """The least of importance x short pieces, and the least cost in pence at that shortfall.

    ``most`` pieces at once in any one action. Buffers are not looked at. Raises ``TooMany`` when
    more mornings than ``most_states`` had to be looked at.
    """
    wares = {ware.key: ware for ware in problem.wares}
    lines = {line.key: line for line in problem.lines}
    span = len(problem.days)
    drying, bisque, glaze = (
        Fraction(percent, 100)
        for percent in (
            problem.yields.drying_percent,
            problem.yields.bisque_percent,
            problem.yields.glaze_percent,
        )
    )
    start: list[tuple[int, tuple[str, str], Fraction]] = []
    for hand in problem.on_hand:
        ready = max(0, (hand.ready_date - problem.today_date).days)
        lost = drying if hand.stage == Stage.THROWN and ready > 0 else Fraction(1)
        start.append((ready, (_PLACE[hand.stage], hand.key), hand.count * lost))

    def minutes(day: int, work: str) -> int:
        return int(getattr(problem.days[day], f"{work}_min"))

    def batches(keys: list[str], limits: list[int]) -> Iterator[dict[str, int]]:
        for counts in product(*(range(min(most, limit) + 1) for limit in limits)):
            yield {key: n for key, n in zip(keys, counts, strict=True) if n}

    def firings(kiln_index: int, stock: dict[tuple[str, str], Fraction]) -> Iterator[Firing | None]:
        kiln = problem.kilns[kiln_index]
        yield None
        for run in kiln.runs:
            if run.schedule_key == BISQUE:
                keys, place = list(wares), "dry"
            else:
                keys = [k for k, line in lines.items() if line.schedule_key == run.schedule_key]
                place = "glazed"
            limits = [int(stock.get((place, key), Fraction(0))) for key in keys]
            for batch in batches(keys, limits):
                of = [
                    (wares[k] if place == "dry" else wares[lines[k].ware_key], n)
                    for k, n in batch.items()
                ]
                fits = sum(w.room_tenths * n for w, n in of) <= kiln.room_tenths(run.schedule_key)
                if batch and fits and all(w.height_mm <= kiln.clear_height_mm for w, _ in of):
                    yield run.schedule_key, tuple(batch.items())

    @cache
    def best(day: int, kilns: Kilns, stock_: Stock, coming: Coming, proven: tuple[int, ...]) -> int:
        if most_states is not None and best.cache_info().misses > most_states:
            raise TooMany
        if day >= span:
            return sum(
                need.importance * n * SHORT
                for need in problem.needs
                if (need.due_date - problem.today_date).days >= span
                for _, n in need.counts
            )
        stock = dict(stock_)
        for when, shelf, count in coming:
            if when == day:
                stock[shelf] = stock.get(shelf, Fraction(0)) + count
        later = [one for one in coming if one[0] > day]
        due = [
            (need.importance, key, n)
            for need in problem.needs
            if (need.due_date - problem.today_date).days == day
            for key, n in need.counts
        ]
        results = []
        for given in product(
            *(range(min(n, int(stock.get(("finished", k), Fraction(0)))) + 1) for _, k, n in due)
        ):
            after = dict(stock)
            short = 0
            for (importance, key, n), handed in zip(due, given, strict=True):
                after[("finished", key)] = after.get(("finished", key), Fraction(0)) - handed
                short += importance * (n - handed) * SHORT
            if any(count < 0 for count in after.values()):
                continue
            results.append(short + after_gifts(day, kilns, after, later, proven))
        return min(results)

    def after_gifts(
        day: int,
        kilns: Kilns,
        stock: dict[tuple[str, str], Fraction],
        coming: list[tuple[int, tuple[str, str], Fraction]],
        proven: tuple[int, ...],
    ) -> int:
        least = None
        may = problem.days[day].may_start
        choices = [
            list(firings(i, stock)) if may and kilns[i] <= day else [None]
            for i in range(len(kilns))
        ]
        for chosen in product(*choices):
            done = fire(day, kilns, stock, coming, proven, chosen)
            if done is None:
                continue
            cost = 0
            for kiln, firing in zip(problem.kilns, chosen, strict=True):
                run = kiln.run(firing[0]) if firing else None
                cost += run.cost_pence if run else 0
            for rest in by_hand(day, *done):
                result = rest + cost
                least = result if least is None else min(least, result)
                if least == 0:
                    return 0
        assert least is not None
        return least

    def fire(
        day: int,
        kilns: Kilns,
        stock: dict[tuple[str, str], Fraction],
        coming: list[tuple[int, tuple[str, str], Fraction]],
        proven: tuple[int, ...],
        chosen: tuple[Firing | None, ...],
    ) -> tuple[Kilns, dict[tuple[str, str], Fraction], list, tuple[int, ...]] | None:  # type: ignore[type-arg]
        for circuit in problem.circuits:
            heating = sum(
                1
                for kiln, firing in zip(problem.kilns, chosen, strict=True)
                if firing and kiln.circuit_key == circuit.key
            )
            if heating > circuit.at_once:
                return None
        kilns_, stock, coming, from_ = list(kilns), dict(stock), list(coming), list(proven)
        order = list(lines)
        for i, firing in enumerate(chosen):
            if firing is None:
                continue
            kiln = problem.kilns[i]
            run = kiln.run(firing[0])
            assert run is not None
            kilns_[i] = day + run.busy_days
            for key, n in firing[1]:
                bisqued = firing[0] == BISQUE
                shelf = ("dry" if bisqued else "glazed", key)
                stock[shelf] -= n
                if stock[shelf] < 0:
                    return None
                out = ("bisqued", key) if bisqued else ("fired", key)
                coming.append((kilns_[i], out, n * (bisque if bisqued else glaze)))
                if not bisqued and not lines[key].proven and from_[order.index(key)] > day:
                    rule = problem.trial_rule
                    small = rule.least_pieces <= n <= rule.most_pieces
                    if from_[order.index(key)] < span * 9 or not small or not kiln.takes_trials:
                        return None
                    from_[order.index(key)] = kilns_[i]
        return tuple(kilns_), stock, coming, tuple(from_)

    def by_hand(
        day: int,
        kilns: Kilns,
        stock: dict[tuple[str, str], Fraction],
        coming: list[tuple[int, tuple[str, str], Fraction]],
        proven: tuple[int, ...],
    ) -> Iterator[int]:
        line_keys, ware_keys = list(lines), list(wares)
        ware_of = {key: wares[line.ware_key] for key, line in lines.items()}

        def afford(work: str, batch: dict[str, int], thrown: bool = False) -> bool:
            spent = sum(
                n * int(getattr(wares[k] if thrown else ware_of[k], f"{work}_min"))
                for k, n in batch.items()
            )
            return spent <= minutes(day, work)

        glazes = [
            batch
            for batch in batches(
                line_keys,
                [int(stock.get(("bisqued", ware_of[k].key), Fraction(0))) for k in line_keys],
            )
            if afford("glazing", batch)
        ]
        finishes = [
            batch
            for batch in batches(
                line_keys, [int(stock.get(("fired", k), Fraction(0))) for k in line_keys]
            )
            if afford("finishing", batch)
        ]
        throws = [
            batch
            for batch in batches(ware_keys, [most] * len(ware_keys))
            if afford("throwing", batch, thrown=True)
        ]
        for thrown, glazed, finished in product(throws, glazes, finishes):
            after, more = dict(stock), list(coming)
            for key, n in thrown.items():
                more.append((day + wares[key].drying_days, ("dry", key), n * drying))
            for key, n in glazed.items():
                after[("bisqued", ware_of[key].key)] -= n
                more.append((day + 1, ("glazed", key), Fraction(n)))
            for key, n in finished.items():
                after[("fired", key)] -= n
                more.append((day + 1, ("finished", key), Fraction(n)))
            if any(count < 0 for count in after.values()):
                continue
            yield best(
                day + 1,
                tuple(max(free, day + 1) for free in kilns),
                tuple(sorted((shelf, count) for shelf, count in after.items() if count)),
                tuple(sorted(one for one in more if one[0] < span)),
                proven,
            )

    never = span * 10
    found = best(
        0,
        (0,) * len(problem.kilns),
        (),
        tuple(sorted(one for one in start if one[0] < span)),
        tuple(0 if line.proven else never for line in problem.lines),
    )
    return divmod(found, SHORT)
