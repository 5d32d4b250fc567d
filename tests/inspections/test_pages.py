"""The pages of the shop, of assemblies, of holds and of one area with its gate."""

import re
from datetime import timedelta
from html import unescape

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from buildlog import commands as buildlog
from evidence import commands as evidence
from evidence.models import Photo
from inspections import commands, queries
from inspections.commands import discrepancies
from inspections.models import Answer, Area, Closing, Exhibit, Requirement
from journal.models import Entry, Signature
from tests.factories import (
    NOW,
    PASSWORD,
    client_for,
    make_area,
    make_assembly,
    make_part,
    make_person,
    make_photo,
    make_project,
    make_session,
    picture_bytes,
)
from tests.inspections.shop import LATER, Shop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def no_tries_yet() -> None:
    cache.clear()


@pytest.fixture
def shop() -> Shop:
    return Shop()


@pytest.fixture
def edda(shop: Shop) -> Client:
    return client_for(shop.edda)


@pytest.fixture
def hal(shop: Shop) -> Client:
    return client_for(shop.hal)


def text(answer) -> str:  # noqa: ANN001
    """What the page says, without its markup."""
    body = re.search(r"<main.*?</main>", answer.content.decode(), re.S)
    assert body, "the page has no main part"
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body.group())).split())


def links(answer) -> list[str]:  # noqa: ANN001
    """The addresses of this project that the main part links to."""
    body = re.search(r"<main.*?</main>", answer.content.decode(), re.S).group()
    return [unescape(url) for url in re.findall(r'<a[^>]*href="(/[^"#]*)', body)]


def picture(name: str = "boss.jpg", data: bytes | None = None, **more) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, picture_bytes(**more) if data is None else data, content_type="image/jpeg")


# ---- who may come in ----

GET_ROUTES = {
    "shop": "read",
    "holds": "read",
    "assembly": "read",
    "area": "read",
    "area_new": "edit",
    "area_edit": "edit",
    "area_withdraw": "edit",
    "item_new": "edit",
    "item_drop": "edit",
    "item_photo": "log",
    "area_sign": "sign",
    "area_close": "close",
    "area_reopen": "close",
}
POST_ROUTES = {"item_answer": "log", "photo_away": "log"}
MAY = {
    "builder": {"read", "log", "edit", "close", "sign"},
    "helper": {"read", "log"},
    "inspector": {"read", "sign"},
    "reader": {"read"},
}


def address(shop: Shop, name: str) -> str:
    more = {
        "shop": (),
        "holds": (),
        "area_new": (),
        "assembly": (shop.assembly.pk,),
        "item_drop": (shop.area.pk, shop.item(1).pk),
        "item_photo": (shop.area.pk, shop.item(1).pk),
        "item_answer": (shop.area.pk, shop.item(2).pk),
        "photo_away": (shop.area.pk, shop.item(1).pk, "bcdfghjkmnpqrstv"),
    }.get(name, (shop.area.pk,))
    return reverse(f"inspections:{name}", args=[shop.project.slug, *more])


@pytest.mark.parametrize("role", MAY)
@pytest.mark.parametrize("name", GET_ROUTES)
def test_each_page_opens_for_those_who_may_and_tells_the_others(shop: Shop, role: str, name: str) -> None:
    if name == "area_reopen":
        shop.closed()
    member = {"builder": shop.edda, "inspector": shop.hal}.get(role) or make_person(shop.project, role)
    answer = client_for(member).get(address(shop, name))
    assert answer.status_code == (200 if GET_ROUTES[name] in MAY[role] else 403)
    if answer.status_code == 403:
        assert "Only" in answer.content.decode()


@pytest.mark.parametrize("role", MAY)
@pytest.mark.parametrize("name", POST_ROUTES)
def test_only_those_who_log_supply_a_gate(shop: Shop, role: str, name: str) -> None:
    member = {"builder": shop.edda, "inspector": shop.hal}.get(role) or make_person(shop.project, role)
    answer = client_for(member).post(address(shop, name), {"answer": "yes"})
    assert (answer.status_code == 403) == (POST_ROUTES[name] not in MAY[role])
    assert Answer.objects.count() == (1 if name == "item_answer" and answer.status_code != 403 else 0)
    if POST_ROUTES[name] in MAY[role]:
        assert client_for(member).get(address(shop, name)).status_code == 405


@pytest.mark.parametrize("name", [*GET_ROUTES, *POST_ROUTES])
def test_an_area_of_another_project_is_not_found_here(shop: Shop, name: str) -> None:
    project, other = make_project("Other")
    url = address(shop, name).replace(f"/{shop.project.slug}/", f"/{project.slug}/")
    if name not in {"shop", "holds", "area_new"}:
        assert client_for(other).post(url, {"reason": "x", "answer": "yes"}).status_code in {404, 405}
        assert client_for(other).get(url).status_code in {404, 405}
    assert client_for(other).get(address(shop, name)).status_code in {404, 405}
    assert Client().get(address(shop, name)).status_code in {302, 405}


