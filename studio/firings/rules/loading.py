"""May this ware go into this kiln on this schedule, and if not, why not?"""

from __future__ import annotations

from dataclasses import dataclass, field

from studio.craft.cones import hotter
from studio.craft.load import clear_height_mm
from studio.craft.quantities import LengthUnit, show_length
from studio.firings.rules.trials import Trials, most_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Batch:
    """What one board holds, as far as a kiln is concerned."""

    board: str
    what: str
    count: int
    stage: str
    is_dry: bool
    clay: str
    clay_top_cone: str
    coats: str = ""
    coats_top_cone: str = ""
    schedule: str = ""
    schedule_id: int | None = None
    going_in_mm: int = 1
    room_tenths: int = 1
    standing: str = "proven"
    line_in_load: int = 0
    in_load: str = ""
    in_this_load: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Load:
    """A firing, as far as what goes into it is concerned."""

    state: str
    kiln: str
    kiln_top_cone: str
    inside_height_mm: int
    takes_trials: bool
    schedule: str
    schedule_id: int
    kind: str
    cone: str
    has_run: bool
    room_tenths: int
    trials: Trials
    busy_with: str = ""
    trial_kilns: tuple[str, ...] = field(default=())


def can_load(
    *, batch: Batch, load: Load, count: int | None = None, length_unit: LengthUnit = "mm"
) -> str:
    """Whether a board, or ``count`` pieces of it, may go into a load."""
    offered = batch.count if count is None else count
    return (
        takes_ware(load=load)
        or _whole(batch, offered)
        or _elsewhere(batch)
        or _right_kind(batch, load)
        or too_hot(what=batch.what, clay=batch.clay, clay_top_cone=batch.clay_top_cone,
                   coats=batch.coats, coats_top_cone=batch.coats_top_cone, cone=load.cone)
        or too_tall(what=batch.what, going_in_mm=batch.going_in_mm, kiln=load.kiln,
                    inside_height_mm=load.inside_height_mm, unit=length_unit)
        or _trial(batch, load, offered)
    )  # fmt: skip


def takes_ware(*, load: Load) -> str:
    """Whether anything at all may go into this load now."""
    if load.state in ("firing", "cooling"):
        return f"{load.kiln} is lit: nothing goes in or out until it is opened."
    if load.state == "opened":
        return "This firing was opened, so its load is closed. Plan another firing."
    if load.state == "called_off":
        return "This firing was called off. Plan another firing."
    if load.busy_with:
        return f"{load.kiln} is busy: {load.busy_with}. It does one firing at a time."
    return fits_kiln(
        kiln=load.kiln,
        kiln_top_cone=load.kiln_top_cone,
        schedule=load.schedule,
        cone=load.cone,
        has_run=load.has_run,
    )


def fits_kiln(*, kiln: str, kiln_top_cone: str, schedule: str, cone: str, has_run: bool) -> str:
    """Whether a kiln may fire a schedule."""
    if hotter(cone, kiln_top_cone):
        return f"{kiln} goes to cone {kiln_top_cone} at most; {schedule} goes to cone {cone}."
    if not has_run:
        return (
            f"{kiln} has no run of {schedule} yet. Write on its page how many days that keeps it"
            " busy and what it costs."
        )
    return ""


def too_hot(
    *, what: str, clay: str, clay_top_cone: str, coats: str, coats_top_cone: str, cone: str
) -> str:
    """Whether a clay and its coats stand the heat of a cone."""
    if hotter(cone, clay_top_cone):
        return (
            f"The clay {clay} goes to cone {clay_top_cone} at most; this schedule goes to cone"
            f" {cone}, and {what} would slump or bloat."
        )
    if coats and hotter(cone, coats_top_cone):
        return (
            f"The coats {coats} go to cone {coats_top_cone} at most; this schedule goes to cone"
            f" {cone}, and they would run."
        )
    return ""


def too_tall(
    *, what: str, going_in_mm: int, kiln: str, inside_height_mm: int, unit: LengthUnit = "mm"
) -> str:
    """Whether a form, as tall as it goes in, stands under the lid of a kiln on its lowest shelf."""
    clear_mm = clear_height_mm(inside_height_mm=inside_height_mm)
    if going_in_mm <= clear_mm:
        return ""
    return (
        f"{what} goes in {show_length(going_in_mm, unit=unit)} tall, before it shrinks; {kiln} has"
        f" {show_length(clear_mm, unit=unit)} of height over its lowest shelf and under its lid."
    )


def _whole(batch: Batch, count: int) -> str:
    if batch.count < 1:
        return f"Board {batch.board} is empty."
    if count < 1:
        return "Write how many go in: 1 or more."
    if count > batch.count:
        return f"Board {batch.board} holds {batch.count}, so {count} cannot go in."
    return ""


