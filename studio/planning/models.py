"""How much can be done in a day, what was planned, and what does the accepted plan ask for?"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.firings.models import Firing, Schedule
from studio.wares.models import ClayLot, Coats, Form


class Hands(models.Model):
    """Minutes of work that a weekday gives; 0 is Monday."""

    weekday = models.PositiveSmallIntegerField(unique=True)
    throwing_min = models.PositiveSmallIntegerField(help_text="throwing, trimming, handles")
    glazing_min = models.PositiveSmallIntegerField()
    finishing_min = models.PositiveSmallIntegerField(help_text="grading, photographs, listing")
    may_start = models.BooleanField(default=True, help_text="a firing may be started")

    class Meta:
        ordering = ["weekday"]
        verbose_name_plural = "hands"
        constraints = [
            models.CheckConstraint(name="hands_weekday", condition=Q(weekday__lte=6)),
            models.CheckConstraint(
                name="hands_a_day_at_most",
                condition=Q(throwing_min__lte=1440, glazing_min__lte=1440, finishing_min__lte=1440),
            ),
        ]

    def __str__(self) -> str:
        return f"weekday {self.weekday}"


class DayOff(models.Model):
    """A day on which nobody works and no firing is started."""

    date = models.DateField(unique=True)
    why = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["date"]
        verbose_name_plural = "days off"

    def __str__(self) -> str:
        return f"{self.date}"


class PlanRule(models.Model):
    """The one row of stated defaults until the studio's own records speak."""

    drying_percent = models.PositiveSmallIntegerField(default=96)
    bisque_percent = models.PositiveSmallIntegerField(default=98)
    glaze_percent = models.PositiveSmallIntegerField(default=88)
    is_learnt = models.BooleanField(
        default=True, help_text="the studio's records go before these once there are enough"
    )

    sure_percent = models.PositiveSmallIntegerField(
        default=90, null=True, blank=True, help_text="chances in 100 of enough; none: as the mean"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(name="plan_rule_is_one", condition=Q(id=1)),
            models.CheckConstraint(
                name="plan_rule_sure",
                condition=Q(sure_percent__isnull=True)
                | Q(sure_percent__gte=50, sure_percent__lte=99),
            ),
            models.CheckConstraint(
                name="plan_rule_yields",
                condition=Q(
                    drying_percent__gte=1,
                    drying_percent__lte=100,
                    bisque_percent__gte=1,
                    bisque_percent__lte=100,
                    glaze_percent__gte=1,
                    glaze_percent__lte=100,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.drying_percent}/{self.bisque_percent}/{self.glaze_percent} per cent"


class BackPlan(models.Model):
    """A plan that was worked out: the whole question and the whole answer."""

    class State(models.TextChoices):
        PROPOSED = "proposed"
        ACCEPTED = "accepted"
        PUT_ASIDE = "put_aside", "put aside"

    state = models.CharField(max_length=10, choices=State, default=State.PROPOSED)
    today_date = models.DateField()
    last_date = models.DateField()
    problem = models.JSONField()
    plan = models.JSONField()
    follows = models.ForeignKey(
        "self",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="+",
        help_text="the plan in force when this one was worked out",
    )
    left_out = models.JSONField(
        default=dict, help_text="numbers of the loads and jobs that were not put in force"
    )
    drawn = models.JSONField(
        default=list, help_text="numbers of the loads that were packed piece by piece and stand"
    )
    other = models.JSONField(
        null=True, blank=True, help_text="the plan of another price and sureness, and its drawn"
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["state"], condition=Q(state="accepted"), name="one_plan_in_force"
            ),
            models.UniqueConstraint(
                fields=["state"], condition=Q(state="proposed"), name="one_plan_proposed"
            ),
            models.CheckConstraint(
                name="backplan_state_known",
                condition=Q(state__in=["proposed", "accepted", "put_aside"]),
            ),
            models.CheckConstraint(
                name="backplan_looks_ahead", condition=Q(last_date__gte=models.F("today_date"))
            ),
        ]

    def __str__(self) -> str:
        return f"plan of {self.today_date}"


class PlannedFiring(models.Model):
    """A firing that an accepted plan asked for."""

    backplan = models.ForeignKey(BackPlan, on_delete=models.PROTECT, related_name="firings")
    firing = models.OneToOneField(Firing, on_delete=models.CASCADE, related_name="planned_by")

    def __str__(self) -> str:
        return f"{self.firing}"


class Task(models.Model):
    """Throw, glaze or finish so many on a day: the accepted plan as a list for the wall."""

    class Work(models.TextChoices):
        THROWING = "throwing", "throw"
        GLAZING = "glazing", "glaze"
        FINISHING = "finishing", "grade and list"

    backplan = models.ForeignKey(BackPlan, on_delete=models.CASCADE, related_name="tasks")
    work = models.CharField(max_length=9, choices=Work)
    date = models.DateField()
    form = models.ForeignKey(Form, on_delete=models.PROTECT)
    clay_lot = models.ForeignKey(ClayLot, on_delete=models.PROTECT)
    coats = models.ForeignKey(Coats, on_delete=models.PROTECT, null=True, blank=True)
    schedule = models.ForeignKey(Schedule, on_delete=models.PROTECT, null=True, blank=True)
    count = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["date", "work", "id"]
        constraints = [
            models.CheckConstraint(name="task_counts", condition=Q(count__gte=1)),
            models.CheckConstraint(
                name="task_coats_unless_throwing",
                condition=Q(work="throwing", coats__isnull=True)
                | Q(work__in=["glazing", "finishing"], coats__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_work_display()} {self.count} × {self.form}"


class Search(models.Model):
    """One look for a plan beside the request: what was asked, the best so far, how it ended."""

    class State(models.TextChoices):
        LOOKING = "looking"
        FOUND = "found"
        STOPPED = "stopped", "stopped, best kept"
        CUT_OFF = "cut_off", "cut off, best kept"
        NOT_FOUND = "not_found", "nothing found in time"
        FAULT = "fault", "a fault of the program"

    state = models.CharField(max_length=10, choices=State, default=State.LOOKING)
    stop_asked = models.BooleanField(default=False)
    last_date = models.DateField(null=True, blank=True)
    keep_planned = models.BooleanField(default=True)
    freed = models.JSONField(default=list, help_text="firings that the potter let go of")
    seconds = models.FloatField()
    problem = models.JSONField(null=True, blank=True)
    best = models.JSONField(null=True, blank=True)
    said = models.JSONField(default=list, help_text="why it found nothing, in sentences")
    backplan = models.ForeignKey(
        BackPlan, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    begun_at = models.DateTimeField()
    beat_at = models.DateTimeField(help_text="when the search last gave a sign of life")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "searches"
        constraints = [
            models.UniqueConstraint(
                fields=["state"], condition=Q(state="looking"), name="one_search_at_a_time"
            ),
            models.CheckConstraint(
                name="search_state_known",
                condition=Q(
                    state__in=[
                        "looking",
                        "found",
                        "stopped",
                        "cut_off",
                        "not_found",
                        "fault",
                    ]
                ),
            ),
            models.CheckConstraint(
                name="search_ends_once",
                condition=Q(state="looking", ended_at__isnull=True)
                | (~Q(state="looking") & Q(ended_at__isnull=False)),
            ),
            models.CheckConstraint(name="search_takes_time", condition=Q(seconds__gt=0)),
        ]

    def __str__(self) -> str:
        return f"search of {self.begun_at:%Y-%m-%d %H:%M}"


class CalendarAddress(models.Model):
    """An address at which a calendar reads the plan without signing in, until it is withdrawn."""

    nonce = models.CharField(max_length=43, unique=True)
    name = models.CharField(max_length=60, help_text="whose calendar reads here")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "calendar addresses"
        constraints = [
            models.CheckConstraint(name="calendar_address_named", condition=~Q(name="")),
        ]

    def __str__(self) -> str:
        return self.name