def test_a_withdrawn_area_and_a_dropped_item_are_not_found(shop: Shop, edda: Client) -> None:
    item = shop.item(1)
    commands.drop_requirement(by=shop.edda, at=NOW, requirement=item, reason="Not in the plan")
    assert edda.get(shop.url("item_photo", shop.area.pk, item.pk)).status_code == 404
    commands.withdraw_area(by=shop.edda, at=NOW, area=shop.area, reason="Twice")
    assert edda.get(shop.url("area")).status_code == 404


def test_a_page_for_photos_is_only_there_for_a_photo_item(shop: Shop, edda: Client) -> None:
    for position in (2, 3):
        assert edda.get(shop.url("item_photo", shop.area.pk, shop.item(position).pk)).status_code == 404


@pytest.mark.parametrize("role", ["helper", "inspector", "reader"])
def test_nobody_is_offered_what_he_may_not_do(shop: Shop, role: str) -> None:
    member = shop.hal if role == "inspector" else make_person(shop.project, role)
    client = client_for(member)
    for name in ("area", "holds", "shop", "assembly"):
        for url in links(client.get(address(shop, name))):
            assert client.get(url).status_code in {200, 302}, f"{name} leads to {url}"


# ---- the gate ----


def test_the_gate_names_what_is_missing_first_and_every_link_works(shop: Shop, edda: Client) -> None:
    shop.answer()
    answer = edda.get(shop.url("area"))
    words = text(answer)
    assert "May not be closed: 2 missing" in words and "This becomes a button when 1, 3 are in place." in words
    assert words.index("Drain boss, sealed") < words.index("Inspector sign-off") < words.index("Interior vacuumed")
    assert shop.url("item_photo", shop.area.pk, shop.item(1).pk) in links(answer)
    assert shop.url("area_close") in links(answer), "advise: it can be closed with a reason"
    for url in links(answer):
        assert edda.get(url).status_code == 200, url


def test_who_does_not_close_is_told_who_does(shop: Shop, hal: Client) -> None:
    shop.answer()
    assert "The builder closes it when 1, 3 are in place." in text(hal.get(shop.url("area")))


def test_an_area_closed_for_good_says_how_work_inside_goes_on(shop: Shop, edda: Client) -> None:
    sentence = "Closed for good. Work inside needs Open it again, with a reason."
    shop.supply()
    shop.sign()
    for closed in (False, True):
        if closed:
            shop.close()
        for name in ("area", "assembly"):
            assert (sentence in text(edda.get(address(shop, name)))) == closed


def test_under_block_nothing_is_offered_that_closes_over_a_gap() -> None:
    shop = Shop("UK")
    client = client_for(shop.edda)
    assert shop.url("area_close") not in links(client.get(shop.url("area")))


def test_a_complete_gate_offers_the_builder_to_close_and_the_inspector_nothing_more(shop: Shop, edda, hal) -> None:
    shop.supply()
    assert shop.url("area_sign") in links(hal.get(shop.url("area")))
    assert shop.url("area_sign") not in links(edda.get(shop.url("area")))
    shop.sign()
    assert shop.url("area_close") in links(edda.get(shop.url("area")))
    assert "May be closed" in text(edda.get(shop.url("area")))
    assert not {shop.url("area_close"), shop.url("area_sign")} & set(links(hal.get(shop.url("area"))))


def test_the_page_shows_an_earlier_answer_struck_and_who_gave_it(shop: Shop, edda: Client) -> None:
    shop.answer("no", reason="Dust in the corner")
    shop.answer("yes", at=NOW + timedelta(minutes=5))
    page = edda.get(shop.url("area")).content.decode()
    assert "<strong>Yes</strong>. Edda Norrell, 14 May 2026, 11:05" in page
    assert "<del>No: Dust in the corner</del>" in page


def test_the_page_never_says_airworthy_and_says_who_decides(shop: Shop, edda: Client) -> None:
    words = text(edda.get(shop.closed().url("area")))
    assert (
        "airworthy" not in words.lower()
        and "The plan, the maker's data, the inspector and the local rules decide." in words
    )


def test_what_people_typed_is_shown_as_text(shop: Shop, edda: Client) -> None:
    commands.ask_for(by=shop.edda, at=NOW, area=shop.area, kind="check", words="<script>1</script>")
    commands.correct_area(by=shop.edda, at=NOW, area=shop.area, name="<b>Box", note="<i>note")
    for name in ("area", "holds", "shop", "assembly", "area_close", "area_edit"):
        page = edda.get(address(shop, name)).content.decode()
        assert "<script>1" not in page and "<b>Box" not in page and "<i>note" not in page


def test_a_closing_over_a_gap_is_on_the_page_for_ever(shop: Shop, edda: Client) -> None:
    shop.close(reason="The resin was mixed")
    assert "Closed with something missing" in text(edda.get(shop.url("area")))
    shop.reopen()
    words = text(edda.get(shop.url("area")))
    assert "1 Drain boss, sealed" in words and "Reason: The resin was mixed" in words
    assert "Closed, then opened again" in words and "Reason: The link rubs" in words


