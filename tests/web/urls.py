"""Pages that exist for the tests alone: the smallest views that act once."""

import time

from django.contrib.auth.models import Group
from django.db import IntegrityError, OperationalError
from django.http import HttpResponse
from django.shortcuts import redirect
from django.template import engines
from django.urls import include, path

from studio.web.htmx import HtmxRequest
from studio.web.idempotency import acting_once, acts_once, answered_before
from studio.web.refusal import Refusal
from studio.web.said import say_done
from studio.web.services import record

FORM = """{% extends "base.html" %}
{% block title %}Form{% endblock %}
{% block content %}
<header class="page-head"><h1>Form</h1><p id="runs">{{ runs }}</p></header>
<form method="post" class="form-grid"{% if quick %} hx-boost="true"{% endif %}>
  {% csrf_token %}{% form_key %}
  <div class="field">
    <label for="name">Name</label><input id="name" name="name" value="{{ request.POST.name }}">
  </div>
  <label class="pick"><input type="checkbox" name="ticked" value="7"><span>This one</span></label>
  <div class="btns"><button class="btn btn-main">Add</button></div>
</form>
{% endblock %}
"""

runs: list[str] = []


def add(request: HtmxRequest) -> None:
    """Save a row, as a service would."""
    runs.append(request.POST["name"])
    Group.objects.create(name=f"{request.POST['name']} {len(runs)}")


@acts_once
def plain(request: HtmxRequest) -> HttpResponse:
    if request.method == "GET":
        return HttpResponse("a form")
    add(request)
    if request.POST["name"] == "page":
        return HttpResponse("the form again", status=422)
    if request.POST["name"] == "refused":
        raise Refusal("The shelf is full.")
    if request.POST["name"] == "full":
        raise OperationalError("database or disk is full")
    if request.POST["name"] == "taken":
        raise IntegrityError("UNIQUE constraint failed: sales_saleday.name")
    if request.POST["name"] == "broken":
        raise ZeroDivisionError
    if request.POST["name"] == "slow":
        time.sleep(0.3)  # long enough for the other post to arrive meanwhile
    change = record(room="web", action="add", said="Added", by=request.user, undo={"id": 1})
    say_done(request, change)
    return redirect(f"/went/{len(runs)}/")


def long(request: HtmxRequest) -> HttpResponse:
    if first := answered_before(request):
        return first
    runs.append("worked long")

    def act() -> str:
        if request.POST["name"] == "refused":
            Group.objects.create(name="half done")
            raise Refusal("The plan is from yesterday.")
        Group.objects.create(name="planned")
        return "/went/planned/"

    return acting_once(request, act)


@acts_once
def form(request: HtmxRequest) -> HttpResponse:
    """A page with one field, for the browser."""
    if request.method == "POST" and request.POST["name"] != "bad":
        add(request)
        say_done(request, f"Added {request.POST['name']}")
        return redirect(request.path)
    context = {"runs": len(runs), "quick": "quick" in request.path}
    return HttpResponse(engines["django"].from_string(FORM).render(context, request))


def went(request: HtmxRequest, where: str) -> HttpResponse:
    return HttpResponse(where)


urlpatterns = [
    path("tests/plain/", plain),
    path("tests/other/", plain),
    path("tests/long/", long),
    path("tests/form/", form),
    path("tests/quick/", form),
    path("went/<str:where>/", went),
    path("", include("studio.urls")),
]
