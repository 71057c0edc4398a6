"""What may be typed about plans, hands, days off and rules, and how is it read?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField

from studio.craft.answer import Plan
from studio.drawing.strip import short_date
from studio.firings.rules import trial_sizes
from studio.firings.selectors import trial_rule
from studio.planning import rules
from studio.planning.models import Hands
from studio.planning.selectors import firings_to_free, on_days_off, plan_rule
from studio.planning.services import WEEKDAYS, DayHands, LeftOut

SECONDS = [
    (8, "8 seconds"),
    (30, "half a minute"),
    (60, "a minute"),
    (300, "five minutes"),
    (600, "ten minutes"),
]
"""How long the planner may look at most; it ends sooner when nothing better can exist."""


def date_input() -> forms.DateInput:
    """A date control that a phone opens as a calendar."""
    return forms.DateInput(attrs={"type": "date"})


class WorkOutForm(forms.Form):
    """How a plan is sought."""

    seconds = forms.ChoiceField(
        choices=SECONDS, initial=SECONDS[0][0], required=False, label="Look for"
    )
    last_date = forms.DateField(
        required=False,
        widget=date_input(),
        label="Plan no further than",
        help_text="Empty: to the last date that is promised.",
    )
    freed = forms.TypedMultipleChoiceField(
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Tick the firings that may move or go",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        freed = self.fields["freed"]
        assert isinstance(freed, forms.TypedMultipleChoiceField)
        firings = list(firings_to_free())
        freed.choices = [
            (firing.pk, f"{short_date(firing.start_date)}, {firing.kiln}, {firing.schedule}")
            for firing in firings
        ]
        # Nobody loads on a day off, so a firing that was to start then has to move.
        freed.initial = [firing.pk for firing in on_days_off(firings)]
        if not freed.choices:
            del self.fields["freed"]

    def clean(self) -> dict[str, Any]:
        """Nothing is let go of when there is nothing to let go of."""
        return self.cleaned_data | {"freed": tuple(self.cleaned_data.get("freed", ()))}

    def clean_seconds(self) -> int:
        """Seconds as a number; the shortest look when none was chosen."""
        return int(self.cleaned_data["seconds"] or SECONDS[0][0])


class AcceptForm(forms.Form):
    """Which parts of a proposal are taken; without ``in_part`` all of it is."""

    in_part = forms.BooleanField(required=False)
    load = forms.TypedMultipleChoiceField(coerce=int, required=False)
    job = forms.TypedMultipleChoiceField(coerce=int, required=False)
    call_off = forms.TypedMultipleChoiceField(coerce=int, required=False)

    def __init__(self, *args: Any, plan: Plan, not_needed: Sequence[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.plan = plan
        for name, numbers in (
            ("load", range(len(plan.loads))),
            ("job", range(len(plan.jobs))),
            ("call_off", not_needed),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.TypedMultipleChoiceField)
            field.choices = [(number, str(number)) for number in numbers]

    def left_out(self) -> LeftOut:
        """What was not ticked."""
        typed = self.cleaned_data
        if not typed["in_part"]:
            return LeftOut(call_off=tuple(typed["call_off"]))
        return LeftOut(
            loads=tuple(n for n in range(len(self.plan.loads)) if n not in typed["load"]),
            jobs=tuple(n for n in range(len(self.plan.jobs)) if n not in typed["job"]),
            call_off=tuple(typed["call_off"]),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class HandsRow:
    """The controls of one weekday: minutes of throwing, glazing and finishing; may a kiln start."""

    weekday: str
    minutes: tuple[BoundField, ...]
    may_start: BoundField


class HandsForm(forms.Form):
    """Minutes of each weekday for each kind of work."""

    KINDS = (("throwing", "throwing"), ("glazing", "glazing"), ("finishing", "finishing"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for weekday, name in enumerate(WEEKDAYS):
            for kind, label in self.KINDS:
                self.fields[f"{kind}_{weekday}"] = forms.IntegerField(
                    min_value=0,
                    max_value=rules.MOST_MINUTES,
                    initial=0,
                    error_messages={
                        "required": f"{name}, {label}: write the minutes, 0 for none.",
                        "invalid": f"{name}, {label}: write a whole number of minutes.",
                        "min_value": f"{name}, {label}: minutes are 0 or more.",
                        "max_value": f"{name}, {label}: a day has {rules.MOST_MINUTES} minutes.",
                    },
                    widget=forms.TextInput(
                        attrs={"inputmode": "numeric", "aria-label": f"{name}, {label}, minutes"}
                    ),
                )
            self.fields[f"may_start_{weekday}"] = forms.BooleanField(
                required=False,
                widget=forms.CheckboxInput(
                    attrs={"aria-label": f"{name}: a firing may be started"}
                ),
            )

    @staticmethod
    def of_the_week() -> dict[str, int | bool]:
        """What is stored now, as this form's initial values."""
        initial: dict[str, int | bool] = {}
        for hands in Hands.objects.all():
            initial |= {
                f"throwing_{hands.weekday}": hands.throwing_min,
                f"glazing_{hands.weekday}": hands.glazing_min,
                f"finishing_{hands.weekday}": hands.finishing_min,
                f"may_start_{hands.weekday}": hands.may_start,
            }
        return initial

    def rows(self) -> Iterator[HandsRow]:
        """The controls, weekday by weekday."""
        for weekday, name in enumerate(WEEKDAYS):
            yield HandsRow(
                weekday=name,
                minutes=tuple(self[f"{kind}_{weekday}"] for kind, _ in self.KINDS),
                may_start=self[f"may_start_{weekday}"],
            )

    def week(self) -> list[DayHands]:
        """What was typed."""
        return [
            DayHands(
                weekday=weekday,
                throwing_min=self.cleaned_data[f"throwing_{weekday}"],
                glazing_min=self.cleaned_data[f"glazing_{weekday}"],
                finishing_min=self.cleaned_data[f"finishing_{weekday}"],
                may_start=self.cleaned_data[f"may_start_{weekday}"],
            )
            for weekday in range(7)
        ]