def test_a_signature_that_was_changed_under_says_so_on_every_page(shop: Shop, edda: Client) -> None:
    photo = shop.supply()
    shop.sign()
    assert "Not changed since signing" in text(edda.get(shop.url("area")))
    evidence.describe_photo(by=shop.edda, at=LATER, photo=photo, caption="Plate B")
    words = text(edda.get(shop.url("area")))
    assert "Signed, then changed" in words
    assert f"Item 1, {photo.label}: caption, signed empty, now 'Plate B'" in words
    assert "May not be closed: 1 missing" in words
    assert "Changed since signing" in text(edda.get(address(shop, "holds")))
    assert "Changed since signing" in text(edda.get(address(shop, "assembly")))


def test_a_signature_shows_name_credential_time_with_zone_and_digest(shop: Shop, hal: Client) -> None:
    shop.supply()
    signature = shop.sign()
    words = text(hal.get(shop.url("area")))
    for part in (
        "Hal Venning",
        "A&P mechanic DEMO-0417",
        "14 May 2026, 12:00 MDT",
        signature.short_digest,
        "Covers 3 things",
    ):
        assert part in words, part


def test_the_signature_of_a_closing_that_was_opened_again_stays_and_is_void(shop: Shop, edda: Client) -> None:
    shop.closed().reopen()
    page = edda.get(shop.url("area")).content.decode()
    assert "signature-block void" in page and "For the closing before the area was opened again" in page


def test_the_history_of_the_page_holds_signing_and_closing(shop: Shop, edda: Client) -> None:
    shop.closed()
    words = text(edda.get(shop.url("area")))
    assert "Area closed" in words and words.count("Hal Venning") >= 2 and "History, 5 entries" in words


# ---- supplying ----


def test_a_photo_is_sent_to_an_item_without_javascript(shop: Shop, edda: Client) -> None:
    url = shop.url("item_photo", shop.area.pk, shop.item(1).pk)
    answer = edda.post(url, {"new_photos": picture(seed=41)}, follow=True)
    assert answer.redirect_chain[-1][0] == shop.url("area")
    photo = Photo.objects.get()
    assert f"{photo.label} stands for item 1." in answer.content.decode()
    assert Exhibit.objects.get().photo == photo and photo.placements.get().assembly == shop.assembly
    assert shop.now.gate.items[0].in_place


def test_a_photo_taken_at_the_gate_keeps_the_time_of_its_file(shop: Shop, edda: Client) -> None:
    url, taken = shop.url("item_photo", shop.area.pk, shop.item(1).pk), timezone.now() - timedelta(hours=3)
    bare = {"taken": "", "offset": ""}
    assert 'name="file_time"' in edda.get(shop.url("area")).content.decode()
    edda.post(url, {"new_photos": picture(seed=51, **bare), "file_time": str(int(taken.timestamp() * 1000))})
    photo = Photo.objects.get()
    assert photo.taken_known == "file" and photo.taken_at and abs(photo.taken_at - taken) < timedelta(seconds=1)
    both = [picture("a.jpg", seed=52, **bare), picture("b.jpg", seed=53, **bare)]
    edda.post(url, {"new_photos": both, "file_time": str(int(taken.timestamp() * 1000))})
    edda.post(url, {"new_photos": picture(seed=54, **bare), "file_time": "yesterday"})
    assert set(Photo.objects.exclude(pk=photo.pk).values_list("taken_known", flat=True)) == {"unknown"}


def test_kept_photos_are_chosen_for_an_item(shop: Shop, edda: Client) -> None:
    kept = make_photo(shop.edda, places=[shop.assembly])
    url = shop.url("item_photo", shop.area.pk, shop.item(1).pk)
    assert f'value="{kept.pk}"' in edda.get(url).content.decode()
    assert edda.post(url, {"photos": [kept.pk]}).status_code == 302
    page = edda.get(url).content.decode()
    assert f'name="photos" value="{kept.pk}"' not in page and "In place now" in page


def test_a_photo_of_another_project_is_not_chosen(shop: Shop, edda: Client) -> None:
    _, other = make_project("Other")
    theirs = make_photo(other)
    answer = edda.post(shop.url("item_photo", shop.area.pk, shop.item(1).pk), {"photos": [theirs.pk, "nonsense"]})
    assert answer.status_code == 422 and not Exhibit.objects.exists()


def test_a_bad_file_is_refused_by_name_and_the_page_stays(shop: Shop, edda: Client) -> None:
    url = shop.url("item_photo", shop.area.pk, shop.item(1).pk)
    answer = edda.post(url, {"new_photos": [picture("notes.jpg", b"this is no picture"), picture("good.jpg", seed=8)]})
    assert answer.status_code == 422
    words = text(answer)
    assert "Not put in place" in words and "notes.jpg: " in words
    assert "In place now" in words, "the good one was taken all the same"
    assert Exhibit.objects.count() == 1


def test_sending_nothing_is_told(shop: Shop, edda: Client) -> None:
    answer = edda.post(shop.url("item_photo", shop.area.pk, shop.item(1).pk))
    assert answer.status_code == 422 and "Choose or take a photo first." in text(answer)


