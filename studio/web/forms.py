"""What is typed to make a sign-in?"""

from django import forms


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
