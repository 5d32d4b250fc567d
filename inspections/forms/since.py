"""What is typed about work after a closing."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.text import Truncator

from buildlog.models import WorkSession
from foundation.choosing import offer
from inspections.queries.since import WorkedAfter


class ExplainForm(forms.Form):
    """Which sessions did not touch the inside, and why that is so."""

    sessions = forms.MultipleChoiceField(
        label="Sessions that did not touch the inside",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick the sessions that did not touch the inside."},
    )
    words = forms.CharField(
        label="What was done, and why the inside was not touched",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Such as: did not touch the inside; sanded and primed the outside.",
        error_messages={"required": "Say what was done and why the inside was not touched. It stays with the area."},
    )

    def __init__(self, *args: Any, after: WorkedAfter, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = {session.pk: session for session in after.to_explain}
        offer(
            self,
            "sessions",
            [(key, f"{one}, {timezone.localtime(one.started_at):%-d %b %Y, %H:%M}") for key, one in self.rows.items()],
        )

    def clean_sessions(self) -> list[Any]:
        return [self.rows[key] for key in self.cleaned_data["sessions"]]


def named(session: WorkSession) -> str:
    """A session with when it began and what was noted."""
    words = f"{session}, {timezone.localtime(session.started_at):%-d %b %Y, %H:%M}"
    return f"{words}: {Truncator(session.note).words(12)}" if session.note else words
