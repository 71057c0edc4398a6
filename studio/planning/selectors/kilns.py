"""Which kilns may a plan use, for what, how high inside, and at what cost?"""

from __future__ import annotations

from studio.craft.cones import hotter
from studio.craft.load import clear_height_mm
from studio.craft.problem import PlanKiln, Run
from studio.firings.models import Kiln
from studio.firings.models import Run as RunRow
from studio.planning.selectors.fixed import schedule_key
from studio.wares.rules import FIRES_GLAZE


def bisque_run(kiln: Kiln) -> RunRow | None:
    """The run a plan's bisque firing uses in this kiln: the shortest, then the cheapest."""
    return _best_bisque(runs_within_reach(kiln))


def _best_bisque(runs: list[RunRow]) -> RunRow | None:
    return min(
        (run for run in runs if run.schedule.kind == "bisque"),
        key=lambda run: (run.busy_days, run.cost_pence, run.schedule.name),
        default=None,
    )


def runs_within_reach(kiln: Kiln) -> list[RunRow]:
    """The runs of a kiln whose cone is not over the kiln's own top cone."""
    return [run for run in kiln.runs.all() if not hotter(run.schedule.cone, kiln.top_cone)]


def plan_kilns(remarks: list[str]) -> tuple[PlanKiln, ...]:
    """Every kiln as the planner knows it; tells the runs that are left out in ``remarks``."""
    found = []
    for kiln in Kiln.objects.order_by("id").prefetch_related("runs__schedule"):
        within = runs_within_reach(kiln)
        for run in (run for run in kiln.runs.all() if run not in within):
            remarks.append(
                f"{kiln} goes to cone {kiln.top_cone} at most; its run of {run.schedule} "
                f"(cone {run.schedule.cone}) is left out."
            )
        bisque = _best_bisque(within)
        chosen = [run for run in within if run.schedule.kind in FIRES_GLAZE]
        found.append(
            PlanKiln(
                key=str(kiln.pk),
                name=kiln.name,
                glaze_room_tenths=kiln.glaze_room_tenths,
                bisque_room_tenths=kiln.bisque_room_tenths,
                clear_height_mm=max(1, clear_height_mm(inside_height_mm=kiln.inside_height_mm)),
                circuit_key=str(kiln.circuit_id),
                takes_trials=kiln.takes_trials,
                runs=tuple(
                    Run(
                        schedule_key=schedule_key(run.schedule),
                        busy_days=run.busy_days,
                        cost_pence=run.cost_pence,
                    )
                    for run in ([bisque] if bisque else []) + chosen
                ),
            )
        )
    return tuple(found)
