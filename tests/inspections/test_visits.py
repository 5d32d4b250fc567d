"""Visits from the builder's side: links made and taken back, pages signed in ink, and how it all shows."""

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from accounts.models import Person
from evidence.models import Photo
from foundation.digest import short
from foundation.refusal import Refusal
from inspections import queries
from inspections.models import Visit
from inspections.rules import visits as rules
from journal.models import Entry, Signature
from tests.factories import NOW, client_for, make_area, make_person, picture_bytes
from tests.inspections.shop import Shop
from tests.inspections.test_visitor import Visited

DAY = timedelta(days=1)


# ---- rules ----


@pytest.mark.parametrize(
    ("expires", "revoked", "ended", "state"),
    [
        (DAY, None, None, rules.OPEN),
        (timedelta(0), None, None, rules.SHUT),
        (-DAY, None, None, rules.SHUT),
        (DAY, NOW, None, rules.SHUT),
        (DAY, None, NOW, rules.ENDED),
        (DAY, NOW, NOW, rules.SHUT),
        (-DAY, None, NOW, rules.SHUT),
    ],
)
def test_how_a_link_stands(expires, revoked, ended, state: str) -> None:
    assert rules.standing(at=NOW, expires_at=NOW + expires, revoked_at=revoked, ended_at=ended) == state


def test_a_link_needs_something_to_look_at_and_an_end() -> None:
    rules.check_made(at=NOW, expires_at=NOW + 60 * DAY, things=1)
    for expires, things in ((NOW + DAY, 0), (NOW, 1), (NOW - DAY, 1), (NOW + 60 * DAY + timedelta(seconds=1), 1)):
        with pytest.raises(Refusal):
            rules.check_made(at=NOW, expires_at=expires, things=things)


def test_a_device_is_told_in_two_words() -> None:
    chrome = "Mozilla/5.0 (Linux; Android 14; Pixel 8) AppleWebKit/537.36 (KHTML) Chrome/131.0.0.0 Mobile Safari/537.36"
    assert rules.device_words(chrome) == "Android, Chrome"
    assert rules.device_words("") == rules.device_words("curl/8") == ""


# ---- the builder's pages ----


@pytest.fixture
def shop(db: None) -> Visited:
    return Visited()


def form(shop: Visited, **more: object) -> dict[str, object]:
    return {"person": shop.hal.pk, "areas": [shop.area.pk], "purpose": "Interior", "days": 7, "note": ""} | more


def test_a_link_is_shown_once_with_its_code_and_works(shop) -> None:
    edda = client_for(shop.edda)
    page = edda.post(new(shop), form(shop))
    address = page.context["address"]
    token = address.rsplit("/", 1)[1]
    assert len(token) >= 43 and address in page.content.decode() and "<svg" in page.context["code"]
    assert page.headers["Cache-Control"].find("no-store") >= 0
    visit = Visit.objects.get(number=2)
    assert visit.expires_at - visit.made_at == 7 * DAY
    for later in (edda.get(one(shop, visit)), edda.get(every(shop))):
        assert later.status_code == 200 and token not in later.content.decode()
    assert Client().post(f"/visit/{token}/open/").status_code == 302
    assert visit.openings.count() == 1


def new(shop: Visited) -> str:
    return f"/{shop.project.slug}/visits/new/"


def every(shop: Visited) -> str:
    return f"/{shop.project.slug}/visits/"


def one(shop: Visited, visit: Visit) -> str:
    return f"/{shop.project.slug}/visits/{visit.pk}/"


def test_somebody_new_becomes_an_inspector_without_an_account(shop) -> None:
    more = {"person": "new", "name": "Ottmar Klee", "certificate_kind": "Counselor", "certificate_number": "TC-9"}
    assert client_for(shop.edda).post(new(shop), form(shop, **more)).status_code == 200
    made = Person.objects.get(name="Ottmar Klee")
    assert (made.role, made.user, made.certificate) == ("inspector", None, "Counselor TC-9")
    assert Visit.objects.get(number=2).person == made


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"areas": []}, "Choose at least one area or point"),
        ({"days": 61}, "less than or equal to 60"),
        ({"days": 0}, "greater than or equal to 1"),
        ({"person": "new", "name": " "}, "Give the name"),
        ({"person": "new", "name": "Hal Venning"}, "already on this project"),
        ({"purpose": ""}, "required"),
    ],
)
def test_a_bad_form_makes_no_link(shop, more, why) -> None:
    page = client_for(shop.edda).post(new(shop), form(shop, **more))
    assert page.status_code == 422 and why in page.content.decode() and Visit.objects.count() == 1


def test_only_the_builder_makes_links(shop) -> None:
    helper = make_person(shop.project)
    for address in (new(shop), every(shop), one(shop, shop.visit), one(shop, shop.visit) + "revoke/"):
        assert client_for(helper).get(address).status_code == 403
        assert Client().get(address).status_code == 302


def test_another_projects_areas_cannot_be_put_into_a_link(shop) -> None:
    other = Shop()
    page = client_for(shop.edda).post(new(shop), form(shop, areas=[other.area.pk]))
    assert page.status_code == 422
    assert client_for(other.edda).get(one(other, shop.visit)).status_code == 404


def test_a_link_is_taken_back_with_a_reason(shop) -> None:
    edda, visitor = client_for(shop.edda), shop.open()
    address = one(shop, shop.visit) + "revoke/"
    assert edda.post(address, {"reason": " "}).status_code == 422
    assert edda.post(address, {"reason": "Wrong number"}).status_code == 302
    assert visitor.get(shop.at("home")).status_code == 404
    entry = Entry.objects.get(subject=shop.visit.subject, verb="visit.revoked")
    assert entry.reason == "Wrong number" and entry.by_name == "Edda Norrell"
    assert edda.post(address, {"reason": "Again"}).status_code == 422
    assert "Taken back" in edda.get(one(shop, shop.visit)).content.decode()


