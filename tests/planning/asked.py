"""The question of a plan, read for tests."""

from __future__ import annotations

from collections import Counter

import pytest

from studio.craft.problem import BadProblem, Problem
from studio.planning.selectors.question import ask
from tests.planning.cast import TODAY, Cast


def key(line_or_kiln: object) -> str:
    return str(line_or_kiln.pk)  # type: ignore[attr-defined]


def ware(cast: Cast) -> str:
    return f"{cast.mug.pk}-{cast.clay.pk}"


def stood(found: Problem) -> Counter[tuple[str, str]]:
    counted: Counter[tuple[str, str]] = Counter()
    for hand in found.on_hand:
        counted[hand.stage.value, hand.key] += hand.count
    return counted


def causes(**given: object) -> list[str]:
    with pytest.raises(BadProblem) as caught:
        ask(today_date=TODAY, **given)  # type: ignore[arg-type]
    return list(caught.value.causes)
