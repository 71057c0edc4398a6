"""Does ``manage.py backplan`` print what the page shows, store only when told, and end honestly?"""

from __future__ import annotations

import io
import json
import re
import signal
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command

from studio.craft import backplan as craft_backplan
from studio.craft.answer import Plan
from studio.craft.backplan import NotFoundInTime
from studio.craft.plan_record import plan_from_json, problem_from_json
from studio.craft.referee import broken_promises
from studio.firings.models import Firing
from studio.planning.models import BackPlan
from studio.planning.selectors.question import NOTHING_PROMISED, ask
from tests.planning.cast import TODAY, Cast

pytestmark = pytest.mark.usefixtures("clock")

DAY = timedelta(days=1)


def run(*words: str) -> str:
    out = io.StringIO()
    call_command("backplan", "--seconds", "60", *words, stdout=out)
    return out.getvalue()


def test_the_plan_is_printed_in_columns_and_not_stored(wants_mugs: Cast) -> None:
    told = run().splitlines()
    assert told[0] == "All 12 wanted by Sat 9 Jan 2027 come in time."
    firings = told[told.index("Firings") + 1 :]
    heads, first = firings[0], firings[1]
    words = ["Starts", "Kiln", "Firing", "Opens", "Full", "Spare", "days", "Holds"]
    assert heads.split() == words
    assert heads.index("Kiln") == max(first.find("Wide"), first.find("Little"))
    assert any("Throw" in line and "Mug" in line for line in told)
    assert any("12 × Mug in Sky" in line and "12 come" in line for line in told)
    by = told[told.index("Throw by") + 2]
    assert re.search(r"\d+ × Mug in Sky", by)
    assert not re.search(r"\d Mug", "\n".join(told))
    assert not BackPlan.objects.exists()


def test_json_holds_the_whole_question_and_answer(wants_mugs: Cast) -> None:
    record = json.loads(run("--json"))
    problem, plan = problem_from_json(record["problem"]), plan_from_json(record["plan"])
    assert broken_promises(problem=problem, plan=plan) == ()
    assert sum(kept.kept for kept in plan.kept) == 12
    assert record["remarks"] == ["Every load was packed piece by piece, and all of it stands."]
    assert record["outcome"] == "kept"


def test_a_shortage_is_told_with_what_would_help(wants_mugs: Cast) -> None:
    wants_mugs.sale("Too soon", TODAY + 3 * DAY, {wants_mugs.mugs: 4})
    told = run()
    assert "12 of 16 wanted by" in told
    assert "4 pieces are short in every plan there is" in told
    assert "12 of 16 can be had, and no more." in told
    assert re.search(r"4 more would come with a later date\.", told)
    assert "How full hands and kilns are" in told
    assert "none come; 4 short" in told


def test_ctrl_c_ends_the_search_and_keeps_the_best(
    wants_mugs: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = craft_backplan.plan(problem=ask(today_date=TODAY).problem, seconds=60)

    def slow(*, stop: Callable[[], bool], **_: object) -> Plan:
        assert not stop()
        signal.raise_signal(signal.SIGINT)
        assert stop()
        return found

    before = signal.getsignal(signal.SIGINT)
    monkeypatch.setattr(craft_backplan, "plan", slow)
    assert run().startswith("All 12 wanted")
    assert signal.getsignal(signal.SIGINT) == before


def test_nothing_promised_ends_with_2(cast: Cast) -> None:
    with pytest.raises(CommandError) as caught:
        run()
    assert caught.value.returncode == 2
    assert NOTHING_PROMISED in str(caught.value)


def test_not_found_in_time_ends_with_3(wants_mugs: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def slow(*, seconds: float, **_: object) -> Plan:
        raise NotFoundInTime(seconds=seconds)

    monkeypatch.setattr(craft_backplan, "plan", slow)
    with pytest.raises(CommandError, match="No plan was found in 60 seconds") as caught:
        run()
    assert caught.value.returncode == 3


def test_propose_stores_and_accept_puts_in_force(wants_mugs: Cast) -> None:
    run("--propose")
    assert [plan.state for plan in BackPlan.objects.all()] == ["proposed"]
    assert not Firing.objects.exists()
    run("--accept", "--by", wants_mugs.by.username)
    assert [plan.state for plan in BackPlan.objects.all()] == ["accepted", "put_aside"]
    assert Firing.objects.filter(state="planned").exists()


def test_who_accepts_must_be_known(wants_mugs: Cast, other_potter: User) -> None:
    with pytest.raises(CommandError, match="Say who does this: --by NAME"):
        run("--accept")
    with pytest.raises(CommandError, match="Nobody who may sign in is called zoe"):
        run("--accept", "--by", "zoe")
    assert not BackPlan.objects.exists()


def test_until_and_afresh_reach_the_question(wants_mugs: Cast) -> None:
    wants_mugs.shipment(TODAY + 20 * DAY, {wants_mugs.mugs: 2})
    until = (TODAY + 21 * DAY).isoformat()
    record = json.loads(run("--json", "--afresh", "--until", until))
    assert record["problem"]["last_date"] == until
    assert [need["name"] for need in record["problem"]["needs"]] == ["Parcels of December 2026"]
    with pytest.raises(CommandError, match="soon is no day; write it as 2026-12-24"):
        run("--until", "soon")
    with pytest.raises(CommandError, match="up to 600 s"):
        call_command("backplan", "--seconds", "0")