class DayOffForm(forms.Form):
    """A day on which nobody works."""

    day = forms.DateField(widget=date_input(), label="Day off")
    why = forms.CharField(max_length=60, required=False, label="Why")
    all_the_same = forms.DateField(required=False, widget=forms.HiddenInput)
    """The day whose hits were shown: taking that day is meant."""

    def asks_first(self) -> bool:
        """Was this day's list of what it hits not shown yet?"""
        return bool(self.cleaned_data["all_the_same"] != self.cleaned_data["day"])


class AddressForm(forms.Form):
    """Whose calendar an address is for."""

    name = forms.CharField(
        max_length=60,
        label="Whose calendar",
        widget=forms.TextInput(attrs={"placeholder": "my phone"}),
        error_messages={"required": "Say whose calendar it is, to know later which to withdraw."},
    )


class RuleForm(forms.Form):
    """What plans reckon with. Ranges are the rules' own sentences, here and in the service."""

    drying_percent = forms.IntegerField(
        label="Of 100 thrown, this many come dry and whole to the bisque"
    )
    bisque_percent = forms.IntegerField(label="Of 100 bisque fired, this many come through")
    glaze_percent = forms.IntegerField(label="Of 100 glaze fired, this many are firsts")
    is_learnt = forms.BooleanField(
        label="Let our own records go before these numbers, once there are enough", required=False
    )
    sure_percent = forms.IntegerField(
        label="How sure a date should be, in 100",
        help_text="50 to 99; spare pots are put in for it. Leave empty to reckon as the mean says.",
        required=False,
    )
    least_pieces = forms.IntegerField(label="A trial has at least, in pieces")
    most_pieces = forms.IntegerField(label="A trial has at most, in pieces")

    @staticmethod
    def of_the_rule() -> dict[str, int]:
        """What is stored now, as this form's initial values."""
        rule, trials = plan_rule(), trial_rule()
        return {
            name: getattr(trials if name.endswith("_pieces") else rule, name)
            for name in RuleForm.base_fields
        }

    def clean(self) -> dict[str, Any]:
        """Say a wrong number in the same words as the service, beside its field."""
        cleaned: dict[str, Any] = self.cleaned_data
        for field, step in (
            ("drying_percent", "Drying"),
            ("bisque_percent", "Bisque"),
            ("glaze_percent", "Glaze firing"),
        ):
            if field in cleaned:
                sentence = rules.yield_out_of_range(step=step, percent=cleaned[field])
                if sentence:
                    self.add_error(field, sentence)
        sentence = rules.sure_out_of_range(percent=cleaned.get("sure_percent"))
        if sentence:
            self.add_error("sure_percent", sentence)
        if "least_pieces" in cleaned and "most_pieces" in cleaned:
            sentence = trial_sizes(
                least_pieces=cleaned["least_pieces"], most_pieces=cleaned["most_pieces"]
            )
            if sentence:
                self.add_error("least_pieces", sentence)
        return cleaned
