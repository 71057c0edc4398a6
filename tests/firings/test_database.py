"""Does the database itself refuse what must never be? Each row is written past the services."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from studio.firings.models import (
    Care,
    CareRule,
    Circuit,
    ElementLife,
    Firing,
    FiringLog,
    Kiln,
    KilnFit,
    NightRule,
    Place,
    PlannedWare,
    Result,
    Run,
    Schedule,
    Segment,
    Tariff,
    TrialRule,
    WitnessCone,
)
from studio.wares.models import Piece
from tests.firings.conftest import NOW, TODAY, World

HOUR = timedelta(hours=1)
Write = Callable[[World], Any]


def firing(world: World, **values: Any) -> Firing:
    """A firing written straight into its table."""
    own = {"kiln": world.big, "schedule": world.six, "start_date": TODAY, "busy_days": 2}
    return Firing.objects.create(**{**own, **values})


def kiln(world: World, **values: Any) -> Kiln:
    """A kiln written straight into its table."""
    own = {
        "name": "Owl", "sides": 8, "inside_width_mm": 445, "inside_height_mm": 457,
        "top_cone": "10", "circuit": world.small.circuit, "glaze_room_tenths": 200,
        "bisque_room_tenths": 300,
    }  # fmt: skip
    return Kiln.objects.create(**{**own, **values})


def piece(world: World) -> Piece:
    """A thrown piece."""
    return world.thrown(1).pieces.get()


def twice_in_a_load(world: World) -> None:
    one, load = piece(world), firing(world)
    for outcome in ("through", "lost"):
        Place.objects.create(firing=load, piece=one, board=one.board, outcome=outcome)


def in_two_open_loads(world: World) -> None:
    one = piece(world)
    for load in (firing(world), firing(world, kiln=world.small)):
        Place.objects.create(firing=load, piece=one, board=one.board)


def unknown_outcome(world: World) -> None:
    one = piece(world)
    Place.objects.create(firing=firing(world), piece=one, board=one.board, outcome="melted")


def planned_twice(world: World) -> None:
    load = firing(world)
    for coats in (world.tenmoku, world.tenmoku):
        PlannedWare.objects.create(
            firing=load, form=world.mug, clay_lot=world.grey, coats=coats, count=1
        )


def planned_bisque_twice(world: World) -> None:
    load = firing(world)
    for _ in range(2):
        PlannedWare.objects.create(firing=load, form=world.mug, clay_lot=world.grey, count=1)


def planned_none(world: World) -> None:
    PlannedWare.objects.create(firing=firing(world), form=world.mug, clay_lot=world.grey, count=0)


def cone_read_twice(world: World) -> None:
    load = firing(world)
    for bend in ("up", "flat"):
        WitnessCone.objects.create(firing=load, cone="6", where="top", bend=bend)


def cone(world: World, **values: str) -> None:
    own = {"cone": "6", "where": "top", "bend": "up"}
    WitnessCone.objects.create(firing=firing(world), **{**own, **values})


def segment(world: World, **values: Any) -> None:
    own = {"schedule": world.six, "seq": 9, "rate_c_per_h": 60, "target_c": 1000}
    Segment.objects.create(**{**own, **values})


def care(world: World, **values: Any) -> None:
    own = {"kiln": world.big, "part": "vent", "did": "looked", "on_date": TODAY, "by": world.by}
    Care.objects.create(**{**own, "kept_at": NOW, **values})


def care_rule(world: World, **values: Any) -> None:
    CareRule.objects.create(**{"kiln": world.big, "part": "vent", "look_days": 90, **values})


def life(world: World, **values: Any) -> None:
    ElementLife.objects.create(**{"kiln": world.big, "cone": "6", "firings": 200, **values})


def kept_log(world: World, **values: Any) -> None:
    """A log of three rows written straight into its table."""
    own = {
        "firing": firing(world), "file_name": "a.csv",
        "sensor": "T1", "series": [], "row_count": 3, "kept_count": 3, "named": [],
        "named_count": 0, "gaps": [], "taken_as": [], "peak_c": 1200, "heated_h": 9,
    }  # fmt: skip
    FiringLog.objects.create(**{**own, **values})


def two_logs(world: World) -> None:
    load = firing(world)
    for _ in range(2):
        kept_log(world, firing=load)


def fit(world: World, **values: Any) -> None:
    own = {"kiln": world.big, "above_h": 4, "below_h": 6, "spread_percent": 25, "fitted_at": NOW}
    KilnFit.objects.create(**{**own, **values})


def run(world: World, **values: Any) -> None:
    schedule = Schedule.objects.create(name="Spare", kind="glaze", cone="6")
    own = {"kiln": world.big, "schedule": schedule, "busy_days": 2, "cost_pence": 1}
    Run.objects.create(**{**own, **values})


def two_at_work(world: World, first: str, second: str) -> None:
    times = {"loaded": {}, "firing": {"lit_at": NOW},
             "cooling": {"lit_at": NOW, "off_at": NOW + HOUR}}  # fmt: skip
    for state in (first, second):
        firing(world, state=state, **times[state])


MUST_FAIL: dict[str, Write] = {
    "circuit_heats_one": lambda w: Circuit.objects.create(name="none", at_once=0),
    "circuit name": lambda w: Circuit.objects.create(name="shed"),
    "kiln_name_once": lambda w: kiln(w, name="HERON"),
    "kiln_named": lambda w: kiln(w, name=""),
    "kiln_cone_known": lambda w: kiln(w, top_cone="60"),
    "kiln_has_room width": lambda w: kiln(w, inside_width_mm=0),
    "kiln_has_room height": lambda w: kiln(w, inside_height_mm=0),
    "kiln_has_room glaze": lambda w: kiln(w, glaze_room_tenths=9),
    "kiln_has_room bisque": lambda w: kiln(w, bisque_room_tenths=9),
    "kiln_clearances_possible": lambda w: kiln(w, shelf_gap_mm=201),
    "kiln_clearances_possible (no post)": lambda w: kiln(w, post_across_mm=4),
    "kiln_probe_inside": lambda w: kiln(w, probe_side="back", probe_in_mm=0),
    "kiln_probe_inside (no wall)": lambda w: kiln(w, probe_in_mm=50),
    "kiln_shape_possible three": lambda w: kiln(w, sides=3),
    "kiln_shape_possible seventeen": lambda w: kiln(w, sides=17),
    "kiln_box_has_depth none": lambda w: kiln(w, sides=4),
    "kiln_box_has_depth flat": lambda w: kiln(w, sides=4, inside_depth_mm=0),
    "kiln_fuel_known": lambda w: kiln(w, fuel="peat"),
    "schedule_name_once": lambda w: Schedule.objects.create(name="CONE 6 PLAIN", cone="6",
                                                            kind="glaze"),
    "schedule_named": lambda w: Schedule.objects.create(name="", cone="6", kind="glaze"),
    "schedule_cone_known": lambda w: Schedule.objects.create(name="x", cone="", kind="glaze"),
    "schedule_kind_known": lambda w: Schedule.objects.create(name="x", cone="6", kind="oven"),
    "schedule_cooling_known": lambda w: Schedule.objects.create(
        name="x", cone="6", kind="glaze", cooling="fast"
    ),
    "schedule_atmosphere_known": lambda w: Schedule.objects.create(
        name="x", cone="6", kind="glaze", atmosphere="smoke"
    ),
    "segment_order_once": lambda w: segment(w, seq=1),
    "segment_possible seq": lambda w: segment(w, seq=0),
    "segment_possible cold": lambda w: segment(w, target_c=19),
    "segment_possible hot": lambda w: segment(w, target_c=1401),
    "segment_possible rate": lambda w: segment(w, rate_c_per_h=0),
    "segment_can_be_followed rate": lambda w: segment(w, rate_c_per_h=600.5),
    "segment_can_be_followed hold": lambda w: segment(w, hold_min=2881),
    "run_once": lambda w: run(w, schedule=w.six),
    "run_takes_a_day": lambda w: run(w, busy_days=0),
    "run_takes_30_days": lambda w: run(w, busy_days=31),
    "firing_state_known": lambda w: firing(w, state="melting", lit_at=NOW),
    "kiln_does_one_firing_at_a_time loaded": lambda w: two_at_work(w, "loaded", "loaded"),
    "kiln_does_one_firing_at_a_time firing": lambda w: two_at_work(w, "firing", "loaded"),
    "kiln_does_one_firing_at_a_time cooling": lambda w: two_at_work(w, "cooling", "firing"),
    "firing_takes_a_day": lambda w: firing(w, busy_days=0),
    "firing_takes_30_days": lambda w: firing(w, busy_days=31),
    "firing_lit_when_it_heats unlit": lambda w: firing(w, state="firing"),
    "firing_lit_when_it_heats planned": lambda w: firing(w, state="planned", lit_at=NOW),
    "firing_opened_with_a_time none": lambda w: firing(w, state="opened", lit_at=NOW),
    "firing_opened_with_a_time early": lambda w: firing(w, state="firing", lit_at=NOW,
                                                        opened_at=NOW + HOUR),
    "firing_opened_after_lit": lambda w: firing(w, state="opened", lit_at=NOW, opened_at=NOW),
    "firing_off_after_lit order": lambda w: firing(w, state="cooling", lit_at=NOW, off_at=NOW),
    "firing_off_after_lit state": lambda w: firing(w, state="firing", lit_at=NOW,
                                                   off_at=NOW + HOUR),
    "firing_cooling_was_switched_off": lambda w: firing(w, state="cooling", lit_at=NOW),
    "planned_ware_counts": planned_none,
    "planned_line_once": planned_twice,
    "planned_ware_once": planned_bisque_twice,
    "piece_once_in_a_load": twice_in_a_load,
    "piece_in_one_open_load": in_two_open_loads,
    "outcome_known": unknown_outcome,
    "firing_meter_runs_forward": lambda w: firing(w, meter_before_wh=2, meter_after_wh=1),
    "firing_cost_from_known": lambda w: firing(w, cost_from="guess"),
    "firing_failed_says_why silent": lambda w: firing(
        w, state="opened", lit_at=NOW, opened_at=NOW + HOUR, is_failed=True
    ),
    "firing_failed_says_why shut": lambda w: firing(w, is_failed=True, failed_why="fuse"),
    "result_shows_something": lambda w: Result.objects.create(firing=firing(w), by=w.by, at=NOW),
    "tariff_is_one": lambda w: Tariff.objects.create(id=2, price_hundredths=2850),
    "tariff_possible none": lambda w: Tariff.objects.create(price_hundredths=0),
    "tariff_possible over": lambda w: Tariff.objects.create(price_hundredths=1_000_001),
    "trial_rule_is_one": lambda w: TrialRule.objects.create(id=2),
    "trial_rule_sizes none": lambda w: TrialRule.objects.create(least_pieces=0),
    "trial_rule_sizes order": lambda w: TrialRule.objects.create(least_pieces=3, most_pieces=2),
    "trial_rule_share none": lambda w: TrialRule.objects.create(share_percent=0),
    "trial_rule_share over": lambda w: TrialRule.objects.create(share_percent=101),
    "witness_cone_once": cone_read_twice,
    "witness_cone_known": lambda w: cone(w, cone="66"),
    "witness_cone_read where": lambda w: cone(w, where="lid"),
    "witness_cone_read bend": lambda w: cone(w, bend="gone"),
    "care_once": lambda w: (care(w), care(w)),
    "care_known part": lambda w: care(w, part="lid"),
    "care_known did": lambda w: care(w, did="kicked"),
    "care_rule_once": lambda w: (care_rule(w), care_rule(w)),
    "care_rule_part_known": lambda w: care_rule(w, part="lid"),
    "care_rule_counts look": lambda w: care_rule(w, look_firings=0),
    "care_rule_counts days": lambda w: care_rule(w, look_days=0),
    "care_rule_counts change": lambda w: care_rule(w, change_firings=0),
    "element_life_once": lambda w: (life(w), life(w)),
    "element_life_cone": lambda w: life(w, cone="60"),
    "element_life_counts": lambda w: life(w, firings=0),
    "one_log_of_a_firing": two_logs,
    "log_rows_add_up few": lambda w: kept_log(w, kept_count=1),
    "log_rows_add_up more": lambda w: kept_log(w, kept_count=4),
    "log_part_in_order half": lambda w: kept_log(w, from_h=1.0),
    "log_part_in_order end": lambda w: kept_log(w, until_h=1.0),
    "log_part_in_order empty": lambda w: kept_log(w, from_h=1.0, until_h=1.0),
    "log_part_in_order early": lambda w: kept_log(w, from_h=-1.0, until_h=1.0),
    "night_rule_is_one": lambda w: NightRule.objects.create(id=2),
    "night_has_two_ends": lambda w: NightRule.objects.create(night_from=time(6)),
    "firing_fuel_in_a_unit bare": lambda w: Firing.objects.filter(pk=w.planned().pk).update(
        fuel_thousandths=5
    ),
    "run_fuel_in_a_unit bare": lambda w: Run.objects.update(fuel_thousandths=5),
    "run_fuel_in_a_unit empty": lambda w: Run.objects.update(fuel_unit="kg"),
    "kiln_fit_possible offset": lambda w: fit(w, offset_c=101),
    "kiln_fit_possible cold": lambda w: fit(w, offset_c=-101),
    "kiln_fit_possible above": lambda w: fit(w, above_h=0),
    "kiln_fit_possible below": lambda w: fit(w, below_h=101),
}  # fmt: skip


@pytest.mark.parametrize("name", list(MUST_FAIL))
def test_the_database_refuses(world: World, name: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        MUST_FAIL[name](world)


def test_every_constraint_of_the_room_is_tried() -> None:
    tried = {name.split(" ")[0] for name in MUST_FAIL}
    models = [Circuit, Kiln, Schedule, Segment, Run, Firing, PlannedWare, Place, WitnessCone]
    models += [
        TrialRule,
        Result,
        Tariff,
        Care,
        CareRule,
        ElementLife,
        FiringLog,
        KilnFit,
        NightRule,
    ]
    ours = {constraint.name for model in models for constraint in model._meta.constraints}
    assert ours <= tried


def test_what_must_be_possible_is(world: World) -> None:
    """Otherwise a check that refuses everything would pass the tests above."""
    firing(world, state="planned")
    firing(world, state="loaded")
    firing(world, kiln=world.small, state="cooling", lit_at=NOW, off_at=NOW + HOUR)
    firing(world, state="opened", lit_at=NOW, opened_at=NOW + HOUR)
    firing(world, state="called_off")
    firing(world, busy_days=30)
    kiln(world)
    kiln(world, name="Stork", sides=4, inside_depth_mm=1, fuel="wood")
    run(world)
    Run.objects.update(busy_days=30)
    Schedule.objects.update(cooling="slow")
    segment(world, rate_c_per_h=None)
    segment(world, seq=10, rate_c_per_h=600, hold_min=2880)
    cone(world)
    care(world), care_rule(world), life(world), fit(world, offset_c=-100)
    kept_log(world), kept_log(world, is_away=True)
    one = piece(world)
    load = firing(world)
    for _ in range(2):
        Place.objects.create(firing=load, piece=one, board=one.board, outcome="taken_out")
    Place.objects.create(firing=load, piece=one, board=one.board)
