"""Is a glaze on a clay proven, and what would prove it?

A combination is untried until something of it came out of a kiln, on trial while the record is
short, and proven once it came out well often enough: so many firings, so many pieces, and a share
of good pieces that is high even at the low end of what the record allows (one-sided 95 %).

Laws (a rejected example each):

1. A short record proves nothing: 12 of 12 good leaves 22 in 100 lost possible.
2. Many pieces of one load are one test of the fire: 60 good from one firing are not proven.
3. A new bucket or a new delivery of clay is another material: what was proven is on trial until a
   load confirms it.
4. A bad load counts after a good name as well: a proven combination can go back on trial.
5. A kiln with new elements or a new thermocouple is another fire: what was fired in it before is on
   trial there until a load of it in that kiln came out well. Kilns that were left alone still stand
   by what they showed; with none of them left, the whole combination is on trial.

Source of the numbers 3, 12 and 80: our own measure, no source; every studio sets its own. Source
of the bound: Clopper and Pearson 1934, see ``studio.craft.losses``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final, Literal

from studio.craft.losses import upper_bound_of_loss

Standing = Literal["untried", "trial", "proven"]

MOST_MORE: Final = 999


@dataclass(frozen=True, kw_only=True, slots=True)
class Proof:
    """What the studio asks for before it calls a combination proven."""

    firings: int = 3
    pieces: int = 12
    good_percent: int = 80
    confirming: int = 1

    def __post_init__(self) -> None:
        if wrong := proof_sizes(
            firings=self.firings,
            pieces=self.pieces,
            good_percent=self.good_percent,
            confirming=self.confirming,
        ):
            raise ValueError(wrong)


@dataclass(frozen=True, kw_only=True, slots=True)
class Fired:
    """What one firing made of a combination. ``glazed_date``: when it was dipped, by its bucket.

    A firing whose ware was dipped on two days is two rows of one ``firing_id``, and one test.
    ``is_before``: lit before the last change of its kiln's elements or thermocouple.
    """

    firing_id: int
    glazed_date: date
    good: int
    of: int
    kiln_id: int = 0
    is_before: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.good <= self.of:
            raise ValueError(f"good is 0 to {self.of}, not {self.good}")


@dataclass(frozen=True, kw_only=True, slots=True)
class Verdict:
    """A standing, why, and how much more of good ware would prove it (None: more than 999).

    ``is_word``: it rests on the potter's word alone. ``kilns``: those in which it is on trial since
    their elements or thermocouple were changed, and why; all else stands as ``standing`` says.
    """

    standing: Standing
    said: str
    more_pieces: int | None = 0
    more_firings: int = 0
    is_word: bool = False
    kilns: tuple[tuple[int, str], ...] = ()


def proof_sizes(*, firings: int, pieces: int, good_percent: int, confirming: int) -> str:
    """Whether this can be asked of a combination; '' when it can."""
    if not 1 <= firings <= 99:
        return f"Proven after {firings} firings cannot be. Give 1 to 99."
    if not 1 <= pieces <= 999:
        return f"Proven after {pieces} pieces cannot be. Give 1 to 999."
    if not 1 <= good_percent <= 99:
        return f"{good_percent} good in 100 cannot be shown by any record. Give 1 to 99."
    if not 1 <= confirming <= firings:
        return f"A new bucket is confirmed by 1 to {firings} firings, not {confirming}."
    return ""


def lowest_good(*, good: int, of: int) -> float:
    """The lowest share of good ones, 0 to 1, that the record allows (one-sided 95 %).

    Raises ``ValueError`` when not 0 <= ``good`` <= ``of``.
    """
    if not 0 <= good <= of:
        raise ValueError(f"good is 0 to {of}, not {good}")
    return 1 - upper_bound_of_loss(lost=of - good, of=of)


def more_to_prove(*, good: int, of: int, proof: Proof) -> int | None:
    """How many more, all good, would make the pieces enough; None when over 999 would be."""

    def enough(more: int) -> bool:
        low = lowest_good(good=good + more, of=of + more)
        return of + more >= proof.pieces and low >= proof.good_percent / 100

    if enough(0):
        return 0
    if not enough(MOST_MORE):
        return None
    low, high = 0, MOST_MORE
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def judge(
    *,
    fired: Sequence[Fired],
    proof: Proof,
    word: str = "",
    word_holds: bool = True,
    renewed_date: date | None = None,
    renewed: str = "",
    changed: Mapping[int, str] | None = None,
) -> Verdict:
    """How a combination stands.

    ``fired``: one row a firing and dipping day, those after the potter's word where the word was
    untried or trial. ``word``: the potter's own last word, '' for none; ``word_holds``: nothing was
    renewed since. ``renewed_date``, ``renewed``: when and in words what was renewed last, a bucket
    or a clay lot; '' for nothing. ``changed``: kiln -> in words what was changed in it, for changes
    that are younger than the potter's word.
    """
    verdict = _judged(fired, proof, word, word_holds, renewed_date, renewed)
    if verdict.standing != "proven" or not changed:
        return verdict
    waiting = {
        kiln_id: why
        for kiln_id, words in changed.items()
        if (why := _tried_again(fired, proof, kiln_id, words, is_word=verdict.is_word))
    }
    kilns = tuple(waiting.items())
    if not waiting or {one.kiln_id for one in fired if one.of} - waiting.keys():
        return replace(verdict, kilns=kilns)
    said = "; ".join(waiting.values())
    return Verdict(
        standing="trial", said=said, more_pieces=1, more_firings=proof.confirming, kilns=kilns
    )


def _judged(
    fired: Sequence[Fired],
    proof: Proof,
    word: str,
    word_holds: bool,
    renewed_date: date | None,
    renewed: str,
) -> Verdict:
    """How a combination stands, whatever became of its kilns."""
    if word == "proven" and word_holds:
        if not _proven(fired, proof):
            return Verdict(standing="proven", said=_by_word(fired), is_word=True)
        renewed = ""
    new = [one for one in fired if renewed_date is None or one.glazed_date >= renewed_date]
    old = [one for one in fired if renewed_date is not None and one.glazed_date < renewed_date]
    if renewed and (word == "proven" or (old and _proven(old, proof)) or renewed_date is None):
        return _confirmed(new, old, proof, renewed)
    good, of = _sums(fired)
    if not of:
        if word == "trial":
            return _missing("trial", fired, proof, "by your own word; no record yet")
        return _missing("untried", fired, proof, "nothing of it came out of a kiln yet")
    if _proven(fired, proof):
        low = int(100 * lowest_good(good=good, of=of) + 1e-9)
        return Verdict(
            standing="proven",
            said=f"{_seen(fired)}: at least {low} in 100 come out good, as far as the record says",
        )
    return _missing("trial", fired, proof, f"{_seen(fired)} so far")


def _confirmed(new: Sequence[Fired], old: Sequence[Fired], proof: Proof, renewed: str) -> Verdict:
    """How a combination stands that was proven before its bucket or its clay was renewed."""
    good, of = _sums(new)
    needed = proof.confirming - len(_firings(new))
    fine = bool(of) and 100 * good >= proof.good_percent * of
    if old and fine:
        all_good, all_of = _sums([*old, *new])
        fine = lowest_good(good=all_good, of=all_of) >= proof.good_percent / 100
    if needed <= 0 and fine:
        return Verdict(standing="proven", said=f"proven before; {renewed}, and {_seen(new)} since")
    if not of:
        loads = "one load" if proof.confirming == 1 else f"{proof.confirming} loads"
        return Verdict(
            standing="trial",
            said=f"proven before; {renewed}: on trial until {loads} of it came out well",
            more_pieces=1,
            more_firings=proof.confirming,
        )
    if needed > 0:
        return Verdict(
            standing="trial",
            said=f"proven before; {renewed}: {_seen(new)} since, {needed} more to confirm it",
            more_pieces=1,
            more_firings=needed,
        )
    return _missing("trial", new, proof, f"proven before; {renewed}: only {_seen(new)} since")


def _tried_again(
    fired: Sequence[Fired], proof: Proof, kiln_id: int, words: str, *, is_word: bool
) -> str:
    """Why a combination is on trial in a kiln of which parts were changed; '' when it is not."""
    here = [one for one in fired if one.kiln_id == kiln_id and one.of]
    new = [one for one in here if not one.is_before]
    if len(new) == len(here):
        return ""
    good, of = _sums(new)
    needed = proof.confirming - len(_firings(new))
    fine = bool(of) and 100 * good >= proof.good_percent * of
    if fine and not is_word:
        all_good, all_of = _sums(fired)
        fine = lowest_good(good=all_good, of=all_of) >= proof.good_percent / 100
    if needed <= 0 and fine:
        return ""
    if not of:
        loads = "one load" if proof.confirming == 1 else f"{proof.confirming} loads"
        return f"proven before; {words}: on trial there until {loads} came out well"
    if needed > 0:
        return f"proven before; {words}: {_seen(new)} there since, {needed} more to confirm it"
    return f"proven before; {words}: only {_seen(new)} there since"


def _missing(standing: Standing, fired: Sequence[Fired], proof: Proof, why: str) -> Verdict:
    good, of = _sums(fired)
    pieces = more_to_prove(good=good, of=of, proof=proof)
    firings = max(proof.firings - len(_firings(fired)), 0)
    if pieces is None:
        said = f"{why}; too many were lost for this record to prove it"
        return Verdict(standing=standing, said=said, more_pieces=None, more_firings=firings)
    pieces = max(pieces, firings)
    loads = f" from {firings} more {'firing' if firings == 1 else 'firings'}" if firings else ""
    said = f"{why}; with {pieces} more good ones{loads} this would be proven"
    if pieces == 1:
        said = f"{why}; with 1 more good one{loads} this would be proven"
    return Verdict(standing=standing, said=said, more_pieces=pieces, more_firings=firings)


def _proven(fired: Sequence[Fired], proof: Proof) -> bool:
    good, of = _sums(fired)
    return (
        len(_firings(fired)) >= proof.firings
        and of >= proof.pieces
        and lowest_good(good=good, of=of) >= proof.good_percent / 100
    )


def _firings(fired: Sequence[Fired]) -> set[int]:
    return {one.firing_id for one in fired if one.of}


def _sums(fired: Sequence[Fired]) -> tuple[int, int]:
    return sum(one.good for one in fired), sum(one.of for one in fired)


def _seen(fired: Sequence[Fired]) -> str:
    good, of = _sums(fired)
    firings = len(_firings(fired))
    return f"{good} of {of} good in {firings} {'firing' if firings == 1 else 'firings'}"


def _by_word(fired: Sequence[Fired]) -> str:
    if not any(one.of for one in fired):
        return "by your own word; no record yet"
    return f"by your own word; the record says {_seen(fired)}"
