"""How good are plans, how sure and how soon, on made-up studios?

    python -m tests.bench.backplan [SIZE] [VARIANT] [--seeds N] [--seconds S] [--steps N]

SIZE is small, demo, typical, large or huge; VARIANT easy, tight or impossible; "all" takes every
one. For each studio, in one run: what plain backward scheduling brings (short, inside the buffer,
cost), what the planner brings, its proven floors, the gap between cost and floor, how its search
ended, the seconds to the first plan and to within 5 % and 1 % of the floor with no piece more
short than at the end ("-" where it never came so near), and what binds. Every plan is checked by
the referee; a plan that is worse than the backward one is marked. Times depend on the computer
and on what else it does.
"""

from __future__ import annotations

import argparse
import time

from studio.craft.answer import Plan, Progress
from studio.craft.backplan import plan, rank
from studio.craft.backward import backward_plan
from studio.craft.plan_shortage import most_that_can_be_had
from studio.craft.problem import Problem
from studio.craft.referee import broken_promises
from tests.bench.studios import SIZES, VARIANTS, make_problem

SECONDS = {"small": 5.0, "demo": 5.0, "typical": 5.0, "large": 30.0, "huge": 60.0}
"""How long a plan of each size is sought, unless told otherwise."""

HEAD = (
    f"{'studio':20} {'asked':>5} | {'backward: short':>15} {'buffer':>6} {'cost':>8} |"
    f" {'plan: short':>11} {'floor':>5} {'buffer':>6} {'cost':>8} {'floor':>8} {'gap':>6}"
    f" {'loads':>5} {'ended':>6} {'s':>6} | {'first':>5} {'5 %':>6} {'1 %':>6} | binds"
)


def row(*, name: str, problem: Problem, seconds: float, steps: int | None, seed: int) -> str:
    """One studio's line of the table."""
    backward = _sound(problem, backward_plan(problem=problem))
    told: list[tuple[float, Progress]] = []
    began = time.monotonic()

    def tell(progress: Progress) -> None:
        told.append((time.monotonic() - began, progress))

    found = plan(problem=problem, seconds=seconds, steps=steps, seed=seed, progress=tell)
    took = time.monotonic() - began
    _sound(problem, found)
    binds = [f"{cause.binds} +{cause.gain}" for cause in found.causes]
    binds += [f"a firing on {one.start_date} +{one.gain}" for one in found.firings_more[:1]]
    _, most = most_that_can_be_had(problem=problem, plan=found)
    worse = " WORSE THAN BACKWARD" if rank(found) > rank(backward) else ""
    return (
        f"{name:20} {sum(kept.asked for kept in found.kept):5} |"
        f" {backward.short:15} {backward.in_buffer:6} {_pounds(backward.cost_pence):>8} |"
        f" {found.short:11} {sum(kept.asked for kept in found.kept) - most:5} {found.in_buffer:6}"
        f" {_pounds(found.cost_pence):>8} {_pounds(found.cost_bound_pence):>8} {_gap(found):5.1f}%"
        f" {len(found.loads):5} {found.ended:>6} {took:6.1f} |"
        f" {told[0][0]:5.2f} {_when(told, took, found, 5)} {_when(told, took, found, 1)} |"
        f" {', '.join(binds)}{worse}"
    )


def _gap(found: Plan) -> float:
    return 100 * (found.cost_pence - found.cost_bound_pence) / max(1, found.cost_pence)


def _when(told: list[tuple[float, Progress]], took: float, found: Plan, percent: int) -> str:
    """Seconds until a plan cost at most so much more than the floor and was no shorter."""
    limit = found.cost_bound_pence * (100 + percent) / 100
    marks = [
        seconds
        for seconds, one in told
        if one.weighted_short <= found.weighted_short and one.cost_pence <= limit
    ]
    if not marks and found.cost_pence <= limit:
        marks = [took]
    return f"{marks[0]:6.1f}" if marks else f"{'-':>6}"


def _pounds(pence: int) -> str:
    return f"{pence / 100:.2f}"


def _sound(problem: Problem, found: Plan) -> Plan:
    broken = broken_promises(problem=problem, plan=found)
    if broken:
        raise SystemExit("unsound plan: " + " ".join(broken))
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("size", nargs="?", choices=[*SIZES, "all"], default="small")
    parser.add_argument("variant", nargs="?", choices=[*VARIANTS, "all"], default="tight")
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--seconds", type=float)
    parser.add_argument("--steps", type=int)
    given = parser.parse_args()
    print(HEAD)
    for size in SIZES if given.size == "all" else [given.size]:
        for variant in VARIANTS if given.variant == "all" else [given.variant]:
            for seed in range(1, given.seeds + 1):
                print(
                    row(
                        name=f"{size} {variant} {seed}",
                        problem=make_problem(size=size, seed=seed, variant=variant),
                        seconds=given.seconds or SECONDS[size],
                        steps=given.steps,
                        seed=1,
                    ),
                    flush=True,
                )


if __name__ == "__main__":
    main()
