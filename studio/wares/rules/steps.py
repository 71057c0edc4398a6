"""Which step may a board or a piece take next, and in which words is a wrong one refused?"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from studio.wares.rules.catalogue import FAULTS, FIRES_GLAZE, can_refire, can_stand

NEXT_STAGE = {
    "thrown": "bisqued",
    "bisqued": "glazed",
    "glazed": "fired",
    "fired": "graded",
    "graded": "listed",
}

PROMISES = ("claim", "parcel", "spare", "held")
LOSSES = ("broken", "scrapped")
MOST_ON_A_BOARD = 500
LABEL_LENGTH = 12
CAUSE_LENGTH = 120
OLDEST_DAYS = 10 * 366

OTHERS_NUMBER = "Others are numbering pieces at this moment. Nothing was changed; try again."


def can_take(*, label: str, count: int, holds: int) -> str | None:
    """May ``count`` pieces be taken from a board that holds so many?"""
    if count < 1:
        return "Say how many: 1 or more."
    if holds == 0:
        return f"Board {label} is empty."
    if count > holds:
        return f"Board {label} holds {holds}, so {count} cannot be taken from it."
    return None


def can_touch(*, label: str, kiln: str | None) -> str | None:
    """May a board be worked on? Not while it stands in a kiln, named here."""
    if kiln is None:
        return None
    return f"Board {label} is in {kiln}. Open that kiln, or take the board out there, first."


def can_step(*, stage: str, to_stage: str) -> str | None:
    """May a piece go from one stage straight to the other?"""
    following = NEXT_STAGE.get(stage)
    if following == to_stage:
        return None
    if following is None:
        return f"A {stage} piece has no further stage, so it cannot go to {to_stage}."
    return f"From {stage} the next stage is {following}, not {to_stage}."


def can_use_label(*, label: str, holds: int) -> str | None:
    """May a board be called so? ``holds`` is how many pieces a board of that name has now."""
    if not label.strip():
        return "A board needs a label."
    if len(label) > LABEL_LENGTH:
        return f"The label “{label}” is too long: {LABEL_LENGTH} characters at most."
    if holds:
        return f"The label {label} is already used by a board with {holds} on it. Take another."
    return None


def can_throw(
    *,
    count: int,
    made_date: date,
    today_date: date,
    form: str = "",
    usual: int = 0,
    sure: bool = True,
) -> str | None:
    """May so many pieces be written down as made on that day?

    ``usual``: how many of the form go on a board as a rule, 0 when nobody knows; more than three
    times that is asked about once.
    """
    if count < 1:
        return "Say how many were thrown: 1 or more."
    if count > MOST_ON_A_BOARD:
        return f"{count} on one board? {MOST_ON_A_BOARD} at most; use more boards."
    if made_date > today_date:
        return f"{made_date:%d %b %Y} is in the future: write down what is thrown already."
    if made_date < today_date - timedelta(days=OLDEST_DAYS):
        return f"{made_date:%d %b %Y} is more than ten years ago. Check the year."
    if usual and count > 3 * usual and not sure:
        return (
            f"{count} × {form} on one board is more than three times the usual {usual}. Look at the"
            " number, and tick below if it is right."
        )
    return None


def is_early(*, dry_date: date, made_date: date, drying_days: int) -> bool:
    """Would it be dry in under half of the days that its form usually takes? Then it is asked."""
    return 2 * (dry_date - made_date).days < drying_days


def can_dry(
    *,
    label: str,
    stage: str,
    dry_date: date,
    made_date: date,
    today_date: date,
    form: str,
    drying_days: int,
    sure: bool,
) -> str | None:
    """May a board be marked bone dry on that day? Long before its time only if one is ``sure``."""
    if stage != "thrown":
        return f"Board {label} is {stage}: only a thrown board can be marked bone dry."
    if dry_date > today_date:
        return f"{dry_date:%d %b %Y} is in the future: mark a board dry when it is seen to be dry."
    if dry_date < made_date:
        return (
            f"Board {label} was thrown on {made_date:%d %b %Y},"
            f" so it cannot have been dry on {dry_date:%d %b %Y}."
        )
    if not sure and is_early(dry_date=dry_date, made_date=made_date, drying_days=drying_days):
        return (
            f"{form} usually dries in {drying_days} days, and board {label} was thrown on"
            f" {made_date:%d %b %Y}. Damp ware blows up in the bisque: feel it, and tick below if"
            " it is not cold to the cheek and one colour all over."
        )
    return None


def can_be_damp_again(*, label: str, stage: str, kiln: str | None) -> str | None:
    """May it be taken back that a board was dry? Not once it was loaded or fired for that."""
    if kiln is not None:
        return too_late_to_undo(f"board {label} stands in {kiln} now.")
    if stage not in ("thrown", ""):
        return too_late_to_undo(f"board {label} is {stage} now.")
    return None


def can_glaze(*, label: str, stage: str, count: int, lost: int, holds: int) -> str | None:
    """May so many of a board be glazed and so many be lost?"""
    if stage != "bisqued":
        return can_step(stage=stage, to_stage="glazed")
    if count < 0 or lost < 0:
        return "Counts cannot be below 0."
    return can_take(label=label, count=count + lost, holds=holds)


def can_photograph(*, name: str, number: int | None) -> str | None:
    """May a piece have a photograph of its own? Only a numbered one can be told from others."""
    if number is None:
        return f"{name} has no number yet: grade it first, then photograph it."
    return None


def can_pass_firing(
    *,
    stage: str,
    to_stage: str,
    firing: str,
    firing_state: str,
    firing_kind: str,
    firing_schedule: str,
    own_schedule: str | None,
    cone: str,
    clay_lot: str,
    clay_top_cone: str,
) -> str | None:
    """May a piece go to bisqued or fired because of this firing?"""
    wanted = {"bisqued": ("bisque",), "fired": FIRES_GLAZE}.get(to_stage)
    if wanted is None or can_step(stage=stage, to_stage=to_stage):
        return can_step(stage=stage, to_stage=to_stage) or (
            f"A firing does not bring pieces to {to_stage}."
        )
    if firing_state != "opened":
        return f"The firing {firing} is not opened, so nothing can be {to_stage} by it."
    if firing_kind not in wanted:
        return f"The firing {firing} is a {firing_kind} firing: nothing can be {to_stage} by it."
    if own_schedule is not None and own_schedule != firing_schedule:
        return f"These pieces are glazed for {own_schedule}; {firing} fires {firing_schedule}."
    return can_stand(
        what=f"The clay {clay_lot}", top_cone=clay_top_cone, schedule=firing_schedule, cone=cone
    )


def can_grade(
    *,
    label: str,
    stage: str,
    firsts: int,
    seconds: int,
    refires: int,
    scraps: int,
    holds: int,
    form: str,
    may_refire: bool,
) -> str | None:
    """May a fired board be graded into these counts? What is not counted stays ungraded."""
    if stage != "fired":
        return can_step(stage=stage, to_stage="graded") or f"Board {label} is {stage} already."
    if min(firsts, seconds, refires, scraps) < 0:
        return "Counts cannot be below 0."
    if refires and (sentence := can_refire(form=form, may_refire=may_refire)):
        return sentence
    if sentence := can_sort(counts=(firsts, seconds, refires, scraps), holds=holds):
        return sentence
    return can_take(label=label, count=firsts + seconds + refires + scraps, holds=holds)


def can_sort(*, counts: Sequence[int], holds: int) -> str | None:
    """Do so many of each stand on the board? "8 + 4 is 12, but 10 stand here."."""
    if sum(counts) <= holds:
        return None
    stand = "1 stands" if holds == 1 else f"{holds} stand"
    some = [str(n) for n in counts if n]
    if len(some) == 1:
        return f"You counted {some[0]}, but {stand} here."
    return f"{' + '.join(some)} is {sum(counts)}, but {stand} here."


def can_see_fault(*, name: str, fault: str, seen: bool) -> str | None:
    """May a fault be written down for a piece?"""
    if fault not in dict(FAULTS):
        return "Choose which fault it is."
    if seen:
        return f"{name}: this fault is written down already."
    return None


def can_lose(*, parting: str, cause: str) -> str | None:
    """May a loss be written down so? It is broken or scrapped, and has a cause."""
    if parting not in LOSSES:
        return f"A loss is broken or scrapped, not “{parting}”."
    if not cause.strip():
        return "Say what happened: losses without a cause cannot be learnt from."
    return can_note(cause)


def can_note(note: str) -> str | None:
    """May a cause or note be so long?"""
    if len(note) > CAUSE_LENGTH:
        return f"Say it in {CAUSE_LENGTH} characters at most; this is {len(note)}."
    return None


def can_part(*, name: str, parting: str, gone: str, promise: str | None) -> str | None:
    """May a piece leave? ``gone`` is how it left already, ``promise`` what it is promised for."""
    if gone:
        return f"{name} is {gone} already."
    if promise is not None:
        return f"{name} is promised ({promise}), so it cannot be {parting}. Release it first."
    return None


def can_list(
    *, name: str, stage: str, gone: str, promise: str | None, at_fault: str = ""
) -> str | None:
    """May a piece be offered for sale?"""
    if gone:
        return f"{name} is {gone} already."
    if promise is not None:
        return f"{name} is promised ({promise}), so it cannot be listed. Release it first."
    return at_fault or can_step(stage=stage, to_stage="listed")


def can_take_off_list(*, name: str, stage: str, gone: str) -> str | None:
    """May a piece be taken off the list?"""
    if gone:
        return f"{name} is {gone} already."
    if stage != "listed":
        return f"{name} is {stage}, not listed."
    return None


def can_promise_as(kind: str) -> str | None:
    """Is this a kind of promise?"""
    if kind in PROMISES:
        return None
    return f"A piece is promised as one of {', '.join(PROMISES)}, not “{kind}”."


def can_reserve(*, name: str, stage: str, gone: str, promise: str | None) -> str | None:
    """May a piece be promised? Only a graded one that nobody was promised yet."""
    if gone:
        return f"{name} is {gone} already."
    if promise is not None:
        return f"{name} is promised already ({promise}). A piece carries one promise."
    if stage == "listed":
        return f"{name} is listed for sale. Take it off the list before it is promised."
    if stage != "graded":
        return f"{name} is {stage}. Only a graded piece can be promised."
    return None


def can_release(*, name: str, kind: str | None, owner: str = "") -> str | None:
    """May a promise of this kind be taken back by whoever looks after ``owner`` promises?"""
    if kind is None:
        return f"{name} is promised to nobody."
    if kind == "parcel" and owner != "parcel":
        return f"{name} is in a parcel. Take it out of that parcel first."
    return None


def can_split(*, label: str, count: int, holds: int) -> str | None:
    """May so many be put on another board? The board keeps one at least."""
    if count == holds and holds > 0:
        return f"All {holds} would leave board {label}. Change its label instead."
    return can_take(label=label, count=count, holds=holds)


def can_merge(*, label: str, into: str, differ: str | None) -> str | None:
    """May a board be put onto another? ``differ`` names the first thing that is not the same."""
    if label == into:
        return f"Board {label} cannot be put onto itself."
    if differ is not None:
        return (
            f"Boards {label} and {into} differ in {differ}."
            " A board holds pieces of one kind at one stage."
        )
    return None


def not_as_seen(*, label: str, now: str, happened: str) -> str:
    """Say that a board changed under somebody's hands. ``happened`` is "who, 10:04: ..." or ''."""
    what = f" {happened}" if happened else ""
    return f"Board {label} is not as you saw it: {now}.{what} Nothing was changed."


def too_late_to_undo(later: str) -> str:
    """Say why a change stands: ``later`` names what was built on it."""
    return f"This can no longer be undone: {later}"