def test_a_photo_taken_after_closing_is_refused_on_the_page_and_kept_in_the_record(shop: Shop, edda: Client) -> None:
    shop.close(reason="Glue was mixed")
    url = shop.url("item_photo", shop.area.pk, shop.item(1).pk)
    assert "A photo taken before 14 May 2026, 13:00 and sent later still counts" in text(edda.get(url))
    answer = edda.post(url, {"new_photos": picture(taken="2026:05:14 18:00:00", seed=6)})
    assert answer.status_code == 422 and "was taken after closing, so it does not count here" in text(answer)
    assert Photo.objects.count() == 1 and not Exhibit.objects.exists()
    assert edda.post(url, {"new_photos": picture(taken="2026:05:14 10:00:00", seed=7)}).status_code == 302
    assert "Sent after closing" in text(edda.get(shop.url("area")))


def test_a_photo_is_taken_away_again(shop: Shop, edda: Client) -> None:
    photo = shop.show()
    url = shop.url("photo_away", shop.area.pk, shop.item(1).pk, photo.pk)
    assert edda.post(url).headers["Location"] == shop.url("item_photo", shop.area.pk, shop.item(1).pk)
    assert not Exhibit.objects.exists() and Photo.objects.standing().count() == 1
    assert edda.post(url).status_code == 404


def test_a_photo_is_not_taken_away_from_under_a_closing(shop: Shop, edda: Client) -> None:
    photo = shop.supply()
    shop.sign()
    shop.close()
    edda.post(shop.url("photo_away", shop.area.pk, shop.item(1).pk, photo.pk))
    assert Exhibit.objects.count() == 1


def test_a_helper_answers_a_check_with_one_tap(shop: Shop) -> None:
    jory = make_person(shop.project, name="Jory Pask")
    client = client_for(jory)
    url = shop.url("item_answer", shop.area.pk, shop.item(2).pk)
    assert client.post(url, {"answer": "yes"}).headers["Location"] == shop.url("area")
    assert "Jory Pask" in text(client.get(shop.url("area")))
    assert Answer.objects.get().by == jory


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({}, "Choose yes, no, or does not apply."),
        ({"answer": "maybe"}, "Choose yes, no, or does not apply."),
        ({"answer": "na"}, "Say why this does not apply."),
        ({"answer": "na", "reason": "   "}, "Say why this does not apply."),
    ],
)
def test_a_bad_answer_is_told_and_not_kept(shop: Shop, edda: Client, sent: dict, words: str) -> None:
    answer = edda.post(shop.url("item_answer", shop.area.pk, shop.item(2).pk), sent, follow=True)
    assert words in unescape(answer.content.decode()) and not Answer.objects.exists()


# ---- signing ----


def seen(client: Client, shop: Shop) -> str:
    """The digest that the sign page carries."""
    return re.search(r'name="seen" value="([^"]+)"', client.get(shop.url("area_sign")).content.decode()).group(1)


def sign(client: Client, shop: Shop, **more: str):  # noqa: ANN201
    values = {"agreed": "on", "password": PASSWORD, "outcome": "accepted", "seen": seen(client, shop)} | more
    return client.post(shop.url("area_sign"), {name: value for name, value in values.items() if value})


def test_the_sign_page_shows_exactly_what_is_covered(shop: Shop, hal: Client) -> None:
    photo = shop.supply()
    gone = shop.show()
    evidence.withdraw_photo(by=shop.edda, at=NOW, photo=gone, reason="Blurred")
    evidence.describe_photo(by=shop.edda, at=NOW, photo=photo, caption="Boss, sealed all round")
    answer = hal.get(shop.url("area_sign"))
    words = text(answer)
    for part in (
        "24.1-C1 Interior before deck bond",
        "Drain boss, sealed",
        f"{photo.label} Boss, sealed all round",
        "Interior vacuumed, nothing loose Yes . Edda Norrell",
        commands.STATEMENT,
        "Signed as Hal Venning, Inspector, A&P mechanic DEMO-0417",
    ):
        assert part.replace(" .", ".") in words.replace(" .", "."), part
    assert gone.label not in words
    assert queries.seen(queries.covers(shop.now)) in answer.content.decode()


def test_the_inspector_signs_with_the_password_again(shop: Shop, hal: Client) -> None:
    shop.supply()
    assert sign(hal, shop).headers["Location"] == shop.url("area")
    assert Signature.objects.get().shown_by == "password" and shop.now.gate.may_close


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"password": "not it"}, "That is not this account's password."),
        ({"password": ""}, "Type your password."),
        ({"agreed": ""}, "Tick this when you have read it."),
    ],
)
def test_nothing_is_signed_without_consent_and_the_right_password(
    shop: Shop, hal: Client, wrong: dict, words: str
) -> None:
    shop.supply()
    entries = Entry.objects.count()
    answer = sign(hal, shop, **wrong)
    assert answer.status_code == 422 and words in text(answer)
    assert not Signature.objects.exists() and Entry.objects.count() == entries
    assert "not it" not in answer.content.decode()


