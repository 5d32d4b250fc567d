"""The pages of the ten-second path: taking a photo, and what is kept on this phone.

Both are shells that the service worker shows without signal. What they say about the phone comes from the phone's own
store and never from here; so the capture page is the same for every label, and its script reads the address.
"""

from django.http import HttpResponse

from accounts.access import SeatedRequest, for_member
from buildlog.forms import assembly_choices
from foundation.answer import answer

NO_PLACE = "No place yet, to the tray"
# What a photo shows, in the one word that fits a button for a gloved thumb, in the order of how often it is wanted.
TAGS = {
    "inside": "Inside",
    "edge": "Edge",
    "gauge": "Gauge",
    "scale": "Scale",
    "label": "Label",
    "receipt": "Receipt",
    "damage": "Damage",
    "overall": "Overall",
}


@for_member("log")
def capture(request: SeatedRequest, slug: str, key: str = "") -> HttpResponse:
    """Take photos, clips and voice notes; `key` is what the scanned label stands for and only the script reads it.

    Without a script it is a plain form that sends photos at once.
    """
    places = [("", NO_PLACE), *assembly_choices(request.seat.project)]
    return answer(request, "buildlog/capture.html", {"lean": True, "places": places, "tags": TAGS.items()})


@for_member("log")
def kept(request: SeatedRequest, slug: str) -> HttpResponse:
    """What is kept on this phone and not on the server yet, and apart from it what the server has."""
    return answer(request, "buildlog/kept.html", {"lean": True})
