"""The papers of a month, or of one parcel: slips, packer's list, labels, customs sheets.

Printing marks nothing. Who had addresses printed is kept, as it is for every look at one.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_GET

from studio.parcels import papers, services
from studio.parcels.forms import LabelsForm
from studio.parcels.models import Parcel, Shipment
from studio.parcels.views.bench_pages import refuse_past
from studio.web.htmx import HtmxRequest
from studio.web.idempotency import refused
from studio.web.refusal import Refusal
from studio.web.roles import helpers_may


@helpers_may
@require_GET
def slips(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """The packing slips as a PDF."""
    held, one = _asked(request, shipment_id)
    return _paper(request, held, one, "slips", lambda: papers.slips_paper(held, parcel=one))


@helpers_may
@require_GET
def labels(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """The address labels as a PDF, on the sheet that was chosen."""
    held, one = _asked(request, shipment_id)
    form = LabelsForm({"sheet": "a4", **request.GET.dict()})
    if not form.is_valid():
        sentence = " ".join(str(e) for errors in form.errors.values() for e in errors)
        return refused(request, sentence, status=409)
    sheet, start = form.cleaned_data["sheet"], form.cleaned_data["start"] or 1
    return _paper(
        request,
        held,
        one,
        "labels",
        lambda: papers.labels_paper(held, sheet=sheet, start=start, parcel=one),
    )


@helpers_may
@require_GET
def customs(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """The customs sheets as a PDF."""
    held, one = _asked(request, shipment_id)
    return _paper(request, held, one, "customs", lambda: papers.customs_paper(held, parcel=one))


@helpers_may
@require_GET
def packers_list(request: HtmxRequest, shipment_id: int) -> HttpResponse:
    """The packer's list as a PDF. It has no addresses."""
    held, _ = _asked(request, shipment_id)
    return _paper(request, held, None, "packers-list", lambda: papers.packers_paper(held))


def _asked(request: HtmxRequest, shipment_id: int) -> tuple[Shipment, Parcel | None]:
    held = get_object_or_404(Shipment, id=shipment_id)
    refuse_past(request.user, held)
    asked = request.GET.get("parcel", "")
    if not asked:
        return held, None
    id_ = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 12 else 0
    return held, get_object_or_404(held.parcels.all(), id=id_)


def _paper(
    request: HtmxRequest,
    held: Shipment,
    one: Parcel | None,
    kind: str,
    make: Callable[[], bytes],
) -> HttpResponse:
    """Answer the paper, and keep who saw the addresses on it; or say why there is none."""
    try:
        data = make()
    except Refusal as refusal:
        return refused(request, str(refusal), status=409)
    if kind != "packers-list":
        seen = papers.addressed(held, parcel=one)
        services.keep_looks(page=kind, by=request.user, at=timezone.now(), parcels=seen)
    response = HttpResponse(data, content_type="application/pdf")
    name = f"{kind}-{one or held}.pdf"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response
