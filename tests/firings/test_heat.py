"""Are the hours, the curve and the rows of a schedule told right?"""

from __future__ import annotations

import math
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.craft.programme import MIDDLE_KILN, Programme
from studio.firings import rules, selectors
from studio.firings.models import Schedule
from studio.firings.rules import Step
from studio.web.models import Studio
from tests.firings.conftest import NOW, World


def test_the_hours_of_the_rows_are_a_visible_sum(world: World) -> None:
    """20 to 600 at 100, to 1100 at 180, to 1222 at 60, and 15 minutes."""
    hours = selectors.hours_of(kiln=world.small, schedule=world.six)
    assert hours is not None
    assert hours.to_end_h == pytest.approx(580 / 100 + 500 / 180 + 122 / 60 + 15 / 60)


def test_the_cooling_is_newtons_law_in_two_parts(world: World) -> None:
    """71 litres is a middle kiln: its constant above the knee of 538 °C, its other one below."""
    assert selectors.litres(world.small) == pytest.approx(math.pi / 4 * 4.45**2 * 4.57)
    hours = selectors.hours_of(kiln=world.small, schedule=world.six)
    assert hours is not None
    law = MIDDLE_KILN
    above = law.above_h * math.log((1222 - 20) / (538 - 20))
    below = law.below_h * math.log((538 - 20) / (93 - 20))
    assert hours.cooling_h == pytest.approx(above + below)
    assert hours.early_h == pytest.approx(hours.to_end_h + 0.75 * hours.cooling_h)
    assert hours.late_h == pytest.approx(hours.to_end_h + 1.25 * hours.cooling_h)


def test_a_cube_and_a_round_kiln_differ_by_a_quarter_of_pi(world: World) -> None:
    world.small.sides = 0
    round_one = selectors.litres(world.small)
    world.small.sides, world.small.inside_depth_mm = 4, 445
    assert round_one / selectors.litres(world.small) == pytest.approx(math.pi / 4)


def test_expected_opening_is_counted_from_the_end_once_it_is_off(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    assert selectors.expected(firing) is None
    world.load(firing, world.thrown())
    world.lit(firing, hours_ago=10)
    hours = selectors.hours_of(kiln=world.big, schedule=world.bisque)
    lit = selectors.expected(firing)
    assert hours is not None
    assert lit is not None
    assert firing.lit_at is not None
    assert lit.end_at == firing.lit_at + timedelta(hours=hours.to_end_h)
    assert lit.opening_at == firing.lit_at + timedelta(hours=hours.to_end_h + hours.cooling_h)
    firing.state, firing.off_at = "cooling", NOW
    off = selectors.expected(firing)
    assert off is not None
    assert off.opening_at == NOW + timedelta(hours=hours.cooling_h)
    assert off.early_at < off.opening_at < off.late_at


def test_without_rows_the_busy_days_speak(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    world.lit(firing, hours_ago=10)
    world.bisque.segments.all().delete()
    hopes = selectors.expected(firing)
    assert hopes is not None
    assert firing.lit_at is not None
    assert (hopes.end_at, hopes.opening_at) == (None, firing.lit_at + timedelta(days=2))
    assert selectors.curve_of(world.bisque) is None
    assert selectors.hours_of(kiln=world.big, schedule=world.bisque) is None


def test_kilns_now(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    world.lit(firing, hours_ago=60)
    waiting = world.planned(world.small)
    small, big = selectors.kilns_now(now=NOW)
    assert (small.kiln, small.state, small.next_firing) == (world.small, "free", waiting)
    assert (small.opening_at, small.is_late) == (None, False)
    assert (big.kiln, big.state, big.firing, big.is_late) == (world.big, "firing", firing, True)


def test_rows_in_fahrenheit(world: World) -> None:
    Studio.objects.update_or_create(id=1, defaults={"temperature_unit": "F"})
    rows = selectors.steps_of(world.six)
    assert [row.rate for row in rows] == ["180 °F/h", "324 °F/h", "108 °F/h"]
    curve = selectors.curve_of(world.six)
    assert curve is not None
    assert curve.unit_words == "°F"
    assert "2232 °F" in curve.desc


def test_rows_that_cool_say_so(world: World) -> None:
    schedule = Schedule.objects.create(name="Slow", kind="glaze", cone="6", cooling="slow")
    schedule.segments.create(seq=1, target_c=1222)
    schedule.segments.create(seq=2, rate_c_per_h=60, target_c=760)
    schedule.segments.create(seq=3, target_c=600)
    assert [row.rate for row in selectors.steps_of(schedule)] == [
        "as fast as it can", "down 60 °C/h", "down freely",
    ]  # fmt: skip


# --- what a schedule's rows may be --------------------------------------------------------------

STEPS = st.builds(
    Step,
    rate_c_per_h=st.none() | st.floats(-50, 1200),
    target_c=st.floats(-100, 1600),
    hold_min=st.integers(-10, 4000),
)


@given(steps=st.lists(STEPS, max_size=6), cone=st.sampled_from(["06", "04", "6", "10"]))
def test_what_is_allowed_can_be_reckoned_with(steps: list[Step], cone: str) -> None:
    """The independent judge is ``craft.programme``, which checks its rows for itself."""
    wrong = rules.wrong_steps(steps, cone=cone)
    if not wrong:
        assert isinstance(rules.programme(steps), Programme)
    for row, sentence in wrong:
        assert 0 <= row <= len(steps)
        assert sentence.startswith(f"Row {row}: ") or row == 0


@given(
    st.lists(
        st.builds(
            Step,
            rate_c_per_h=st.floats(1, 600),
            target_c=st.floats(21, 1220),
            hold_min=st.integers(0, 2880),
        ),
        max_size=5,
        unique_by=lambda step: step.target_c,
    )
)
def test_good_rows_are_let_through(steps: list[Step]) -> None:
    """However it wanders, a programme of possible rows that tops out at cone 6 is allowed."""
    top = Step(rate_c_per_h=60, target_c=1222)
    assert rules.wrong_steps([*steps, top], cone="6") == []


def test_rows_are_named_as_the_page_counts_them() -> None:
    steps = [Step(rate_c_per_h=100, target_c=600), Step(rate_c_per_h=-5, target_c=1222)]
    (found,) = rules.wrong_steps(steps, cone="6", numbers=[1, 4])
    assert found[0] == 4
    assert found[1].startswith("Row 4: the rate must be 1 °C/h or more.")


def test_too_many_rows() -> None:
    steps = [Step(rate_c_per_h=100, target_c=30 + n) for n in range(33)]
    assert rules.wrong_steps(steps, cone="6") == [(0, "A schedule has 32 rows at most, not 33.")]
