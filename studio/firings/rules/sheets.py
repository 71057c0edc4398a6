"""May a load be drawn, and may a piece on it be moved, left out or changed for another?"""

from __future__ import annotations

from collections.abc import Sequence

from studio.craft.quantities import LengthUnit, show_length

NOTHING_TO_DRAW = (
    "Nothing is loaded, and nothing is written down that it is meant to hold. Load a board, or"
    " plan what goes in; then draw the load."
)
DRAWN_SINCE = (
    "This load was drawn again since you saw it. Nothing was changed; look at the new drawing."
)
LOAD_CHANGED = (
    "The load changed while it was drawn. Nothing was changed; look at it, then draw it again."
)


def can_draw(*, state: str, kiln: str, asked: int, kind: str = "glaze") -> str:
    """Whether a load may be drawn now. ``asked``: how many pieces are to stand in it."""
    if state in ("firing", "cooling"):
        return f"{kiln} is lit: its load stays as it was drawn until it is opened."
    if state == "opened":
        return "This firing was opened: where its pieces stood is part of the record now."
    if state == "called_off":
        return "This firing was called off. Plan another firing."
    if kind not in ("bisque", "glaze"):
        return f"A {kind} firing takes no boards, so there is no load to draw."
    return "" if asked else NOTHING_TO_DRAW


def can_mark(*, state: str, kiln: str) -> str:
    """Whether a place of a drawn load may be changed now."""
    return can_draw(state=state, kiln=kiln, asked=1)


def drawn_meanwhile(*, by: str) -> str:
    """Two people drew the same load; ``by`` says who was first, and when."""
    return (
        f"This load was drawn meanwhile{f' by {by}' if by else ''}. Nothing was changed; look at"
        " that drawing first."
    )


def changed_meanwhile(*, number: int, by: str) -> str:
    """Somebody else changed a place since this person saw it."""
    return (
        f"Place {number} was changed meanwhile{f' by {by}' if by else ''}. Nothing was changed;"
        " look at the drawing again."
    )


def can_leave_out(*, number: int, is_free: bool) -> str:
    """Whether what stands at a place may be left out."""
    return f"Place {number} is free already." if is_free else ""


def can_pin(*, number: int, is_free: bool, has_spot: bool, tier: int = 0) -> str:
    """Whether what stands at a place may keep it when the load is drawn again.

    ``tier`` over 0: it stands on or in another piece.
    """
    if is_free:
        return f"Place {number} is free: nothing stands there to keep it."
    if not has_spot:
        return f"Place {number} was moved by hand, so its exact spot is not known. Draw it again."
    if tier:
        return f"Place {number} stands on or in another piece: keep the place of that one."
    return ""


def can_stand(
    *,
    what: str,
    height_mm: int,
    clear_mm: int,
    level: int,
    unit: LengthUnit = "mm",
) -> str:
    """Whether a piece stands under the next shelf."""
    if height_mm <= clear_mm:
        return ""
    return (
        f"{what} goes in {show_length(height_mm, unit=unit)} tall; level {level} has"
        f" {show_length(clear_mm, unit=unit)} under the shelf over it."
    )


def runs_there(*, what: str, level: int, is_over: bool) -> str:
    """Runny ware stands under what is not, and a piece is moved to where it would not."""
    if is_over:
        return (
            f"{what} may run: on level {level} it would stand over ware that its glaze could drip"
            " on. Runny ware stands low in this load."
        )
    return (
        f"{what} does not stand on level {level}: ware over it may run, and its glaze could drip"
        " down. Runny ware stands low in this load."
    )


def no_room_there(
    *,
    what: str,
    level: int,
    within_mm: float,
    touches: Sequence[str],
    nearest_mm: float | None,
    unit: LengthUnit = "mm",
) -> str:
    """A piece was moved to where it does not stand clear; ``touches``: what is in its way."""
    near = show_length(within_mm, unit=unit)
    why = f": it would touch {_all_of(touches)}" if touches else ""
    if nearest_mm is None:
        rest = f"No room for it was found anywhere on level {level}."
    else:
        rest = f"The nearest that was found is {show_length(nearest_mm, unit=unit)} away."
    return f"No room for {what} within {near} of there on level {level}{why}. {rest}"


def no_room_in_part(*, what: str, level: int) -> str:
    """No room was found in a part of a level, with nothing else moved."""
    return f"No room for {what} was found there on level {level}, with nothing else moved."


def stands_in_the_way(*, number: int, touches: Sequence[str]) -> str:
    """A place that was free is not clear any more: something was moved there by hand."""
    return f"Place {number} is not clear: what was drawn there would touch {_all_of(touches)}."


def point_words(*, x_mm: float, y_mm: float, unit: LengthUnit = "mm") -> str:
    """A point of a level from the kiln's middle: '120 mm right and 40 mm back of the middle'."""
    aside = show_length(abs(x_mm), unit=unit)
    along = show_length(abs(y_mm), unit=unit)
    sideways, deep = "right" if x_mm >= 0 else "left", "back" if y_mm >= 0 else "front"
    return f"{aside} {sideways} and {along} {deep} of the middle"


def _all_of(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 2 else words)


NO_POINT = "Tap on the drawing where it stands now, or choose a part of the level."


def can_take_its_place(*, what: str, instead_of: str, fits: bool) -> str:
    """Whether a piece may stand where another was drawn: it is no wider and no taller."""
    if fits:
        return ""
    return (
        f"{what} is wider or taller than {instead_of}, or its glaze runs: it would touch what"
        " stands beside it or drip on it."
    )


def no_such_level(*, level: int, levels: int) -> str:
    """A level that this load has not."""
    return f"This load has levels 1 to {levels}; there is no level {level}."


def no_such_place(*, number: str) -> str:
    """A number that is not on the drawing."""
    return f"There is no place {number[:20]} on this drawing." if number else "Write a number."


WRONG_FURNITURE = (
    "Such furniture cannot be. Shelves are 3 to 60 mm thick and up to 40 of a kind, posts 10 to 600"
    " mm high, gaps to the wall up to 200 mm; the thermocouple ends inside the kiln."
)
