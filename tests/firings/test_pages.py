"""Do the pages of this room answer, and do their forms do what they say?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.firings import selectors, services
from studio.firings.models import Circuit, Firing, Kiln, Run
from studio.wares.models import Piece
from studio.wares.selectors import board_group
from studio.web.models import Change, Studio
from tests.firings.conftest import NOW, TODAY, World

Key = Callable[[], str]


def test_every_page_answers(world: World, signed_in: Client) -> None:
    firing = world.planned(world.big, world.bisque)
    names: list[tuple[str, list[int]]] = [
        ("kilns", []), ("kiln-new", []), ("kiln", [world.big.pk]), ("kiln-edit", [world.big.pk]),
        ("run", [world.big.pk]), ("circuit-new", []), ("circuit", [world.big.circuit_id]),
        ("past", []), ("plan", []), ("calendar", []), ("firing", [firing.pk]),
        ("shift", [firing.pk]), ("sheet", [firing.pk]), ("light", [firing.pk]),
        ("off", [firing.pk]), ("open", [firing.pk]), ("schedules", []), ("schedule-new", []),
        ("schedule", [world.six.pk]), ("schedule-edit", [world.six.pk]),
    ]  # fmt: skip
    for name, args in names:
        url = reverse(f"firings:{name}", args=args)
        assert signed_in.get(url).status_code == 200, url
        away = Client().get(url)
        assert away.status_code == 302, url
        assert reverse("sign-in") in away.headers["Location"], url


@pytest.mark.parametrize("name", ["load", "take-out"])
def test_steps_are_posted(world: World, signed_in: Client, name: str) -> None:
    firing, board = world.planned(world.big, world.bisque), world.thrown()
    url = reverse(f"firings:{name}", args=[firing.pk, board.pk])
    assert signed_in.get(url).status_code == 405
    assert signed_in.post(url).status_code == 400
    assert signed_in.post(reverse(f"firings:{name}", args=[firing.pk, 999])).status_code == 400


def test_a_whole_firing_by_the_pages(world: World, signed_in: Client, form_key: Key) -> None:
    board = world.thrown(12)
    started = signed_in.post(
        reverse("firings:plan"),
        {"form_key": form_key(), "kiln": world.big.pk, "schedule": world.bisque.pk,
         "start_date": TODAY.isoformat(), "count_1": "12", "form_1": world.mug.pk,
         "clay_1": world.grey.pk},
    )  # fmt: skip
    firing = Firing.objects.get()
    page = reverse("firings:firing", args=[firing.pk])
    assert started.headers["Location"] == page
    assert firing.planned_wares.get().count == 12
    shown = signed_in.get(page).content.decode()
    assert f'aria-label="Load 12 Mug of board {board}"' in shown
    with time_machine.travel(NOW - timedelta(days=3), tick=False):
        signed_in.post(
            reverse("firings:load", args=[firing.pk, board.pk]),
            {"form_key": form_key(), "seen": board_group(board).seen},
        )
    shown = signed_in.get(page).content.decode()
    assert "12 of about 90 mug places" in shown
    light = reverse("firings:light", args=[firing.pk])
    assert "cone 04, about 1063 °C at 60 °C an hour" in signed_in.get(light).content.decode()
    signed_in.post(light, {"form_key": form_key(), "at": "2026-11-23T07:00"})
    signed_in.post(
        reverse("firings:off", args=[firing.pk]),
        {"form_key": form_key(), "at": "2026-11-24T00:00"},
    )
    shown = signed_in.get(page).content.decode()
    assert "It should reach 93 °C about" in shown
    signed_in.post(reverse("firings:open", args=[firing.pk]), {"form_key": form_key()})
    firing.refresh_from_db()
    assert firing.state == "opened"
    assert Piece.objects.filter(stage="bisqued").count() == 12
    assert "of 12 through" in signed_in.get(page).content.decode()
    assert "Slow bisque" in signed_in.get(reverse("firings:past")).content.decode()


def test_a_press_sent_twice_acts_once(world: World, signed_in: Client, form_key: Key) -> None:
    board = world.thrown(12)
    firing = world.planned(world.big, world.bisque)
    sent = {"form_key": form_key(), "seen": board_group(board).seen, "count": "5"}
    url = reverse("firings:load", args=[firing.pk, board.pk])
    first, second = signed_in.post(url, sent), signed_in.post(url, sent)
    assert first.headers["Location"] == second.headers["Location"]
    assert selectors.firing_fill(firing).pieces == 5


def test_a_refused_load_says_why(world: World, signed_in: Client, form_key: Key) -> None:
    board = world.thrown(dry=False)
    firing = world.planned(world.big, world.bisque)
    page = reverse("firings:firing", args=[firing.pk])
    assert f"Board {board} is not recorded dry." in signed_in.get(page).content.decode()
    answer = signed_in.post(
        reverse("firings:load", args=[firing.pk, board.pk]), {"form_key": form_key()}
    )
    assert answer.status_code == 409
    assert f"Board {board} is not recorded dry." in answer.content.decode()


def test_a_count_that_is_none(world: World, signed_in: Client, form_key: Key) -> None:
    board, firing = world.thrown(), world.planned(world.big, world.bisque)
    url = reverse("firings:load", args=[firing.pk, board.pk])
    for count in ("0", "-3", "two", "1000000000000"):
        answer = signed_in.post(url, {"form_key": form_key(), "count": count})
        assert answer.status_code == 409, count
    assert selectors.firing_fill(firing).pieces == 0


def loaded(world: World, count: int = 10) -> Firing:
    """A lit bisque firing of one board."""
    firing = world.planned(world.big, world.bisque)
    world.load(firing, world.thrown(count))
    return world.lit(firing)


def test_opening_hot_is_warned(world: World, signed_in: Client, form_key: Key) -> None:
    firing = loaded(world)
    url = reverse("firings:open", args=[firing.pk])
    sent = {"form_key": form_key(), "opened_c": "110"}
    answer = signed_in.post(url, sent)
    assert answer.status_code == 422
    assert "110 °C inside is hot enough to burn hands and eyes" in answer.content.decode()
    firing.refresh_from_db()
    assert firing.state == "firing"
    signed_in.post(url, {**sent, "hot_anyway": "on"})
    firing.refresh_from_db()
    assert (firing.state, firing.opened_c) == ("opened", 110)


def test_opening_early_asks_outside_any_fold(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = loaded(world)
    services.switch_off(firing=firing, off_at=NOW - timedelta(hours=3), by=world.by, at=NOW)
    url = reverse("firings:open", args=[firing.pk])
    shown = signed_in.get(url).content.decode()
    assert shown.rindex("</details>", 0, shown.index('name="is_cool"')) < shown.index(
        'name="opened_c"'
    )
    answer = signed_in.post(url, {"form_key": form_key()})
    assert answer.status_code == 422
    assert "By reckoning this kiln is too hot to open before" in answer.content.decode()
    signed_in.post(url, {"form_key": form_key(), "is_cool": "on"})
    firing.refresh_from_db()
    assert firing.state == "opened"


def test_switched_off_after_an_hour_asks_for_its_cone(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = loaded(world)
    off_at = NOW - timedelta(hours=29)
    services.switch_off(firing=firing, off_at=off_at, by=world.by, at=NOW)
    url = reverse("firings:open", args=[firing.pk])
    sent = {"form_key": form_key(), "opened_c": "20"}
    answer = signed_in.post(url, sent)
    assert answer.status_code == 422
    assert "It was switched off after 1 h of about" in answer.content.decode()
    assert not Piece.objects.filter(stage="bisqued").exists()
    signed_in.post(url, {**sent, "is_fired": "on"})
    firing.refresh_from_db()
    assert firing.state == "opened"
    page = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "£9.00 (usual cost)" in page
    assert "What came out" in signed_in.get(url).content.decode()
    assert 'name="opened_c"' not in signed_in.get(url).content.decode()


def test_opening_in_fahrenheit(world: World, signed_in: Client, form_key: Key) -> None:
    Studio.objects.update_or_create(id=1, defaults={"temperature_unit": "F"})
    firing = loaded(world)
    url = reverse("firings:open", args=[firing.pk])
    signed_in.post(url, {"form_key": form_key(), "opened_c": "120", "peak_c": "1945"})
    firing.refresh_from_db()
    assert (firing.opened_c, firing.peak_c) == (49, 1063)


def test_opening_with_losses_and_cones(world: World, signed_in: Client, form_key: Key) -> None:
    firing = loaded(world)
    board = firing.places.first().board  # type: ignore[union-attr]
    sent = {
        "form_key": form_key(), f"lost_{board.pk}": "2", f"cause_{board.pk}": "explosion",
        "energy_kwh": "41.5", "cost_pence": "11.05", "where_1": "top", "cone_1": "04",
        "bend_1": "down", "where_2": "bottom", "cone_2": "04", "bend_2": "bending",
    }  # fmt: skip
    signed_in.post(reverse("firings:open", args=[firing.pk]), sent)
    firing.refresh_from_db()
    assert (firing.energy_wh, firing.cost_pence) == (41_500, 1105)
    assert firing.witness_cones.count() == 2
    shown = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "of 10 through, 2 lost" in shown
    assert "cone 04 top: tip down" in shown


def test_losses_typed_wrong_stay_on_the_page(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = loaded(world)
    board = firing.places.first().board  # type: ignore[union-attr]
    sent = {"form_key": form_key(), f"lost_{board.pk}": "11", f"cause_{board.pk}": "knock"}
    answer = signed_in.post(reverse("firings:open", args=[firing.pk]), sent)
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert f"Board {board} had 10 in the load, so 11 cannot be lost." in shown
    assert 'value="11"' in shown
    twice = {
        "form_key": form_key(), "where_1": "top", "cone_1": "04", "bend_1": "down",
        "where_2": "top", "cone_2": "04", "bend_2": "flat",
    }  # fmt: skip
    answer = signed_in.post(reverse("firings:open", args=[firing.pk]), twice)
    assert "Cone row 2: cone 04 top is there twice." in answer.content.decode()


def test_lighting_late_warns_of_the_next(world: World, signed_in: Client, form_key: Key) -> None:
    firing = world.planned(world.big, world.bisque, start=TODAY)
    world.planned(world.big, world.six, start=TODAY + timedelta(days=2))
    world.load(firing, world.thrown())
    Firing.objects.filter(pk=firing.pk).update(start_date=TODAY - timedelta(days=3))
    with_next = NOW + timedelta(days=1)
    import time_machine

    with time_machine.travel(with_next, tick=False):
        answer = signed_in.post(
            reverse("firings:light", args=[firing.pk]), {"form_key": form_key()}, follow=True
        )
    assert "Heron is taken from Fri 27 Nov to Sat 28 Nov by Cone 6 plain." in (
        answer.content.decode()
    )


def test_a_refused_light_keeps_what_was_typed(
    world: World, signed_in: Client, form_key: Key
) -> None:
    firing = world.planned(world.big, world.bisque)
    url = reverse("firings:light", args=[firing.pk])
    shown = signed_in.get(url).content.decode()
    assert "Heron is empty. Load it before it is lit." in shown
    answer = signed_in.post(url, {"form_key": form_key(), "at": "2026-11-24T07:00"})
    assert answer.status_code == 422
    assert "2026-11-24T07:00" in answer.content.decode()


# --- kilns, circuits, runs ----------------------------------------------------------------------

KILN = {
    "name": "Owl", "sides": "8", "inside_width_mm": "17 1/2 in", "inside_height_mm": "18 in",
    "shelf_count": "4", "top_cone": "10", "fuel": "electric", "power_kw": "6.4",
}  # fmt: skip


def test_a_kiln_is_added_in_inches(world: World, signed_in: Client, form_key: Key) -> None:
    signed_in.post(reverse("firings:kiln-new"), {"form_key": form_key(), **KILN})
    kiln = Kiln.objects.get(name="Owl")
    assert (kiln.inside_width_mm, kiln.inside_height_mm) == (445, 457)
    assert (kiln.power_w, kiln.circuit.name, kiln.circuit.at_once) == (6400, "Owl", 1)
    assert kiln.glaze_room_tenths >= 100
    assert kiln.bisque_room_tenths > kiln.glaze_room_tenths


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"inside_width_mm": "wide"}, "is not a length"),
        ({"inside_height_mm": "5 mm"}, "The inside of a kiln is 100 to 3000 mm"),
        ({"sides": "4"}, "A box has a depth"),
        ({"sides": "3"}, "Select a valid choice"),
        ({"name": "heron"}, "There is a kiln called heron already."),
        ({"shelf_count": "0"}, "greater than or equal to 1"),
        ({"glaze_places": "0"}, "greater than or equal to 1"),
        ({"top_cone": "99"}, "Select a valid choice"),
    ],
)
def test_a_kiln_typed_wrong(
    world: World, signed_in: Client, form_key: Key, wrong: dict[str, str], says: str
) -> None:
    answer = signed_in.post(reverse("firings:kiln-new"), {"form_key": form_key(), **KILN, **wrong})
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert Kiln.objects.count() == 2


def test_a_kiln_is_changed(world: World, signed_in: Client, form_key: Key) -> None:
    url = reverse("firings:kiln-edit", args=[world.big.pk])
    shown = signed_in.get(url).content.decode()
    assert 'value="594"' in shown
    signed_in.post(url, {"form_key": form_key(), **KILN, "name": "Heron", "glaze_places": "54.5",
                         "circuit": world.big.circuit_id})  # fmt: skip
    world.big.refresh_from_db()
    assert (world.big.glaze_room_tenths, world.big.circuit.name) == (545, "shed")


def test_runs(world: World, signed_in: Client, form_key: Key) -> None:
    Run.objects.all().delete()
    url = reverse("firings:run", args=[world.big.pk])
    sent = {"form_key": form_key(), "schedule": world.six.pk, "busy_days": "2",
            "energy_kwh": "62", "cost_pence": "18.60"}  # fmt: skip
    signed_in.post(url, sent)
    run = Run.objects.get()
    assert (run.busy_days, run.energy_wh, run.cost_pence) == (2, 62_000, 1860)
    shown = signed_in.get(f"{url}?schedule={world.six.pk}").content.decode()
    assert 'value="18.60"' in shown
    signed_in.post(url, {**sent, "form_key": form_key(), "busy_days": "3"})
    assert Run.objects.get().busy_days == 3
    for wrong in ({"busy_days": "0"}, {"cost_pence": "-1"}, {"energy_kwh": "-1"}):
        answer = signed_in.post(url, {**sent, "form_key": form_key(), **wrong})
        assert answer.status_code == 422
    world.big.top_cone = "5"
    world.big.save()
    answer = signed_in.post(url, {**sent, "form_key": form_key()})
    assert "Heron goes to cone 5 at most; Cone 6 plain goes to cone 6." in answer.content.decode()


def test_circuits(world: World, signed_in: Client, form_key: Key) -> None:
    sent = {"form_key": form_key(), "name": "barn", "at_once": "2"}
    signed_in.post(reverse("firings:circuit-new"), sent)
    assert Circuit.objects.get(name="barn").at_once == 2
    answer = signed_in.post(
        reverse("firings:circuit-new"), {"form_key": form_key(), "name": "barn", "at_once": "1"}
    )
    assert answer.status_code == 422
    answer = signed_in.post(
        reverse("firings:circuit-new"), {"form_key": form_key(), "name": "x", "at_once": "0"}
    )
    assert answer.status_code == 422


def test_note_and_shift_and_call_off(world: World, signed_in: Client, form_key: Key) -> None:
    firing = world.planned(world.big, world.six)
    signed_in.post(
        reverse("firings:note", args=[firing.pk]),
        {"form_key": form_key(), "text": "<b>Two</b> bowls for Ben"},
    )
    shown = signed_in.get(reverse("firings:firing", args=[firing.pk])).content.decode()
    assert "&lt;b&gt;Two&lt;/b&gt; bowls for Ben" in shown
    later = TODAY + timedelta(days=4)
    signed_in.post(
        reverse("firings:shift", args=[firing.pk]),
        {"form_key": form_key(), "start_date": later.isoformat()},
    )
    firing.refresh_from_db()
    assert firing.start_date == later
    signed_in.post(reverse("firings:call-off", args=[firing.pk]), {"form_key": form_key()})
    firing.refresh_from_db()
    assert firing.state == "called_off"
    assert Change.objects.filter(subject="firing", subject_id=firing.pk).count() == 4


def test_the_page_of_a_firing_asks_as_often_for_one_board_as_for_many(
    world: World, signed_in: Client
) -> None:
    firing = world.planned()
    url = reverse("firings:firing", args=[firing.pk])
    counts = []
    for _ in range(2):
        world.load(firing, world.glazed(2))
        world.glazed(3)
        world.thrown(4)
        with CaptureQueriesContext(connection) as asked:
            assert signed_in.get(url).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1] <= 31


def test_the_last_thing_done_to_a_firing_is_undone_on_its_page(
    world: World, signed_in: Client, form_key: Callable[[], str]
) -> None:
    firing = world.planned()
    world.load(firing, world.glazed(3))
    url = reverse("firings:firing", args=[firing.pk])
    last = selectors.changes_of(firing)[0]
    assert reverse("undo", args=[last.pk]) in signed_in.get(url).content.decode()
    signed_in.post(reverse("undo", args=[last.pk]), {"form_key": form_key()})
    page = signed_in.get(url).content.decode()
    assert "undone" in page
    assert reverse("undo", args=[last.pk]) not in page
    firing.refresh_from_db()
    assert firing.state == "planned"
    planned = selectors.undoable(selectors.changes_of(firing))
    assert planned is not None
    assert planned.action == "plan_firing"
