"""Supporters as a file: in, in three pages, and out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods
from django_htmx.http import HttpResponseClientRedirect

from studio.parcels import roll, roll_columns, rules, selectors, services, uploads
from studio.parcels.forms import ChosenRowsForm, MatchingForm, RollForm
from studio.parcels.models import Supporter
from studio.parcels.roll_row import Known
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, answered_before, refused
from studio.web.refusal import Refusal
from studio.web.said import say_done, say_refused

GONE = "That file is not here any more: it was taken in, or sent too long ago. Send it again."


@require_http_methods(["GET", "POST"])
def import_roll(request: HtmxRequest) -> HttpResponse:
    """Take a file and keep it, to have its columns matched. Changes nothing."""
    form = RollForm(request.POST or None, request.FILES or None)
    causes: tuple[str, ...] = ()
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data["file"].read()
        try:
            sheet = roll.open_sheet(data)
            # To the last row: a file that breaks off must be refused here, where it can be said.
            if sum(1 for _ in sheet.rows()) == 0:
                raise roll.BadRoll("The file has a header and no rows below it.")
        except roll.BadRoll as problem:
            causes = problem.causes
        else:
            token = uploads.keep(data=data, by_id=request.user.pk)
            return redirect("parcels:import-columns", token)
    context = {"form": form, "causes": causes, "meanings": roll_columns.meanings()}
    wrong = bool(causes) or bool(form.errors)
    return render(request, "parcels/import.html", context, status=422 if wrong else 200)


@require_GET
def match_columns(request: HtmxRequest, token: str) -> HttpResponse:
    """Which field is each column? Guessed; the person corrects."""
    sheet = _sheet(request, token)
    if sheet is None:
        return _gone(request)
    form = _matching_form(request, sheet)
    cells = roll_columns.samples(sheet, rows=20)
    context = {
        "token": token,
        "form": form,
        "columns": [(box, values[:3]) for box, values in zip(form.columns(), cells, strict=True)],
        "rows": sum(1 for _ in sheet.rows()),
        "meanings": roll_columns.meanings(),
    }
    return render(request, "parcels/import_columns.html", context)


@require_http_methods(["GET", "POST"])
def import_changes(request: HtmxRequest, token: str) -> HttpResponse:
    """What will change, row by row; a POST takes all of it in, or the chosen rows."""
    first = answered_before(request)
    if first is not None:
        return first
    sheet = _sheet(request, token)
    if sheet is None:
        return _gone(request)
    matching_form = _matching_form(request, sheet)
    cannot: tuple[str, ...] = ("Choose a field of the list for every column.",)
    if matching_form.is_valid():
        matching = matching_form.matching()
        cannot = roll.cannot_match(matching.fields, matching.defaults)
    if cannot:
        wrong = {"token": token, "cannot": cannot, "query": request.GET.urlencode()}
        return render(request, "parcels/import_changes.html", wrong, status=422)
    form = ChosenRowsForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        return _take_in(request, token, sheet, matching, form.cleaned_data["chosen"])
    look = _look(request, token, sheet, matching)
    left_out = roll_columns.left_out(sheet.header, matching.fields)
    return _looked(request, look, {"token": token, "form": form, "left_out": left_out})


@require_GET
def export_roll(request: HtmxRequest) -> StreamingHttpResponse:
    """All supporters as a CSV file that can be taken in again. The look at it is kept."""
    everybody = Supporter.objects.only("id", "number", "name").iterator()
    services.keep_looks(page="export", by=request.user, at=timezone.now(), people=everybody)
    response = StreamingHttpResponse(selectors.as_roll(), content_type="text/csv; charset=utf-8")
    day = timezone.localdate().isoformat()
    response["Content-Disposition"] = f'attachment; filename="supporters-{day}.csv"'
    response["Cache-Control"] = "no-store"
    return response


def _sheet(request: HtmxRequest, token: str) -> roll.Sheet | None:
    data = uploads.kept(token=token, by_id=request.user.pk)
    return None if data is None else roll.open_sheet(data)


def _gone(request: HtmxRequest) -> HttpResponse:
    say_refused(request, GONE)
    return redirect("parcels:import")


def _known() -> Known:
    this_month = rules.month_of(timezone.localdate())
    return Known.of(**selectors.known_names(), this_month=this_month)


def _matching_form(request: HtmxRequest, sheet: roll.Sheet) -> MatchingForm:
    guessed = roll_columns.guess(sheet=sheet, known=_known())
    return MatchingForm(request.GET or None, header=sheet.header, guessed=guessed)


def _rows(sheet: roll.Sheet, matching: roll.Matching) -> Iterator[list[roll.RollRow]]:
    return services.steps(roll.read_rows(sheet=sheet, matching=matching, known=_known()))


def _query(request: HtmxRequest) -> str:
    """How the columns are matched, as it stands in the address."""
    query = request.GET.copy()
    query.pop("again", None)
    return query.urlencode()


def _look(
    request: HtmxRequest, token: str, sheet: roll.Sheet, matching: roll.Matching
) -> services.Look:
    """What the file would change, as far as one request comes with it.

    A short file is looked at anew each time. Of a long one, what was found waits beside it.
    """
    where: dict[str, Any] = {"token": token, "by_id": request.user.pk}
    if "again" in request.GET:
        uploads.forget_beside(**where)
    kept = uploads.kept_beside(**where)
    look = services.Look.read(kept) if kept else None
    if look is None or look.by != _query(request):
        look = services.Look(by=_query(request), total=sum(1 for _ in sheet.rows()))
    if not look.is_done:
        now = timezone.now()
        services.look_on(
            look, sheet=sheet, matching=matching, known=_known(), by=request.user, at=now
        )
        if look.is_long:
            uploads.keep_beside(**where, data=look.written())
    return look


def _looked(request: HtmxRequest, look: services.Look, more: dict[str, Any]) -> HttpResponse:
    """What was found, or how far the look has come."""
    context = {**more, "look": look, "preview": look.preview, "query": _query(request)}
    if not look.is_done:
        part = "import_looking" if request.htmx else "import_look"
        return render(request, f"parcels/{part}.html", context)
    if request.htmx:
        return HttpResponseClientRedirect(f"{request.path}?{context['query']}")
    status = 422 if more["form"].errors else 200
    return render(request, "parcels/import_changes.html", context, status=status)


def _take_in(
    request: HtmxRequest,
    token: str,
    sheet: roll.Sheet,
    matching: roll.Matching,
    chosen: set[int] | None,
) -> HttpResponse:
    """Take the file in step by step; the last one with the form's key."""
    who: dict[str, Any] = {"chosen": chosen, "by": request.user, "at": timezone.now()}
    done: list[services.Imported] = []
    waiting: list[roll.RollRow] = []
    try:
        for step in _rows(sheet, matching):
            if waiting:
                done.append(services.import_step(rows=waiting, **who))
            waiting = step
    except Refusal as refusal:
        return refused(request, str(refusal), status=409)

    def finish() -> str:
        done.append(services.import_step(rows=waiting, **who))
        _say(request, done)
        uploads.forget(token=token, by_id=request.user.pk)
        return resolve_url("parcels:supporters")

    return acting_once(request, finish)


def _say(request: HtmxRequest, done: list[services.Imported]) -> None:
    if len(done) == 1:
        say_done(request, done[0].change or done[0].said)
        return
    added, changed, same = (
        sum(getattr(one, name) for one in done) for name in ("added", "changed", "same")
    )
    steps = sum(one.change is not None for one in done)
    say_done(
        request,
        f"Imported supporters in {steps} steps: {added} new, {changed} changed,"
        f" {same} as they were. Each step stands in the records and can be undone, the last first.",
    )
