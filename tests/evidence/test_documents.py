"""Documents: kept to the byte, once, never opened by the browser, and found with what they are about."""

from datetime import date
from hashlib import sha256
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from accounts.models import Person
from archive.queries import faults
from evidence import commands, queries, rules
from evidence.models import Document
from foundation.refusal import Refusal
from journal.models import Entry
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_bin,
    make_lot,
    make_part,
    make_person,
    make_photo,
    make_project,
    picture_bytes,
)

PDF = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n"


@pytest.fixture
def builder(db: None) -> Person:
    return make_project()[1]


@pytest.fixture
def client(builder: Person) -> Client:
    return client_for(builder)


def keep(by: Person, data: bytes = PDF, name: str = "sheet.pdf", **more: object) -> tuple[Document, bool]:
    values = {"kind": "sheet", "title": "Resin data sheet"} | more
    return commands.keep_document(by=by, at=NOW, project=by.project, file=BytesIO(data), name=name, **values)


def at(name: str, by: Person, *keys: str) -> str:
    return reverse(f"evidence:{name}", args=[by.project.slug, *keys])


# ---- what a file is ----


@pytest.mark.parametrize(
    ("name", "data", "kind"),
    [
        ("a.pdf", PDF, "application/pdf"),
        ("receipt", picture_bytes("JPEG"), "image/jpeg"),
        ("receipt.jpg", picture_bytes("PNG"), "image/png"),  # the bytes say, not the name
        ("log.CSV", b"time;temp\n1;20\n", "text/csv"),
        ("log.csv", b"\0\1binary", "application/octet-stream"),
        ("note.txt", "Grüße".encode(), "text/plain"),
        ("page.html", b"<script>alert(1)</script>", "application/octet-stream"),
        ("draw.svg", b"<svg onload='x()'/>", "application/octet-stream"),
        ("a.pdf", b"<html>", "application/octet-stream"),
    ],
)
def test_the_bytes_say_what_a_file_is_and_nothing_with_scripts_has_a_kind(name: str, data: bytes, kind: str) -> None:
    assert rules.media_type(name, data) == kind


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(max_size=300))
def test_a_name_keeps_no_folder_and_no_unseen_sign(name: str) -> None:
    kept = rules.plain_name(name)
    assert len(kept) <= 200 and not set(kept) & set("/\\\r\n\0")


# ---- kept to the byte, once ----


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.binary(min_size=1, max_size=4096))
def test_the_file_is_kept_as_it_came(tmp_path_factory, data: bytes) -> None:
    path = tmp_path_factory.mktemp("kept") / "there" / "file"
    commands.keep_original(BytesIO(data), path, len(data))
    assert path.read_bytes() == data


def test_the_same_bytes_are_one_document_with_further_places(builder: Person) -> None:
    lot, part = make_lot(builder), make_part(builder, make_assembly(builder))
    first, new = keep(builder, places=[lot], dated_on=date(2026, 1, 2))
    again, newer = keep(builder, name="copy.pdf", title="Other words", places=[lot, part])
    assert new and not newer and again == first and Document.objects.get().title == "Resin data sheet"
    assert [place.thing for place in queries.document_places(first)] == [part, lot]
    path = queries.document_path(first)
    assert (
        path.read_bytes() == PDF and path.name == f"{sha256(PDF).hexdigest()}.pdf" and path.stat().st_mode & 0o222 == 0
    )
    verbs = list(Entry.objects.filter(subject=first.subject).order_by("seq").values_list("verb", flat=True))
    assert verbs == ["document.kept", "document.placed"] and list(faults(builder.project)) == []
    keep(make_project("Other")[1])
    assert Document.objects.count() == 2


def test_a_withdrawn_document_comes_back_with_its_bytes(builder: Person) -> None:
    kept, _ = keep(builder)
    commands.withdraw_document(by=builder, at=NOW, document=kept, reason="Wrong lot")
    assert not queries.documents(builder.project).exists()
    again, new = keep(builder)
    assert again.pk == kept.pk and not new and queries.documents(builder.project).get() == kept


@pytest.mark.parametrize(("data", "code"), [(b"", "empty"), (b"x" * 1025, "too_large")])
def test_what_is_empty_or_too_large_is_refused_and_leaves_nothing(builder: Person, settings, data, code) -> None:  # noqa: ANN001
    settings.DOCUMENT_MAX_BYTES = 1024
    with pytest.raises(Refusal) as no:
        keep(builder, data)
    assert no.value.code == code and not Document.objects.exists() and not settings.DOCUMENTS_DIR.exists()


# ---- pages ----


