"""Where are the plan, its lists and what it reckons with?"""

from django.urls import path

from studio.planning import views

app_name = "planning"

urlpatterns = [
    path("plan/", views.plan, name="plan"),
    path("plan/work-out/", views.work_out, name="work_out"),
    path("plan/<int:backplan_id>/", views.one, name="one"),
    path("plan/<int:backplan_id>/accept/", views.accept, name="accept"),
    path("plan/<int:backplan_id>/put-aside/", views.put_aside, name="put_aside"),
    path("plan/<int:backplan_id>/list/", views.work_list, name="list"),
    path("plan/<int:backplan_id>/plan.pdf", views.paper, name="paper"),
    path("plan/hands/", views.hands, name="hands"),
    path("plan/days-off/", views.days_off, name="days_off"),
    path("plan/days-off/<int:day_off_id>/work/", views.work_after_all, name="work_after_all"),
    path("plan/rules/", views.rule, name="rules"),
]
