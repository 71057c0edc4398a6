"""What does the studio say of itself, and in which units does it read numbers?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from studio.web.models import Studio

if TYPE_CHECKING:
    StudioModelForm = forms.ModelForm[Studio]
else:
    StudioModelForm = forms.ModelForm  # which takes no brackets when it runs

CURRENCIES = [
    ("AUD", "Australian dollar"),
    ("CAD", "Canadian dollar"),
    ("CHF", "Swiss franc"),
    ("DKK", "Danish krone"),
    ("EUR", "euro"),
    ("GBP", "pound sterling"),
    ("JPY", "yen"),
    ("NOK", "Norwegian krone"),
    ("NZD", "New Zealand dollar"),
    ("PLN", "zloty"),
    ("SEK", "Swedish krona"),
    ("USD", "US dollar"),
]
"""ISO 4217 codes, the ones our formats were looked at in."""


class StudioForm(StudioModelForm):
    """The settings page. The mark is a picture; it is kept by its content."""

    currency = forms.ChoiceField(choices=CURRENCIES)
    new_mark = forms.FileField(
        label="Maker's mark",
        required=False,
        help_text="a JPEG or PNG picture, printed at the head of each slip",
        widget=forms.ClearableFileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )

    class Meta:
        model = Studio
        fields = [
            "name",
            "reply_address",
            "care_note",
            "currency",
            "temperature_unit",
            "length_unit",
            "paper",
        ]
        labels = {
            "reply_address": "Address on the slips",
            "care_note": "Care note on the slips",
            "temperature_unit": "Show temperatures in",
            "length_unit": "Show lengths in",
            "paper": "Print on",
        }
        widgets = {
            "reply_address": forms.Textarea(attrs={"rows": 5}),
            "care_note": forms.Textarea(attrs={"rows": 4}),
        }

    def clean_care_note(self) -> str:
        """Refuse a promise that nobody may make without a laboratory's result."""
        note: str = self.cleaned_data["care_note"]
        if "food safe" in note.lower().replace("-", " "):
            raise forms.ValidationError(
                "Leave out “food safe”: name the test, the laboratory and its date instead."
            )
        return note

    def mark_data(self) -> bytes | None:
        """Answer the uploaded mark's bytes, if one was sent."""
        upload: Any = self.cleaned_data.get("new_mark")
        return upload.read() if isinstance(upload, UploadedFile) else None
