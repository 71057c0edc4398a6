"""What the tests of the plan share."""

from __future__ import annotations

from studio.craft.answer import Plan
from studio.craft.backplan import plan
from studio.craft.problem import Problem
from studio.craft.referee import broken_promises


def sound(problem: Problem, seconds: float = 60.0) -> Plan:
    found = plan(problem=problem, seconds=seconds)
    assert broken_promises(problem=problem, plan=found) == ()
    return found