def test_everything_of_a_visit_shows_on_its_page(shop) -> None:
    visitor = shop.open()
    visitor.post(shop.at("look"), {"thing": shop.item(2).subject, "outcome": "no_access", "words": "Panel is on"})
    visitor.post(shop.at("remark", "area", shop.area.pk), {"words": "Chips inside", "severity": "minor"})
    shop.sign_here(visitor)
    page = client_for(shop.edda).get(one(shop, shop.visit)).content.decode()
    for words in ("Panel is on", "Chips inside", "Technical counselor", "By visit link, V-1, name drawn", "Ended"):
        assert words in page, words
    assert 'aria-label="Drawn signature of Hal Venning"' in page
    assert "style=" not in page


def test_another_link_like_this_offers_the_same(shop) -> None:
    page = client_for(shop.edda).get(new(shop) + f"?like={shop.visit.pk}")
    assert page.context["form"]["areas"].value() == [shop.area.pk]
    assert page.context["form"]["person"].value() == shop.hal.pk


def test_a_correction_after_signing_needs_a_new_link_and_a_new_signature(shop) -> None:
    """Rule R31: signed, then changed; the change is named; a second visit signs again."""
    shop.sign_here(shop.open())
    edda = client_for(shop.edda)
    edda.post(
        f"/{shop.project.slug}/photos/{shop.photo.pk}/caption/",
        {"caption": "Drain boss, sealed twice", "was": shop.photo.caption},
    )
    page = edda.get(shop.url("area")).content.decode()
    assert "Signed, then changed" in page and "Drain boss, sealed twice" in page
    assert not shop.now.gate.may_close
    shop.link("again-token")
    shop.client = Client()
    assert shop.sign_here(shop.open("again-token"), "again-token").status_code == 302
    assert shop.now.gate.may_close and Signature.objects.count() == 2


# ---- wet ink ----


def paper(shop: Visited) -> str:
    return f"/{shop.project.slug}/paper/area/{shop.area.pk}/"


def page_of(shop: Visited, **more: object) -> dict[str, object]:
    return {
        "page": SimpleUploadedFile("page.jpg", picture_bytes(seed=4242), "image/jpeg"),
        "number": short(queries.seen(queries.covers(shop.now))),
        "outcome": "accepted",
        "person": shop.hal.pk,
        "name": "Hal Venning",
        "capacity": "Inspector",
        "certificate_kind": "A&P mechanic",
        "certificate_number": "DEMO-0417",
        "extent": "Interior before closing",
        "signed_on": timezone.localdate(timezone=shop.project.zone).isoformat(),
        "reason": "",
    } | more


def test_the_page_to_sign_names_what_is_signed_and_its_number(shop) -> None:
    file = client_for(shop.edda).get(paper(shop) + "sheet.pdf")
    told = " ".join(page.extract_text() for page in PdfReader(BytesIO(file.content)).pages)
    number = short(queries.seen(queries.covers(shop.now)))
    for words in (number, "24.1-C1", "Drain boss, sealed and taped", "Number of certificate", "Not accepted", "Date"):
        assert words in told, words


def test_a_photographed_page_is_a_signature(shop) -> None:
    edda = client_for(shop.edda)
    assert edda.get(paper(shop)).status_code == 200
    assert edda.post(paper(shop), page_of(shop)).status_code == 302
    signature = Signature.objects.get()
    page = Photo.objects.get(digest=signature.ink)
    assert (signature.shown_by, signature.person, signature.name) == ("ink", shop.hal.pk, "Hal Venning")
    assert signature.entered_by.startswith("Edda Norrell, from a page dated ")
    assert [one.assembly for one in page.placements.all()] == [shop.assembly]
    assert shop.now.gate.may_close
    shown = edda.get(shop.url("area")).content.decode()
    assert "Wet ink, photographed" in shown
    assert edda.get(f"/{shop.project.slug}/signed-pages/{signature.pk}/").url.endswith(f"/photos/{page.pk}/")


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"number": "0000-0000-0000"}, "not that of the record as it stands now"),
        ({"signed_on": (timezone.localdate() + 2 * DAY).isoformat()}, "still to come"),
        ({"outcome": "not_accepted"}, "Say what is not accepted"),
        ({"page": SimpleUploadedFile("page.jpg", b"no picture", "image/jpeg")}, ""),
        ({"person": "nobody"}, "valid choice"),
    ],
)
def test_a_page_that_does_not_fit_is_no_signature(shop, more, why) -> None:
    page = client_for(shop.edda).post(paper(shop), page_of(shop, **more))
    assert page.status_code == 422 and why in page.content.decode() and not Signature.objects.exists()
    assert "Interior before closing" in page.content.decode()


def test_a_page_signed_before_a_reopening_is_for_the_closing_before(shop) -> None:
    with pytest.raises(Refusal) as no:
        rules.check_page(
            number="AB12-0000-1111",
            present="ab12 0000 1111",
            signed_on=NOW.date() - DAY,
            today=NOW.date(),
            since=NOW.date(),
            is_picture=True,
        )
    assert no.value.code == "before_reopening"


def test_a_closed_area_is_not_offered(shop) -> None:
    other = make_area(shop.edda, shop.assembly, {"kind": "check", "words": "Clean"}, number="24.1-C2")
    from inspections import commands as areas

    areas.answer_check(by=shop.edda, at=timezone.now(), requirement=other.requirements.get(), answer="yes")
    areas.close_area(by=shop.edda, at=timezone.now(), area=other)
    page = client_for(shop.edda).get(new(shop)).content.decode()
    assert other.pk not in page and shop.area.pk in page
