"""Is a kiln's care recorded, reminded of and undone, and what cannot be, refused?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.craft.wear import Due, Interval, Used, due, element_wear
from studio.firings import rules, selectors, services
from studio.firings.models import Care, CareRule, ElementLife, Firing
from studio.home.services import undo
from studio.web.models import Change
from tests.firings.conftest import NOW, TODAY, World

Key = Callable[[], str]


def fired(world: World, count: int, *, first_days_ago: int = 100) -> None:
    """So many opened cone 6 firings of the big kiln, a day apart."""
    for i in range(count):
        lit_at = NOW - timedelta(days=first_days_ago - i)
        Firing.objects.create(
            kiln=world.big, schedule=world.six, state="opened", start_date=lit_at.date(),
            busy_days=1, lit_at=lit_at, opened_at=lit_at + timedelta(hours=20),
        )  # fmt: skip


def part_of(world: World, part: str) -> selectors.PartCare:
    [found] = selectors.care_of([world.big], today_date=TODAY)
    return next(one for one in found.parts if one.part == part)


def care(world: World, part: str, did: str = "changed", day: date = TODAY) -> None:
    services.record_care(kiln=world.big, part=part, did=did, on_date=day, by=world.by, at=NOW)


def test_wear_counts_from_the_change_of_elements(world: World) -> None:
    fired(world, 30)
    # 30 firings: 30/150 = 20 % by count, 30/200 = 15 % by cone 6; the worse one counts.
    assert part_of(world, "elements").words == (
        "30 firings since these records began: 20 % of a life used"
    )
    care(world, "elements", day=TODAY - timedelta(days=80))
    # The 21st firing was 80 days ago: on that day and after it, 10.
    after = part_of(world, "elements")
    assert after.words == "10 firings since it was changed: 6 % of a life used"
    assert (after.asks, after.tag) == ("", "good")


def test_the_studio_says_its_own_lives(world: World) -> None:
    fired(world, 10)
    services.set_care(
        kiln=world.big,
        intervals={**rules.INTERVALS, "elements": Interval(look_firings=5, change_firings=100)},
        lives={"6": 12}, by=world.by, at=NOW,
    )  # fmt: skip
    own = part_of(world, "elements")
    # 10 of 12 is 83 %: over 80 %.
    assert (own.asks, own.said) == ("soon", "change it soon")
    assert own.source == "The studio's own numbers."
    fired(world, 2, first_days_ago=50)
    assert part_of(world, "elements").asks == "change"


def test_looking_is_due_by_firings_and_by_days(world: World) -> None:
    fired(world, 10)
    shelves = part_of(world, "shelves")
    assert (shelves.asks, shelves.words) == ("look", "10 firings, never looked at in these records")
    care(world, "shelves", "looked")
    assert part_of(world, "shelves").asks == ""
    care(world, "vent", "looked", TODAY - timedelta(days=89))
    assert part_of(world, "vent").asks == ""
    Care.objects.filter(part="vent").update(on_date=TODAY - timedelta(days=90))
    assert part_of(world, "vent").asks == "look"


def test_due_by_hand() -> None:
    used = Used(since_change=79, since_look=4, days_since_look=None)
    every = Interval(look_firings=5, look_days=90, change_firings=100)
    assert due(every, used) == Due(change=0.79, look=0.8)
    assert due(every, used).asks == ""
    assert due(every, Used(since_change=80, since_look=9, days_since_look=1)).asks == "soon"
    assert due(Interval(), used).asks == ""
    worn = element_wear(["10"] * 40)
    assert due(every, used, wear=worn).asks == "change"
    with pytest.raises(ValueError, match="1 or more"):
        Interval(look_days=0)


def test_recorded_with_one_press_and_undone(world: World, signed_in: Client, form_key: Key) -> None:
    url = reverse("firings:care", args=[world.big.pk])
    typed = {"part": "thermocouple", "did": "changed", "on_date": TODAY.isoformat()}
    answer = signed_in.post(url, {"form_key": form_key(), **typed}, follow=True)
    page = answer.content.decode()
    assert "Changed the thermocouple of Heron, 25 Nov 2026" in page
    assert "A new thermocouple reads otherwise" in page
    assert "Undo" in page
    undo(change=Change.objects.get(action="record_care"), by=world.by, at=NOW)
    assert not Care.objects.exists()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"on_date": "2026-11-26"}, "Thu 26 Nov 2026 lies ahead."),
        ({"on_date": "1990-01-01"}, "is more than thirty years back."),
        ({"on_date": "yesterday"}, "Enter a valid date."),
        ({"part": "lid"}, "Select a valid choice."),
        ({"did": "painted"}, "Select a valid choice."),
    ],
)
def test_care_that_cannot_be(
    world: World, signed_in: Client, form_key: Key, typed: dict[str, str], says: str
) -> None:
    good = {"part": "vent", "did": "looked", "on_date": TODAY.isoformat()}
    answer = signed_in.post(
        reverse("firings:care", args=[world.big.pk]), {"form_key": form_key(), **good, **typed}
    )
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert not Care.objects.exists()


def test_the_service_refuses_what_the_form_would(world: World, refused: Callable[..., str]) -> None:
    asked = {"kiln": world.big, "by": world.by, "at": NOW, "on_date": TODAY}
    assert refused(
        services.record_care, **asked, part="lid", did="looked"
    ) == "Choose what was cared for."  # fmt: skip
    assert "changed or looked at" in refused(
        services.record_care, **asked, part="vent", did="painted"
    )
    care(world, "vent", "looked")
    assert "written down for that day already" in refused(
        services.record_care, **asked, part="vent", did="looked"
    )
    own = {"kiln": world.big, "by": world.by, "at": NOW, "intervals": rules.INTERVALS}
    assert "how many firings elements last" in refused(services.set_care, **own, lives={})
    assert refused(services.set_care, **own, lives={"6": 0}) == (
        "Cone 6: write 1 to 9999, or leave it empty."
    )


def rules_typed(**typed: str) -> dict[str, str]:
    own = {
        "look_firings_elements": "20", "look_days_elements": "", "change_firings_elements": "120",
        "cone_0": "6", "life_0": "180", "cone_1": "", "life_1": "",
    }  # fmt: skip
    return {**own, **typed}


def test_intervals_are_kept_and_put_back(world: World, signed_in: Client, form_key: Key) -> None:
    url = reverse("firings:care-rules", args=[world.big.pk])
    page = signed_in.get(url).content.decode()
    assert 'value="1500"' in page
    assert "maker&#x27;s figures" in page
    answer = signed_in.post(url, {"form_key": form_key(), **rules_typed()})
    assert answer.status_code == 302
    assert CareRule.objects.get(part="elements").change_firings == 120
    assert CareRule.objects.get(part="vent").look_days is None
    assert ElementLife.objects.get().firings == 180
    change = Change.objects.get(action="set_care")
    undo(change=change, by=world.by, at=NOW)
    assert not CareRule.objects.exists()
    assert not ElementLife.objects.exists()


def test_an_undo_of_intervals_that_comes_too_late(
    world: World, refused: Callable[..., str]
) -> None:
    first = services.set_care(
        kiln=world.big, intervals=rules.INTERVALS, lives={"6": 180}, by=world.by, at=NOW
    )
    services.set_care(
        kiln=world.big, intervals=rules.INTERVALS, lives={"6": 170}, by=world.by, at=NOW
    )
    assert "they were set again since" in refused(undo, change=first, by=world.by, at=NOW)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"look_firings_vent": "0"}, "ventilation: Look after, firings: write 1 to 9999"),
        ({"look_firings_vent": "-5"}, "write 1 to 9999, or leave it empty."),
        ({"look_firings_vent": "often"}, "write a whole number, or leave it empty."),
        ({"life_0": ""}, "Row 1: write how many firings."),
        ({"cone_1": "6", "life_1": "90"}, "Row 2: cone 6 stands above already."),
        ({"life_1": "90"}, "Row 2: choose the cone."),
        ({"cone_0": "", "life_0": ""}, "Write how many firings elements last"),
    ],
)
def test_intervals_that_cannot_be(
    world: World, signed_in: Client, form_key: Key, typed: dict[str, str], says: str
) -> None:
    answer = signed_in.post(
        reverse("firings:care-rules", args=[world.big.pk]),
        {"form_key": form_key(), **rules_typed(**typed)},
    )
    assert answer.status_code == 422
    assert says.lower() in answer.content.decode().lower()
    assert not CareRule.objects.exists()


def test_what_is_due_stands_on_the_kilns_page_and_on_today(world: World, signed_in: Client) -> None:
    fired(world, 12)
    kiln = signed_in.get(reverse("firings:kiln", args=[world.big.pk])).content.decode()
    assert "look at it" in kiln
    assert "Care of Heron" in signed_in.get(reverse("today")).content.decode()
    assert "shelves and kiln wash: look at it" in signed_in.get(reverse("today")).content.decode()
    page = signed_in.get(reverse("firings:care", args=[world.big.pk])).content.decode()
    assert "Switch the power off at the breaker" in page
    for word in ("terminal", "solder", "unscrew"):
        assert word not in page


def test_four_questions_for_all_kilns(world: World) -> None:
    fired(world, 5)
    with CaptureQueriesContext(connection) as asked:
        selectors.care_of([world.big, world.small], today_date=TODAY)
    assert len(asked) == 4


def test_what_was_changed_since_a_day(world: World) -> None:
    care(world, "elements", day=TODAY - timedelta(days=10))
    care(world, "shelves")
    changed = selectors.parts_changed(world.big, since_date=TODAY - timedelta(days=10))
    assert [one.part for one in changed] == ["elements"]
    assert not selectors.parts_changed(world.big, since_date=TODAY)


@pytest.mark.parametrize(
    "write",
    [
        lambda w: Care.objects.create(kiln=w.big, part="lid", did="looked", on_date=TODAY, by=w.by),
        lambda w: [
            Care.objects.create(kiln=w.big, part="vent", did="looked", on_date=TODAY, by=w.by)
            for _ in range(2)
        ],
        lambda w: CareRule.objects.create(kiln=w.big, part="vent", look_days=0),
        lambda w: [CareRule.objects.create(kiln=w.big, part="vent") for _ in range(2)],
        lambda w: ElementLife.objects.create(kiln=w.big, cone="6", firings=0),
        lambda w: [ElementLife.objects.create(kiln=w.big, cone="6", firings=9) for _ in range(2)],
    ],
)
def test_the_database_refuses(world: World, write: Callable[[World], object]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        write(world)


def test_a_gas_kiln_has_no_elements(
    world: World, signed_in: Client, refused: Callable[..., str]
) -> None:
    world.big.fuel = "gas"
    world.big.save()
    fired(world, 40)
    [found] = selectors.care_of([world.big], today_date=TODAY)
    assert [part.part for part in found.parts] == ["thermocouple", "shelves", "vent"]
    page = signed_in.get(reverse("firings:care", args=[world.big.pk])).content.decode()
    assert "Elements" not in page
    assert refused(
        services.record_care, kiln=world.big, part="elements", did="changed", on_date=TODAY,
        by=world.by, at=NOW,
    ) == "A gas kiln has no elements. Choose another part."  # fmt: skip


def test_lighting_after_new_elements_says_what_to_do_first(world: World, signed_in: Client) -> None:
    fired(world, 1, first_days_ago=10)
    firing = world.planned()
    url = reverse("firings:light", args=[firing.pk])
    assert "New elements heat faster" not in signed_in.get(url).content.decode()
    care(world, "elements", day=TODAY - timedelta(days=3))
    assert "New elements heat faster" in signed_in.get(url).content.decode()
    fired(world, 1, first_days_ago=2)
    assert "New elements heat faster" not in signed_in.get(url).content.decode()