@pytest.mark.parametrize("wrong", [{"password": "not it"}, {"agreed": ""}, {}])
def test_a_page_read_before_a_change_never_becomes_fresh_by_another_error(shop: Shop, hal: Client, wrong: dict) -> None:
    photo = shop.supply()
    read = seen(hal, shop)
    evidence.describe_photo(by=shop.edda, at=NOW, photo=photo, caption="Another caption")
    answer = sign(hal, shop, seen=read, **wrong)
    assert answer.status_code == 422
    assert "Something listed here was changed while you read." in text(answer)
    assert "Another caption" in text(answer)
    assert not Signature.objects.exists()
    assert 'name="agreed"' in answer.content.decode() and "checked" not in answer.content.decode()
    again = re.search(r'name="seen" value="([^"]+)"', answer.content.decode()).group(1)
    assert sign(hal, shop, seen=again, agreed="").status_code == 422, "the tick was taken away with what was changed"
    assert not Signature.objects.exists()
    assert sign(hal, shop, seen=again).status_code == 302


def test_the_tick_is_never_set_beforehand(shop: Shop, hal: Client) -> None:
    shop.supply()
    assert "checked" not in sign(hal, shop, password="not it").content.decode()


def test_too_many_tries_have_to_wait_even_with_the_right_password(shop: Shop, hal: Client) -> None:
    shop.supply()
    for _ in range(20):
        sign(hal, shop, password="guess")
    answer = sign(hal, shop)
    assert answer.status_code == 422 and "Too many tries. Wait a minute, then try again." in text(answer)
    assert not Signature.objects.exists()


def test_an_account_without_a_password_is_told_where_to_choose_one(shop: Shop, hal: Client) -> None:
    shop.supply()
    shop.hal.user.set_unusable_password()
    shop.hal.user.save()
    hal.force_login(shop.hal.user)
    answer = sign(hal, shop)
    assert answer.status_code == 422
    assert "This account has no password yet. Choose one in Settings, then sign." in text(answer)


def test_a_page_that_was_changed_meanwhile_is_shown_again_and_then_signed(shop: Shop, hal: Client) -> None:
    photo = shop.supply()
    before = seen(hal, shop)
    evidence.describe_photo(by=shop.edda, at=NOW, photo=photo, caption="Another caption")
    answer = sign(hal, shop, seen=before)
    assert (
        answer.status_code == 422 and "was changed while you read" in text(answer) and "Another caption" in text(answer)
    )
    again = re.search(r'name="seen" value="([^"]+)"', answer.content.decode()).group(1)
    assert sign(hal, shop, seen=again).status_code == 302


def test_over_a_gap_nothing_is_accepted_but_what_is_not_accepted_can_be_said(shop: Shop, hal: Client) -> None:
    answer = hal.get(shop.url("area_sign"))
    assert "Nothing is signed over a gap. Missing: 1 Drain boss, sealed" in text(answer)
    assert 'value="accepted"' not in answer.content.decode()
    assert sign(hal, shop).status_code == 422 and not Signature.objects.exists()
    assert sign(hal, shop, outcome="not_accepted", reason="The fillet is dry").status_code == 302
    signature = Signature.objects.get()
    assert not signature.accepted and signature.reason == "The fillet is dry"
    assert "Not accepted: The fillet is dry." in text(hal.get(shop.url("area")))


def test_not_accepting_needs_a_reason_and_accepting_never_drops_one(shop: Shop, hal: Client) -> None:
    shop.supply()
    answer = sign(hal, shop, outcome="not_accepted")
    assert answer.status_code == 422 and "Say what is not accepted and why." in text(answer)
    answer = sign(hal, shop, reason="The fillet is dry")
    assert answer.status_code == 422 and "The fillet is dry" in answer.content.decode()
    assert sign(hal, shop, outcome="").status_code == 422
    assert not Signature.objects.exists()


def test_an_area_that_waits_for_a_discrepancy_is_not_accepted(shop: Shop, hal: Client) -> None:
    shop.supply()
    found = discrepancies.find(
        by=shop.edda,
        at=NOW,
        project=shop.project,
        assembly=shop.assembly,
        words="Dry fibers at bulkhead B",
        severity="major",
        blocks=True,
    )
    assert f"{found.label} Dry fibers at bulkhead B" in text(hal.get(shop.url("area_sign")))
    assert sign(hal, shop).status_code == 422 and not Signature.objects.exists()


def test_the_builder_does_not_sign_for_the_inspector(shop: Shop, edda: Client) -> None:
    shop.supply()
    assert "This sign-off is for the inspector." in text(edda.get(shop.url("area_sign")))
    forced = edda.post(shop.url("area_sign"), {"agreed": "on", "password": PASSWORD, "seen": "x"})
    assert forced.status_code == 422 and not Signature.objects.exists()


def test_the_signer_who_worked_on_it_is_told_that_it_prints_as_self_inspected(shop: Shop, edda: Client) -> None:
    make_session(shop.edda, shop.assembly)
    area = make_area(shop.edda, shop.assembly, {"kind": "signoff", "words": "Builder", "role": "builder"}, number="X")
    answer = edda.get(shop.url("area_sign", area.pk))
    assert "Self-inspected" in text(answer)


