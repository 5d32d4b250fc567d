"""A record handed out, signed digitally with the builder's own key, and the key made."""

from datetime import UTC, datetime

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from pypdf import PdfReader

from accounts.rules import INSPECTOR
from archive.queries.whole import faults
from certification import commands, queries
from certification.models import Pack, SignedCopy
from certification.views import record as views
from evidence.models import Document
from evidence.queries import document_path
from foundation import pdf_signature
from foundation.digest import digest_bytes
from foundation.pdf_signature import Checked, check_pdf, make_key, open_key
from journal.queries import head
from tests import factories

pytestmark = pytest.mark.django_db
WORDS = "rib spar keel strake"
TODAY = datetime.now(UTC)


@pytest.fixture
def shop(django_capture_on_commit_callbacks):
    project, edda = factories.make_project()
    hull = factories.make_assembly(edda, "10", "Hull")
    factories.make_session(edda, hull, photos=(factories.make_photo(edda, places=[hull]),))
    with django_capture_on_commit_callbacks(execute=True):
        pack = commands.freeze_record(by=edda, at=TODAY, project=project)
    pack.refresh_from_db()
    assert pack.ready
    return edda, pack


def address(name, pack, *more):
    return reverse(f"certification:{name}", args=[pack.project.slug, *more])


def key_file(words=WORDS, name="Edda Norrell"):
    return SimpleUploadedFile("signing-key.p12", make_key(name, words, TODAY))


def test_the_builder_signs_and_takes_the_signed_file(shop):
    edda, pack = shop
    client = factories.client_for(edda)
    drawn = queries.pack_path(pack).read_bytes()
    response = client.post(address("pack_sign", pack, pack.pk), {"key": key_file(), "passphrase": WORDS}, follow=True)
    copy = SignedCopy.objects.get()
    page = response.content.decode()
    assert "Edda Norrell, with a key of his or her own" in page
    assert copy.short_fingerprint in page
    assert copy.document.label in page
    file = client.get(reverse("evidence:document_file", args=[pack.project.slug, copy.document_id]))
    data = b"".join(file.streaming_content)
    assert data.startswith(drawn)
    assert digest_bytes(data) == copy.document.digest
    assert check_pdf(document_path(copy.document), copy.certificate).good
    assert len(PdfReader(document_path(copy.document)).pages) == len(PdfReader(queries.pack_path(pack)).pages)
    # The record handed out is what it was.
    pack.refresh_from_db()
    assert queries.pack_path(pack).read_bytes() == drawn
    assert pack.file_digest == digest_bytes(drawn)


def test_the_journal_has_it_and_verify_reads_the_file(shop):
    edda, pack = shop
    factories.client_for(edda).post(address("pack_sign", pack, pack.pk), {"key": key_file(), "passphrase": WORDS})
    copy = SignedCopy.objects.get()
    newest = head(pack.project_id)
    assert (newest.verb, newest.subject) == ("record.signed", copy.subject)
    assert copy.fingerprint in newest.state
    assert not faults(pack.project)
    path = document_path(copy.document)
    data = bytearray(path.read_bytes())
    data[200] ^= 1
    path.write_bytes(data)
    assert faults(pack.project)


def test_neither_key_nor_passphrase_is_kept(shop, tmp_path):
    edda, pack = shop
    key = make_key("Edda Norrell", WORDS, TODAY)
    file = SimpleUploadedFile("signing-key.p12", key)
    factories.client_for(edda).post(address("pack_sign", pack, pack.pk), {"key": file, "passphrase": WORDS})
    assert SignedCopy.objects.count() == 1
    kept = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert any(path.name.endswith(".pdf") for path in kept)
    for path in kept:
        assert WORDS.encode() not in path.read_bytes()
        assert key[:64] not in path.read_bytes()
    assert not list(settings.FILE_UPLOAD_TEMP_DIR.glob("tmp*"))


