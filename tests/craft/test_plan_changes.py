"""Is every firing that differs between two plans listed once, and nothing else?"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.plan_changes import ChangeKind, change_words, changes, plan_changes
from studio.craft.problem import BISQUE, Load
from tests.craft.backplan_cases import day, studio
from tests.craft.referee_cases import BISQUED, FIRED, SOUND, load

TODAY = day(0)
NAMES = {"cone 6": "cone 6 slow"}


def words(before: tuple[Load, ...], after: tuple[Load, ...]) -> list[str]:
    found = changes(before=before, after=after, today_date=TODAY)
    return [change_words(change=one, problem=studio(), schedules=NAMES) for one in found]


def test_the_same_plan_has_no_changes() -> None:
    assert plan_changes(before=SOUND, after=SOUND, today_date=TODAY) == []


def test_a_firing_that_moved() -> None:
    assert words(SOUND.loads, (BISQUED, replace(FIRED, start_date=day(9)))) == [
        "Moved: cone 6 slow to the big kiln on Wed 11 Mar 2026 from the big kiln on "
        "Tue 10 Mar 2026."
    ]
    other = replace(BISQUED, kiln_key="small", busy_days=1)
    assert words(SOUND.loads, (other, FIRED)) == [
        "Moved: bisque to the small kiln on Sat 7 Mar 2026 from the big kiln on Sat 7 Mar 2026."
    ]


def test_a_firing_that_holds_something_else() -> None:
    fuller = replace(FIRED, contents=(("blue", 7), ("ash", 2)))
    assert words(SOUND.loads, (BISQUED, fuller)) == [
        "Count changed: cone 6 slow in the big kiln on Tue 10 Mar 2026: 2 × ash mug more, "
        "2 × blue mug more."
    ]
    assert words((BISQUED, fuller), SOUND.loads) == [
        "Count changed: cone 6 slow in the big kiln on Tue 10 Mar 2026: 2 × ash mug fewer, "
        "2 × blue mug fewer."
    ]


def test_a_firing_that_is_new_and_one_that_is_dropped() -> None:
    more = load("small", "cone 6", 12, 1, blue=2)
    assert words(SOUND.loads, (*SOUND.loads, more)) == [
        "New: cone 6 slow in the small kiln on Sat 14 Mar 2026: 2 × blue mug."
    ]
    assert words(SOUND.loads, (BISQUED,)) == [
        "Dropped: cone 6 slow in the big kiln on Tue 10 Mar 2026."
    ]


def test_the_nearest_with_the_most_in_common_is_the_one_that_moved() -> None:
    one, other = load("big", "cone 6", 4, 2, blue=5), load("big", "cone 6", 10, 2, ash=5)
    moved = load("small", "cone 6", 9, 1, blue=5)
    found = changes(before=(one, other), after=(moved,), today_date=TODAY)
    assert [(change.kind, change.before) for change in found] == [
        (ChangeKind.MOVED, one),
        (ChangeKind.DROPPED, other),
    ]


def test_nothing_in_common_is_not_a_move() -> None:
    one, other = load("big", "cone 6", 4, 2, blue=5), load("big", "cone 6", 10, 2, ash=5)
    found = changes(before=(one,), after=(other,), today_date=TODAY)
    assert [change.kind for change in found] == [ChangeKind.DROPPED, ChangeKind.NEW]


def test_what_is_past_is_in_no_list() -> None:
    past = replace(FIRED, start_date=day(-1))
    assert changes(before=(past,), after=(), today_date=TODAY) == []


LOADS = st.lists(
    st.builds(
        Load,
        kiln_key=st.sampled_from(("big", "small")),
        schedule_key=st.sampled_from((BISQUE, "cone 6")),
        start_date=st.integers(0, 9).map(day),
        busy_days=st.just(1),
        contents=st.dictionaries(st.sampled_from("ab"), st.integers(1, 4)).map(
            lambda held: tuple(sorted(held.items()))
        ),
    ),
    max_size=5,
    unique_by=lambda one: (one.kiln_key, one.start_date),
)


@settings(max_examples=100, deadline=None)
@given(before=LOADS, after=LOADS)
def test_the_changes_lead_from_one_plan_to_the_other(before: list[Load], after: list[Load]) -> None:
    """Take away what each change had before, add what it has after: that is the other plan."""
    there = Counter(before)
    found = changes(before=before, after=after, today_date=TODAY)
    for one in found:
        there.subtract([one.before] if one.before else [])
        there.update([one.after] if one.after else [])
        assert one.before != one.after
    assert +there == Counter(after)
    assert min(there.values(), default=0) >= 0
    kinds = Counter(one.kind for one in found)
    assert len(after) - len(before) == kinds[ChangeKind.NEW] - kinds[ChangeKind.DROPPED]
