"""Can a schedule be written down row by row, and is a row that cannot be named?"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from studio.firings import rules, selectors
from studio.firings.models import Kiln, KilnFit, Schedule
from studio.firings.rules import kinds
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


def test_full_power_free_fall_and_a_hold_in_words(
    world: World, signed_in: Client, form_key: Key
) -> None:
    typed = (("100", "600", ""), ("full", "1239", ""), ("", "", "15"), ("Off", "760", "30"))
    signed_in.post(
        reverse("firings:schedule-new"), {"form_key": form_key(), **SCHEDULE, **rows(*typed)}
    )
    schedule = Schedule.objects.get(name="Cone 7 slow")
    assert list(schedule.segments.values_list("rate_c_per_h", "target_c", "hold_min")) == [
        (100, 600, 0), (None, 1239, 0), (None, 1239, 15), (None, 760, 30)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (("full", "760", ""), "Row 3: full power goes up, and 760 °C is not above 1100 °C."),
        (("off", "1239", ""), "Row 3: a kiln that is off cools, and 1239 °C is not below 1100 °C."),
        (("full", "", ""), "Row 3: write the temperature it goes to."),
    ],
)
def test_a_word_that_goes_the_other_way(
    world: World, signed_in: Client, form_key: Key, row: tuple[str, str, str], says: str
) -> None:
    answer = signed_in.post(
        reverse("firings:schedule-new"),
        {"form_key": form_key(), **SCHEDULE, **rows(*GOOD[:2], row)},
    )
    assert answer.status_code == 422
    assert says in answer.content.decode()


def test_a_hold_has_to_stand_somewhere(world: World, signed_in: Client, form_key: Key) -> None:
    answer = signed_in.post(
        reverse("firings:schedule-new"),
        {"form_key": form_key(), **SCHEDULE, **rows(("", "", "30"), *GOOD)},
    )
    assert "Row 1: write the temperature it goes to." in answer.content.decode()


def test_more_rows_keep_what_was_typed(world: World, signed_in: Client, form_key: Key) -> None:
    typed = rows(*GOOD, *[("", "", "")] * 2)
    answer = signed_in.post(
        reverse("firings:schedule-new"),
        {"form_key": form_key(), **SCHEDULE, "name": "Half written", **typed, "more": "1"},
    )
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'value="Half written"' in page
    assert 'value="1239"' in page
    assert 'name="target_9"' in page
    assert 'name="target_10"' not in page
    assert not Schedule.objects.filter(name="Half written").exists()


def test_two_schedules_side_by_side(world: World, signed_in: Client) -> None:
    url = reverse("firings:compare")
    asked = {"schedule": [world.six.pk, world.eight.pk], "kiln": world.small.pk}
    page = signed_in.get(url, asked).content.decode()
    assert page.count('class="s-kiln1" points=') == page.count('class="s-kiln2" points=') == 1
    # 580/100 + 500/180 + 122/60 + 15/60 = 5.8 + 2.78 + 2.03 + 0.25 = 10.9 h;
    # 5.8 + 530/180 + 119/60 + 0.25 = 5.8 + 2.94 + 1.98 + 0.25 = 11.0 h
    assert "10.9 h" in page
    assert "11.0 h" in page
    assert "180 °C/h to 1130 °C" in page
    assert "Hours in Wren" in page


@pytest.mark.parametrize("count", [1, 4])
def test_one_or_four_cannot_be_compared(world: World, signed_in: Client, count: int) -> None:
    Schedule.objects.create(name="Without rows", kind="lustre", cone="018")
    keys = list(Schedule.objects.values_list("pk", flat=True))[:count]
    page = signed_in.get(reverse("firings:compare"), {"schedule": keys}).content.decode()
    assert "Tick two or three schedules to compare them." in page
    asked = signed_in.get(reverse("firings:compare"), {"schedule": ["x", "99999999999"]})
    assert asked.status_code == 200
    assert "Tick two or three" in asked.content.decode()
    assert 'class="refusal"' not in signed_in.get(reverse("firings:compare")).content.decode()


def test_a_schedule_without_rows_is_compared_in_words(world: World, signed_in: Client) -> None:
    empty = Schedule.objects.create(name="Without rows", kind="lustre", cone="018")
    page = signed_in.get(
        reverse("firings:compare"), {"schedule": [empty.pk, world.six.pk]}
    ).content.decode()
    assert "unknown" in page
    assert "<svg" not in page


def test_the_hours_to_a_safe_opening_stand_on_the_page(world: World, signed_in: Client) -> None:
    # Wren holds 71 l: 4.7 and 6.0 h. 1222 to 93 °C: 4.7 ln(1202/518) + 6 ln(518/73) = 3.96 + 11.76
    # = 15.7 h after 10.9 h of rows: 27 h, between 10.9 + 11.8 = 23 and 10.9 + 19.7 = 31 h.
    page = signed_in.get(reverse("firings:schedule", args=[world.six.pk])).content.decode()
    assert "27 h<" in page
    assert "23 to 31 h" in page


def test_kinds_atmospheres_and_fuels_say_what_they_change(world: World, signed_in: Client) -> None:
    raku = Schedule.objects.create(name="Autumn raku", kind="raku", cone="06", atmosphere="soda")
    page = signed_in.get(reverse("firings:schedule", args=[raku.pk])).content.decode()
    assert "No unattended start (raku, soda or salt)" in page
    assert "Two people at least" in page
    assert "Common practice, no source." in page
    assert "Soda and salt ruin elements" in page
    world.big.fuel = "gas"
    world.big.save()
    kiln = signed_in.get(reverse("firings:kiln", args=[world.big.pk])).content.decode()
    assert "No unattended start: whoever lights it stays" in kiln
    firing = world.planned()
    light = signed_in.get(reverse("firings:light", args=[firing.pk])).content.decode()
    assert "No unattended start (gas)" in light
    plain = signed_in.get(reverse("firings:schedule", args=[world.six.pk])).content.decode()
    assert "No unattended start" not in plain


def test_every_kind_fuel_and_atmosphere_has_its_facts() -> None:
    assert set(Schedule.Kind.values) == set(kinds.KINDS)
    assert set(Kiln.Fuel.values) == set(kinds.FUELS)
    assert set(Schedule.Atmosphere.values) - {"oxidation"} == set(kinds.ATMOSPHERES)
    assert rules.odd_pair(fuel="gas", kind="raku", atmosphere="reduction") == ""
    assert "ask this kiln's maker" in rules.odd_pair(
        fuel="electric", kind="glaze", atmosphere="reduction"
    )


def test_the_cone_a_schedule_should_reach_in_each_kiln(world: World, signed_in: Client) -> None:
    # 60 °C/h to 1222 °C is cone 6 by the chart; 15 min and the cooling add to it.
    page = signed_in.get(reverse("firings:schedule", args=[world.six.pk])).content.decode()
    assert "reaches cone " in page
    assert "far from cone 6" not in page
    KilnFit.objects.create(
        kiln=world.big, offset_c=-70, offset_spread_c=5, above_h=5, below_h=7, spread_percent=25,
        fitted_at="2026-11-20T10:00Z",
    )  # fmt: skip
    rows_of = {row.kiln.name: row for row in selectors.in_kilns(world.six)}
    # The chart at 60 °C/h: 6 is 1222, 5 is 1186, 4 is 1162 °C; 70 °C less is over two cones.
    assert rows_of["Heron"].misses
    assert not rows_of["Wren"].misses
    wren, heron = rows_of["Wren"].reaches, rows_of["Heron"].reaches
    assert wren is not None
    assert heron is not None
    assert heron.cone in ("3", "4")
    again = signed_in.get(reverse("firings:schedule", args=[world.six.pk])).content.decode()
    assert "far from cone 6: look at the top rows" in again


def test_too_few_busy_days_are_told(world: World, signed_in: Client) -> None:
    url = reverse("firings:kiln", args=[world.small.pk])
    assert "by the hours" not in signed_in.get(url).content.decode()
    # 27 h to the opening and an hour to unload are more than a day.
    world.small.runs.filter(schedule=world.six).update(busy_days=1)
    assert "by the hours 2" in signed_in.get(url).content.decode()


def test_a_schedule_begun_from_another(world: World, signed_in: Client, form_key: Key) -> None:
    url = f"{reverse('firings:schedule-new')}?like={world.six.pk}"
    page = signed_in.get(url).content.decode()
    assert "A schedule like Cone 6 plain" in page
    assert 'value="1222"' in page
    assert 'value="Cone 6 plain"' not in page
    typed = rows(("100", "600", ""), ("180", "1100", ""), ("60", "1222", "15"), ("45", "760", ""))
    own = {**SCHEDULE, "name": "Cone 6 slow", "cone": "6"}
    signed_in.post(url, {"form_key": form_key(), **own, **typed})
    made = Schedule.objects.get(name="Cone 6 slow")
    assert (made.segments.count(), world.six.segments.count()) == (4, 3)
    assert signed_in.get(reverse("firings:schedule-new"), {"like": "9" * 30}).status_code == 200
    assert signed_in.get(reverse("firings:schedule-new"), {"like": "six"}).status_code == 200
