"""Where are the plan, its lists and what it reckons with?"""

from django.urls import path

from studio.planning.views import calendar, looking, plans, week

app_name = "planning"

urlpatterns = [
    path("plan/", plans.plan, name="plan"),
    path("plan/work-out/", looking.work_out, name="work_out"),
    path("plan/search/<int:search_id>/", looking.search, name="search"),
    path("plan/search/<int:search_id>/stop/", looking.stop, name="stop"),
    path("plan/<int:backplan_id>/", plans.one, name="one"),
    path("plan/<int:backplan_id>/accept/", plans.accept, name="accept"),
    path("plan/<int:backplan_id>/put-aside/", plans.put_aside, name="put_aside"),
    path("plan/<int:backplan_id>/choose/", plans.choose, name="choose"),
    path("plan/<int:backplan_id>/list/", plans.work_list, name="list"),
    path("plan/<int:backplan_id>/plan.pdf", plans.paper, name="paper"),
    path("plan/calendar/", calendar.addresses, name="calendar"),
    path("plan/calendar/plan.ics", calendar.file, name="calendar_file"),
    path("plan/calendar/<int:address_id>/withdraw/", calendar.withdraw, name="withdraw"),
    path("plan/calendar/<str:token>.ics", calendar.feed, name="feed"),
    path("plan/hands/", week.hands, name="hands"),
    path("plan/days-off/", week.days_off, name="days_off"),
    path("plan/days-off/<int:day_off_id>/work/", week.work_after_all, name="work_after_all"),
    path("plan/rules/", week.rule, name="rules"),
]
