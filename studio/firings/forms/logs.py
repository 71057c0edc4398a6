"""Choose the file with a firing's readings."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.craft.firing_log import MOST_BYTES, Unit


class LogForm(forms.Form):
    """A file of readings, and what it does not say itself."""

    file = forms.FileField(
        label="File (CSV)",
        help_text="As your controller or logger saves it: a column of times, one or more of"
        " temperatures. A spreadsheet: save it as CSV first.",
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.log,text/csv,text/plain"}),
    )
    unit = forms.ChoiceField(
        label="Temperatures in",
        choices=[("", "as the file says, or by their size"), ("C", "°C"), ("F", "°F")],
        required=False,
    )
    sensor = forms.CharField(
        label="The sensor that counts",
        required=False,
        max_length=40,
        help_text="Its heading in the file. Empty: the first column of temperatures.",
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size is not None and file.size > MOST_BYTES:
            raise ValidationError(
                f"The file is {file.size / 1e6:.0f} MB; at most {MOST_BYTES // 1_000_000} MB are"
                " read. Save the readings of one firing only."
            )
        return file

    @property
    def asked_unit(self) -> Unit | None:
        """The unit that the person named."""
        chosen = self.cleaned_data["unit"]
        return "F" if chosen == "F" else "C" if chosen == "C" else None


class LogPartForm(forms.Form):
    """Which hours of a log are this firing's."""

    from_h = forms.FloatField(label="From, in hours of the log", min_value=0)
    until_h = forms.FloatField(label="To, in hours of the log", min_value=0)
