"""What is typed to sign in, to make a sign-in and to change a password?"""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm


class DoorForm(AuthenticationForm):
    """Who comes in."""

    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": "This name and this password do not belong together. "
        "Capital letters count in both.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Name"


class NewPasswordForm(PasswordChangeForm):
    """Another password for whoever is signed in."""

    field_order = ["old_password", "new_password1", "new_password2"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].label = "The password until now"
        self.fields[
            "new_password1"
        ].help_text = "Ten characters or more; not your name, and no password that many people use."
        self.fields["new_password2"].label = "The new password again"
        self.fields["new_password2"].help_text = ""


class SignInForm(forms.Form):
    """A new sign-in."""

    name = forms.CharField(
        label="Name", max_length=30, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    password = forms.CharField(
        label="Password",
        max_length=200,
        help_text="Ten characters or more. They can change it after they have signed in.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    role = forms.ChoiceField(
        label="What they do",
        choices=[
            ("helper", "helps to pack: sees this month's parcels and their addresses only"),
            ("potter", "a potter: sees and does everything"),
        ],
        initial="helper",
        widget=forms.RadioSelect,
    )