# ---- closing and reopening ----


def test_closing_a_complete_area_takes_one_tap(shop: Shop, edda: Client) -> None:
    shop.supply()
    shop.sign()
    assert "All 3 items are in place" in text(edda.get(shop.url("area_close")))
    assert edda.post(shop.url("area_close")).headers["Location"] == shop.url("area")
    assert Closing.objects.get().missing == []
    assert re.search(r"Closed up \d", text(edda.get(shop.url("area"))))


def test_block_refuses_naming_what_is_missing_with_links_that_work() -> None:
    shop = Shop("CA")
    client = client_for(shop.edda)
    answer = client.post(shop.url("area_close"), {"reason": "Hurry"})
    assert answer.status_code == 422 and not Closing.objects.exists()
    words = text(answer)
    assert "Missing: 1 Drain boss, sealed, 2 Interior vacuumed, nothing loose, 3 Inspector sign-off." in words
    assert "Under Canada an area is not closed while anything is missing." in words
    page = answer.content.decode()
    assert 'name="reason"' not in page
    for position in (1, 2, 3):
        assert f'href="{shop.url("area")}#item-{position}"' in page
        assert f'id="item-{position}"' in client.get(shop.url("area")).content.decode()


def test_advise_asks_for_a_reason_and_keeps_it(shop: Shop, edda: Client) -> None:
    answer = edda.post(shop.url("area_close"), {"reason": " "})
    assert answer.status_code == 422 and "To close it all the same, say why." in text(answer)
    assert not Closing.objects.exists()
    assert edda.post(shop.url("area_close"), {"reason": "The resin was mixed"}).status_code == 302
    assert "Reason: The resin was mixed" in text(edda.get(shop.url("area")))


def test_a_closed_area_has_no_page_for_closing_and_an_open_one_none_for_reopening(shop: Shop, edda: Client) -> None:
    assert edda.get(shop.url("area_reopen")).headers["Location"] == shop.url("area")
    shop.closed()
    assert edda.get(shop.url("area_close")).headers["Location"] == shop.url("area")
    assert edda.post(shop.url("area_close"), {"reason": "x"}).status_code == 422


def test_reopening_asks_for_a_reason(shop: Shop, edda: Client) -> None:
    shop.closed()
    assert edda.post(shop.url("area_reopen"), {"reason": ""}).status_code == 422
    assert edda.post(shop.url("area_reopen"), {"reason": "The link rubs"}).status_code == 302
    words = text(edda.get(shop.url("area")))
    assert "May not be closed: 3 missing" in words and "The link rubs" in words


@pytest.mark.parametrize("name", ["area_edit", "item_new", "item_drop", "area_withdraw"])
def test_changes_of_a_closed_area_are_refused_on_their_page(shop: Shop, edda: Client, name: str) -> None:
    shop.closed()
    values = {
        "assembly": shop.assembly.pk,
        "number": "1",
        "name": "x",
        "kind": "permanent",
        "words": "x",
        "reason": "x",
    }
    if name == "item_new":
        values["kind"] = "check"
    answer = edda.post(address(shop, name), values)
    assert answer.status_code == 422 and "This area is closed. Reopen it with a reason first." in text(answer)


# ---- setting up ----


def new_area(shop: Shop, *items: dict[str, str], **changed: str) -> dict[str, str]:
    values = {"assembly": shop.assembly.pk, "number": "N1", "name": "Tank", "kind": "access", "note": ""} | changed
    values |= {"item-TOTAL_FORMS": str(len(items)), "item-INITIAL_FORMS": "0"}
    for number, item in enumerate(items):
        values |= {f"item-{number}-{name}": value for name, value in item.items()}
    return values


def test_an_area_is_set_up_with_its_list_and_empty_lines_ask_for_nothing(shop: Shop, edda: Client) -> None:
    values = new_area(
        shop,
        {"kind": "photo", "words": "Inside", "detail": "All of it", "count": "2", "role": "inspector"},
        {"kind": "photo", "words": "", "role": "inspector"},
        {"kind": "signoff", "words": "Inspector", "count": "9", "role": ""},
    )
    answer = edda.post(address(shop, "area_new"), values)
    area = Area.objects.get(number="N1")
    assert answer.headers["Location"] == shop.url("area", area.pk)
    rows = [(r.position, r.kind, r.words, r.count, r.role) for r in area.requirements.all()]
    assert rows == [(1, "photo", "Inside", 2, ""), (2, "signoff", "Inspector", 1, "inspector")]


def test_the_form_for_a_new_area_starts_with_the_usual_list_on_the_asked_assembly(shop: Shop, edda: Client) -> None:
    page = edda.get(address(shop, "area_new") + f"?assembly={shop.assembly.pk}").content.decode()
    assert f'<option value="{shop.assembly.pk}" selected>' in page and 'value="Inside, overall"' in page


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"number": ""}, "number"),
        ({"name": " "}, "name"),
        ({"assembly": "nonsense"}, "assembly"),
        ({"number": "24.1-C1"}, "number"),
    ],
)
def test_a_bad_area_is_told_at_its_field_and_nothing_is_set_up(
    shop: Shop, edda: Client, changed: dict, field: str
) -> None:
    answer = edda.post(address(shop, "area_new"), new_area(shop, **changed))
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert Area.objects.count() == 1


