"""Filters that put journal entries into words."""

from datetime import datetime
from typing import Any

from django import template
from django.utils import timezone

register = template.Library()

VERBS = {
    "project.founded": "Record opened",
    "record.frozen": "Builder's record made",
    "signed": "Signed",
    "photo.kept": "Photo kept",
    "timer.break_started": "Break started",
    "timer.break_ended": "Break ended",
    "area.item_added": "Gate item added",
    "area.item_dropped": "Gate item dropped",
    "area.photo_shown": "Photo put in place",
    "area.photo_taken_away": "Photo taken away",
    "area.check_answered": "Check answered",
    "session.photos_attached": "Photos attached to session",
    "session.photo_detached": "Photo taken off session",
    "photo.time_typed": "Time of photo typed in",
    "person.given_account": "Account given",
}


@register.filter
def verb_words(verb: str) -> str:
    """A verb of the journal in words: `session.corrected` reads "Session corrected"."""
    return VERBS.get(verb) or verb.replace(".", " ").replace("_", " ").capitalize()


@register.filter
def field_words(name: str) -> str:
    """A field name in words."""
    return name.removesuffix("_id").replace("_", " ")


@register.filter
def value_words(value: Any) -> str:
    """A journaled value in words: times local, nothing said so, lists by their length."""
    if value in (None, "", []):
        return "nothing"
    if value is True or value is False:
        return "yes" if value else "no"
    if isinstance(value, list):
        return f"{len(value)} line{'s' if len(value) != 1 else ''}"
    if isinstance(value, str) and len(value) >= 20 and value[4:5] == "-" and value.endswith("Z"):
        return f"{timezone.localtime(datetime.fromisoformat(value)):%-d %b %Y, %H:%M}"
    return str(value)
