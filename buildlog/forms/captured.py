"""What a phone says of something it captured, turned into values."""

from datetime import UTC, datetime, timedelta
from typing import Any

from django import forms

from accounts.models import Project
from accounts.queries import people
from buildlog import rules
from evidence import queries as evidence
from evidence import rules as photos
from parts import queries as parts

NO_PHOTO = "No photo came with this. Choose one and send it again."


def instant(text: str) -> datetime | None:
    """Milliseconds since 1970 UTC, as browsers tell time; None for what is not such a time."""
    try:
        return datetime.fromtimestamp(int(text) / 1000, UTC)
    except (ValueError, OverflowError, OSError):
        return None


class CaptureForm(forms.Form):
    """What every captured thing says of itself: its id, when it happened by the phone's clock, how wrong that is."""

    request_id = forms.RegexField(r"^[\w-]{8,36}$", error_messages={"required": "The request has no id."})
    happened_at = forms.CharField(required=False)
    sent_at = forms.CharField(required=False)
    ahead = forms.IntegerField(required=False)

    def when(self, now: datetime) -> tuple[datetime, int | None]:
        """When it happened, with the phone's clock put right, and how many seconds that clock was ahead.

        Without a time it happened now. How wrong the clock is, the phone works out by asking what time it is here;
        where it does not say, the moment of sending tells.
        """
        values = self.cleaned_data
        happened = instant(values["happened_at"])
        if happened is None or happened.year < photos.FIRST_YEAR:
            return now, None
        ahead = values["ahead"]
        phone = now + timedelta(milliseconds=ahead) if ahead is not None else instant(values["sent_at"]) or now
        seconds = rules.clock_ahead(phone, now)
        return rules.really(happened, seconds, now), seconds


class ForPlace(forms.Form):
    """Something that is about a thing: an assembly, a part, a bin or a lot."""

    place = forms.CharField(required=False, max_length=40)

    def __init__(self, *args: Any, project: Project, **options: Any) -> None:
        super().__init__(*args, **options)
        self.project = project

    def clean_place(self) -> evidence.Place | None:
        """The thing itself; one that is not there any more is no reason to lose a photo."""
        return evidence.place_by_key(self.project, self.cleaned_data["place"])


class Described(ForPlace):
    """Words and tags of a photo."""

    shows = forms.ChoiceField(choices=list(photos.SHOWS.items()), required=False)
    builder_in_frame = forms.BooleanField(required=False)
    caption = forms.CharField(required=False, max_length=300)

    @property
    def words(self) -> dict[str, Any]:
        """What is said at all: what is not named stays as it is."""
        return {name: self.cleaned_data[name] for name in ("shows", "builder_in_frame", "caption") if name in self.data}


class PhotoForm(Described):
    """A photo or clip, with what the phone read before it did anything else."""

    photo = forms.FileField(required=False, allow_empty_file=True)
    pieces = forms.BooleanField(required=False)
    digest = forms.RegexField(r"^sha256:[0-9a-f]{64}$", required=False)
    file_name = forms.CharField(required=False, max_length=200)
    file_time = forms.CharField(required=False)
    session = forms.CharField(required=False, max_length=36)

    def clean_file_time(self) -> datetime | None:
        return instant(self.cleaned_data["file_time"])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if not values.get("photo") and not (values.get("pieces") and values.get("digest")):
            self.add_error("photo", NO_PHOTO)
        return values


class StartForm(forms.Form):
    """A timer that was started on a phone."""

    def __init__(self, *args: Any, project: Project, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["assembly"] = forms.ModelChoiceField(
            parts.assemblies(project),
            error_messages={
                "required": "Say what is worked on.",
                "invalid_choice": "This assembly is not in the project any more. Log the session by hand.",
            },
        )
        self.fields["people"] = forms.ModelMultipleChoiceField(people(project).workers(), required=False)


class TapForm(forms.Form):
    """A tap on a timer that runs: the id of the request that started it, or its key."""

    session = forms.CharField(max_length=36, error_messages={"required": "The request does not say which timer."})


class AboutPhoto(forms.Form):
    """Something about a photo that was sent: the id of the request that brought it."""

    photo_request = forms.CharField(max_length=36, error_messages={"required": "The request does not say which photo."})


def typed(data: Any, but: frozenset[str]) -> list[list[str]]:
    """The fields of a form as they were typed, without those that every capture has."""
    return [[name, value] for name, values in data.lists() if name not in but for value in values]
