"""How are rows of numbers handed to a linear solver, and what has it proven?

Whatever ends a solve, what it answers is proven: all is left out that was not finished.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from datetime import timedelta

from ortools.math_opt import model_pb2
from ortools.math_opt.python import mathopt

from studio.craft.backplan_short import Rows

MANY = 1_000
"""From so many rows on an inner method is quicker than walking along the edges."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Solved:
    """The least a linear question comes to, proven; the best values found, or none."""

    least: float
    values: list[float]
    exact: bool
    """Is the least reached, or was the solver stopped before?"""


def solved(*, rows: Rows, seconds: float, whole: bool = False) -> Solved | None:
    """Make the price least, with whole columns or with all of them split; None: nothing proven."""
    model = mathopt.Model.from_model_proto(_said(rows, whole))
    inner = not whole and len(rows.rows) >= MANY
    parameters = mathopt.SolveParameters(
        time_limit=timedelta(seconds=max(0.01, seconds)),
        lp_algorithm=mathopt.LPAlgorithm.BARRIER if inner else None,
    )
    result = mathopt.solve(model, mathopt.SolverType.HIGHS, params=parameters)
    exact = result.termination.reason == mathopt.TerminationReason.OPTIMAL
    least = float(result.termination.objective_bounds.dual_bound)
    if not (exact or whole) or not math.isfinite(least):
        return None
    values: list[float] = []
    if result.has_primal_feasible_solution():
        values = [0.0] * len(rows.upper)
        for variable, value in result.variable_values().items():
            values[variable.id] = value
    return Solved(least=least, values=values, exact=exact)


def _said(rows: Rows, whole: bool) -> model_pb2.ModelProto:
    said = model_pb2.ModelProto()
    columns = said.variables
    columns.ids.extend(range(len(rows.upper)))
    columns.lower_bounds.extend(rows.lower.get(i, 0.0) for i in range(len(rows.upper)))
    columns.upper_bounds.extend(rows.upper)
    columns.integers.extend(whole and i in rows.whole for i in range(len(rows.upper)))
    price = sorted(rows.price.items())
    said.objective.linear_coefficients.ids.extend(i for i, _ in price)
    said.objective.linear_coefficients.values.extend(float(one) for _, one in price)
    limits, inside = said.linear_constraints, said.linear_constraint_matrix
    for number, (terms, low, high) in enumerate(rows.rows):
        limits.ids.append(number)
        limits.lower_bounds.append(low)
        limits.upper_bounds.append(high)
        times: defaultdict[int, float] = defaultdict(float)
        for one, column in terms:
            times[column] += one
        order = sorted(times)
        inside.row_ids.extend([number] * len(order))
        inside.column_ids.extend(order)
        inside.coefficients.extend(times[column] for column in order)
    return said
