from django import forms
from django.apps import AppConfig


class FoundationConfig(AppConfig):
    name = "foundation"

    def ready(self) -> None:
        """An empty field is told so in the shop's words, in every form."""
        forms.Field.default_error_messages["required"] = "Fill this in."
