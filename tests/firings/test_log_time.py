"""A log that is longer than its firing, or lies beside it: is it said, mended and undone?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.firings import rules, selectors, services
from studio.firings.models import Firing, FiringLog, KilnFit
from studio.home.services import undo
from studio.web.models import Change
from tests.firings.conftest import NOW, World
from tests.firings.test_logs import glazed, keep, log_of, opened

Key = Callable[[], str]
Refused = Callable[..., str]


def clocked(firing: Firing, *, late_h: float = 0, cold_h: float = 0) -> bytes:
    """The log of a firing by a clock: so many hours late, after so many hours of a cold kiln."""
    assert firing.lit_at is not None
    start = firing.lit_at + timedelta(hours=late_h - cold_h)
    rows = [(0.0, 20.0)] if cold_h else []
    for line in log_of(firing).decode().splitlines()[1:]:
        minutes, c = line.split(",")
        rows.append((float(minutes) / 60 + cold_h, float(c)))
    said = [f"{timezone.localtime(start + timedelta(hours=h)):%Y-%m-%d %H:%M:%S},{c}"
            for h, c in rows]  # fmt: skip
    return "\n".join(["time,temperature °C", *said]).encode()


def page_of(client: Client, firing: Firing) -> str:
    return client.get(reverse("firings:log", args=[firing.pk])).content.decode()


def kept(firing: Firing) -> FiringLog:
    log = selectors.log_of(firing)
    assert log is not None
    return log


def test_a_log_in_its_firings_time_asks_nothing(world: World, signed_in: Client) -> None:
    firing = opened(world, 10)
    keep(world, firing, clocked(firing, cold_h=1))
    assert selectors.outside(firing, kept(firing)) is None
    assert "Which part is this firing" not in page_of(signed_in, firing)


def test_a_log_that_began_days_before_is_cut_with_one_press(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = opened(world, 10)
    keep(world, firing, clocked(firing, cold_h=50))
    page = page_of(signed_in, firing)
    assert "It holds 50 h before the lighting." in page
    assert "All of it is shown until you choose" in page
    card = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "50 h before the lighting" in card
    found = selectors.outside(firing, kept(firing))
    assert found is not None
    assert found.between is not None
    # Two hours of a cold kiln before the lighting stay: 50 - 2 = 48.
    assert found.between.from_h == pytest.approx(48)
    url = reverse("firings:log-part", args=[firing.pk])
    typed = {"from_h": found.between.begins, "until_h": found.between.ends}
    answer = signed_in.post(url, {"form_key": form_key(), **typed}, follow=True)
    assert "Which part is this firing" not in answer.content.decode()
    assert "Hours 48.0 to" in answer.content.decode()
    points = selectors.points_of(kept(firing))
    assert points[0] == (pytest.approx(48), pytest.approx(20))
    # What was cut away is there still.
    assert selectors.points_of(kept(firing), whole=True)[0] == (0, 20)
    undo(change=Change.objects.get(action="choose_log_part"), by=world.by, at=NOW)
    assert kept(firing).from_h is None
    assert "It holds 50 h before the lighting." in page_of(signed_in, firing)


def test_two_firings_of_one_file_without_a_clock(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = opened(world, 10)
    lines = log_of(firing, until_c=40).decode().splitlines()
    last = float(lines[-1].split(",")[0])
    again = [
        f"{float(line.split(',')[0]) + last + 300:.3f},{float(line.split(',')[1]) - 40:.2f}"
        for line in log_of(firing, until_c=60).decode().splitlines()[1:]
    ]
    keep(world, firing, "\n".join([*lines, *again]).encode())
    page = page_of(signed_in, firing)
    assert "no clock that says which part is this firing" in page.replace("&#x27;", "'")
    assert "Heating 1: hours 0.0 to" in page
    found = selectors.outside(firing, kept(firing))
    assert found is not None
    assert [round(one.high_c or 0) for one in found.heatings] == [1222, 1182]
    second = found.heatings[1]
    url = reverse("firings:log-part", args=[firing.pk])
    signed_in.post(url, {"form_key": form_key(), "from_h": second.begins, "until_h": second.ends})
    assert kept(firing).peak_c == pytest.approx(1182, abs=0.5)
    view = selectors.log_view(firing, kept(firing))
    assert view.main.high_c == pytest.approx(1182, abs=0.5)


def test_a_wrong_clock_is_said_to_be_wrong(world: World) -> None:
    firing = opened(world, 10)
    keep(world, firing, clocked(firing, late_h=24 * 30))
    found = selectors.outside(firing, kept(firing))
    assert found is not None
    assert "Nothing of it lies in this firing's time." in found.said
    assert found.between is None
    # Until then the kiln learns nothing from it.
    assert not KilnFit.objects.filter(kiln=world.big).exists()
    services.choose_log_part(
        firing=firing, from_h=0, until_h=found.whole.until_h, by=world.by, at=NOW
    )
    assert selectors.outside(firing, kept(firing)) is None
    fit = KilnFit.objects.get(kiln=world.big)
    assert (fit.logs_above, fit.logs_below) == (1, 1)
    change = Change.objects.get(action="choose_log_part")
    assert change.said.endswith("h count")
    undo(change=change, by=world.by, at=NOW)
    assert not KilnFit.objects.filter(kiln=world.big).exists()


def test_the_log_of_another_firing_is_moved_there_and_back(
    world: World, signed_in: Client, form_key: Key
) -> None:
    right, wrong = opened(world, 20), opened(world, 10)
    keep(world, wrong, clocked(right))
    page = page_of(signed_in, wrong)
    assert "Is this another firing" in page
    assert f"Move it to {right}" in page
    url = reverse("firings:log-move", args=[wrong.pk, right.pk])
    answer = signed_in.post(url, {"form_key": form_key()})
    assert answer.headers["Location"] == reverse("firings:log", args=[right.pk])
    assert selectors.log_of(wrong) is None
    assert selectors.outside(right, kept(right)) is None
    change = Change.objects.get(action="move_log")
    undo(change=change, by=world.by, at=NOW)
    assert selectors.log_of(right) is None
    assert kept(wrong).started_at == right.lit_at


def test_what_cannot_be_moved_or_cut(world: World, refused: Refused) -> None:
    first, second = opened(world, 20), opened(world, 10)
    who = {"by": world.by, "at": NOW}
    part = {"from_h": 1, "until_h": 5}
    assert refused(
        services.choose_log_part, firing=first, **part, **who
    ) == "This firing has no log."  # fmt: skip
    assert refused(services.move_log, firing=first, to=second, **who) == "This firing has no log."
    keep(world, first, log_of(first))
    assert "is with this firing already" in refused(
        services.move_log, firing=first, to=first, **who
    )
    planned = world.planned(world.small)
    assert "Wren was not lit for this firing yet" in refused(
        services.move_log, firing=first, to=planned, **who
    )
    keep(world, second, log_of(second))
    assert "has a log already. Take that one away first." in refused(
        services.move_log, firing=first, to=second, **who
    )
    last = selectors.points_of(kept(first))[-1][0]
    for hours, says in (
        ((-1, 5), f"This log has the hours 0 to {last:.1f}."),
        ((0, last + 1), "Write hours between them."),
        ((5, 5.4), "From 5.0 h to 5.4 h is no firing."),
        ((9, 5), "From 9.0 h to 5.0 h is no firing."),
    ):
        asked = {"firing": first, "from_h": hours[0], "until_h": hours[1]}
        assert says in refused(services.choose_log_part, **asked, **who)
    assert kept(first).from_h is None


def test_typed_hours_that_cannot_be_stay_on_the_page(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = opened(world, 10)
    keep(world, firing, log_of(firing))
    url = reverse("firings:log-part", args=[firing.pk])
    for typed, says in (
        ({"from_h": "5", "until_h": "400"}, "Write hours between them."),
        ({"from_h": "soon", "until_h": "8"}, "Enter a number."),
        ({"from_h": "5", "until_h": ""}, "This field is required."),
    ):
        answer = signed_in.post(url, {"form_key": form_key(), **typed})
        assert answer.status_code == 422
        page = answer.content.decode()
        assert says in page
        assert f'value="{typed["from_h"]}"' in page


def test_an_undo_that_comes_too_late(world: World, refused: Refused) -> None:
    first, second = opened(world, 20), opened(world, 10)
    keep(world, first, log_of(first))
    who = {"by": world.by, "at": NOW}
    chosen = services.choose_log_part(firing=first, from_h=0, until_h=9, **who)
    services.choose_log_part(firing=first, from_h=0, until_h=10, **who)
    assert "its log was changed since" in refused(undo, change=chosen, **who)
    moved = services.move_log(firing=first, to=second, **who)
    assert kept(second).from_h is None
    keep(world, first, log_of(first))
    assert "it has another log now" in refused(undo, change=moved, **who)
    services.take_log_away(firing=first, **who)
    services.take_log_away(firing=second, **who)
    assert "the log was changed there since" in refused(undo, change=moved, **who)


def test_lies_outside_at_its_edges() -> None:
    lit_at, opened_at = NOW, NOW + timedelta(hours=30)
    said = {"lit_at": lit_at, "opened_at": opened_at}
    hour = timedelta(hours=1)
    assert rules.lies_outside(hours=32, started_at=None, **said) == ""
    assert rules.lies_outside(hours=32.1, started_at=None, **said) == "long"
    assert rules.lies_outside(hours=34, started_at=lit_at - 2 * hour, **said) == ""
    assert rules.lies_outside(hours=34, started_at=lit_at - 2.1 * hour, **said) == "part"
    assert rules.lies_outside(hours=33, started_at=lit_at, **said) == "part"
    assert rules.lies_outside(hours=5, started_at=lit_at - 5 * hour, **said) == "all"
    assert rules.lies_outside(hours=5, started_at=opened_at, **said) == "all"
    shut = {"lit_at": lit_at, "opened_at": None}
    assert rules.lies_outside(hours=500, started_at=None, **shut) == ""
    assert rules.lies_outside(hours=500, started_at=lit_at, **shut) == ""


def test_the_database_keeps_a_part_in_order(world: World) -> None:
    firing = opened(world, 10)
    keep(world, firing, log_of(firing))
    backwards = {"from_h": 5.0, "until_h": 5.0}
    for wrong in ({"from_h": 5.0}, backwards, {"from_h": -1.0, "until_h": 3.0}):
        with pytest.raises(IntegrityError), transaction.atomic():
            FiringLog.objects.update(**wrong)


def test_the_log_of_another_day_is_asked_about(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = glazed(world)
    start = datetime(2026, 1, 5, 8, 0)  # noqa: DTZ001  # the logger's own clock
    rows = [f"{start + timedelta(hours=h):%Y-%m-%d %H:%M},{20 + 90 * h}" for h in range(13)]
    file = SimpleUploadedFile("x.csv", "\n".join(["time,temp °C", *rows]).encode())
    answer = signed_in.post(
        reverse("firings:log", args=[firing.pk]), {"form_key": form_key(), "file": file},
        follow=True,
    )  # fmt: skip
    assert "This log begins on Mon 05 Jan 2026 at 08:00" in answer.content.decode()
    assert "Is it the right file?" in answer.content.decode()