def test_an_area_is_not_put_on_an_assembly_of_another_project(shop: Shop, edda: Client) -> None:
    _, other = make_project("Other")
    answer = edda.post(address(shop, "area_new"), new_area(shop, assembly=make_assembly(other).pk))
    assert answer.status_code == 422 and Area.objects.count() == 1


def test_an_area_is_corrected_withdrawn_and_its_list_changed_by_pages(shop: Shop, edda: Client) -> None:
    values = {"assembly": shop.assembly.pk, "number": "24.1-C9", "name": "Box", "kind": "access", "reason": "Misread"}
    assert edda.post(shop.url("area_edit"), values).status_code == 302
    page = edda.get(shop.url("area")).content.decode()
    assert "<del>24.1-C1</del>" in page and "Reason: Misread" in page
    assert edda.post(shop.url("item_new"), {"kind": "photo", "words": ""}).status_code == 422
    assert edda.post(shop.url("item_new"), {"kind": "photo", "words": "Edge", "count": "3"}).status_code == 302
    item = Requirement.objects.get(words="Edge")
    assert (item.count, item.role, item.position) == (3, "", 4)
    drop = shop.url("item_drop", shop.area.pk, item.pk)
    assert edda.post(drop, {"reason": ""}).status_code == 422
    assert edda.post(drop, {"reason": "Not in the plan"}).status_code == 302
    assert "Edge" not in text(edda.get(shop.url("area"))).partition("Signatures")[0]
    assert edda.post(shop.url("area_withdraw"), {"reason": "Twice"}).headers["Location"] == address(shop, "holds")
    assert edda.get(shop.url("area")).status_code == 404


# ---- holds, shop, assembly ----


def test_holds_lists_areas_by_what_can_be_done_about_them(shop: Shop, edda: Client) -> None:
    make_session(shop.edda, shop.assembly)
    untouched = make_area(shop.edda, make_assembly(shop.edda, "40"), number="40-C1")
    ready = make_area(shop.edda, shop.assembly, {"kind": "check", "words": "Rags"}, number="24.1-C3")
    commands.answer_check(by=shop.edda, at=NOW, requirement=ready.requirements.get(), answer="yes")
    done = make_area(shop.edda, shop.assembly, number="24.1-C4")
    commands.close_area(by=shop.edda, at=NOW, area=done, reason="Glued")
    words = text(edda.get(address(shop, "holds")))
    order = [
        words.index(part)
        for part in ("24.1-C1", "May be closed", ready.number, "Not started", untouched.number, done.number)
    ]
    assert order == sorted(order)
    assert "3 of 3 missing" in words and "Closed with a reason" in words


@pytest.mark.parametrize(
    ("authority", "words"), [("CA", "is not closed while anything"), ("US", "can be closed with a reason")]
)
def test_holds_says_whose_rules_and_which_edition(authority: str, words: str) -> None:
    shop = Shop(authority)
    assert words in text(client_for(shop.edda).get(address(shop, "holds")))
    assert "edition" in text(client_for(shop.edda).get(address(shop, "holds")))


def test_a_project_without_areas_is_told_what_they_are_for() -> None:
    project, edda = make_project()
    for name in ("holds", "shop"):
        answer = client_for(edda).get(reverse(f"inspections:{name}", args=[project.slug]))
        assert answer.status_code == 200
    assert "Nothing is blocked." in text(answer) and "No assembly yet" in text(answer)


def start(person, assembly):  # noqa: ANN001, ANN201
    at = timezone.now() - timedelta(minutes=30)
    return buildlog.start_timer(by=person, at=at, project=person.project, request_id=f"r{person.pk}", assembly=assembly)


def test_an_idle_shop_offers_to_start_where_work_was_last_done(shop: Shop, edda: Client) -> None:
    other = make_assembly(shop.edda, "40", "Landing gear")
    make_session(shop.edda, other)
    words = text(edda.get(address(shop, "shop")))
    assert "Nothing running 40 Landing gear" in words and "Start on" in words
    assert "24.1 Tip float, left" in words


def test_a_running_timer_stands_on_top_and_the_others_below(shop: Shop, edda: Client) -> None:
    jory = make_person(shop.project, name="Jory Pask")
    other = make_assembly(shop.edda, "40", "Landing gear")
    start(shop.edda, shop.assembly)
    start(jory, other)
    words = text(edda.get(address(shop, "shop")))
    assert "Nothing running" not in words and words.count("Running") == 2 and "Switch to" in words
    assert words.index("24.1 Tip float") < words.index("40 Landing gear")
    his = text(client_for(jory).get(address(shop, "shop")))
    assert his.index("40 Landing gear") < his.index("24.1 Tip float")
    assert "Nothing running" in text(client_for(make_person(shop.project)).get(address(shop, "shop")))


