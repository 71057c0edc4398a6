"""What does each kind of firing, fuel and atmosphere change for whoever plans it?

Stated facts beside a kiln and a schedule; nothing here controls a kiln. Where no source is named it
is common practice, no source. The carbon monoxide limits: NIOSH, "Criteria for a Recommended
Standard: Occupational Exposure to Carbon Monoxide" (1972), 35 ppm over 8 hours and a ceiling of 200
ppm; OSHA, permissible exposure limit, 50 ppm over 8 hours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

PRACTICE: Final = "Common practice, no source."


@dataclass(frozen=True, kw_only=True, slots=True)
class Fact:
    """What to plan with: who is needed, how long it takes, whether it may be left alone."""

    title: str
    crew: str
    length: str
    watch: str
    also: str = ""
    source: str = PRACTICE
    no_unattended_start: bool = False


KINDS: Final[dict[str, Fact]] = {
    "bisque": Fact(
        title="Bisque",
        crew="One person loads; ware may touch and stack.",
        length="13 to 18 h of heating, two kiln-days. Damp ware wants hours under 95 °C first.",
        watch="As the fuel says. Somebody is there at the expected end.",
        also="Slow between 550 and 600 °C, where quartz turns over.",
        source="Hours: potters' accounts (Bailey Pottery, 2021: 13.5 h; Jomin Ceramic: 18 h to"
        " 1000 °C). The rest is common practice, no source.",
    ),
    "glaze": Fact(
        title="Glaze",
        crew="One person loads; nothing touches.",
        length="8 to 12 h of heating at cone 6 and 14 to 24 h of cooling; led cooling adds to it.",
        watch="As the fuel says. Somebody is there at the expected end.",
        source="Hours: potters' accounts (P. Bridges, 2011: 8.5 h; Back Porch Studio, 2019: 10 to"
        " 12 h). The rest is common practice, no source.",
    ),
    "lustre": Fact(
        title="Lustre",
        crew="One person loads clean ware in clean gloves; nothing touches.",
        length="4 to 6 h of heating to cone 022 to 017, over a glaze that is fired already.",
        watch="Oils burn off below 500 °C: the room stays empty and the ventilation runs.",
        also="Lustre ware is kept by a note: its pieces are fired already and change no stage.",
    ),
    "raku": Fact(
        title="Raku",
        crew="Two people at least, in natural fibres, leather gloves and face shields.",
        length="An hour or so a load, several loads a day; each is taken out glowing.",
        watch="Never left alone, outdoors only, as local fire rules allow.",
        also="Raku ware stays porous: for looking at, not for food or water.",
        no_unattended_start=True,
    ),
}
FUELS: Final[dict[str, Fact]] = {
    "electric": Fact(
        title="Electric",
        crew="One person.",
        length="Hours are reckoned from the rows; heating slows as elements age.",
        watch="Left alone only as its maker and your insurer allow; never at the expected end.",
        also="Ventilate as its maker's manual asks: firing ware gives off carbon monoxide.",
    ),
    "gas": Fact(
        title="Gas",
        crew="One trained person from lighting to the end.",
        length="8 to 14 h by hand; rows are the wish, the log is what happened.",
        watch="No unattended start: whoever lights it stays until the burners run steadily, and"
        " looks in at least every half hour after.",
        also="A carbon monoxide alarm in the room; gas fitting is for a licensed fitter.",
        no_unattended_start=True,
    ),
    "wood": Fact(
        title="Wood",
        crew="Two people or more, in shifts.",
        length="10 h to several days of stoking: plan whole days for all hands.",
        watch="Never left alone while it burns, and watched until it is shut.",
        also="Fire and smoke rules are local: ask before the date is promised.",
        no_unattended_start=True,
    ),
}
ATMOSPHERES: Final[dict[str, Fact]] = {
    "reduction": Fact(
        title="Reduction",
        crew="One trained person at the damper.",
        length="Adds 1 to 2 h to the same rows.",
        watch="No unattended start; the air is led by hand towards the end.",
        also="Carbon monoxide: 35 ppm over 8 hours at most and never over 200 ppm (NIOSH, 1972);"
        " OSHA allows 50 ppm over 8 hours. Reduction moves cones 010 to 3, so the heat work here"
        " is off for them. It wears bare elements.",
        source="Limits as named. The rest is common practice, no source.",
        no_unattended_start=True,
    ),
    "soda": Fact(
        title="Soda or salt",
        crew="Two people while soda or salt goes in, with masks made for it.",
        length="Adds 1 to 3 h at the top, and a day to grind shelves.",
        watch="No unattended start; outdoor air, nobody in the vapour.",
        also="Its vapour eats brick, elements and thermocouples: a kiln is kept for it alone.",
        no_unattended_start=True,
    ),
}


def facts(*, kind: str, fuel: str = "", atmosphere: str = "") -> list[Fact]:
    """What a firing of this kind, fuel and atmosphere means for the plan."""
    found = [KINDS.get(kind), ATMOSPHERES.get(atmosphere), FUELS.get(fuel)]
    return [fact for fact in found if fact is not None]


def no_unattended_start(*, kind: str, fuel: str, atmosphere: str) -> str:
    """Why somebody stays from the lighting on; '' when nothing asks for it."""
    why = [
        fact.title.lower()
        for fact in facts(kind=kind, fuel=fuel, atmosphere=atmosphere)
        if fact.no_unattended_start
    ]
    if not why:
        return ""
    return f"No unattended start ({', '.join(why)}): somebody trained stays from the lighting on."


def odd_pair(*, fuel: str, kind: str, atmosphere: str) -> str:
    """A caution about a schedule that does not suit a kiln's fuel; '' when it does."""
    if fuel != "electric":
        return ""
    if atmosphere == "reduction":
        return "Reduction wears bare elements: ask this kiln's maker first."
    if atmosphere == "soda":
        return "Soda and salt ruin elements: not in an electric kiln."
    if kind == "raku":
        return "Raku with tongs near live elements: power off and locked before it is opened."
    return ""