def test_a_document_is_added_found_corrected_and_withdrawn_by_its_pages(builder: Person, client: Client) -> None:
    assert "No documents yet" in client.get(at("documents", builder)).content.decode()
    lot = make_lot(builder, "L-7")
    page = client.get(at("document_new", builder) + f"?on={lot.pk}&kind=receipt").content.decode()
    assert f'value="{lot.pk}" selected' in page and 'value="receipt" selected' in page
    sent = {"kind": "receipt", "title": "Receipt of the resin", "dated_on": "2026-03-04", "lot": lot.pk}
    assert client.post(at("document_new", builder), sent).status_code == 422  # without a file
    file = SimpleUploadedFile("r.pdf", PDF)
    assert client.post(at("document_new", builder), sent | {"title": "", "file": file}).status_code == 422
    client.post(at("document_new", builder), sent | {"file": SimpleUploadedFile("r.pdf", PDF)})
    kept = Document.objects.get()
    strip = client.get(at("documents_of", builder, lot.pk), headers={"HX-Request": "true"}).content.decode()
    assert "Receipt of the resin" in strip and "<html" not in strip
    assert "Receipt of the resin" in client.get(at("documents", builder) + "?text=resin&kind=receipt").content.decode()
    assert "No document like that" in client.get(at("documents", builder) + "?kind=drawing").content.decode()
    words = sent | {"title": "Receipt, 5 kg", "reason": "Said too little"}
    client.post(at("document_edit", builder, kept.pk), words)
    page = client.get(at("document", builder, kept.pk)).content.decode()
    assert "<ins>Receipt, 5 kg</ins>" in page and "Said too little" in page and "L-7" in page
    client.post(at("document_unplace", builder, kept.pk, kept.document_places.get().pk))
    assert not kept.document_places.exists()
    assert client.post(at("document_place", builder, kept.pk), {}).status_code == 422
    client.post(at("document_place", builder, kept.pk), {"bin": make_bin(builder).pk})
    assert kept.document_places.get().bin
    client.post(at("document_withdraw", builder, kept.pk), {"reason": "Not ours"})
    assert "Withdrawn on" in client.get(at("document", builder, kept.pk)).content.decode()
    assert client.get(at("document_file", builder, kept.pk)).status_code == 200


@pytest.mark.parametrize(
    ("name", "data"), [("x.html", b"<script>alert(1)</script>"), ("x.svg", b"<svg onload='x()'/>"), ("x.pdf", PDF)]
)
def test_a_file_is_saved_and_never_opened_by_the_browser(
    builder: Person, client: Client, name: str, data: bytes
) -> None:
    kept, _ = keep(builder, data, name)
    answer = client.get(at("document_file", builder, kept.pk))
    assert b"".join(answer.streaming_content) == data
    assert answer.headers["Content-Disposition"].startswith("attachment")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Type"] in {"application/pdf", "application/octet-stream"}


def test_a_file_that_is_gone_from_the_disk_is_not_found(builder: Person, client: Client) -> None:
    kept, _ = keep(builder)
    queries.document_path(kept).unlink()
    assert client.get(at("document_file", builder, kept.pk)).status_code == 404


def test_photographed_receipts_stand_with_the_papers(builder: Person, client: Client) -> None:
    lot = make_lot(builder)
    photo = make_photo(builder, places=[lot], shows="receipt")
    make_photo(builder, places=[lot], shows="inside")
    strip = client.get(at("documents_of", builder, lot.pk)).content.decode()
    assert "photographed" in strip and photo.label in strip and "P-0002" not in strip


@pytest.mark.parametrize("name", ["document", "document_file", "document_edit", "document_withdraw", "documents_of"])
def test_a_document_of_another_project_is_not_found_here(builder: Person, client: Client, name: str) -> None:
    other = make_project("Other")[1]
    key = make_lot(other).pk if name == "documents_of" else keep(other)[0].pk
    assert client.get(at(name, builder, key)).status_code == 404


def test_helpers_add_documents_and_the_builder_alone_changes_them(builder: Person) -> None:
    helper, reader = (client_for(make_person(builder.project, role)) for role in ("helper", "reader"))
    sent = {"kind": "other", "title": "Sketch"}
    assert reader.post(at("document_new", builder), sent).status_code == 403
    assert helper.post(at("document_new", builder), sent | {"file": SimpleUploadedFile("a", b"a")}).status_code == 302
    kept = Document.objects.get()
    for name in ("document_edit", "document_withdraw"):
        assert helper.post(at(name, builder, kept.pk), {"reason": "x"}).status_code == 403
    assert reader.get(at("document", builder, kept.pk)).status_code == 200


def test_documents_have_their_place_among_the_sections(builder: Person, client: Client) -> None:
    page = client.get(at("documents", builder)).content.decode()
    assert f'<a href="{at("documents", builder)}" aria-current="page">' in page
    photos = client.get(reverse("evidence:photos", args=[builder.project.slug])).content.decode()
    assert f'<a href="{at("documents", builder)}">' in photos


def test_an_app_above_tells_what_else_a_document_is_about(
    builder: Person, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept, _ = keep(builder)
    page = at("document", builder, kept.pk)
    assert "it is found in the list of documents only" in client.get(page).content.decode()
    rig = queries.About("Rig", "R-1", "Cradle <left>", "/rigs/1/")
    monkeypatch.setattr(queries, "ABOUT", [lambda document: [rig] if document == kept else []])
    said = client.get(page).content.decode()
    assert 'Rig <span class="code">R-1</span> Cradle &lt;left&gt;' in said and 'href="/rigs/1/"' in said
    assert "it is found in the list of documents only" not in said
