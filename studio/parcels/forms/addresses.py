"""What does a supporter type about their own address, and the potter about confirming it?"""

from __future__ import annotations

from typing import Any

from django import forms

from studio.parcels import address
from studio.parcels.forms.fields import day_field
from studio.parcels.forms.people import SupporterForm


class AddressForm(SupporterForm):
    """Where parcels go: the fields of the country and nothing else of a person."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in list(self.fields):
            if name not in ("country_code", *address.FIELDS):
                del self.fields[name]

    def fields_given(self) -> dict[str, str]:
        """The country and the address as they were typed."""
        given = {name: str(self.cleaned_data.get(name, "")) for name in address.FIELDS}
        return {"country_code": str(self.cleaned_data["country_code"]), **given}


class ConfirmForm(forms.Form):
    """When somebody said that their address is right."""

    day = day_field("They said so on")


class LockForm(forms.Form):
    """Which unconfirmed addresses are printed as they stand."""

    ticked = forms.TypedMultipleChoiceField(coerce=int, required=False)

    def __init__(self, *args: Any, ids: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = self.fields["ticked"]
        assert isinstance(chosen, forms.TypedMultipleChoiceField)
        chosen.choices = [(id_, str(id_)) for id_ in ids]
        chosen.error_messages["invalid_choice"] = (
            "One of the parcels is not there any more. Look at the page again."
        )