def test_readers_and_inspectors_see_the_shop_without_buttons_to_start(shop: Shop, hal: Client) -> None:
    start(shop.edda, shop.assembly)
    page = hal.get(address(shop, "shop")).content.decode()
    assert reverse("buildlog:timer_start", args=[shop.project.slug]) not in page and "Stop and log" not in page
    assert "Tip float" in page


def test_the_shop_lists_what_is_blocked_and_what_may_be_closed(shop: Shop, edda: Client) -> None:
    make_session(shop.edda, shop.assembly)
    words = text(edda.get(address(shop, "shop")))
    blocked = words[words.index("Blocked today") :]
    order = ["Drain boss, sealed", "Interior vacuumed, nothing loose", "Inspector sign-off"]
    assert sorted(order, key=blocked.index) == order
    assert "Ready to close" not in words
    shop.supply()
    shop.sign()
    words = text(edda.get(address(shop, "shop")))
    assert "Ready to close 1" in words and "Nothing is blocked." in words


def test_an_inspector_sees_first_what_awaits_his_signature_and_what_was_changed_under_it(
    shop: Shop, edda: Client, hal: Client
) -> None:
    page = hal.get(address(shop, "shop"))
    assert "Nothing awaits your signature." in text(page) and shop.url("area_sign") not in links(page)
    photo = shop.supply()
    page = hal.get(address(shop, "shop"))
    words = text(page)
    assert words.index("Awaits your signature 1") < words.index("24.1-C1") < words.index("Blocked today")
    assert shop.url("area_sign") in links(page) and "Changed since you signed" not in words
    assert "your signature" not in text(edda.get(address(shop, "shop")))
    shop.sign()
    assert "Nothing awaits your signature." in text(hal.get(address(shop, "shop")))
    evidence.describe_photo(by=shop.edda, at=LATER, photo=photo, caption="Plate B")
    words = text(hal.get(address(shop, "shop")))
    assert "Awaits your signature 1" in words and "Changed since you signed 1" in words
    assert f"{photo.label}: caption, signed empty, now 'Plate B'" in words
    shop.sign(at=LATER + timedelta(hours=1))
    words = text(hal.get(address(shop, "shop")))
    assert "Nothing awaits your signature." in words and "Changed since you signed" not in words


def test_a_sign_off_of_another_role_awaits_nobody_else(shop: Shop, hal: Client) -> None:
    make_area(shop.edda, shop.assembly, {"kind": "signoff", "words": "Builder", "role": "builder"}, number="X")
    assert "Nothing awaits your signature." in text(hal.get(address(shop, "shop")))


def test_the_assembly_page_shows_state_hours_and_leads_to_each_missing_thing(shop: Shop, edda: Client) -> None:
    make_session(shop.edda, shop.assembly)
    make_part(shop.edda, shop.assembly)
    make_photo(shop.edda, places=[shop.assembly])
    answer = edda.get(address(shop, "assembly"))
    block = re.search(r'<dl class="title-block.*?</dl>', answer.content.decode(), re.S).group()
    assert "Hold" in block and "2.0" in block
    assert shop.url("item_photo", shop.area.pk, shop.item(1).pk) in links(answer)
    for url in links(answer):
        assert edda.get(url).status_code == 200, url


@pytest.mark.parametrize(
    ("steps", "state"), [([], "Not started"), (["supply", "sign"], "Signed"), (["closed"], "Closed up")]
)
def test_tree_and_title_block_tell_the_same_state(shop: Shop, edda: Client, steps: list[str], state: str) -> None:
    for step in steps:
        getattr(shop, step)()
    page = edda.get(address(shop, "assembly")).content.decode()
    block = re.search(r'<dl class="title-block.*?</dl>', page, re.S).group()
    tree = re.search(r'class="tree.*?</(?:ul|ol|nav)>', page, re.S).group()
    assert state in block and state in tree


def queries_of(client: Client, url: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(url).status_code == 200
    return len(captured)


@pytest.mark.parametrize("name", ["shop", "holds", "assembly", "area"])
def test_a_page_takes_as_many_queries_for_eight_areas_as_for_one(shop: Shop, edda: Client, name: str) -> None:
    def furnish(assembly, area) -> None:  # noqa: ANN001
        item = area.requirements.get(position=1)
        for _ in range(2):
            photo = make_photo(shop.edda, places=[assembly])
            commands.show_photo(by=shop.edda, at=NOW, requirement=item, photo=photo)
        commands.answer_check(by=shop.edda, at=NOW, requirement=area.requirements.get(position=2), answer="yes")
        commands.sign_area(by=shop.hal, at=LATER, area=area)
        make_session(shop.edda, assembly, photos=[photo])
        make_part(shop.edda, assembly)

    furnish(shop.assembly, shop.area)
    edda.get(address(shop, name))
    one = queries_of(edda, address(shop, name))
    for number in range(7):
        assembly = make_assembly(shop.edda, f"24.1.{number}", parent=shop.assembly) if number < 3 else shop.assembly
        furnish(assembly, make_area(shop.edda, assembly, number=f"C{number}"))
    assert queries_of(edda, address(shop, name)) <= one
    assert one < 45
