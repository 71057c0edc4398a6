"""What does a potter type about boards and pieces, and is it usable?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError

from studio.wares import rules
from studio.wares.models import Board, ClayLot, Coats, Form, Line, Piece, Reservation

if TYPE_CHECKING:
    from studio.firings.models import Schedule

FAULT_CHOICES = [("", "none named"), *rules.FAULTS]


class Count(forms.IntegerField):
    """How many: a big numeral between two buttons."""

    def __init__(self, *, least: int = 0, **more: Any) -> None:
        number = forms.NumberInput(attrs={"inputmode": "numeric", "class": "steps"})
        super().__init__(
            min_value=least, max_value=rules.MOST_ON_A_BOARD, widget=number, required=False, **more
        )

    def clean(self, value: Any) -> int:
        """Nothing typed is none."""
        return super().clean(value) or 0


def day(label: str, **more: Any) -> forms.DateField:
    """A date, as browsers let one pick it."""
    return forms.DateField(
        label=label, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}), **more
    )


class SeenForm(forms.Form):
    """A form that carries what the person saw of a board."""

    seen = forms.CharField(widget=forms.HiddenInput, max_length=60)

    def __init__(self, *args: Any, holds: int | None = None, **more: Any) -> None:
        """``holds`` is how high the buttons of a count go."""
        super().__init__(*args, **more)
        self.holds = holds or 0
        if holds is not None:
            for field in self.fields.values():
                if isinstance(field, Count):
                    field.widget.attrs["max"] = holds


class ThrowForm(forms.Form):
    """A board of new pieces."""

    form = forms.ModelChoiceField(Form.objects.all(), label="Form", empty_label=None)
    clay_lot = forms.ModelChoiceField(ClayLot.objects.all(), label="Clay lot", empty_label=None)
    count = Count(label="How many", least=1)
    label = forms.CharField(
        label="Board label", max_length=rules.LABEL_LENGTH, required=False, help_text="next free"
    )
    place = forms.CharField(label="Where it stands", max_length=60, required=False)
    made_date = day("Thrown on")
    sure = forms.BooleanField(label="The number is right", required=False)


class DryForm(SeenForm):
    """When a board was seen to be bone dry."""

    dry_date = day("Bone dry on")
    sure = forms.BooleanField(
        label="It is not cold to the cheek and one colour all over", required=False
    )


class GlazeForm(SeenForm):
    """Which coats, for which schedule, and how many."""

    line = forms.ChoiceField(label="Glaze", widget=forms.RadioSelect, required=False)
    coats = forms.ModelChoiceField(
        Coats.objects.all(), label="Another glaze", required=False, empty_label="choose"
    )
    schedule: forms.ModelChoiceField[Schedule]
    count = Count(label="Glazed")
    lost = Count(label="Lost")
    cause = forms.CharField(label="Why lost", max_length=rules.CAUSE_LENGTH, required=False)
    new_label = forms.CharField(
        label="Label of the glazed board", max_length=rules.LABEL_LENGTH, required=False
    )

    def __init__(self, *args: Any, lines: Sequence[Line], holds: int, **more: Any) -> None:
        super().__init__(*args, holds=holds, **more)
        self.lines = {str(line.id): line for line in lines}
        schedules = Line._meta.get_field("schedule").related_model._default_manager
        self.fields["schedule"] = forms.ModelChoiceField(
            schedules.filter(kind__in=rules.FIRES_GLAZE),
            label="Schedule for another glaze",
            required=False,
            empty_label="choose",
        )
        choices = [(key, f"{line.coats} · {line.schedule}") for key, line in self.lines.items()]
        field: Any = self.fields["line"]
        field.choices = [*choices, ("other", "Another glaze or schedule")]
        if not choices:
            field.widget = forms.HiddenInput()
            field.initial = "other"

    def clean(self) -> dict[str, Any]:
        """Answer coats and schedule, from the line that was picked or from the two lists."""
        values: dict[str, Any] = super().clean() or {}
        line = self.lines.get(values.get("line", ""))
        if line is not None:
            values["coats"], values["schedule"] = line.coats, line.schedule
        elif not values.get("coats") or not values.get("schedule"):
            raise ValidationError("Choose a glaze and the schedule it is meant for.")
        # All of the board are offered as glazed: the lost ones come off that.
        if values.get("count") == self.holds:
            values["count"] = self.holds - values.get("lost", 0)
        return values


class GradeForm(SeenForm):
    """How many are not firsts; all the others are."""

    seconds = Count(label="Seconds")
    second_fault = forms.ChoiceField(label="Fault: seconds", choices=FAULT_CHOICES, required=False)
    refires = Count(label="To refire")
    refire_fault = forms.ChoiceField(label="Fault: refire", choices=FAULT_CHOICES, required=False)
    scraps = Count(label="Scrapped")
    scrap_fault = forms.ChoiceField(label="Fault: scrap", choices=FAULT_CHOICES, required=False)
    later = Count(label="Not graded yet")
    place = forms.CharField(label="Their place", max_length=60, required=False, initial="shelf")

    def clean(self) -> dict[str, Any]:
        """Refuse more than stand on the board, with the sum."""
        values: dict[str, Any] = super().clean() or {}
        typed = [values.get(name, 0) for name in ("seconds", "refires", "scraps", "later")]
        if sentence := rules.can_sort(counts=typed, holds=self.holds):
            raise ValidationError(sentence)
        return values

    def counts(self, *, holds: int) -> dict[str, int]:
        """The four counts; firsts are what is left of ``holds``."""
        said = {name: self.cleaned_data[name] for name in ("seconds", "refires", "scraps")}
        return {"firsts": holds - sum(said.values()) - self.cleaned_data["later"], **said}

    def faults(self) -> dict[str, str]:
        """A fault for each outcome that has one."""
        return {
            outcome: self.cleaned_data[f"{outcome}_fault"]
            for outcome in ("second", "refire", "scrap")
            if self.cleaned_data[f"{outcome}_fault"]
        }


class WhyForm(forms.Form):
    """How a piece was lost."""

    parting = forms.ChoiceField(
        label="It is",
        choices=[("broken", "broken"), ("scrapped", "scrapped on purpose")],
        widget=forms.RadioSelect,
        initial="broken",
    )
    fault = forms.ChoiceField(label="What happened", choices=[("", "choose"), *rules.FAULTS])
    note = forms.CharField(label="In your words", max_length=rules.CAUSE_LENGTH, required=False)

    @property
    def cause(self) -> str:
        """The words, else the name of the fault."""
        named = dict(rules.FAULTS)[self.cleaned_data["fault"]]
        return self.cleaned_data["note"] or named


class LoseForm(WhyForm, SeenForm):
    """How many of a board were lost, and how."""

    count = Count(label="How many", least=1)
    field_order = ["count", "parting", "fault", "note"]


class SplitForm(SeenForm):
    """How many go to another board."""

    count = Count(label="How many go to another board", least=1)
    new_label = forms.CharField(
        label="Its label", max_length=rules.LABEL_LENGTH, required=False, help_text="next free"
    )


class MergeForm(SeenForm):
    """Onto which board."""

    into = forms.ModelChoiceField(
        Board.objects.none(), label="Onto board", widget=forms.RadioSelect, empty_label=None
    )

    def __init__(self, *args: Any, boards: Sequence[Board], **more: Any) -> None:
        super().__init__(*args, **more)
        field: Any = self.fields["into"]
        field.queryset = Board.objects.filter(id__in=[board.id for board in boards])


class PlaceForm(forms.Form):
    """What a board is called and where it stands."""

    label = forms.CharField(label="Label", max_length=rules.LABEL_LENGTH)
    place = forms.CharField(label="Where it stands", max_length=60, required=False)


class PartForm(forms.Form):
    """How one piece leaves without being sold or sent."""

    parting = forms.ChoiceField(
        label="What became of it",
        choices=[
            (Piece.Parting.KEPT.value, "kept or given away"),
            (Piece.Parting.BROKEN.value, "broken"),
            (Piece.Parting.SCRAPPED.value, "scrapped on purpose"),
        ],
        widget=forms.RadioSelect,
    )
    cause = forms.CharField(label="Why, or for whom", max_length=rules.CAUSE_LENGTH)


class FaultForm(forms.Form):
    """A fault that was seen on one piece."""

    fault = forms.ChoiceField(label="Fault seen", choices=[("", "choose"), *rules.FAULTS])


class PromiseForm(forms.Form):
    """What a piece is promised for. Claims are made at a sale day, parcels in their month."""

    kind = forms.ChoiceField(
        label="Promised as",
        choices=[
            (kind.value, kind.label) for kind in (Reservation.Kind.HELD, Reservation.Kind.SPARE)
        ],
    )
    note = forms.CharField(label="For whom", max_length=rules.CAUSE_LENGTH, required=False)


class PhotoForm(forms.Form):
    """One photograph."""

    photo = forms.FileField(
        label="Photograph",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
