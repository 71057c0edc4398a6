"""What is said of the hours of a firing: who must be there, and when is that in the night?"""

from __future__ import annotations

from datetime import time

LOCAL = (
    "Whether a kiln may fire while nobody is awake is for your local codes, your insurer and the"
    " kiln's maker to say; their word goes before this page."
)


def can_set_night(*, night_from: time, night_until: time) -> str:
    """Whether a night can be so."""
    if night_from == night_until:
        return "A night begins and ends at two times. Write when nobody is awake."
    return ""


def can_set_start(*, state: str, kiln: str) -> str:
    """Whether the hour of lighting of a firing may still be chosen."""
    if state in ("firing", "cooling"):
        return f"{kiln} is lit already."
    if state == "opened":
        return "This firing was opened."
    if state == "called_off":
        return "This firing was called off."
    return ""


def in_the_night(*, lit: bool, top: bool, night_from: time, night_until: time) -> str:
    """A caution that a firing is lit or at its top in the night; '' when it is neither."""
    if not (lit or top):
        return ""
    what = "It would be lit and may reach its top" if lit and top else (
        "It would be lit" if lit else "It may be at its top"
    )  # fmt: skip
    return (
        f"{what} in the night ({night_from:%H:%M} to {night_until:%H:%M}). Somebody is awake and"
        f" there for both. {LOCAL}"
    )
