"""Where are the kilns, the firings and the schedules?"""

from django.urls import path

from studio.firings import feeds
from studio.firings.views import (
    care,
    compare,
    cones,
    firings,
    furniture,
    heat,
    kilns,
    loading,
    logs,
    results,
    schedules,
    sheets,
)

app_name = "firings"

urlpatterns = [
    path("kilns/", kilns.kilns, name="kilns"),
    path("kilns/new/", kilns.edit_kiln, name="kiln-new"),
    path("kilns/<int:kiln_id>/", kilns.kiln, name="kiln"),
    path("kilns/<int:kiln_id>/edit/", kilns.edit_kiln, name="kiln-edit"),
    path("kilns/<int:kiln_id>/furniture/", furniture.edit, name="furniture"),
    path("kilns/<int:kiln_id>/care/", care.care, name="care"),
    path("kilns/<int:kiln_id>/care/due/", care.care_rules, name="care-rules"),
    path("kilns/<int:kiln_id>/runs/", kilns.edit_run, name="run"),
    path("circuits/new/", kilns.edit_circuit, name="circuit-new"),
    path("circuits/<int:circuit_id>/", kilns.edit_circuit, name="circuit"),
    path("firings/", firings.past, name="past"),
    path("firings/new/", firings.plan, name="plan"),
    path("firings/calendar.ics", feeds.calendar, name="calendar"),
    path("firings/book/", results.book, name="book"),
    path("firings/tariff/", results.tariff, name="tariff"),
    path("firings/<int:firing_id>/", firings.firing, name="firing"),
    path("firings/<int:firing_id>/results/", results.add, name="result-add"),
    path("firings/<int:firing_id>/shift/", firings.shift, name="shift"),
    path("firings/<int:firing_id>/note/", firings.note, name="note"),
    path("firings/<int:firing_id>/call-off/", firings.call_off, name="call-off"),
    path("firings/<int:firing_id>/sheet.pdf", firings.sheet, name="sheet"),
    path("firings/<int:firing_id>/load/", sheets.drawn, name="drawn"),
    path("firings/<int:firing_id>/load/<int:board_id>/", loading.load, name="load"),
    path("firings/<int:firing_id>/places/", sheets.places, name="places"),
    path("firings/<int:firing_id>/places/<int:spot_id>/", sheets.place, name="place"),
    path(
        "firings/<int:firing_id>/places/<int:spot_id>/leave-out/",
        sheets.leave_out,
        name="place-leave-out",
    ),
    path("firings/<int:firing_id>/places/<int:spot_id>/move/", sheets.move, name="place-move"),
    path(
        "firings/<int:firing_id>/places/<int:spot_id>/move/<int:to_id>/",
        sheets.move_to,
        name="place-move-to",
    ),
    path(
        "firings/<int:firing_id>/places/<int:spot_id>/instead/",
        sheets.instead,
        name="place-instead",
    ),
    path("firings/<int:firing_id>/places/<int:spot_id>/keep/", sheets.pin, name="place-keep"),
    path("firings/<int:firing_id>/take-out/<int:board_id>/", loading.take_out, name="take-out"),
    path("firings/<int:firing_id>/light/", heat.light, name="light"),
    path("firings/<int:firing_id>/off/", heat.switch_off, name="off"),
    path("firings/<int:firing_id>/log/", logs.log, name="log"),
    path("firings/<int:firing_id>/log.pdf", logs.log_paper, name="log-paper"),
    path("firings/<int:firing_id>/log/away/", logs.take_log_away, name="log-away"),
    path("firings/<int:firing_id>/open/", heat.open_kiln, name="open"),
    path(
        "firings/<int:firing_id>/lines/<int:line_id>/<str:standing>/",
        firings.standing,
        name="standing",
    ),
    path("schedules/", schedules.schedules, name="schedules"),
    path("schedules/new/", schedules.edit_schedule, name="schedule-new"),
    path("cones/", cones.cones, name="cones"),
    path("schedules/compare/", compare.compare, name="compare"),
    path("schedules/<int:schedule_id>/", schedules.schedule, name="schedule"),
    path("schedules/<int:schedule_id>/edit/", schedules.edit_schedule, name="schedule-edit"),
]
