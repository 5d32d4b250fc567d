"""The door for the forms of other apps: photos chosen or sent along in them."""

from datetime import datetime

from django.http import HttpRequest

from accounts.models import Person, Project
from evidence import commands, queries
from evidence.models import Photo


def chosen_photos(
    request: HttpRequest, project: Project, by: Person, at: datetime, name: str = "photos"
) -> tuple[list[Photo], list[str]]:
    """The photos that a form with `evidence/_attach.html` sent, and a sentence for each that was refused.

    The template, in a form with enctype="multipart/form-data":

        {% include "evidence/_attach.html" with photos=photos %}

    (`name="..."` if the form has more than one such grid) and in block scripts, so that photos go up while the rest is
    filled in:

        <script type="module" src="{% static 'js/attach.js' %}"></script>

    In the view, for GET and POST alike (a GET chooses nothing):

        photos, refused = chosen_photos(request, project, person, now)

    Read are the keys in `photos` (scoped to the project, in their order), without those ticked in `remove_photos`, and
    the files in `new_photos`, which are taken into the record here and now. So when the form itself is bad, show the
    page again with the returned photos: nothing has to be chosen twice. A refusal begins with the file's name and
    concerns that file alone; whether the rest of the form is saved all the same is up to the view.
    """
    if request.method != "POST":
        return [], []
    removed = set(request.POST.getlist(f"remove_{name}"))
    keys = [key for key in dict.fromkeys(request.POST.getlist(name)) if key and key not in removed]
    photos = queries.by_keys(project, keys)
    refused = []
    if missing := len(keys) - len(photos):
        words = "One chosen photo is" if missing == 1 else f"{missing} chosen photos are"
        refused.append(f"{words} no longer in this record and left out here.")
    taken = commands.take_in_many(by=by, at=at, project=project, files=request.FILES.getlist(f"new_{name}"))
    photos += [photo for photo in taken.photos if photo not in photos]
    return photos, refused + taken.refused
