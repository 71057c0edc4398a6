"""Boards by stage, one board with its next step, and every step of a board."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from studio.wares import rules, selectors, services
from studio.wares.forms.steps import (
    DryForm,
    GlazeForm,
    GradeForm,
    LoseForm,
    MergeForm,
    PlaceForm,
    SplitForm,
    ThrowForm,
)
from studio.wares.models import Board, ClayLot, Form, LabResult, Line, Stage
from studio.web.acting import acted
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acts_once
from studio.web.models import Change

read_and_post = require_http_methods(["GET", "POST"])


@require_GET
def boards(request: HtmxRequest) -> HttpResponse:
    """Show every board that holds something, by stage."""
    groups = selectors.boards_now()
    shown: dict[str, list[selectors.Group]] = {
        stage: [] for stage in ["thrown", "dry", *Stage.values[1:]]
    }
    for group in groups:
        shown[group.shows_stage].append(group)
    stages = [(stage, some, sum(g.count for g in some)) for stage, some in shown.items() if some]
    listed = selectors.sums().on_hand[Stage.LISTED]
    return render(request, "wares/boards.html", {"stages": stages, "listed": listed})


@require_GET
def board(request: HtmxRequest, board_id: int) -> HttpResponse:
    """Show one board; its next step is the biggest button."""
    group = _group(board_id)
    held = group.board
    today = timezone.localdate()
    changes = selectors.board_changes(held)
    context = {
        "group": group,
        "board": held,
        "kiln_refusal": rules.can_touch(label=held.label, kiln=group.kiln),
        "split_refusal": "A board of one cannot be split." if group.count == 1 else None,
        "mates": selectors.mates(group) if group.count else [],
        "changes": changes,
        "firings": selectors.firings_waiting(group),
        "undoable": selectors.undoable(changes),
        "pieces": held.pieces.select_related("photo", "reservation").order_by("number"),
        "unseen": held.pieces.filter(photo=None, number__isnull=False).order_by("number").first(),
        "dry_form": DryForm(initial={"dry_date": today, "seen": group.seen}),
        "early": _early(group, today),
        "days": (today - group.made_date).days if group.made_date else None,
    }
    return render(request, "wares/board.html", context)


@read_and_post
@acts_once
def throw(request: HtmxRequest) -> HttpResponse:
    """Write down a new board; the last throws can be repeated with one tap."""
    again = selectors.recent_throws()
    last = again[0] if again else None
    form = ThrowForm(
        request.POST or None,
        initial={
            "form": last.form if last else None,
            "clay_lot": last.clay_lot if last else ClayLot.objects.last(),
            "count": last.count if last else 12,
            "made_date": timezone.localdate(),
        }
        | _asked(request, "form", "clay_lot", "count"),
    )

    def act() -> Change:
        typed = dict(form.cleaned_data)
        return services.throw(board_label=typed.pop("label"), **typed, **_who(request))

    done = _acted(request, form, act)
    context = {
        "again": again,
        "label": selectors.next_label(),
        "today": timezone.localdate(),
        "forms_exist": Form.objects.exists(),
        "clay_exists": ClayLot.objects.exists(),
    }
    return done or _page(request, "wares/throw.html", form, context)


@read_and_post
@acts_once
def dry(request: HtmxRequest, board_id: int) -> HttpResponse:
    """Mark a board bone dry."""
    group = _group(board_id)
    initial = {"dry_date": timezone.localdate(), "seen": group.seen}
    form = DryForm(request.POST or None, initial=initial)
    early = _early(group, timezone.localdate())

    def act() -> Change:
        return services.mark_dry(board=group.board, **form.cleaned_data, **_who(request))

    done = _acted(request, form, act)
    return done or _page(request, "wares/dry.html", form, {"group": group, "early": early})


@read_and_post
@acts_once
def glaze(request: HtmxRequest, board_id: int) -> HttpResponse:
    """Glaze a board: the lines known for its form and clay come first."""
    group = _group(board_id)
    refusal = _first_of(group, rules.can_step(stage=group.stage, to_stage="glazed"))
    lines = (
        selectors.lines_for(form=group.form, clay_lot=group.clay_lot)
        if group.form and group.clay_lot
        else []
    )
    asked = int(_asked(request, "count").get("count", group.count))
    initial = {
        "seen": group.seen,
        "count": min(asked, group.count),
        "lost": 0,
        "line": _one_line(lines, request.GET.get("line", "")),
    }
    form = GlazeForm(request.POST or None, initial=initial, lines=lines, holds=group.count)

    def act() -> Change:
        typed = {k: v for k, v in form.cleaned_data.items() if k != "line"}
        return services.glaze(board=group.board, **typed, **_who(request))

    done = _acted(request, form, act)
    context = {"group": group, "refusal": refusal, "lines": lines, "no_lab": _no_lab(group)}
    return done or _page(request, "wares/glaze.html", form, context)


@read_and_post
@acts_once
def grade(request: HtmxRequest, board_id: int) -> HttpResponse:
    """Grade a fired board: all are firsts but the ones that are counted here."""
    group = _group(board_id)
    refusal = _first_of(group, rules.can_step(stage=group.stage, to_stage="graded"))
    refire_refusal = group.form and rules.can_refire(
        form=group.form.name, may_refire=group.form.may_refire
    )
    zeros = dict.fromkeys(["seconds", "refires", "scraps", "later"], 0)
    form = GradeForm(request.POST or None, initial={"seen": group.seen} | zeros, holds=group.count)

    def act() -> Change:
        counts = form.counts(holds=group.count)
        return services.grade(
            board=group.board,
            firsts=counts["firsts"],
            seconds=counts["seconds"],
            refires=counts["refires"],
            scraps=counts["scraps"],
            faults=form.faults(),
            place=form.cleaned_data["place"].strip(),
            seen=form.cleaned_data["seen"],
            **_who(request),
        )

    done = _acted(request, form, act)
    context = {"group": group, "refusal": refusal, "refire_refusal": refire_refusal}
    return done or _page(request, "wares/grade.html", form, context)


@read_and_post
@acts_once
def lose(request: HtmxRequest, board_id: int) -> HttpResponse:
    """Write down what broke or was scrapped of a board."""
    group = _group(board_id)
    form = LoseForm(
        request.POST or None, initial={"seen": group.seen, "count": 1}, holds=group.count
    )

    def act() -> Change:
        typed = form.cleaned_data
        return services.lose(
            board=group.board,
            count=typed["count"],
            parting=typed["parting"],
            cause=form.cause,
            fault=typed["fault"],
            seen=typed["seen"],
            **_who(request),
        )

    done = _acted(request, form, act)
    context = {"group": group, "refusal": _first_of(group)}
    return done or _page(request, "wares/lose.html", form, context)


@read_and_post
@acts_once
def split(request: HtmxRequest, board_id: int) -> HttpResponse:
    """Put some of a board on another one."""
    group = _group(board_id)
    initial = {"seen": group.seen, "count": group.count // 2}
    form = SplitForm(request.POST or None, initial=initial, holds=group.count - 1)

    def act() -> Change:
        return services.split(board=group.board, **form.cleaned_data, **_who(request))

    done = _acted(request, form, act)
    context = {"group": group, "refusal": _first_of(group), "label": selectors.next_label()}
    return done or _page(request, "wares/split.html", form, context)


@read_and_post
@acts_once
def merge(request: HtmxRequest, board_id: int) -> HttpResponse:
    """Put a board onto another of the same kind and stage."""
    group = _group(board_id)
    mates = selectors.mates(group) if group.count else []
    form = MergeForm(
        request.POST or None,
        initial={"seen": group.seen, "into": mates[0].board if mates else None},
        boards=[mate.board for mate in mates],
    )

    def act() -> Change:
        return services.merge(board=group.board, **form.cleaned_data, **_who(request))

    done = _acted(request, form, act, to=lambda: form.cleaned_data["into"].id)
    context = {"group": group, "mates": mates, "refusal": _first_of(group)}
    return done or _page(request, "wares/merge.html", form, context)


@read_and_post
@acts_once
def place(request: HtmxRequest, board_id: int) -> HttpResponse:
    """Say what a board is called and where it stands."""
    group = _group(board_id)
    initial = {"label": group.board.label, "place": group.board.place}
    form = PlaceForm(request.POST or None, initial=initial)

    def act() -> Change:
        return services.place(board=group.board, **form.cleaned_data, **_who(request))

    done = _acted(request, form, act)
    return done or _page(request, "wares/place.html", form, {"group": group})


def _group(board_id: int) -> selectors.Group:
    return selectors.board_group(get_object_or_404(Board, id=board_id))


def _who(request: HtmxRequest) -> dict[str, Any]:
    return {"by": request.user, "at": timezone.now()}


def _asked(request: HtmxRequest, *names: str) -> dict[str, str]:
    """What the link that led here asks for; ids and counts only, the rest is passed over."""
    given = {name: request.GET.get(name, "") for name in names}
    return {name: said for name, said in given.items() if re.fullmatch("[0-9]{1,9}", said)}


def _one_line(lines: Sequence[Line], asked: str) -> str:
    """Pick the line that was asked for or the only one; of several, none by itself."""
    ids = [str(line.id) for line in lines]
    if asked in ids:
        return asked
    return "other" if not ids else ids[0] if len(ids) == 1 else ""


def _no_lab(group: selectors.Group) -> str:
    """What is said of food beside the glazes for this clay."""
    if LabResult.objects.filter(clay_lot=group.clay_lot).exists():
        return "Lab tests on file for this clay stand on the pages of its lines."
    return rules.NO_LAB_RESULT


def _early(group: selectors.Group, day: date) -> bool:
    """Is it so long before the board's time that being dry by that day is asked for?"""
    if group.form is None or group.last_made_date is None:
        return False
    return rules.is_early(
        dry_date=day, made_date=group.last_made_date, drying_days=group.form.drying_days
    )


def _first_of(group: selectors.Group, *more: str | None) -> str | None:
    """Say why a board can take no step at all, or not this one."""
    return rules.first_refusal(
        [
            rules.can_take(label=group.board.label, count=1, holds=group.count),
            rules.can_touch(label=group.board.label, kiln=group.kiln),
            *more,
        ]
    )


def _acted(
    request: HtmxRequest,
    form: forms.Form,
    act: Callable[[], Change],
    to: Callable[[], int] | None = None,
) -> HttpResponse | None:
    """Act on a usable posted form and answer the way to its board; None leaves the form to show."""
    change = acted(request, form, act)
    if change is None:
        return None
    return redirect("wares:board", to() if to else change.subject_id)


def _page(
    request: HtmxRequest, template: str, form: forms.Form, context: dict[str, Any]
) -> HttpResponse:
    return render(request, template, {"form": form, **context}, status=422 if form.errors else 200)
