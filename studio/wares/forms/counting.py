"""What does a potter say of ware that stands here already, and is it usable?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from django import forms

from studio.wares import rules
from studio.wares.forms.steps import Count, day
from studio.wares.models import ClayLot, Coats, Form, Line, Piece

if TYPE_CHECKING:
    from studio.firings.models import Schedule

SCHEDULE_LABELS = {"glazed": "Schedule it is meant for"}


class CountInForm(forms.Form):
    """A board of pieces at one stage; the stage picks which fields are asked."""

    form = forms.ModelChoiceField(Form.objects.all(), label="Form", empty_label=None)
    clay_lot = forms.ModelChoiceField(ClayLot.objects.all(), label="Clay lot", empty_label=None)
    coats = forms.ModelChoiceField(Coats.objects.all(), label="Glaze", empty_label=None)
    schedule: forms.ModelChoiceField[Schedule]
    grade = forms.ChoiceField(
        label="Graded as", choices=Piece.Grade.choices, widget=forms.RadioSelect, initial="first"
    )
    count = Count(
        label="How many",
        least=1,
        error_messages={
            "min_value": rules.can_count(0),
            "max_value": rules.can_count(rules.MOST_ON_A_BOARD + 1),
        },
    )
    made_date = day("Thrown on, about", help_text="a rough day is enough; its age is told by it")
    label = forms.CharField(
        label="Board label", max_length=rules.LABEL_LENGTH, required=False, help_text="next free"
    )
    place = forms.CharField(label="Where it stands", max_length=60, required=False)

    field_order = ["form", "coats", "schedule", "grade", "count", "clay_lot"]

    def __init__(self, *args: object, stage: str, **more: object) -> None:
        super().__init__(*args, **more)  # type: ignore[arg-type]
        schedules = Line._meta.get_field("schedule").related_model._default_manager
        self.fields["schedule"] = forms.ModelChoiceField(
            schedules.filter(kind__in=rules.FIRES_GLAZE),
            label=SCHEDULE_LABELS.get(stage, "Schedule it was fired to"),
            empty_label=None,
        )
        if stage == "bisqued":
            del self.fields["coats"], self.fields["schedule"]
        if stage != "graded":
            del self.fields["grade"]
        self.order_fields(self.field_order)
