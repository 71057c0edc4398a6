"""The hours at which kilns are lit and at which nobody is awake."""

from __future__ import annotations

from django import forms


def _time(label: str, *, required: bool = True, help_text: str = "") -> forms.TimeField:
    return forms.TimeField(
        label=label,
        required=required,
        help_text=help_text,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )


class NightForm(forms.Form):
    """The studio's hours."""

    usual_start = _time("Kilns are lit about", help_text="Where a firing has no hour of its own.")
    night_from = _time("Night from", help_text="Nobody is awake from then on.")
    night_until = _time("Night until")


class StartForm(forms.Form):
    """The hour at which one firing is lit; empty is the usual one."""

    start_time = _time("Lit at", required=False, help_text="Empty: the usual time.")
