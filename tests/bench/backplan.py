"""How good are plans, and how sure, on made-up studios?

    python -m tests.bench.backplan [small|demo|typical] [--seeds N] [--seconds S]

For each studio: pieces asked; pieces short, pieces inside their buffer and cost by plain backward
scheduling; the same by the planner, with its proven floors, the gap of the cost, loads and time.
Every plan is checked by the referee. Times depend on the computer and on what else it does.
"""

from __future__ import annotations

import argparse

from studio.craft.answer import Plan
from studio.craft.backplan import plan
from studio.craft.backward import backward_plan
from studio.craft.problem import Problem
from studio.craft.referee import broken_promises
from tests.bench.studios import SIZES, make_problem

HEAD = (
    f"{'studio':10} {'asked':>5} | {'by hand: short':>14} {'buffer':>6} {'cost':>7} |"
    f" {'plan: short':>11} {'floor':>5} {'buffer':>6} {'cost':>7} {'floor':>7} {'gap':>5}"
    f" {'loads':>5} {'proven':>6} {'s':>6} | binds"
)


def row(*, name: str, problem: Problem, seconds: float, seed: int) -> str:
    """One studio's line of the table."""
    by_hand = _sound(problem, backward_plan(problem=problem))
    found = _sound(problem, plan(problem=problem, seconds=seconds, seed=seed))
    gap = 100 * (found.cost_pence - found.cost_bound_pence) / max(1, found.cost_pence)
    binds = ", ".join(f"{cause.binds} +{cause.gain}" for cause in found.causes)
    return (
        f"{name:10} {sum(kept.asked for kept in found.kept):5} |"
        f" {by_hand.short:14} {by_hand.in_buffer:6} {_pounds(by_hand.cost_pence):>7} |"
        f" {found.short:11} {found.short_bound:5} {found.in_buffer:6}"
        f" {_pounds(found.cost_pence):>7} {_pounds(found.cost_bound_pence):>7} {gap:4.0f}%"
        f" {len(found.loads):5} {'yes' if found.proven else 'no':>6} {found.seconds:6.1f} | {binds}"
    )


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
    parser.add_argument("size", nargs="?", choices=sorted(SIZES), default="small")
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--seconds", type=float, default=10.0)
    given = parser.parse_args()
    print(HEAD)
    for seed in range(1, given.seeds + 1):
        problem = make_problem(size=given.size, seed=seed)
        name = f"{given.size} {seed}"
        print(row(name=name, problem=problem, seconds=given.seconds, seed=1), flush=True)


if __name__ == "__main__":
    main()