def test_what_cannot_sign_is_told_and_nothing_is_written(shop):
    edda, pack = shop
    client = factories.client_for(edda)
    before = head(pack.project_id).pk
    where = address("pack_sign", pack, pack.pk)
    for sent, says in (
        ({"passphrase": WORDS}, "Choose the key file."),
        ({"key": key_file(), "passphrase": "another one entirely"}, "Choose the file again"),
        ({"key": SimpleUploadedFile("x.p12", b"a picture"), "passphrase": WORDS}, "not a key file"),
        ({"key": SimpleUploadedFile("x.p12", b"0" * 300_000), "passphrase": WORDS}, "too large for a key file"),
    ):
        page = client.post(where, sent).content.decode()
        assert says in page
        assert WORDS not in page
    assert not SignedCopy.objects.exists()
    assert not Document.objects.exists()
    assert head(pack.project_id).pk == before


def test_a_signature_that_does_not_hold_is_not_kept(shop, monkeypatch):
    edda, pack = shop
    monkeypatch.setattr(pdf_signature, "check", lambda *_: Checked(intact=True, whole=False, valid=True))
    page = factories.client_for(edda).post(
        address("pack_sign", pack, pack.pk), {"key": key_file(), "passphrase": WORDS}
    )
    assert "does not hold" in page.content.decode()
    assert not Document.objects.exists()


def test_a_file_that_is_gone_is_drawn_first(shop):
    edda, pack = shop
    client = factories.client_for(edda)
    queries.pack_path(pack).unlink()
    page = client.post(address("pack_sign", pack, pack.pk), {"key": key_file(), "passphrase": WORDS})
    assert "Have it drawn, then sign it" in page.content.decode()
    Pack.objects.filter(pk=pack.pk).update(state_word=Pack.WAITING)
    assert client.get(address("pack_sign", pack, pack.pk)).status_code == 302


def test_signing_twice_keeps_both_copies(shop):
    edda, pack = shop
    client = factories.client_for(edda)
    for name in ("Edda Norrell", "E. Norrell"):
        client.post(address("pack_sign", pack, pack.pk), {"key": key_file(name=name), "passphrase": WORDS})
    page = client.get(address("pack", pack, pack.pk)).content.decode()
    assert page.count("Signed file,") == 2


def test_without_the_packages_the_page_says_what_to_install(shop, monkeypatch):
    edda, pack = shop
    monkeypatch.setattr(views, "can_sign", lambda: False)
    client = factories.client_for(edda)
    page = client.get(address("pack_sign", pack, pack.pk)).content.decode()
    assert "requirements-signing.txt" in page
    assert 'name="passphrase"' not in page
    client.post(address("pack_sign", pack, pack.pk), {"key": key_file(), "passphrase": WORDS})
    assert not SignedCopy.objects.exists()


def test_only_those_who_may_write_and_only_their_own_records(shop):
    edda, pack = shop
    inspector = factories.client_for(factories.make_person(pack.project, INSPECTOR))
    stranger = factories.client_for(factories.make_project(name="Other boat", registration="N0-OTHER")[1])
    for client, status in ((inspector, 403), (stranger, 404)):
        for where in (address("pack_sign", pack, pack.pk), address("signing_key", pack)):
            assert client.get(where).status_code == status
            assert client.post(where, {"key": key_file(), "passphrase": WORDS}).status_code == status
    other, there = factories.make_project(name="Third boat", registration="N0-THIRD")
    response = factories.client_for(there).post(
        reverse("certification:pack_sign", args=[other.slug, pack.pk]), {"key": key_file(), "passphrase": WORDS}
    )
    assert response.status_code == 404
    assert not SignedCopy.objects.exists()


def test_a_key_is_made_for_the_builder_to_keep(shop):
    edda, pack = shop
    client, where = factories.client_for(edda), address("signing_key", pack)
    assert "Edda Norrell" in client.get(where).content.decode()
    response = client.post(where, {"name": "Edda Norrell", "passphrase": WORDS, "again": WORDS})
    assert response["Content-Type"] == "application/x-pkcs12"
    assert "no-store" in response["Cache-Control"]
    assert open_key(response.content, WORDS, TODAY).holder == "Edda Norrell"
    for sent, says in (
        ({"name": "Edda", "passphrase": WORDS, "again": "rib spar keel"}, "differ"),
        ({"name": "Edda", "passphrase": "short", "again": "short"}, "At least 12 characters"),
        ({"name": "", "passphrase": WORDS, "again": WORDS}, "Say whose key it is."),
    ):
        page = client.post(where, sent).content.decode()
        assert says in page
        assert WORDS not in page
