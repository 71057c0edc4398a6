"""What may glazes, clays and schedules be to each other, and which faults are known?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from studio.craft.cones import hotter

FIRES_GLAZE: Final = ("glaze", "raku")
"""The kinds of schedule that glazed ware is fired by; raku is one that ends with tongs."""


def first_refusal(sentences: Iterable[str | None]) -> str | None:
    """Answer the first sentence there is: the reasons are asked in the order they stand."""
    return next((sentence for sentence in sentences if sentence), None)


MOST_PRICE_PENCE: Final = 10_000_000
"""The dearest pot that is kept; more is a slip of the keyboard. Our own bound."""
A_DAY_MIN: Final = 24 * 60
MOST_DRYING_DAYS: Final = 365
MOST_WEIGHT_G: Final = 100_000


def can_cost(*, price_pence: int) -> str | None:
    """May a pot have this price?"""
    if price_pence > MOST_PRICE_PENCE:
        return "The price is above the most that is kept here. Check the amount."
    return None


FAULTS = [
    ("s_crack", "S-crack"),
    ("rim_crack", "rim crack"),
    ("handle_crack", "handle crack"),
    ("explosion", "blew up"),
    ("knock", "knocked or dropped"),
    ("crawl", "crawling"),
    ("pinhole", "pinholes"),
    ("run", "glaze ran"),
    ("blister", "blisters"),
    ("bloat", "bloating"),
    ("dunt", "dunt"),
    ("craze", "crazing"),
    ("shiver", "shivering"),
    ("stuck", "stuck to the shelf"),
    ("warp", "warped"),
    ("colour", "colour off"),
    ("other", "something else"),
]
"""Faults a potter names; common practice, no source."""


def can_stand(*, what: str, top_cone: str, schedule: str, cone: str) -> str | None:
    """May a clay or coats go to this cone? ``what`` names it: "The clay Grey, lot 7"."""
    if hotter(cone, top_cone):
        return f"{what} may go to cone {top_cone}; the schedule {schedule} fires to cone {cone}."
    return None


def can_coat(
    *,
    coats: str,
    coats_top_cone: str,
    clay_lot: str,
    clay_top_cone: str,
    schedule: str,
    schedule_kind: str,
    cone: str,
) -> str | None:
    """May these coats on this clay be meant for this schedule?"""
    if schedule_kind not in FIRES_GLAZE:
        return f"The schedule {schedule} is a {schedule_kind} schedule. Choose a glaze schedule."
    return first_refusal(
        [
            can_stand(
                what=f"The glaze {coats}", top_cone=coats_top_cone, schedule=schedule, cone=cone
            ),
            can_stand(
                what=f"The clay {clay_lot}", top_cone=clay_top_cone, schedule=schedule, cone=cone
            ),
        ]
    )


def can_lay(*, coats: str, top_cone: str, glazes: Sequence[tuple[str, str]]) -> str | None:
    """May coats be made of these glazes (name, top cone), the one nearest the clay first?"""
    if not glazes:
        return "Choose at least one glaze."
    for name, cone in glazes:
        if hotter(top_cone, cone):
            return (
                f"{coats} is meant to go to cone {top_cone}, but its glaze {name} may go to"
                f" cone {cone} only."
            )
    return None


def can_add_again(*, what: str, name: str) -> str:
    """Say that the catalogue has this already."""
    return f"There is already a {what} called {name}. Names count whatever their capitals."


def can_name_fault(fault: str) -> str | None:
    """Is this a fault that is known here?"""
    if fault in dict(FAULTS):
        return None
    return f"“{fault}” is no fault known here. Known: {', '.join(word for _, word in FAULTS)}."


def can_refire(*, form: str, may_refire: bool) -> str | None:
    """May pieces of this form go through a glaze firing again?"""
    if may_refire:
        return None
    return f"{form} may not be refired: it would most likely crack. Give it a grade or scrap it."
