"""Does Today hear what the plan in force asks, less what pots have done since?"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from studio.planning.models import BackPlan, Task
from studio.planning.selectors import due_work
from studio.web.models import Change
from tests.planning.cast import NOW, TODAY, Cast, at

DAY = timedelta(days=1)


@pytest.fixture
def backplan(cast: Cast) -> BackPlan:
    """A plan in force, worked out two days ago."""
    return BackPlan.objects.create(
        state="accepted",
        today_date=TODAY - 2 * DAY,
        last_date=TODAY + 30 * DAY,
        problem={},
        plan={},
        by=cast.by,
        made_at=at(TODAY - 2 * DAY, 8),
    )


def ask(cast: Cast, backplan: BackPlan, work: str, day: date, count: int) -> None:
    glazed = work != "throwing"
    Task.objects.create(
        backplan=backplan,
        work=work,
        date=day,
        form=cast.mug,
        clay_lot=cast.clay,
        coats=cast.sky if glazed else None,
        schedule=cast.gloss if glazed else None,
        count=count,
    )


def said(today_date: date = TODAY) -> list[tuple[str, int, bool, str]]:
    return [
        (work.text, work.count, work.is_late, work.url_name)
        for work in due_work(today_date=today_date)
    ]


def test_nothing_without_a_plan_in_force(cast: Cast, backplan: BackPlan) -> None:
    ask(cast, backplan, "throwing", TODAY, 10)
    backplan.state = "put_aside"
    backplan.save()
    assert due_work(today_date=TODAY) == []


def test_today_and_late_stand_apart_and_tomorrow_waits(cast: Cast, backplan: BackPlan) -> None:
    ask(cast, backplan, "throwing", TODAY - DAY, 10)
    ask(cast, backplan, "throwing", TODAY, 8)
    ask(cast, backplan, "throwing", TODAY + DAY, 99)
    assert said() == [
        ("Throw Mug", 10, True, "wares:throw"),
        ("Throw Mug", 8, False, "wares:throw"),
    ]
    assert due_work(today_date=TODAY)[0].detail == "the plan asked for it by Tue 24 Nov"


def test_what_was_thrown_since_covers_the_oldest_first(cast: Cast, backplan: BackPlan) -> None:
    ask(cast, backplan, "throwing", TODAY - DAY, 10)
    ask(cast, backplan, "throwing", TODAY, 8)
    pieces = cast.board("T1", 14)
    for piece in pieces[:7]:
        cast.moved(piece, "made", "thrown", moment=at(TODAY - DAY))
    assert [row[:3] for row in said()] == [
        ("Throw Mug", 10 - 7, True),
        ("Throw Mug", 8, False),
    ]
    for piece in pieces[7:12]:
        cast.moved(piece, "made", "thrown", moment=NOW)
    assert [row[:3] for row in said()] == [("Throw Mug", 18 - 12, False)]


def test_what_was_thrown_before_the_plan_does_not_count(cast: Cast, backplan: BackPlan) -> None:
    ask(cast, backplan, "throwing", TODAY, 8)
    for piece in cast.board("T1", 5):
        cast.moved(piece, "made", "thrown", moment=backplan.made_at - timedelta(minutes=1))
    assert [row[1] for row in said()] == [8]


def test_a_step_that_was_undone_does_not_count(cast: Cast, backplan: BackPlan) -> None:
    ask(cast, backplan, "glazing", TODAY, 8)
    pieces = cast.board("G1", 5, stage="glazed")
    for piece in pieces:
        cast.moved(piece, "step", "glazed", moment=NOW)
    assert said() == [("Glaze Mug in Sky", 8 - 5, False, "wares:boards")]
    change = pieces[0].moves.get().change
    Change.objects.create(room="wares", action="undo", said="no", by=cast.by, at=NOW, undoes=change)
    assert [row[1] for row in said()] == [8 - 4]


def test_grading_is_counted_by_line(cast: Cast, backplan: BackPlan) -> None:
    ask(cast, backplan, "finishing", TODAY - DAY, 6)
    for piece in cast.board("R1", 2, stage="graded"):
        cast.moved(piece, "step", "graded", moment=NOW)
    for piece in cast.board("R2", 2, stage="graded", form=cast.bowl):
        cast.moved(piece, "step", "graded", moment=NOW)
    assert said() == [("Grade and list Mug in Sky", 6 - 2, True, "wares:boards")]


def test_a_second_does_not_stand_for_a_first(cast: Cast, backplan: BackPlan) -> None:
    ask(cast, backplan, "finishing", TODAY, 6)
    firsts = cast.board("R1", 3, stage="graded")
    for piece in firsts + cast.board("R2", 2, stage="graded", grade="second"):
        cast.moved(piece, "step", "graded", moment=NOW)
    # Of the 5 graded, 3 are firsts: 6 - 3.
    assert said() == [("Grade and list Mug in Sky", 6 - 3, False, "wares:boards")]


def test_all_done_says_nothing(cast: Cast, backplan: BackPlan) -> None:
    ask(cast, backplan, "throwing", TODAY, 2)
    for piece in cast.board("T1", 3):
        cast.moved(piece, "made", "thrown", moment=NOW)
    assert said() == []


def test_a_throwing_line_leads_to_its_form_filled_in(
    cast: Cast, backplan: BackPlan, signed_in: Client
) -> None:
    ask(cast, backplan, "throwing", TODAY, 8)
    (line,) = due_work(today_date=TODAY)
    assert line.query == f"?form={cast.mug.pk}&clay_lot={cast.clay.pk}&count=8"
    page = signed_in.get(reverse(line.url_name) + line.query).content.decode()
    assert 'value="8"' in page


def test_a_glazing_line_leads_to_each_board_and_asks_no_more_than_stands(
    cast: Cast, backplan: BackPlan, signed_in: Client
) -> None:
    ask(cast, backplan, "glazing", TODAY - DAY, 10)
    ask(cast, backplan, "glazing", TODAY, 4)
    cast.board("B1", 6, stage="bisqued", made_date=TODAY - 9 * DAY)
    cast.board("B2", 5, stage="bisqued", made_date=TODAY - 8 * DAY)
    cast.board("B3", 5, stage="bisqued", form=cast.bowl)
    in_kiln = cast.board("B4", 9, stage="bisqued")
    cast.firing(cast.little, cast.gloss, state="loaded", pieces=in_kiln)
    # 10 late: 6 on B1 and 4 of B2; 4 today: the 1 left on B2, and 3 that stand nowhere.
    assert [row[:3] for row in said()] == [
        ("Glaze Mug in Sky, B1", 6, True),
        ("Glaze Mug in Sky, B2", 4, True),
        ("Glaze Mug in Sky, B2", 1, False),
        ("Glaze Mug in Sky", 3, False),
    ]
    _, second, _, beyond = due_work(today_date=TODAY)
    assert beyond.detail == "today, by the plan; no more of it stands bisqued yet"
    assert beyond.url_name == "wares:boards"
    url = reverse(second.url_name, args=second.url_args) + second.query
    initial = signed_in.get(url).context["form"].initial
    assert (initial["line"], initial["count"]) == (str(cast.mugs.pk), 4)


def test_a_grading_line_leads_to_its_board(
    cast: Cast, backplan: BackPlan, signed_in: Client
) -> None:
    ask(cast, backplan, "finishing", TODAY, 6)
    cast.board("F1", 8, stage="fired")
    cast.board("F2", 8, stage="fired", form=cast.bowl)
    (line,) = due_work(today_date=TODAY)
    assert (line.text, line.count) == ("Grade and list Mug in Sky, F1", 6)
    page = signed_in.get(reverse(line.url_name, args=line.url_args)).content.decode()
    assert "F1" in page
