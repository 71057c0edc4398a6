"""Is a firing's log kept, drawn over its programme, taken away and learnt from?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from studio.craft.compared import heating_starts, rows_reached
from studio.craft.programme import CoolingLaw, Programme, Segment, cooling_h, curve
from studio.firings import selectors, services
from studio.firings.models import Firing, FiringLog, Kiln, KilnFit
from studio.home.services import undo
from studio.web.models import Change, Studio
from tests.firings.conftest import NOW, World

Key = Callable[[], str]
LAW = CoolingLaw(above_h=4.0, below_h=5.5)


def log_of(firing: Firing, *, low_by: float = 0, until_c: float = 60, slower: float = 1) -> bytes:
    """A log in minutes of a firing that follows its programme and then cools by ``LAW``."""
    programme = selectors.programme_of(firing.schedule)
    assert programme is not None
    points = [(h * slower, c) for h, c in curve(programme, law=LAW)]
    end_h, end_c = points[-1]
    for step in range(1, 120):
        c = end_c + (until_c - end_c) * step / 119
        points.append((end_h + cooling_h(end_c, c, law=LAW), c))
    lines = ["minutes,temperature °C", *(f"{h * 60:.3f},{c - low_by:.2f}" for h, c in points)]
    return "\n".join(lines).encode()


def keep(world: World, firing: Firing, data: bytes, **asked: object) -> Change:
    ready = services.prepare_log(data=data, file_name="kiln.csv", **asked)  # type: ignore[arg-type]
    return services.keep_log(firing=firing, ready=ready, by=world.by, at=NOW)


def glazed(world: World, kiln: Kiln | None = None) -> Firing:
    """An opened glaze firing."""
    firing = world.planned(kiln or world.big)
    world.load(firing, world.glazed())
    return world.fired(firing)


def opened(world: World, day: int, *, cones: tuple[tuple[str, str], ...] = ()) -> Firing:
    """An opened firing of the big kiln so many days ago, past the loading of ware."""
    lit_at = NOW - timedelta(days=day)
    firing = Firing.objects.create(
        kiln=world.big, schedule=world.six, state="opened", start_date=lit_at.date(), busy_days=2,
        lit_at=lit_at, opened_at=lit_at + timedelta(hours=60),
    )  # fmt: skip
    for where, (cone, bend) in zip(("top", "middle", "bottom"), cones, strict=False):
        firing.witness_cones.create(cone=cone, where=where, bend=bend)
    return firing


def test_a_log_is_kept_with_the_cone_it_reached(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = glazed(world)
    url = reverse("firings:log", args=[firing.pk])
    file = SimpleUploadedFile("heron.csv", log_of(firing))
    answer = signed_in.post(url, {"form_key": form_key(), "file": file, "unit": "", "sensor": ""})
    assert answer.headers["Location"] == url
    page = signed_in.get(url).content.decode()
    # 60 °C/h to 1222 °C is cone 6 by the chart, and 15 min more.
    assert "cone 6 and 0." in page
    assert "Meant to half a cone either way" in page
    assert 'class="s-cool"' in page
    assert "times taken as minutes" in page
    # To 600 °C at 100 °C/h is 5.8 h, and the log followed.
    assert "5.8 h" in page
    assert "as planned" in page
    card = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "by 124 readings" in card
    assert "with the cooling, meant for cone 6." in card


def test_a_file_that_is_none_is_refused_with_its_row(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = glazed(world)
    url = reverse("firings:log", args=[firing.pk])
    for data, says in (
        (b"time,temp\n0,20\nsoon,30\n", "Row 3: “soon” is no time."),
        (b"", "The file is empty."),
        (b"\x00\x01\x02binary", "The file is no text."),
    ):
        file = SimpleUploadedFile("x.csv", data)
        answer = signed_in.post(url, {"form_key": form_key(), "file": file})
        assert answer.status_code == 422
        assert says in answer.content.decode()
    file = SimpleUploadedFile("x.csv", log_of(firing))
    answer = signed_in.post(url, {"form_key": form_key(), "file": file, "sensor": "Lid"})
    assert "The file has no sensor “Lid”." in answer.content.decode()
    assert not FiringLog.objects.exists()


def test_a_file_too_big_is_refused_before_it_is_read(
    world: World, signed_in: Client, form_key: Key, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.firings.forms.logs.MOST_BYTES", 1000)
    firing = glazed(world)
    file = SimpleUploadedFile("x.csv", b"0,20\n" * 1000)
    answer = signed_in.post(
        reverse("firings:log", args=[firing.pk]), {"form_key": form_key(), "file": file}
    )
    assert answer.status_code == 422
    assert "Save the readings of one firing only." in answer.content.decode()


def test_what_was_not_lit_has_no_log(
    world: World, signed_in: Client, refused: Callable[..., str]
) -> None:
    firing = world.planned()
    why = "Heron was not lit for this firing yet, so there is no log of it."
    assert why in signed_in.get(reverse("firings:log", args=[firing.pk])).content.decode()
    ready = services.prepare_log(data=log_of(firing), file_name="x.csv")
    assert refused(services.keep_log, firing=firing, ready=ready, by=world.by, at=NOW) == why
    services.call_off(firing=firing, by=world.by, at=NOW)
    assert "was called off" in refused(
        services.keep_log, firing=firing, ready=ready, by=world.by, at=NOW
    )
    assert refused(
        services.take_log_away, firing=firing, by=world.by, at=NOW
    ) == "This firing has no log."  # fmt: skip


def test_bad_rows_are_named_on_the_page(world: World, signed_in: Client, form_key: Key) -> None:
    firing = glazed(world)
    lines = log_of(firing).decode().splitlines()
    lines[3] = lines[3].split(",")[0] + ",ERR"
    keep(world, firing, "\n".join(lines).encode())
    page = signed_in.get(reverse("firings:log", args=[firing.pk])).content.decode()
    assert "Row 4: temperature °C: “ERR” is no temperature" in page
    assert "123 of 124 rows hold a reading" in page


def test_another_log_takes_its_place_and_undo_brings_the_first_back(world: World) -> None:
    firing = glazed(world)
    keep(world, firing, log_of(firing))
    change = keep(world, firing, log_of(firing, until_c=200))
    assert FiringLog.objects.count() == 2
    second = selectors.log_of(firing)
    undo(change=change, by=world.by, at=NOW)
    first = selectors.log_of(firing)
    assert first is not None
    assert first != second
    away = services.take_log_away(firing=firing, by=world.by, at=NOW)
    assert selectors.log_of(firing) is None
    assert not KilnFit.objects.exists()
    undo(change=away, by=world.by, at=NOW)
    assert selectors.log_of(firing) == first
    assert KilnFit.objects.filter(kiln=firing.kiln).exists()


def test_an_undo_that_comes_too_late(world: World, refused: Callable[..., str]) -> None:
    firing = glazed(world)
    first = keep(world, firing, log_of(firing))
    keep(world, firing, log_of(firing))
    assert "its log was changed since" in refused(undo, change=first, by=world.by, at=NOW)


def test_a_kilns_own_cooling_is_used_for_what_comes(world: World) -> None:
    before = selectors.hours_of(kiln=world.big, schedule=world.six)
    assert before is not None
    assert before.spread_percent == 25
    for day in (20, 15, 10):
        firing = opened(world, day)
        keep(world, firing, log_of(firing))
    kiln = Kiln.objects.get(pk=world.big.pk)
    assert kiln.fit.above_h == pytest.approx(LAW.above_h, rel=0.02)
    assert kiln.fit.below_h == pytest.approx(LAW.below_h, rel=0.02)
    after = selectors.hours_of(kiln=kiln, schedule=world.six)
    assert after is not None
    # Left to itself from 1222 to 93 °C: 4 ln(1202/518) + 5.5 ln(518/73) = 3.37 + 10.78 = 14.1 h
    assert after.cooling_h == pytest.approx(14.1, abs=0.3)
    assert after.spread_percent == 5
    assert after.late_h - after.early_h < before.late_h - before.early_h


def test_three_witness_cones_fix_the_offset(world: World, signed_in: Client) -> None:
    for day, cones in ((20, (("7", "down"), ("8", "up"))), (15, (("7", "down"),))):
        firing = opened(world, day, cones=cones)
        keep(world, firing, log_of(firing, low_by=12))
    fit = KilnFit.objects.get(kiln=world.big)
    assert (fit.cones, fit.offset_c, fit.offset_spread_c) == (2, 0, None)
    firing = opened(world, 10, cones=(("7", "down"), ("7", "down"), ("7", "bending")))
    keep(world, firing, log_of(firing, low_by=12))
    fit = KilnFit.objects.get(kiln=world.big)
    assert fit.cones == 5
    assert fit.offset_c > 5
    assert fit.offset_spread_c is not None
    page = signed_in.get(reverse("firings:log", args=[firing.pk])).content.decode()
    assert "this kiln's own" in page or "this kiln&#x27;s own" in page
    assert "as far as this kiln" in page


def test_reading_the_cones_at_the_opening_learns_too(world: World) -> None:
    for day in (20, 15):
        firing = opened(world, day, cones=(("6", "down"),))
        keep(world, firing, log_of(firing))
    firing = world.planned(world.big)
    world.load(firing, world.glazed())
    world.lit(firing, hours_ago=30)
    services.switch_off(firing=firing, off_at=NOW - timedelta(hours=18), by=world.by, at=NOW)
    keep(world, firing, log_of(firing))
    assert KilnFit.objects.get(kiln=world.big).cones == 2
    change = services.open_kiln(
        firing=firing, opened_at=NOW, is_cool=True,
        witness=[services.Witness(cone="6", where="top", bend="down")], by=world.by, at=NOW,
    )  # fmt: skip
    assert KilnFit.objects.get(kiln=world.big).cones == 3
    undo(change=change, by=world.by, at=NOW)
    assert KilnFit.objects.get(kiln=world.big).cones == 2


def test_longer_heating_is_a_warning(world: World, signed_in: Client) -> None:
    for day in (40, 30, 20):
        firing = opened(world, day)
        keep(world, firing, log_of(firing))
    slow = opened(world, 10)
    keep(world, slow, log_of(slow, slower=1.2))
    page = signed_in.get(reverse("firings:log", args=[slow.pk])).content.decode()
    assert "20 % longer than usual" in page
    assert selectors.longer_now([world.big])[world.big.pk].firing_id == slow.pk
    for shown in (
        reverse("today"),
        reverse("firings:kiln", args=[world.big.pk]),
        reverse("firings:care", args=[world.big.pk]),
    ):
        assert "20 % longer than usual" in signed_in.get(shown).content.decode()
    firing = opened(world, 5)
    keep(world, firing, log_of(firing))
    assert not selectors.longer_now([world.big, world.small])


def test_degrees_fahrenheit_on_the_page(world: World, signed_in: Client) -> None:
    Studio.objects.update_or_create(id=1, defaults={"temperature_unit": "F"})
    firing = glazed(world)
    keep(world, firing, log_of(firing))
    page = signed_in.get(reverse("firings:log", args=[firing.pk])).content.decode()
    assert "2232 °F" in page
    assert "1222 °C" not in page


def test_the_database_holds_one_log_a_firing(world: World) -> None:
    firing = glazed(world)
    keep(world, firing, log_of(firing))
    log = FiringLog.objects.get()
    log.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        log.save(force_insert=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        FiringLog.objects.update(kept_count=10_000)
    with pytest.raises(IntegrityError), transaction.atomic():
        KilnFit.objects.update(offset_c=400)


def test_rows_are_reached_when_they_are() -> None:
    rows = (Segment(rate_c_per_h=100, target_c=220, hold_min=60), Segment(rate_c_per_h=None,
            target_c=1220), Segment(rate_c_per_h=50, target_c=1000))  # fmt: skip
    programme = Programme(segments=rows)
    # The kiln stands cold for an hour; 2 h to 220 °C, held until 4 h, at 1220 °C after 10 h,
    # never under 1100 °C.
    found = rows_reached(
        programme,
        times=[0, 1, 3, 5, 11, 12], temps=[20, 20, 220, 220, 1220, 1100], law=LAW,
    )  # fmt: skip
    assert [row.logged_h and round(row.logged_h, 2) for row in found] == [1.97, 9.98, None]
    assert found[0].planned_h == pytest.approx(2)
    assert (found[0].words, found[2].words) == ("as planned", "not reached")
    assert heating_starts([0, 1, 3], [21, 20, 220]) == 1


def test_a_clock_of_a_wall_is_the_studios(world: World) -> None:
    ready = services.prepare_log(
        data=b"time,temp\n2026-11-20 16:30,20\n2026-11-20 17:30,120\n", file_name="x.csv"
    )
    assert ready.started_at is not None
    assert timezone.localtime(ready.started_at).hour == 16


def test_the_log_on_paper(world: World, signed_in: Client) -> None:
    firing = opened(world, 10, cones=(("6", "down"),))
    url = reverse("firings:log-paper", args=[firing.pk])
    assert signed_in.get(url).status_code == 404
    rows = log_of(firing).decode().splitlines()
    keep(
        world,
        firing,
        "\n".join([f"{rows[0]},Shelf °C", *(f"{row},30" for row in rows[1:])]).encode(),
    )
    answer = signed_in.get(url)
    assert answer["Content-Type"] == "application/pdf"
    [page] = PdfReader(BytesIO(answer.content)).pages
    said = " ".join(page.extract_text().split())
    for words in (
        "Heron: Cone 6 plain", "cone 6 and 0.", "1222 °C", "planned", "logged", "as planned",
        "cone 6 top: tip down", "124 of 124 rows", "Shelf °C", "below cone 020",
    ):  # fmt: skip
        assert words in said


def test_lighting_is_not_undone_under_a_log(world: World, refused: Callable[..., str]) -> None:
    firing = world.planned(world.big)
    world.load(firing, world.glazed())
    lit_at = NOW - timedelta(hours=30)
    change = services.light(firing=firing, lit_at=lit_at, by=world.by, at=NOW)
    keep(world, firing, log_of(firing))
    assert "take the log away first" in refused(undo, change=change, by=world.by, at=NOW)
    services.take_log_away(firing=firing, by=world.by, at=NOW)
    undo(change=change, by=world.by, at=NOW)
    firing.refresh_from_db()
    assert firing.state == "loaded"


def test_a_new_thermocouple_begins_its_offset_anew(world: World, signed_in: Client) -> None:
    for day in (20, 15, 10):
        firing = opened(world, day, cones=(("6", "down"),))
        keep(world, firing, log_of(firing, low_by=12))
    before = KilnFit.objects.get(kiln=world.big)
    assert before.cones == 3
    change = services.record_care(
        kiln=world.big, part="thermocouple", did="changed", on_date=NOW.date(), by=world.by, at=NOW
    )
    after = KilnFit.objects.get(kiln=world.big)
    assert (after.cones, after.offset_c, after.offset_spread_c) == (0, 0, None)
    # The bricks are the same, so the cooling stays.
    assert after.below_h == pytest.approx(before.below_h)
    page = signed_in.get(reverse("firings:care", args=[world.big.pk])).content.decode()
    assert "lines proven in it need a firing with witness cones first" in page
    undo(change=change, by=world.by, at=NOW)
    assert KilnFit.objects.get(kiln=world.big).cones == 3
