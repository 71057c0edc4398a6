"""Light a kiln, switch it off: it works, then every refusal, then the way back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from studio.craft.cones import cone_temperature
from studio.firings import rules, selectors, services
from tests.firings.conftest import NOW, TODAY, World
from tests.firings.loaded import loaded

Refused = Callable[..., str]
HOUR = timedelta(hours=1)


# --- light --------------------------------------------------------------------------------------


def test_light_counts_the_days_from_then(world: World) -> None:
    firing, _ = loaded(world)
    firing.start_date = TODAY + timedelta(days=3)
    firing.save()
    change = services.light(firing=firing, lit_at=NOW - HOUR, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.state, firing.start_date, firing.lit_at) == ("firing", TODAY, NOW - HOUR)
    assert change.said == "Heron lit at 09:00: Slow bisque, cone 04"


def test_an_empty_kiln_is_not_lit(world: World, refused: Refused) -> None:
    firing = world.planned()
    assert refused(services.light, firing=firing, lit_at=NOW, by=world.by, at=NOW) == (
        "Heron is empty. Load it before it is lit."
    )
    assert selectors.why_not_light(firing, lit_at=NOW, at=NOW).startswith("Heron is empty.")


def test_lighting_times(world: World, refused: Refused) -> None:
    firing, _ = loaded(world)
    asked = {"firing": firing, "by": world.by, "at": NOW}
    late = refused(services.light, lit_at=NOW + HOUR, **asked)
    assert late == "The lighting lies in the future. Write when the kiln was switched on."
    old = refused(services.light, lit_at=NOW - timedelta(days=8), **asked)
    assert old == "The lighting lies more than a week back. Is the date right?"


def test_lit_twice(world: World, refused: Refused) -> None:
    firing, _ = loaded(world)
    world.lit(firing)
    assert refused(services.light, firing=firing, lit_at=NOW, by=world.by, at=NOW) == (
        "This firing was lit already."
    )


def test_one_circuit_heats_so_many(world: World, refused: Refused) -> None:
    world.big.circuit = world.small.circuit
    world.big.save()
    first = world.planned(world.small, world.bisque)
    world.load(first, world.thrown())
    world.lit(first)
    second, _ = loaded(world)
    asked = {"firing": second, "lit_at": NOW, "by": world.by, "at": NOW}
    assert refused(services.light, **asked) == (
        "The circuit north wall carries one kiln heating at once, and Wren is heating."
    )
    services.switch_off(firing=first, off_at=NOW, by=world.by, at=NOW)
    services.light(**asked)


def test_undo_of_lighting(world: World, refused: Refused) -> None:
    firing, _ = loaded(world)
    change = services.light(firing=firing, lit_at=NOW - HOUR, by=world.by, at=NOW)
    off = services.switch_off(firing=firing, off_at=NOW, by=world.by, at=NOW)
    assert refused(services.undo, change=change, by=world.by, at=NOW) == (
        "This can no longer be undone: the firing of 25 Nov in Heron is cooling now."
    )
    services.undo(change=off, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.state, firing.off_at) == ("firing", None)
    services.undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert (firing.state, firing.lit_at, firing.start_date) == ("loaded", None, TODAY)


# --- switch off ---------------------------------------------------------------------------------


def test_switch_off_refusals(world: World, refused: Refused) -> None:
    firing, _ = loaded(world)
    asked = {"firing": firing, "by": world.by, "at": NOW}
    assert refused(services.switch_off, off_at=NOW, **asked) == (
        "This firing was not lit, so it cannot be switched off."
    )
    world.lit(firing, hours_ago=5)
    assert refused(services.switch_off, off_at=NOW + HOUR, **asked) == (
        "The end lies in the future. Write when the kiln was switched off."
    )
    assert refused(services.switch_off, off_at=NOW - 5 * HOUR, **asked) == (
        "The kiln cannot be switched off before it was lit. Look at both times."
    )
    services.switch_off(off_at=NOW, **asked)
    assert refused(services.switch_off, off_at=NOW, **asked) == (
        "This firing was switched off already."
    )
    services.open_kiln(firing=firing, opened_at=NOW, is_cool=True, by=world.by, at=NOW)
    assert refused(services.switch_off, off_at=NOW, **asked) == ("This firing was opened already.")


# --- words --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cone", "celsius", "fahrenheit"),
    [("6", 1222, 2232), ("04", 1063, 1945), ("06", 998, 1828)],
)
def test_cone_words(cone: str, celsius: int, fahrenheit: int) -> None:
    """Source: "Temperature Equivalents for Orton Pyrometric Cones" (The Edward Orton Jr. Ceramic
    Foundation, 2016 copy), self-supporting cones, 60 °C/h and 108 °F/h."""
    assert cone_temperature(cone, rate_c_per_h=60) == celsius
    assert rules.cone_words(cone, unit="C") == f"cone {cone}, about {celsius} °C at 60 °C an hour"
    assert rules.cone_words(cone, unit="F") == (
        f"cone {cone}, about {fahrenheit} °F at 108 °F an hour"
    )


def test_hot_to_open() -> None:
    assert rules.hot_to_open(opened_c=None, shown="") == ""
    assert rules.hot_to_open(opened_c=95, shown="95 °C") == ""
    assert rules.hot_to_open(opened_c=96, shown="96 °C").startswith("96 °C inside is hot enough")
