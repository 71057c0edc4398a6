"""Whose turn is it to be sent a parcel this month, so that nobody is kept from a fair share?

A few parcels a month go to many supporters. Each month that somebody is eligible, the fair share
grows by k x w / W: k the parcels of that month, w the supporter's weight, W the weights of all who
were eligible. A parcel goes to the one whose claim runs out first (``next_turns``); the record of
months gives everybody's share, parcels sent and what is due (``ledger``).

Laws (a rejected example each):

1. Nobody is ever a whole parcel ahead of or behind the fair share (one supporter of three equal
   ones is not sent two of the first three parcels). Proved while members, weights and the number
   of parcels stay as they are: with one parcel a month the deviation is at most 1 - 1/(2n - 2)
   among n (Tijdeman); with more it is less than 1 at the end of every month (Baruah and others).
   Nobody can promise it while people come, go, pause and change tier, because nobody knows who
   will; the rule then works on from where everybody stands, and law 6 holds still.
2. A pause stops the clock and loses nothing: no eligible month, no growth, and what was due stays.
3. A skip keeps the place: the share grows, somebody else is sent this month's parcel.
4. One parcel a month each, and one a household. A share is never more than a parcel a month: what
   a weight would ask beyond that goes to the others. Whose household is sent one already is passed
   over and keeps the place.
5. Shares are exact fractions. Ties fall by the longest wait, then the earlier joined, then by a
   draw: the SHA-256 of month and key, the lowest first. The same record always gives the same turn,
   and no name or number is before the others month after month (the rejected way: of those who
   joined together the lower number went first every time).
6. Of two whose shares grow alike nobody waits while the other, who is due less, is sent a parcel,
   whatever came before.

Sources: R. Tijdeman, "The chairman assignment problem", Discrete Mathematics 32 (1980) 323-330: of
those whose share less chairs so far is at least 1/(2n - 2), take the one whose bound is reached
first. S. K. Baruah, N. K. Cohen, C. G. Plaxton, D. A. Varvel, "Proportionate progress: a notion of
fairness in resource allocation", Algorithmica 15 (1996) 600-625: those come first who would
otherwise be a whole parcel behind, last those who would be a whole one ahead, and between them
whose share next reaches a whole number first, and then again and again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto
from fractions import Fraction
from hashlib import sha256

from studio.craft.turn_claims import deviation_bound, most_pressing, soonest


class BadTurns(ValueError):
    """Turners or months that cannot be; ``causes`` says where, one sentence each."""

    def __init__(self, *causes: str) -> None:
        self.causes = causes
        super().__init__("; ".join(causes))


def _refuse_if(*rules: tuple[bool, str]) -> None:
    causes = [sentence for broken, sentence in rules if broken]
    if causes:
        raise BadTurns(*causes)


@dataclass(frozen=True, kw_only=True, slots=True)
class Turner:
    """A supporter as the turns see one, before this month's parcels.

    ``weight`` 1 or more (equal for all, or by tier); ``months_paid`` eligible months before this
    one; ``joined_index`` grows with the date of joining; ``eligible`` active and paid up this
    month; ``sent`` parcels sent in turn so far (a replacement for breakage is none).

    ``share`` is the fair share so far as ``ledger`` gives it. Left out for everybody, it is
    reckoned as if members and weights had always been as they are: the parcels sent so far, spread
    by weight x months paid. ``last_sent_index`` grows with the date of the last parcel (None:
    never sent). ``skip`` is the reason for passing over this month, '' for none. ``household`` is
    shared by those of whom one at most is sent a parcel a month, '' for somebody alone.
    """

    key: str
    weight: int
    months_paid: int
    joined_index: int
    eligible: bool
    sent: int
    share: Fraction | None = None
    last_sent_index: int | None = None
    skip: str = ""
    household: str = ""

    def __post_init__(self) -> None:
        _refuse_if(
            (not self.key, "a supporter needs a key"),
            (self.weight < 1, f"{self.key}: a weight is 1 or more"),
            (self.months_paid < 0, f"{self.key}: months paid are 0 or more"),
            (self.sent < 0, f"{self.key}: parcels sent are 0 or more"),
            (self.share is not None and self.share < 0, f"{self.key}: a share is 0 or more"),
        )


class Ground(Enum):
    """What decided a turn."""

    ALONE = auto()
    """Nobody else was eligible."""
    SHARE = auto()
    """The claim of nobody else ran out as soon."""
    WAIT = auto()
    """Of equal claims, the longest wait."""
    JOINED = auto()
    """Of equal claims and waits, the earliest joined."""
    DRAWN = auto()
    """Of those equal in all this, drawn for the month."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """One parcel of the month: who, and why.

    ``share`` [parcels] at the end of this month, ``sent`` before this parcel, ``due`` the
    difference. ``ground`` decided it among the ``among`` who stood equal up to there, this one
    included; nobody else is named, so that it may be told to this supporter.
    """

    key: str
    share: Fraction
    sent: int
    due: Fraction
    ground: Ground
    among: int


@dataclass(frozen=True, kw_only=True, slots=True)
class MonthTurns:
    """The parcels of a month in turn, and whose turn was passed over for the household's sake."""

    choices: tuple[Choice, ...]
    passed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Month:
    """One month of the record: everybody eligible with their weight, and who was sent a parcel."""

    weights: tuple[tuple[str, int], ...]
    sent: tuple[str, ...]

    def __post_init__(self) -> None:
        keys = [key for key, _ in self.weights]
        _refuse_if(
            (len(set(keys)) != len(keys), "a supporter stands twice in a month"),
            (any(weight < 1 for _, weight in self.weights), "a weight is 1 or more"),
            (len(set(self.sent)) != len(self.sent), "a supporter was sent two parcels in a month"),
            (not set(self.sent) <= set(keys), "a parcel went to somebody not eligible that month"),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class LedgerRow:
    """What stands against a supporter's key: fair share, parcels sent, and what is due."""

    key: str
    share: Fraction
    sent: int

    @property
    def due(self) -> Fraction:
        """Share less sent [parcels]: above 0 is owed, below 0 is ahead."""
        return self.share - self.sent


def ledger(*, months: Sequence[Month]) -> tuple[LedgerRow, ...]:
    """Everybody's share, parcels sent and due after these months, in order of first appearance.

    A month of k parcels adds k x w / W to each who was eligible in it, 1 at most, and nothing to
    others, so shares always sum to the parcels sent. Source: see the module.
    """
    shares: dict[str, Fraction] = {}
    sent: dict[str, int] = {}
    for month in months:
        for key, part in month_shares(weights=month.weights, count=len(month.sent)).items():
            shares[key] = shares.get(key, Fraction(0)) + part
        for key in month.sent:
            sent[key] = sent.get(key, 0) + 1
    return tuple(LedgerRow(key=key, share=shares[key], sent=sent.get(key, 0)) for key in shares)


def month_shares(*, weights: Sequence[tuple[str, int]], count: int) -> dict[str, Fraction]:
    """Everybody's fair share of ``count`` parcels of one month [parcels], by weight, 1 at most.

    ``count`` is at most the number of people. What a weight would ask beyond a whole parcel goes
    to the others by their weights.
    """
    shares: dict[str, Fraction] = {}
    rest, open_ = count, list(weights)
    while open_:
        whole = sum(weight for _, weight in open_)
        full = [key for key, weight in open_ if rest * weight > whole]
        if not full:
            shares |= {key: Fraction(rest * weight, whole) for key, weight in open_}
            break
        shares |= dict.fromkeys(full, Fraction(1))
        rest -= len(full)
        open_ = [(key, weight) for key, weight in open_ if key not in shares]
    return {key: shares[key] for key, _ in weights}


def next_turns(
    *, turners: Sequence[Turner], count: int, month: int, served: Collection[str] = ()
) -> tuple[Choice, ...]:
    """The month's parcels to eligible supporters, in turn: the choices of ``month_turns``."""
    return month_turns(turners=turners, count=count, month=month, served=served).choices


def month_turns(
    *, turners: Sequence[Turner], count: int, month: int, served: Collection[str] = ()
) -> MonthTurns:
    """The month's parcels to eligible supporters, in turn, and who was passed over.

    ``month`` is the number of the month, for the draw. ``count`` parcels, 0 or more; fewer are
    chosen when fewer may be sent one (one each a month, one a household). Eligible supporters with
    a ``skip`` gain share and are passed over. ``served`` are households that were sent one in this
    month already.

    Raises ``BadTurns`` when a key stands twice, a share is given to some only, or ``count`` is
    negative. Source: see the module.
    """
    keys = [turner.key for turner in turners]
    given = [turner.share is not None for turner in turners]
    _refuse_if(
        (count < 0, "a month has 0 parcels or more"),
        (len(set(keys)) != len(keys), "a supporter stands twice among the turns"),
        (any(given) and not all(given), "a share is given to some supporters and not to others"),
    )
    before = _shares(turners)
    eligible = [turner for turner in turners if turner.eligible]
    waiting = [turner for turner in eligible if not turner.skip]
    count = min(count, len(waiting))
    growth = month_shares(weights=[(t.key, t.weight) for t in eligible], count=count)
    homes = {home for home in served if home}
    choices: list[Choice] = []
    passed: list[str] = []
    while waiting and len(choices) < count:
        due = {t.key: before[t.key] + growth[t.key] - t.sent for t in waiting}
        if count == 1:
            first = soonest(due=due, growth=growth, bound=deviation_bound(len(eligible)))
        else:
            first = most_pressing(due=due, growth=growth)
        tied = [turner for turner in waiting if turner.key in first]
        turner = min(tied, key=lambda one: (_waited(one), one.joined_index, draw(month, one.key)))
        waiting.remove(turner)
        if turner.household in homes:
            passed.append(turner.key)
            continue
        homes |= {turner.household} - {""}
        ground, among = _ground(turner, tied)
        share = before[turner.key] + growth[turner.key]
        choices.append(
            Choice(
                key=turner.key,
                share=share,
                sent=turner.sent,
                due=share - turner.sent,
                ground=Ground.ALONE if len(eligible) == 1 else ground,
                among=among,
            )
        )
    return MonthTurns(choices=tuple(choices), passed=tuple(passed))


def draw(month: int, key: str) -> bytes:
    """The lot that a key draws in a month; the lowest goes first."""
    return sha256(f"{month}:{key}".encode()).digest()


def months_until_turn(
    *, turners: Sequence[Turner], count: int, month: int, at_most: int = 120
) -> dict[str, int]:
    """In how many months each eligible supporter's next parcel comes, if nothing changes.

    1 is this month, whose number is ``month``. ``count`` parcels a month; who has no turn within
    ``at_most`` months, or is not eligible, is left out. A skip is for this month only.

    Raises ``BadTurns`` as ``next_turns`` does. Source: see the module.
    """
    before = _shares(turners)
    now = [replace(turner, share=before[turner.key]) for turner in turners]
    latest = max((t.last_sent_index or 0 for t in turners), default=0)
    found: dict[str, int] = {}
    for nth in range(1, at_most + 1):
        chosen = next_turns(turners=now, count=count, month=month + nth - 1)
        sent = [choice.key for choice in chosen]
        for key in sent:
            found.setdefault(key, nth)
        if not sent or len(found) == sum(turner.eligible for turner in turners):
            break
        now = _after(now, sent, index=latest + nth)
    return found


def _after(turners: Iterable[Turner], sent: Sequence[str], *, index: int) -> list[Turner]:
    """The turners one month on, shares grown, parcels counted, skips over."""
    turners = list(turners)
    grown_by = month_shares(
        weights=[(turner.key, turner.weight) for turner in turners if turner.eligible],
        count=len(sent),
    )
    later = []
    for turner in turners:
        grown = grown_by.get(turner.key, Fraction(0))
        got = turner.key in sent
        later.append(
            replace(
                turner,
                share=(turner.share or Fraction(0)) + grown,
                sent=turner.sent + got,
                last_sent_index=index if got else turner.last_sent_index,
                skip="",
            )
        )
    return later


def _shares(turners: Sequence[Turner]) -> dict[str, Fraction]:
    """The shares as given, or else the parcels so far spread by weight x months paid."""
    parcels = sum(turner.sent for turner in turners)
    whole = sum(turner.weight * turner.months_paid for turner in turners)
    return {
        turner.key: turner.share
        if turner.share is not None
        else Fraction(parcels * turner.weight * turner.months_paid, whole or 1)
        for turner in turners
    }


def _waited(turner: Turner) -> tuple[int, int]:
    """Lower is longer: never sent comes before every month of a last parcel."""
    last = turner.last_sent_index
    return (0, 0) if last is None else (1, last)


def _ground(turner: Turner, tied: Sequence[Turner]) -> tuple[Ground, int]:
    """What set this one apart from the tied, and among how many."""
    if len(tied) == 1:
        return Ground.SHARE, 1
    waited = [one for one in tied if _waited(one) == _waited(turner)]
    if len(waited) == 1:
        return Ground.WAIT, len(tied)
    joined = [one for one in waited if one.joined_index == turner.joined_index]
    if len(joined) == 1:
        return Ground.JOINED, len(waited)
    return Ground.DRAWN, len(joined)