def _elsewhere(batch: Batch) -> str:
    if batch.in_this_load:
        return f"Board {batch.board} is in this load already."
    if batch.in_load:
        return f"Board {batch.board} is in another load: {batch.in_load}. Take it out there first."
    return ""


def _right_kind(batch: Batch, load: Load) -> str:
    board = f"Board {batch.board}"
    if load.kind == "bisque":
        if batch.stage != "thrown":
            return f"{board} is {batch.stage} already; a bisque firing takes thrown, dry ware."
        if not batch.is_dry:
            return (
                f"{board} is not recorded dry. Damp ware bursts in the kiln: see that it is bone"
                " dry, record it, then load it."
            )
        return ""
    if load.kind == "lustre":
        return (
            f"A lustre firing changes no stage, so boards are not loaded for it: write in its note"
            f" what goes in. {board} stays where it is."
        )
    if batch.stage == "thrown":
        return f"{board} is not bisqued yet; this is a glaze firing."
    if batch.stage == "bisqued":
        return f"{board} is not glazed yet; this is a glaze firing."
    if batch.stage != "glazed":
        return f"{board} is {batch.stage} already; a glaze firing takes glazed ware."
    if batch.schedule_id != load.schedule_id:
        return f"{board} was glazed for {batch.schedule}; this firing is {load.schedule}."
    return ""


def most_of_batch(*, batch: Batch, load: Load) -> int | None:
    """How many more of a board's line a load may hold; None is no limit."""
    if load.kind == "bisque" or not batch.coats:
        return None
    return most_of(
        standing=batch.standing,
        trials=load.trials,
        takes_trials=load.takes_trials,
        piece_tenths=batch.room_tenths,
        room_tenths=load.room_tenths,
        inside=batch.line_in_load,
    )


def _trial(batch: Batch, load: Load, count: int) -> str:
    most = most_of_batch(batch=batch, load=load)
    if most is None or count <= most:
        return ""
    line = f"{batch.what} in {batch.coats}"
    if batch.standing == "untried" and not load.takes_trials:
        where = " or ".join(load.trial_kilns)
        go = f"first a few of it go into {where}" if where else "no kiln takes trials yet"
        return f"{line} is untried, and {load.kiln} takes no trials: {go}."
    held = f"{batch.line_in_load} in it already, " if batch.line_in_load else ""
    part = " Load a part of the board." if most else ""
    limit = most + batch.line_in_load
    if batch.standing == "untried":
        return (
            f"{line} is untried: at most {limit} of it go into one load"
            f" ({held}{count} offered).{part}"
        )
    return (
        f"{line} is on trial: at most {limit} of it go into {load.kiln}, about"
        f" {load.trials.share_percent} % of its room ({held}{count} offered).{part}"
    )


def can_take_out(*, state: str, kiln: str, board: str, standing: int) -> str:
    """Whether a board may be taken out of a load again."""
    if state in ("firing", "cooling"):
        return f"{kiln} is lit: nothing goes in or out until it is opened."
    if not standing:
        return f"Board {board} is not in this load."
    return ""


def looks_full(*, kiln: str, used_tenths: int, room_tenths: int) -> str:
    """A caution, no refusal: the potter's eye knows how ware nests better than a sum does."""
    if used_tenths <= room_tenths:
        return ""
    return (
        f"{kiln} looks fuller than its usual room: about {places(used_tenths)} mug places in a kiln"
        f" of about {places(room_tenths)}. See that the air can move and nothing touches."
    )


def places(tenths: int) -> str:
    """Tenths of a mug place as people say them: 310 is '31', 315 is '31.5'."""
    whole, part = divmod(tenths, 10)
    return f"{whole}.{part}" if part else str(whole)


def can_mean(*, what: str, kind: str, has_coats: bool, count: int) -> str:
    """Whether a planned firing may be meant to hold a ware."""
    if count < 1:
        return f"{what}: write how many, 1 or more."
    if kind == "bisque" and has_coats:
        return f"{what}: a bisque firing takes ware without coats."
    if kind == "lustre":
        return f"{what}: a lustre firing is planned without ware. Write in its note what goes in."
    if kind != "bisque" and not has_coats:
        return f"{what}: a glaze firing takes glazed ware. Choose its coats."
    return ""


def overtaken(*, board: str, kiln: str) -> str:
    """Two people loaded at the same moment, and the other one was first."""
    return (
        f"Somebody else was quicker: board {board} or {kiln} is in use now. Nothing was changed;"
        " look at the page again."
    )
