"""How much must be short at the very least, even if pieces and firings could be split?

The same question with fractions allowed (a linear relaxation) is solved exactly in a moment. What
it leaves short, every plan leaves short, rounded up to what whole pieces can weigh.
"""

from __future__ import annotations

import math

from ortools.linear_solver.python import model_builder

from studio.craft.backplan_frame import Frame
from studio.craft.backplan_model import build

FAR = 10**15
"""The solver writes limits that are none as numbers beyond this."""

HAIR = 1e-6
"""What the linear solver may be off by."""


def short_floor(*, made: Frame, seconds: float) -> int:
    """A proven least weighted shortfall of any plan; 0 where it was not found in the time."""
    model = build(made=made)
    model.cp.minimize(model.short)
    linear = model_builder.Model()  # type: ignore[no-untyped-call]
    variables = []
    for variable in model.cp.proto.variables:
        domain = list(variable.domain)
        variables.append(linear.new_num_var(domain[0], domain[-1], ""))

    def add(indices: list[int], times: list[float], low: int, high: int) -> None:
        linear.add_linear_constraint(
            model_builder.LinearExpr.weighted_sum([variables[i] for i in indices], times),
            -math.inf if low < -FAR else low,
            math.inf if high > FAR else high,
        )

    for one in model.cp.proto.constraints:
        if one.has_linear():
            domain = list(one.linear.domain)
            add(list(one.linear.vars), list(one.linear.coeffs), domain[0], domain[-1])
        elif one.has_at_most_one():
            literals = list(one.at_most_one.literals)
            if min(literals) >= 0:
                add(literals, [1] * len(literals), 0, 1)
        # Whatever else there is (none today) is left out: fewer limits, a lower and sound floor.
    objective = model.cp.proto.objective
    linear.minimize(
        model_builder.LinearExpr.weighted_sum(
            [variables[i] for i in list(objective.vars)], list(objective.coeffs)
        )
    )
    solver = model_builder.Solver("glop")
    solver.set_time_limit_in_seconds(max(0.05, seconds))
    if solver.solve(linear) != model_builder.SolveStatus.OPTIMAL:
        return 0
    least = solver.objective_value + objective.offset
    each = math.gcd(*(want.importance for want in made.wants))
    return max(0, each * math.ceil(least / each - HAIR))
