"""Are kilns, circuits, schedules and runs kept, and can a saving be taken back?"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from studio.firings import rules, selectors, services
from studio.firings.models import Circuit, Kiln, PlannedWare, Run, Schedule, TrialRule
from studio.firings.rules import Step
from tests.firings.conftest import NOW, World

Refused = Callable[..., str]
ROWS = [Step(rate_c_per_h=100, target_c=600), Step(rate_c_per_h=60, target_c=1239, hold_min=15)]
OWL = {
    "name": "Owl", "sides": 0, "inside_width_mm": 400, "inside_depth_mm": None,
    "inside_height_mm": 400, "shelf_count": 3, "top_cone": "10", "fuel": "gas", "power_w": None,
    "circuit": None, "glaze_room_tenths": 150, "bisque_room_tenths": 240, "takes_trials": True,
}  # fmt: skip
SEVEN = {"name": "Seven", "kind": "glaze", "cone": "7", "cooling": "natural",
         "atmosphere": "oxidation"}  # fmt: skip


def who(world: World) -> dict[str, Any]:
    """Who does it, and when."""
    return {"by": world.by, "at": NOW}


def test_a_new_kiln_and_its_circuit_go_again(world: World) -> None:
    change = services.save_kiln(kiln=None, values=OWL, **who(world))
    assert Kiln.objects.get(name="Owl").circuit.name == "Owl"
    services.undo(change=change, **who(world))
    assert not Kiln.objects.filter(name="Owl").exists()
    assert not Circuit.objects.filter(name="Owl").exists()


def test_a_changed_kiln_gets_its_values_back(world: World, refused: Refused) -> None:
    values = {**OWL, "name": "Big heron", "circuit": world.big.circuit}
    change = services.save_kiln(kiln=world.big, values=values, **who(world))
    again = services.save_kiln(kiln=world.big, values={**values, "power_w": 9}, **who(world))
    assert refused(services.undo, change=change, **who(world)) == (
        "This can no longer be undone: Big heron was changed since."
    )
    services.undo(change=again, **who(world))
    services.undo(change=change, **who(world))
    kept = Kiln.objects.get(pk=world.big.pk)
    assert (kept.name, kept.sides, kept.inside_height_mm) == ("Heron", 10, 686)
    assert refused(services.undo, change=change, **who(world)) == rules.UNDONE_ALREADY


def test_a_kiln_in_use_does_not_go(world: World, refused: Refused) -> None:
    change = services.save_kiln(kiln=None, values=OWL, **who(world))
    kiln = Kiln.objects.get(name="Owl")
    run = services.save_run(
        kiln=kiln, schedule=world.six, busy_days=2, cost_pence=100, **who(world)
    )
    assert refused(services.undo, change=change, **who(world)) == (
        "This can no longer be undone: Owl is used now."
    )
    world.planned(kiln)
    assert refused(services.undo, change=run, **who(world)) == (
        "This can no longer be undone: Cone 6 plain in Owl is used now."
    )


def test_a_run_goes_or_gets_its_values_back(world: World) -> None:
    spare = Schedule.objects.create(name="Spare", kind="glaze", cone="6")
    asked = {"kiln": world.big, "schedule": spare, **who(world)}
    first = services.save_run(busy_days=2, cost_pence=100, **asked)
    second = services.save_run(busy_days=3, cost_pence=200, energy_wh=5, **asked)
    services.undo(change=second, **who(world))
    run = Run.objects.get(schedule=spare)
    assert (run.busy_days, run.cost_pence, run.energy_wh) == (2, 100, None)
    services.undo(change=first, **who(world))
    assert not Run.objects.filter(schedule=spare).exists()


def test_a_circuit_gets_its_count_back(world: World) -> None:
    circuit = world.big.circuit
    change = services.save_circuit(
        circuit=circuit, values={"name": "shed", "at_once": 2}, **who(world)
    )
    services.undo(change=change, **who(world))
    circuit.refresh_from_db()
    assert circuit.at_once == 1


def test_a_schedule_gets_its_rows_back(world: World, refused: Refused) -> None:
    made = services.save_schedule(schedule=None, values=SEVEN, steps=ROWS, **who(world))
    schedule = Schedule.objects.get(name="Seven")
    changed = services.save_schedule(
        schedule=schedule, values={**SEVEN, "cone": "6"},
        steps=[Step(rate_c_per_h=None, target_c=1222)], **who(world),
    )  # fmt: skip
    assert refused(services.undo, change=made, **who(world)) == (
        "This can no longer be undone: Seven was changed since."
    )
    services.undo(change=changed, **who(world))
    schedule.refresh_from_db()
    assert schedule.cone == "7"
    assert list(schedule.segments.values_list("rate_c_per_h", "target_c", "hold_min")) == [
        (100, 600, 0), (60, 1239, 15),
    ]  # fmt: skip
    services.undo(change=made, **who(world))
    assert not Schedule.objects.filter(name="Seven").exists()


def test_the_cone_of_a_used_schedule_does_not_go_back(world: World, refused: Refused) -> None:
    services.save_schedule(schedule=None, values=SEVEN, steps=ROWS, **who(world))
    schedule = Schedule.objects.get(name="Seven")
    changed = services.save_schedule(
        schedule=schedule, values={**SEVEN, "cone": "6"}, steps=ROWS, **who(world)
    )
    world.glazed(3, schedule=schedule)
    assert refused(services.undo, change=changed, **who(world)) == rules.can_rewrite(
        schedule="Seven", used=True, same=False
    )


def test_names_are_taken_once(world: World, refused: Refused) -> None:
    values = {**OWL, "name": "HERON"}
    assert refused(services.save_kiln, kiln=None, values=values, **who(world)) == (
        "There is a kiln called HERON already. Choose another name."
    )
    assert refused(
        services.save_circuit, circuit=None, values={"name": "Shed", "at_once": 1}, **who(world)
    ) == rules.name_taken(what="circuit", name="Shed")
    assert Kiln.objects.count() == 2
    assert not Circuit.objects.filter(name="HERON").exists()


def test_what_a_firing_is_meant_for_is_counted_as_it_fills(world: World) -> None:
    firing = world.planned(world.big, world.bisque)
    for form, count in ((world.mug, 20), (world.bowl, 4)):
        PlannedWare.objects.create(firing=firing, form=form, clay_lot=world.grey, count=count)
    other = world.thrown(3, clay=world.low)
    board = world.thrown(12)
    choices = selectors.loadable_boards(firing)
    assert [(choice.board, choice.is_meant) for choice in choices] == [
        (board, True), (other, False),
    ]  # fmt: skip
    world.load(firing, board)
    world.load(firing, other)
    assert [(one.ware.form.name, one.inside) for one in selectors.meant(firing)] == [
        ("Mug", 12), ("Bowl", 0),
    ]  # fmt: skip


def test_values_that_no_form_lets_through(world: World, refused: Refused) -> None:
    values = {**OWL, "top_cone": "99"}
    assert "top cone: Value '99' is not a valid choice." in refused(
        services.save_kiln, kiln=None, values=values, **who(world)
    )
    values = {**OWL, "inside_width_mm": 0}
    assert refused(services.save_kiln, kiln=None, values=values, **who(world)) == (
        rules.cannot_be(what="kiln")
    )
    for sides, sentence in (
        (4, "A box has a depth too: write how far it is from front to back inside."),
        (3, "A kiln has 0 sides (round) or 4 to 16, not 3."),
        (17, "A kiln has 0 sides (round) or 4 to 16, not 17."),
    ):
        values = {**OWL, "sides": sides, "inside_depth_mm": None}
        assert refused(services.save_kiln, kiln=None, values=values, **who(world)) == sentence
    assert Kiln.objects.count() == 2


def test_the_trial_rule_is_said_and_taken_back(world: World, refused: Refused) -> None:
    first = services.set_trial_rule(
        least_pieces=1, most_pieces=4, share_percent=10, by=world.by, at=NOW
    )
    second = services.set_trial_rule(least_pieces=2, most_pieces=8, by=world.by, at=NOW)
    kept = selectors.trial_rule()
    assert (kept.least_pieces, kept.most_pieces, kept.share_percent) == (2, 8, 10)
    assert refused(services.undo, change=first, **who(world)).endswith("was changed since.")
    services.undo(change=second, **who(world))
    kept = selectors.trial_rule()
    assert (kept.least_pieces, kept.most_pieces, kept.share_percent) == (1, 4, 10)
    services.undo(change=first, **who(world))
    assert not TrialRule.objects.exists()
    assert selectors.trial_rule().most_pieces == 6


@pytest.mark.parametrize(
    ("sizes", "sentence"),
    [
        ((0, 6, 25), "A trial has at least 1 piece."),
        ((6, 5, 25), "A trial of at most 5 cannot have at least 6."),
        ((2, 1000, 25), "A trial of 1000 pieces is no trial. Give 999 or fewer."),
        ((2, 6, 0), "0 % of a kiln cannot be. Give 1 to 100."),
        ((2, 6, 101), "101 % of a kiln cannot be. Give 1 to 100."),
    ],
)
def test_trial_sizes_that_cannot_be(
    world: World, refused: Refused, sizes: tuple[int, int, int], sentence: str
) -> None:
    least, most, share = sizes
    asked = {"least_pieces": least, "most_pieces": most, "share_percent": share}
    assert refused(services.set_trial_rule, **asked, **who(world)) == sentence
    assert not TrialRule.objects.exists()


def test_the_second_of_two_who_change_a_kiln_is_told(world: World, refused: Refused) -> None:
    seen = selectors.seen_of(world.big)
    values = {**OWL, "name": "Heron", "circuit": world.big.circuit}
    asked = {"kiln": world.big, "seen": seen, **who(world)}
    services.save_kiln(values={**values, "power_w": 9000}, **asked)
    sentence = refused(services.save_kiln, values={**values, "top_cone": "6"}, **asked)
    assert sentence == (
        "Heron is not as you saw it: ada, 10:00 on 25 Nov: Changed Heron. Nothing was changed;"
        " open the page again."
    )
    kept = Kiln.objects.get(pk=world.big.pk)
    assert (kept.power_w, kept.top_cone) == (9000, "10")


def test_the_second_of_two_who_change_the_rows_of_a_schedule_is_told(
    world: World, refused: Refused
) -> None:
    spare = services.save_schedule(schedule=None, values=SEVEN, steps=ROWS, **who(world))
    schedule = Schedule.objects.get(pk=spare.subject_id)
    asked = {
        "schedule": schedule, "values": SEVEN, "seen": selectors.seen_of(schedule), **who(world),
    }  # fmt: skip
    longer = [*ROWS[:-1], Step(rate_c_per_h=60, target_c=1239, hold_min=30)]
    services.save_schedule(steps=longer, **asked)
    assert refused(services.save_schedule, steps=ROWS, **asked).startswith(
        "Seven is not as you saw it: ada, 10:00 on 25 Nov: Changed the schedule Seven"
    )
    assert list(schedule.segments.values_list("hold_min", flat=True)) == [0, 30]


def test_a_form_carries_what_was_seen(
    world: World, signed_in: Client, form_key: Callable[[], str]
) -> None:
    """The second phone gets its typed values back, and the same token: it must look again."""
    url = reverse("firings:circuit", args=[world.big.circuit.pk])
    seen = signed_in.get(url).context["seen"]
    typed = {"name": "shed", "seen": seen}
    first = signed_in.post(url, {**typed, "at_once": 2, "form_key": form_key()})
    assert first.status_code == 302
    second = signed_in.post(url, {**typed, "at_once": 3, "form_key": form_key()})
    assert second.status_code == 422
    page = second.content.decode()
    assert "shed is not as you saw it" in page
    assert f'name="seen" value="{seen}"' in page
    assert Circuit.objects.get(name="shed").at_once == 2
    for name, row in (("kiln-edit", world.big), ("schedule-edit", world.six)):
        page = signed_in.get(reverse(f"firings:{name}", args=[row.pk])).content.decode()
        assert f'name="seen" value="{selectors.seen_of(row)}"' in page


@pytest.mark.parametrize("asked", ["²", "9" * 23, "", "-1"])
def test_a_run_is_shown_though_its_address_names_no_schedule(
    world: World, signed_in: Client, asked: str
) -> None:
    address = reverse("firings:run", args=[world.big.pk])
    assert signed_in.get(address, {"schedule": asked}).status_code == 200
