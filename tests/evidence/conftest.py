"""A project with its builder, and a look at every folder into which photos could be left."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from accounts.models import Person, Project
from evidence.models import Photo
from tests.factories import client_for, make_project

JSON = {"Accept": "application/json"}


@dataclass
class Bench:
    """One project with its signed-in builder."""

    project: Project
    builder: Person
    client: Client

    def url(self, name: str, *keys: object) -> str:
        return reverse(f"evidence:{name}", args=[self.project.slug, *keys])

    def send(
        self, data: bytes, name: str = "photo.jpg", client: Client | None = None, **fields: object
    ) -> HttpResponse:
        """Send one photo as the script does."""
        body = {"photo": SimpleUploadedFile(name, data), **fields}
        return (client or self.client).post(self.url("photos"), body, headers=JSON)

    def keep(self, data: bytes, name: str = "photo.jpg", **fields: object) -> Photo:
        """Send one photo that has to be kept."""
        answer = self.send(data, name, **fields)
        assert answer.status_code in {200, 201}, answer.content
        return Photo.objects.get(pk=answer.json()["id"])


@pytest.fixture
def bench(db: None) -> Bench:
    project, builder = make_project()
    return Bench(project, builder, client_for(builder))


@pytest.fixture
def files_left(settings, tmp_path: Path) -> Callable[[], list[str]]:  # noqa: ANN001
    """The names of all files in the folders of originals, renditions and uploads under way."""
    settings.FILE_UPLOAD_TEMP_DIR = tmp_path / "incoming"
    settings.FILE_UPLOAD_TEMP_DIR.mkdir()
    folders = (settings.ORIGINALS_DIR, settings.RENDITIONS_DIR, settings.FILE_UPLOAD_TEMP_DIR)
    return lambda: sorted(path.name for folder in folders for path in folder.rglob("*") if path.is_file())
