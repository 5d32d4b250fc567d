"""What is asked of a builder's record before it is made: for whom, in which order, which part."""

from datetime import datetime
from typing import Any

from django import forms

from accounts.models import Project
from certification.models import Pack
from certification.rules import profiles
from foundation.choosing import offer
from foundation.pdf_signature import KEY_MOST_BYTES, NAME_MOST, PASSPHRASE_LEAST, Key, open_key
from foundation.plain_form import PlainForm
from foundation.refusal import Refusal
from parts import queries as parts


class PackForm(PlainForm):
    """All of the record for an examiner, by date, unless something else is chosen."""

    profile = forms.ChoiceField(
        label="For",
        choices=list(profiles.PROFILES.items()),
        widget=forms.RadioSelect,
        initial=profiles.EXAMINER,
        required=False,
    )
    order = forms.ChoiceField(
        label="Bookmarks", choices=list(Pack.ORDERS.items()), widget=forms.RadioSelect, initial="date", required=False
    )
    assembly = forms.ChoiceField(label="Only this assembly and what is below it", required=False)
    since = forms.DateField(label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    until = forms.DateField(label="To", required=False, widget=forms.DateInput(attrs={"type": "date"}))

    def __init__(self, *args: Any, project: Project, **more: Any) -> None:
        super().__init__(*args, **more)
        nodes = parts.tree(project)
        self.assemblies = {node.assembly.pk: node.assembly for node in nodes}
        rows = [(node.assembly.pk, "\u2003" * node.depth + str(node.assembly)) for node in nodes]
        offer(self, "assembly", [("", "All of it"), *rows])

    @property
    def values(self) -> dict[str, Any]:
        """What a good form says, as the command takes it."""
        said = dict(self.cleaned_data)
        said |= {"profile": said["profile"] or profiles.EXAMINER, "order": said["order"] or "date"}
        return said | {"assembly": self.assemblies.get(said["assembly"])}


class SigningKeyForm(PlainForm):
    """A new key: whose it is, and the passphrase that it lies under."""

    name = forms.CharField(
        label="Whose key",
        max_length=NAME_MOST,
        help_text="Stands in every signature made with it.",
        error_messages={"required": "Say whose key it is."},
    )
    passphrase = forms.CharField(
        label="Passphrase",
        error_messages={"required": "Type a passphrase, twice."},
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        help_text=f"At least {PASSPHRASE_LEAST} characters, such as four words. Nobody can look it up later.",
    )
    again = forms.CharField(
        label="Passphrase again",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        error_messages={"required": "Type the passphrase here too."},
    )

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if "passphrase" in said and "again" in said and said["passphrase"] != said["again"]:
            self.add_error("again", "The two passphrases differ. Type both again.")
        return said


class SignPackForm(PlainForm):
    """The key file to sign with, and its passphrase. Neither is kept."""

    key = forms.FileField(
        label="Key file (.p12 or .pfx)",
        widget=forms.FileInput(attrs={"accept": ".p12,.pfx,application/x-pkcs12"}),
        error_messages={"required": "Choose the key file.", "empty": "That file is empty. Choose the key file."},
    )
    passphrase = forms.CharField(
        label="Its passphrase",
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
        strip=False,
        required=False,
        help_text="Opens the key for this one signature. Neither the key nor the passphrase is kept.",
    )

    def opened(self, at: datetime) -> Key:
        """The key of a good form, opened. Raises Refusal."""
        file = self.cleaned_data["key"]
        if file.size > KEY_MOST_BYTES:
            raise Refusal("too_large", "That is too large for a key file. Choose the .p12 or .pfx file.", "key")
        return open_key(file.read(), self.cleaned_data["passphrase"], at)
