"""Do hands throw the nearest date first, within their minutes, and is it dry when it should be?"""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.backplan_frame import NEVER
from studio.craft.backplan_targets import next_due
from studio.craft.backplan_thrown import dried_of, thrown_of


def test_the_nearest_date_first_and_what_is_left_of_a_day_for_what_fits() -> None:
    thrown = thrown_of(
        minutes=[60, 0, 60, 60],
        each=[25, 10],  # mugs 25 min, cups 10 min
        last=[3, 2],  # cups thrown on the last day would be too late
        most=[4, 4],
        urgent=[[(9, 3)], [(5, 1), (12, 3)]],
    )
    assert thrown == [
        [(1, 1), (0, 2)],  # the cup pressed by day 5, then two mugs: 10 + 2 x 25 = 60 min
        [],  # no hands
        [(0, 1), (1, 2), (1, 1)],  # third mug by day 9, cups by 12, a cup that nothing presses:
        [(0, 1)],  # 25 + 2 x 10 + 10 = 55 min; then the mug that nothing presses
    ]
    # 95 % come through drying: 2 mugs of day 0 are 2 x 95 hundredths on day 0 + 2.
    assert dried_of(thrown=thrown, drying_days=[2, 3], percent=95) == [
        [],
        [],
        [(0, 190)],
        [(1, 95)],
    ]


def test_after_each_count_the_next_date_and_how_many_more_it_wants() -> None:
    assert next_due([(4, 2), (9, 3)], 4) == [
        (4, 2),
        (4, 1),
        (9, 1),
        (NEVER, NEVER),
        (NEVER, NEVER),
    ]


@settings(max_examples=60, deadline=None)
@given(
    minutes=st.lists(st.integers(0, 90), min_size=1, max_size=12),
    wares=st.lists(
        st.tuples(st.integers(1, 40), st.integers(0, 12), st.integers(0, 9), st.integers(0, 20)),
        min_size=1,
        max_size=4,
    ),
)
def test_nothing_is_thrown_beyond_hands_wants_or_last_days(
    minutes: list[int], wares: list[tuple[int, int, int, int]]
) -> None:
    each, last, most, by = zip(*wares, strict=True)
    thrown = thrown_of(
        minutes=minutes, each=each, last=last, most=most, urgent=[[(day, 5)] for day in by]
    )
    left = list(most)
    for day, on_day in enumerate(thrown):
        for i, count in on_day:
            assert count > 0
            assert day <= last[i]
            left[i] -= count
        spare = minutes[day] - sum(each[i] * count for i, count in on_day)
        assert spare >= 0
        # Hands rest only where nothing more is wanted or fits.
        assert all(not left[i] or day > last[i] or each[i] > spare for i in range(len(wares)))
    assert all(n >= 0 for n in left)
