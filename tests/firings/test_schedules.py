"""Can a schedule be written down row by row, and is a row that cannot be named?"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from studio.firings.models import Schedule
from studio.web.models import Studio
from tests.firings.conftest import World

Key = Callable[[], str]


def rows(*typed: tuple[str, str, str]) -> dict[str, str]:
    """Rows of a schedule as a form sends them: rate, target, hold."""
    return {
        f"{name}_{n}": value
        for n, row in enumerate(typed, start=1)
        for name, value in zip(("rate", "target", "hold"), row, strict=True)
    }


SCHEDULE = {
    "name": "Cone 7 slow", "kind": "glaze", "cone": "7", "cooling": "slow",
    "atmosphere": "oxidation",
}  # fmt: skip
GOOD = (("100", "600", ""), ("180", "1100", "0"), ("60", "1239", "15"), ("60", "760", "30"))


def test_a_schedule_in_celsius(world: World, signed_in: Client, form_key: Key) -> None:
    answer = signed_in.post(
        reverse("firings:schedule-new"), {"form_key": form_key(), **SCHEDULE, **rows(*GOOD)}
    )
    schedule = Schedule.objects.get(name="Cone 7 slow")
    assert answer.headers["Location"] == reverse("firings:schedule", args=[schedule.pk])
    assert list(schedule.segments.values_list("rate_c_per_h", "target_c", "hold_min")) == [
        (100, 600, 0), (180, 1100, 0), (60, 1239, 15), (60, 760, 30)
    ]  # fmt: skip
    shown = signed_in.get(answer.headers["Location"]).content.decode()
    assert "down 60 °C/h" in shown
    assert '<svg xmlns="http://www.w3.org/2000/svg" class="curve"' in shown


def test_a_schedule_in_fahrenheit_comes_back_as_typed(
    world: World, signed_in: Client, form_key: Key
) -> None:
    Studio.objects.update_or_create(id=1, defaults={"temperature_unit": "F"})
    typed = (("150", "1112", ""), ("300", "2012", ""), ("", "2232", "20"), ("108", "1400", "30"))
    signed_in.post(
        reverse("firings:schedule-new"),
        {"form_key": form_key(), **SCHEDULE, "cone": "6", **rows(*typed)},
    )
    schedule = Schedule.objects.get(name="Cone 7 slow")
    first = schedule.segments.all()[0]
    assert first.rate_c_per_h == pytest.approx(150 * 5 / 9)
    assert first.target_c == pytest.approx((1112 - 32) * 5 / 9)
    shown = signed_in.get(reverse("firings:schedule-edit", args=[schedule.pk])).content.decode()
    for row in typed:
        for value in row[:2]:
            assert not value or f'value="{value}"' in shown


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (("-60", "1239", ""), "Row 3: -60 °C/h is no rate of a kiln"),
        (("0", "1239", ""), "Row 3: 0 °C/h is no rate of a kiln"),
        (("0.5", "1239", ""), "Row 3: the rate must be 1 °C/h or more"),
        (("900", "1239", ""), "Row 3: no kiln of a studio follows 900 °C/h"),
        (("fast", "1239", ""), "Row 3: “fast” is not a rate."),
        (("60", "1450", ""), "Row 3: the target 1450 °C is outside 20 °C to 1400 °C."),
        (("60", "9999", ""), "Row 3: 9999 °C is outside what a kiln can have"),
        (("60", "5", ""), "Row 3: the target 5 °C is outside 20 °C to 1400 °C."),
        (("60", "", "10"), "Row 3: write the temperature it goes to."),
        (("60", "1239", "-5"), "Row 3: a hold is 0 minutes or more."),
        (("60", "1239", "3000"), "Row 3: a hold of 3000 minutes is longer than 48 hours."),
        (("60", "1100", ""), "Row 3: it starts and ends at 1100 °C and holds nothing"),
        (("60", "1,239", ""), "Row 3: “1,239” can be read in two ways."),
        (("60", "1239", "ten"), "Row 3: Enter a whole number."),
    ],
)
def test_a_row_that_cannot_be(
    world: World, signed_in: Client, form_key: Key, row: tuple[str, str, str], says: str
) -> None:
    answer = signed_in.post(
        reverse("firings:schedule-new"),
        {"form_key": form_key(), **SCHEDULE, **rows(*GOOD[:2], row)},
    )
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert 'value="Cone 7 slow"' in answer.content.decode()
    assert not Schedule.objects.filter(name="Cone 7 slow").exists()


def test_06_for_6_is_caught(world: World, signed_in: Client, form_key: Key) -> None:
    answer = signed_in.post(
        reverse("firings:schedule-new"),
        {"form_key": form_key(), **SCHEDULE, "cone": "06", **rows(*GOOD)},
    )
    assert answer.status_code == 422
    assert "The hottest row goes to 1239 °C, but cone 06 goes down at about 998 °C." in (
        answer.content.decode()
    )


def test_a_schedule_without_rows(world: World, signed_in: Client, form_key: Key) -> None:
    answer = signed_in.post(reverse("firings:schedule-new"), {"form_key": form_key(), **SCHEDULE})
    assert "A schedule needs one row or more" in answer.content.decode()


def test_a_used_schedule_keeps_kind_and_cone(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown())
    world.lit(firing)
    url = reverse("firings:schedule-edit", args=[world.bisque.pk])
    typed = rows(("60", "120", "60"), ("120", "1070", "10"))
    kept = {"name": "Slow bisque", "cooling": "natural", "atmosphere": "oxidation"}
    sent = {"kind": "bisque", "cone": "03", **kept, **typed}
    answer = signed_in.post(url, {"form_key": form_key(), **sent})
    assert "was used already, so its kind and cone stay as they are" in answer.content.decode()
    signed_in.post(url, {"form_key": form_key(), **sent, "cone": "04"})
    assert world.bisque.segments.count() == 2


def test_a_schedule_name_is_taken_once(world: World, signed_in: Client, form_key: Key) -> None:
    answer = signed_in.post(
        reverse("firings:schedule-new"),
        {"form_key": form_key(), **SCHEDULE, "name": "SLOW BISQUE", **rows(*GOOD)},
    )
    assert answer.status_code == 422
    assert Schedule.objects.count() == 3
