"""Does a record prove no more than it can?

The bound is checked against ``scipy.stats.beta``; the sizes are our own measure.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta  # type: ignore[import-untyped]

from studio.craft.standing import Fired, Proof, judge, lowest_good, more_to_prove, proof_sizes

EARLY, LATE, LATER = date(2026, 3, 2), date(2026, 9, 1), date(2026, 9, 20)
PROOF = Proof()


def fired(*counts: tuple[int, int], on: date = EARLY) -> list[Fired]:
    return [
        Fired(firing_id=on.month * 100 + n, glazed_date=on, good=good, of=of)
        for n, (good, of) in enumerate(counts)
    ]


@given(st.integers(1, 400), st.data())
def test_lowest_good_against_scipy(of: int, data: st.DataObject) -> None:
    good = data.draw(st.integers(1, of))
    expected = float(beta.ppf(0.05, good, of - good + 1))
    assert lowest_good(good=good, of=of) == pytest.approx(expected, abs=1e-9)
    assert lowest_good(good=0, of=of) == 0


def test_twelve_of_twelve_prove_nothing() -> None:
    # (1 - p)^n = 0.05: 0.05^(1/12) = 0.779 is under 0.8, and 0.05^(1/14) = 0.807 is over.
    assert lowest_good(good=12, of=12) == pytest.approx(0.05 ** (1 / 12))
    assert more_to_prove(good=12, of=12, proof=PROOF) == 2
    assert 0.05 ** (1 / 13) < 0.8 < 0.05 ** (1 / 14)


def test_nine_of_ten_and_twelve_more() -> None:
    # 21 of 22 good: the upper 95 % limit of 1 lost of 22 is 0.198; of 1 lost of 21 it is 0.207.
    assert more_to_prove(good=9, of=10, proof=PROOF) == 12
    assert float(beta.ppf(0.95, 2, 21)) < 0.2 < float(beta.ppf(0.95, 2, 20))
    verdict = judge(fired=fired((5, 5), (4, 5)), proof=PROOF)
    assert verdict.standing == "trial"
    assert verdict.said == (
        "9 of 10 good in 2 firings so far; with 12 more good ones from 1 more firing this would be"
        " proven"
    )
    assert (verdict.more_pieces, verdict.more_firings) == (12, 1)


@given(st.integers(0, 60), st.integers(0, 60), st.integers(10, 95))
def test_more_to_prove_is_the_smallest(good: int, lost: int, percent: int) -> None:
    proof = Proof(good_percent=percent)
    more = more_to_prove(good=good, of=good + lost, proof=proof)
    if more is None:
        assert lowest_good(good=good + 999, of=good + lost + 999) < percent / 100
        return

    def enough(n: int) -> bool:
        of = good + lost + n
        return of >= 12 and lowest_good(good=good + n, of=of) >= percent / 100

    assert enough(more)
    assert not more or not enough(more - 1)


def test_one_great_load_is_one_test() -> None:
    verdict = judge(fired=fired((60, 60)), proof=PROOF)
    assert (verdict.standing, verdict.more_firings) == ("trial", 2)
    assert verdict.said.endswith("with 2 more good ones from 2 more firings this would be proven")


def test_one_firing_dipped_on_two_days_is_one_firing() -> None:
    two = [Fired(firing_id=1, glazed_date=day, good=10, of=10) for day in (EARLY, LATE)]
    assert judge(fired=two, proof=PROOF).said.startswith("20 of 20 good in 1 firing so far")


def test_proven_by_the_record_and_lost_again() -> None:
    good = fired((8, 8), (8, 8), (8, 8))
    verdict = judge(fired=good, proof=PROOF)
    # 24 of 24: 0.05^(1/24) = 0.8827.
    assert verdict.standing == "proven"
    assert verdict.said == (
        "24 of 24 good in 3 firings: at least 88 in 100 come out good, as far as the record says"
    )
    assert judge(fired=[*good, *fired((0, 8), on=LATER)], proof=PROOF).standing == "trial"


def test_nothing_fired_is_untried() -> None:
    verdict = judge(fired=[], proof=PROOF)
    assert verdict.standing == "untried"
    # 0.05^(1/14) is over 0.8: 14 pieces from 3 firings.
    assert verdict.said == (
        "nothing of it came out of a kiln yet; with 14 more good ones from 3 more firings this"
        " would be proven"
    )
    assert judge(fired=[], proof=PROOF, word="trial").standing == "trial"
    # A trial that came out a ruin is no longer untried.
    assert judge(fired=fired((0, 4)), proof=PROOF).standing == "trial"


def test_a_new_bucket_goes_back_on_trial_until_a_load_confirms() -> None:
    old = fired((8, 8), (8, 8), (8, 8))
    asked = {"proof": PROOF, "renewed_date": LATE, "renewed": "a new bucket of Kelp on Tue 1 Sep"}
    verdict = judge(fired=old, **asked)  # type: ignore[arg-type]
    assert (verdict.standing, verdict.more_firings) == ("trial", 1)
    assert verdict.said == (
        "proven before; a new bucket of Kelp on Tue 1 Sep: on trial until one load of it came out"
        " well"
    )
    fine = judge(fired=[*old, *fired((5, 6), on=LATER)], **asked)  # type: ignore[arg-type]
    assert fine.standing == "proven"
    poor = judge(fired=[*old, *fired((2, 6), on=LATER)], **asked)  # type: ignore[arg-type]
    assert (poor.standing, "only 2 of 6 good" in poor.said) == ("trial", True)


def test_a_short_record_goes_on_over_a_new_bucket() -> None:
    few = fired((5, 5))
    verdict = judge(
        fired=[*few, *fired((4, 5), on=LATER)], proof=PROOF, renewed_date=LATE, renewed="a bucket"
    )
    assert verdict.said.startswith("9 of 10 good in 2 firings so far")


def test_a_new_lot_of_a_proven_clay_is_on_trial() -> None:
    verdict = judge(fired=[], proof=PROOF, renewed="a new lot of Grey")
    assert (verdict.standing, verdict.said) == (
        "trial", "proven before; a new lot of Grey: on trial until one load of it came out well",
    )  # fmt: skip
    two = judge(fired=fired((4, 4)), proof=Proof(confirming=2), renewed="a new lot of Grey")
    assert (two.standing, two.more_firings) == ("trial", 1)


def test_the_potters_word() -> None:
    assert judge(fired=[], proof=PROOF, word="proven").said == "by your own word; no record yet"
    verdict = judge(fired=fired((3, 4)), proof=PROOF, word="proven")
    assert (verdict.standing, verdict.said) == (
        "proven", "by your own word; the record says 3 of 4 good in 1 firing",
    )  # fmt: skip
    # A word that the record bears out is no longer needed: a bad load may now speak against it.
    borne_out = judge(fired=fired((8, 8), (8, 8), (8, 8)), proof=PROOF, word="proven")
    assert (borne_out.standing, borne_out.is_word) == ("proven", False)
    assert borne_out.said.startswith("24 of 24 good in 3 firings: at least 88 in 100")
    renewed = judge(
        fired=[],
        proof=PROOF,
        word="proven",
        word_holds=False,
        renewed_date=LATE,
        renewed="a bucket",
    )
    assert renewed.standing == "trial"


def test_too_many_lost() -> None:
    verdict = judge(fired=fired((0, 400)), proof=PROOF)
    assert (verdict.standing, verdict.more_pieces) == ("trial", None)
    assert verdict.said.endswith("too many were lost for this record to prove it")


@pytest.mark.parametrize(
    ("sizes", "says"),
    [
        ({"firings": 0}, "Proven after 0 firings cannot be. Give 1 to 99."),
        ({"pieces": 0}, "Proven after 0 pieces cannot be. Give 1 to 999."),
        ({"good_percent": 100}, "100 good in 100 cannot be shown by any record. Give 1 to 99."),
        ({"confirming": 4}, "A new bucket is confirmed by 1 to 3 firings, not 4."),
    ],
)
def test_a_proof_that_cannot_be(sizes: dict[str, int], says: str) -> None:
    asked = {"firings": 3, "pieces": 12, "good_percent": 80, "confirming": 1} | sizes
    assert proof_sizes(**asked) == says
    with pytest.raises(ValueError, match=says.split(".", maxsplit=1)[0]):
        Proof(**asked)


def test_a_record_that_cannot_be() -> None:
    with pytest.raises(ValueError, match="good is 0 to 3"):
        Fired(firing_id=1, glazed_date=EARLY, good=4, of=3)
    with pytest.raises(ValueError, match="good is 0 to 3"):
        lowest_good(good=4, of=3)


# --- new elements, a new thermocouple ------------------------------------------------------------

HERON, WREN = 1, 2
SINCE = "Heron has new elements since 1 Sep 2026"


def burnt(kiln_id: int, *counts: tuple[int, int], before: bool, first: int = 1) -> list[Fired]:
    return [
        Fired(
            firing_id=100 * kiln_id + n, glazed_date=EARLY, good=good, of=of,
            kiln_id=kiln_id, is_before=before,
        )
        for n, (good, of) in enumerate(counts, start=first)
    ]  # fmt: skip


def test_new_elements_put_what_was_proven_on_trial() -> None:
    old = burnt(HERON, (8, 8), (8, 8), (8, 8), before=True)
    untouched = judge(fired=old, proof=PROOF)
    assert (untouched.standing, untouched.kilns) == ("proven", ())
    verdict = judge(fired=old, proof=PROOF, changed={HERON: SINCE})
    why = f"proven before; {SINCE}: on trial there until one load came out well"
    assert (verdict.standing, verdict.said, verdict.more_firings) == ("trial", why, 1)
    assert verdict.kilns == ((HERON, why),)


def test_a_load_that_came_out_well_confirms_it() -> None:
    old = burnt(HERON, (8, 8), (8, 8), (8, 8), before=True)
    for new, stands in (((4, 4), "proven"), ((3, 4), "trial"), ((0, 4), "trial")):
        fired_now = [*old, *burnt(HERON, new, before=False, first=7)]
        assert judge(fired=fired_now, proof=PROOF, changed={HERON: SINCE}).standing == stands
    # 3 of 4 is under 80 in 100, though 27 of 28 are over: the new fire is what is asked about.
    poor = judge(
        fired=[*old, *burnt(HERON, (3, 4), before=False, first=7)], proof=PROOF,
        changed={HERON: SINCE},
    )  # fmt: skip
    assert poor.said.endswith(f"{SINCE}: only 3 of 4 good in 1 firing there since")
    two = Proof(confirming=2)
    half = judge(
        fired=[*old, *burnt(HERON, (4, 4), before=False, first=7)], proof=two,
        changed={HERON: SINCE},
    )  # fmt: skip
    assert half.said.endswith("4 of 4 good in 1 firing there since, 1 more to confirm it")


def test_a_kiln_that_was_left_alone_still_stands() -> None:
    old = burnt(HERON, (8, 8), (8, 8), before=True)
    both = [*old, *burnt(WREN, (8, 8), before=False)]
    verdict = judge(fired=both, proof=PROOF, changed={HERON: SINCE})
    assert verdict.standing == "proven"
    assert [kiln for kiln, _ in verdict.kilns] == [HERON]
    changed = {HERON: SINCE, WREN: "Wren has a new thermocouple since 2 Sep 2026"}
    gone = judge(fired=[*old, *burnt(WREN, (8, 8), before=True)], proof=PROOF, changed=changed)
    assert gone.standing == "trial"
    assert [kiln for kiln, _ in gone.kilns] == [HERON, WREN]
    # A kiln of which nothing of it came out before has nothing to lose.
    assert judge(fired=burnt(WREN, (8, 8), (8, 8), (8, 8), before=False), proof=PROOF,
                 changed={HERON: SINCE}).kilns == ()  # fmt: skip


def test_what_was_never_proven_needs_no_second_word_of_the_kiln() -> None:
    short = judge(fired=burnt(HERON, (5, 5), before=True), proof=PROOF, changed={HERON: SINCE})
    assert (short.standing, short.kilns) == ("trial", ())
    by_word = judge(
        fired=burnt(HERON, (5, 5), before=True), proof=PROOF, word="proven",
        changed={HERON: SINCE},
    )  # fmt: skip
    assert (by_word.standing, by_word.is_word) == ("trial", False)
