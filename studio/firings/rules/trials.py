"""How much of a line that is not proven may stand in one load?

An untried line is fired small first, in a kiln that takes trials. A line on trial may take a part
of any kiln, in a kiln that takes trials never less than an untried one. A proven line is free.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Trials:
    """The studio's own word on trials: pieces, and per cent of a kiln's room."""

    least_pieces: int = 2
    most_pieces: int = 6
    share_percent: int = 25


def trial_sizes(*, least_pieces: int, most_pieces: int, share_percent: int = 25) -> str:
    """Whether trials of these sizes can be."""
    if least_pieces < 1:
        return "A trial has at least 1 piece."
    if most_pieces < least_pieces:
        return f"A trial of at most {most_pieces} cannot have at least {least_pieces}."
    if most_pieces > 999:
        return f"A trial of {most_pieces} pieces is no trial. Give 999 or fewer."
    if not 1 <= share_percent <= 100:
        return f"{share_percent} % of a kiln cannot be. Give 1 to 100."
    return ""


def most_of(
    *,
    standing: str,
    trials: Trials,
    takes_trials: bool,
    piece_tenths: int,
    room_tenths: int,
    inside: int,
) -> int | None:
    """How many more pieces of a line may go into a load; None is no limit.

    ``standing``: untried, trial or proven. ``piece_tenths`` and ``room_tenths``: the room of one
    and of the kiln [tenths of a mug place]; ``inside``: how many of the line stand in it.
    """
    if standing == "proven":
        return None
    small = trials.most_pieces if takes_trials else 0
    if standing == "untried":
        return max(small - inside, 0)
    share = room_tenths * trials.share_percent // (100 * piece_tenths)
    return max(max(share, small) - inside, 0)
