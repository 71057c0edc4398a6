"""Does every turn that can be served get a pot, the first turns first, and never a line twice?"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.picks import (
    BadPick,
    Bar,
    Picks,
    Pot,
    Wisher,
    Without,
    bar,
    cost,
    pick,
    weigh,
)


def pot(key: str, line: str = "l1", form: str = "mug", **more: Any) -> Pot:
    return Pot(key=key, line_key=line, form_key=form, **more)


def test_each_gets_the_pot_that_is_new_to_them() -> None:
    # Both could have p2; only one of the two ways serves both.
    ada = Wisher(key="ada", had_lines=frozenset({"l1"}))
    ben = Wisher(key="ben")
    picks = pick(wishers=[ben, ada], pots=[pot("p2", "l2"), pot("p1", "l1")])
    assert picks.pairs == (("ben", "p1"), ("ada", "p2"))
    assert picks.without == ()


def test_the_first_turn_is_never_given_up_for_a_later_one() -> None:
    ada = Wisher(key="ada", takes_seconds=True)
    ben = Wisher(key="ben", takes_seconds=True)
    picks = pick(wishers=[ada, ben], pots=[pot("p1")])
    assert picks.pairs == (("ada", "p1"),)
    assert picks.without == (Without(wisher_key="ben", bars=(), elsewhere=1),)


def test_costs_choose_among_equal_ways() -> None:
    # wanted 0 + form had 2 + first 0 = 2;  not wanted 4 + new form 0 + second 1 = 5
    ada = Wisher(key="ada", had_forms=frozenset({"mug"}), takes_seconds=True)
    had = pot("p1", "l1", "mug")
    other = pot("p2", "l2", "bowl", is_second=True, wanted=False)
    assert (cost(wisher=ada, pot=had), cost(wisher=ada, pot=other)) == (2, 5)
    assert pick(wishers=[ada], pots=[other, had]).pairs == (("ada", "p1"),)


def test_who_goes_without_is_told_why() -> None:
    ada = Wisher(key="ada", had_lines=frozenset({"l1"}), please_no=frozenset({"bowl"}))
    pots = [pot("a"), pot("b"), pot("c", "l2", "bowl"), pot("d", "l3", is_second=True)]
    assert pick(wishers=[ada], pots=pots).without == (
        Without(
            wisher_key="ada",
            bars=((Bar.HAD_LINE, 2), (Bar.PLEASE_NO, 1), (Bar.SECOND, 1)),
            elsewhere=0,
        ),
    )


def test_the_good_ones_are_spread() -> None:
    # Ada had pots worth 50 each so far, Ben 10: the bowl of 45 goes to Ben, the mug of 20 to Ada.
    # 50 x 20 + 10 x 45 = 1450; the other way is 50 x 45 + 10 x 20 = 2450.
    ada, ben = Wisher(key="ada", had_pounds=50), Wisher(key="ben", had_pounds=10)
    pots = [pot("bowl", "l2", "bowl", pounds=45), pot("mug", pounds=20)]
    picks = pick(wishers=[ada, ben], pots=pots)
    assert picks.pairs == (("ada", "mug"), ("ben", "bowl"))
    assert picks.weight == 1450
    # A second goes to the one who had fewer, even when it would be the more valuable way.
    ada, ben = (
        Wisher(key="ada", takes_seconds=True, had_seconds=2),
        Wisher(key="ben", takes_seconds=True, had_pounds=90),
    )
    pots = [pot("second", is_second=True, pounds=10), pot("first", "l2", pounds=90)]
    assert pick(wishers=[ada, ben], pots=pots).pairs == (("ada", "first"), ("ben", "second"))


def test_what_a_sale_asks_for_and_a_glaze_not_wished_for_are_left() -> None:
    ada = Wisher(key="ada", no_glazes=frozenset({"ash"}))
    ash = pot("a", glaze_keys=frozenset({"ash", "white"}))
    sale = pot("b", "l2", for_sale=True)
    assert bar(wisher=ada, pot=ash) is Bar.NO_GLAZE
    assert bar(wisher=ada, pot=sale) is Bar.FOR_SALE
    assert pick(wishers=[ada], pots=[ash, sale]).without[0].bars == (
        (Bar.NO_GLAZE, 1), (Bar.FOR_SALE, 1),
    )  # fmt: skip


def test_what_is_here_goes_before_what_is_to_be_made() -> None:
    ada = Wisher(key="ada", had_forms=frozenset({"mug"}))
    pots = [pot("make", "l2", "bowl", to_make=True), pot("here", wanted=False)]
    assert pick(wishers=[ada], pots=pots).pairs == (("ada", "here"),)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(BadPick, match="seconds and pounds had are 0 or more"):
        Wisher(key="ada", had_pounds=-1)
    with pytest.raises(BadPick, match="a price is 0 to 100000"):
        pot("p1", pounds=100_001)


def test_keys_come_once() -> None:
    with pytest.raises(BadPick, match="person ada comes twice"):
        pick(wishers=[Wisher(key="ada"), Wisher(key="ada")], pots=[])
    with pytest.raises(BadPick, match="pot p1 comes twice"):
        pick(wishers=[], pots=[pot("p1"), pot("p1")])
    with pytest.raises(BadPick, match="a person needs a key"):
        Wisher(key="")
    with pytest.raises(BadPick, match="a pot needs a key, a line and a form"):
        pot("p1", "")


def brute_force(wishers: Sequence[Wisher], pots: Sequence[Pot]) -> tuple[tuple[bool, ...], int]:
    """Try every way to hand out the pots: the best pattern of turns served, then the weight."""
    best: tuple[tuple[int, ...], int] | None = None
    blanks: list[Pot | None] = [None] * len(wishers)
    for way in set(permutations([*pots, *blanks], len(wishers))):
        served, total = [], 0
        for wisher, given_pot in zip(wishers, way, strict=True):
            if given_pot is not None and bar(wisher=wisher, pot=given_pot) is None:
                served.append(0)
                total += weigh(wisher=wisher, pot=given_pot)
            else:
                served.append(1)
        if best is None or (tuple(served), total) < best:
            best = (tuple(served), total)
    assert best is not None
    return tuple(not gone for gone in best[0]), best[1]


few = st.frozensets(st.sampled_from(["l1", "l2", "l3"]), max_size=2)
forms = st.frozensets(st.sampled_from(["mug", "bowl"]), max_size=1)


@st.composite
def questions(draw: st.DrawFn) -> tuple[list[Wisher], list[Pot]]:
    wishers = [
        Wisher(
            key=f"w{n}",
            had_lines=draw(few),
            had_forms=draw(forms),
            please_no=draw(forms),
            takes_seconds=draw(st.booleans()),
            no_glazes=draw(st.frozensets(st.sampled_from(["ash", "tin"]), max_size=1)),
            had_seconds=draw(st.integers(0, 2)),
            had_pounds=draw(st.integers(0, 60)),
        )
        for n in range(draw(st.integers(1, 4)))
    ]
    pots = [
        Pot(
            key=f"p{n}",
            line_key=draw(st.sampled_from(["l1", "l2", "l3"])),
            form_key=draw(st.sampled_from(["mug", "bowl"])),
            is_second=draw(st.booleans()),
            wanted=draw(st.booleans()),
            for_sale=draw(st.booleans()),
            glaze_keys=draw(st.frozensets(st.sampled_from(["ash", "tin"]), max_size=2)),
            pounds=draw(st.integers(0, 90)),
        )
        for n in range(draw(st.integers(0, 4)))
    ]
    return wishers, pots


@settings(deadline=None)
@given(questions())
def test_no_way_of_handing_out_is_better(question: tuple[list[Wisher], list[Pot]]) -> None:
    wishers, pots = question
    picks = pick(wishers=wishers, pots=pots)
    check_allowed(wishers, pots, picks)
    given_to = {wisher for wisher, _ in picks.pairs}
    served = tuple(wisher.key in given_to for wisher in wishers)
    assert (served, picks.weight) == brute_force(wishers, pots)


def check_allowed(wishers: Sequence[Wisher], pots: Sequence[Pot], picks: Picks) -> None:
    people = {wisher.key: wisher for wisher in wishers}
    shelf = {one.key: one for one in pots}
    assert len({given_pot for _, given_pot in picks.pairs}) == len(picks.pairs)
    for wisher_key, pot_key in picks.pairs:
        assert bar(wisher=people[wisher_key], pot=shelf[pot_key]) is None
    told = [one.wisher_key for one in picks.without]
    assert sorted([*told, *(key for key, _ in picks.pairs)]) == sorted(people)


@settings(deadline=None)
@given(st.integers(1, 9), st.integers(0, 12), st.randoms(use_true_random=False))
def test_the_sum_is_that_of_a_reference_library(rows: int, columns: int, random: object) -> None:
    """Against SciPy's linear_sum_assignment, in questions where everybody can be served."""
    import random as module

    import numpy
    from scipy.optimize import linear_sum_assignment

    assert isinstance(random, module.Random)
    wishers = [
        Wisher(
            key=f"w{n}",
            had_forms=frozenset(random.sample(["mug", "bowl", "jar"], 1)),
            takes_seconds=True,
            had_seconds=random.randrange(3),
            had_pounds=random.randrange(80),
        )
        for n in range(rows)
    ]
    pots = [
        pot(
            f"p{n}",
            form=random.choice(["mug", "bowl"]),
            wanted=random.random() < 0.5,
            is_second=random.random() < 0.3,
            pounds=random.randrange(100),
        )
        for n in range(rows + columns)
    ]
    table = numpy.array([[weigh(wisher=w, pot=p) for p in pots] for w in wishers])
    chosen = linear_sum_assignment(table)
    picks = pick(wishers=wishers, pots=pots)
    assert len(picks.pairs) == rows
    assert picks.weight == int(table[chosen].sum())
