"""What people type about projects, people and themselves."""

from typing import Any

from django import forms
from django.contrib.auth.forms import SetPasswordForm
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.utils.html import format_html
from django.utils.safestring import SafeString

from accounts import rules
from accounts.models import Person, Project, User
from accounts.queries import authorities
from foundation.choosing import offer
from foundation.plain_form import PlainForm


def reason_field(why: str, *, required: bool = False) -> forms.CharField:
    return forms.CharField(
        label="Reason", max_length=400, required=required, widget=forms.Textarea(attrs={"rows": 2}), help_text=why
    )


class DescribedChoices(forms.RadioSelect):
    """Choices one below the other, each with a line that says what it means."""

    template_name = "accounts/_described_choices.html"


def described(word: str, meaning: str) -> SafeString:
    return format_html("{} <small>{}</small>", word, meaning)


def authority_choices() -> list[tuple[str, SafeString]]:
    """Each country with what its profile does when an area is to be closed with something missing."""
    return [(one.code, described(one.name, one.closing_words)) for one in authorities().values()]


def authority_edition() -> str:
    edition = next(iter(authorities().values())).edition
    return (
        f"Authority profiles edition {edition}. They are data kept with this program, not the rules themselves: "
        "the rules in force, the plan and the inspector decide."
    )


class IdentityForm(PlainForm):
    """The one identity block that every paper takes its names and marks from (rule R52)."""

    name = forms.CharField(label="Name of the project", max_length=80, help_text="What you call the aircraft.")
    description = forms.CharField(
        label="In a few words", max_length=120, required=False, help_text="Such as two-seat amphibian, own design."
    )
    registration = forms.CharField(
        label="Registration marks",
        max_length=20,
        required=False,
        help_text="Exactly as registered. Leave empty until they are reserved.",
    )
    model_designation = forms.CharField(
        label="Model designation", max_length=80, required=False, help_text="Exactly as registered."
    )
    serial_number = forms.CharField(
        label="Serial number", max_length=40, required=False, help_text="Exactly as registered, leading zeros included."
    )
    builder_name = forms.CharField(
        label="Builder, as on the plate",
        max_length=120,
        required=False,
        help_text="Exactly as it stands, or will stand, on the data plate.",
    )
    place = forms.CharField(label="Where it is built", max_length=120, required=False)
    authority = forms.ChoiceField(
        label="Authority", choices=authority_choices, widget=DescribedChoices, initial="other"
    )
    units = forms.ChoiceField(label="Units", choices=list(rules.UNITS.items()), widget=forms.RadioSelect, initial="si")
    time_zone = forms.ChoiceField(
        label="Time zone of the shop", help_text="Times of the record are shown in this zone."
    )
    started_on = forms.DateField(
        label="Work started on", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = self.initial.get("time_zone", "")
        zones = rules.zones()
        offered = zones if own in zones or not own else [own, *zones]
        offer(self, "time_zone", [("", "Choose the zone"), *((zone, zone.replace("_", " ")) for zone in offered)])
        self.fields["authority"].help_text = authority_edition()


class NewProjectForm(IdentityForm):
    builder = forms.CharField(label="Your name", max_length=120, help_text="As it stands under what you log and sign.")

    field_order = ["name", "description", "builder"]


class CorrectProjectForm(IdentityForm):
    reason = reason_field("Why it is changed. The old values stay readable in the history.")


class PersonForm(PlainForm):
    name = forms.CharField(label="Name", max_length=120, help_text="In full: it prints in the record.")
    role = forms.ChoiceField(
        label="Part in the project",
        choices=[(role, described(word, rules.HOURS[role])) for role, word in rules.ROLES.items()],
        widget=DescribedChoices,
    )
    certificate_kind = forms.CharField(
        label="Certificate",
        max_length=80,
        required=False,
        help_text="Such as A&amp;P mechanic. It prints under each signature.",
    )
    certificate_number = forms.CharField(label="Certificate number", max_length=60, required=False)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))


class CorrectPersonForm(PersonForm):
    reason = reason_field("Why it is changed. The old values stay readable in the history.")


class WithdrawForm(PlainForm):
    reason = reason_field("The reason stays with it.", required=True)


class AccountForm(PlainForm):
    """The user name for a person who has no account on this project yet."""

    username = forms.CharField(
        label="User name",
        max_length=150,
        validators=[UnicodeUsernameValidator()],
        help_text="For signing in. Letters, digits and @ . + - _ only.",
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off", "spellcheck": "false"}),
    )
    existing = forms.BooleanField(
        label="This account exists here already",
        required=False,
        help_text="For somebody on another project here. No link is made; the person signs in as before.",
    )


class NewLinkForm(PlainForm):
    """A person with an account needs nothing but the button."""


class DisplayForm(PlainForm):
    scheme = forms.ChoiceField(
        label="Light or dark",
        choices=[("device", "As the device is set"), ("light", "Light"), ("dark", "Dark")],
        widget=forms.RadioSelect,
    )
    glare = forms.BooleanField(
        label="Glare", required=False, help_text="Pure black and white with heavier letters, for bright sun."
    )


class PasswordForm(SetPasswordForm):
    """Choosing a password after coming in by a link."""

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        super().__init__(user, *args, **kwargs)
        self.fields["new_password1"].label = "Password"
        self.fields["new_password1"].help_text = "Ten characters or more. A few plain words in a row are good."
        self.fields["new_password2"].label = "The same once more"
        self.fields["new_password2"].help_text = ""


def values_of(record: Project | Person, form: type[PlainForm]) -> dict[str, Any]:
    """A record's present values for the fields of a form."""
    return {name: getattr(record, name) for name in form.base_fields if hasattr(record, name)}
