"""What is said before somebody loads, lights or opens a kiln?

Our own words, common practice, no source: they remind, they do not teach. Local codes, the kiln
maker's manual and a licensed electrician go before every one of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, kw_only=True, slots=True)
class Caution:
    """A heading and its sentences."""

    title: str
    sentences: tuple[str, ...]
    most_at: int = 0

    @property
    def most(self) -> str:
        """The sentence that stays in sight where the others are folded away."""
        return self.sentences[self.most_at]


FIRST: Final = (
    "The kiln maker's manual and your local codes go before anything written here. Wiring, plugs"
    " and repairs are for a licensed electrician."
)

LOADING: Final = Caution(
    title="Before you load",
    sentences=(
        "Switch the kiln off at the wall before hands or tools go near the elements.",
        "Lift shelves close to the body, and two people for a full shelf or for the bottom of a"
        " deep kiln.",
        "Reach into a deep kiln from a firm step, your weight on your feet, never on the wall.",
        "Wear glasses and gloves: glaze drips on shelves cut like glass. Kiln wash and kiln dust"
        " hold silica: wipe them up wet, never sweep or blow.",
        "Keep ware, shelves and posts clear of elements and thermocouple.",
        FIRST,
    ),
)

LIGHTING: Final = Caution(
    title="Before you light",
    most_at=1,
    sentences=(
        "Read the cone and the temperature on the controller aloud. Do they say the same as this"
        " page?",
        "Run the ventilation and let in outdoor air: a firing kiln gives off carbon monoxide and"
        " other fumes. Work somewhere else while it fires.",
        "Clear away what burns, as far round the kiln as its maker and your local codes ask.",
        "Somebody is there at the expected end and sees it go off: a stuck contact can keep a kiln"
        " heating although its controller says off. Then switch it off at the wall.",
        "Look into a hot kiln only through glasses made for it.",
        FIRST,
    ),
)

COOLING: Final = Caution(
    title="While it cools",
    sentences=(
        "Switch it off at the wall too, and see that it grows cooler.",
        "Keep the ventilation running and the lid shut. Leave bungs and lid as the maker's manual"
        " says.",
        FIRST,
    ),
)

OPENING: Final = Caution(
    title="Before you open",
    most_at=1,
    sentences=(
        "Switch the kiln off at the wall first.",
        "Wait for the kiln's own reading, not for a clock: the hours on this page are reckoned.",
        "Lift the lid a little at a time with your face turned away; wear heat-proof gloves and"
        " glasses. Shelves stay hot long after the air.",
        "Drips and broken glaze cut like glass. Wipe kiln wash and dust up wet.",
        FIRST,
    ),
)

ON_PAPER: Final = (
    "The kiln maker's manual and your local codes come first; wiring is for an electrician.",
    "Off at the wall before hands or tools go in. Metal and shelves stay hot for hours.",
    "Glasses and gloves; wipe dust up wet. Lift close to the body, two for a full shelf.",
    "Ventilation on, outdoor air in: kiln fumes harm. Work somewhere else while it fires.",
    "Somebody is there at the expected end and sees it go off.",
)
"""What goes to the kiln's side, each short enough for one line; the pages say the rest."""
