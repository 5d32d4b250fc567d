"""The pages behind a visit link: who gets in, what he sees, and that nothing else is told."""

import json
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from evidence.models import Photo
from inspections.access import GUESSES
from inspections.commands import points as point_commands
from inspections.commands import visits as commands
from inspections.models import Discrepancy, Look, Opening, Visit
from journal.models import Entry, Signature
from tests.factories import client_for, make_area, make_assembly, make_photo, make_project
from tests.inspections.shop import Shop

pytestmark = pytest.mark.django_db

TOKEN = "r3cHt7_Qx-zLw0Vb8nJk2sYp5mDf1gTa4uEi6oXcB9h"
NAME = [[100, 300, 150, 100, 200, 300], [250, 200, 420, 210]]


class Visited(Shop):
    """A shop with everything for the gate supplied, and a link for Hal to look at it."""

    def __init__(self) -> None:
        super().__init__()
        cache.clear()
        now = timezone.now()
        self.photo = make_photo(self.edda, at=now - timedelta(hours=2), caption="Drain boss, sealed and taped")
        self.show(self.photo, at=now - timedelta(hours=2))
        self.answer(at=now - timedelta(hours=1))
        self.visit = self.link(TOKEN)
        self.client = Client()

    def link(self, token: str, days: int = 7, **more: object) -> Visit:
        now = timezone.now()
        values = {"person": self.hal, "areas": [self.area], "purpose": "Interior before the deck is bonded"} | more
        return commands.make_visit(
            by=self.edda, at=now, project=self.project, token=token, expires_at=now + timedelta(days=days), **values
        )

    def at(self, name: str, *more: object, token: str = TOKEN) -> str:
        return reverse(f"visitor:{name}", args=[token, *more])

    def open(self, token: str = TOKEN) -> Client:
        self.client.post(self.at("open", token=token))
        return self.client

    @property
    def thing(self) -> str:
        return self.at("thing", "area", self.area.pk)

    def filled(self, client: Client, token: str = TOKEN, **more: object) -> dict[str, object]:
        """The sign form as the page gives it, filled in."""
        page = client.get(self.at("sign", token=token))
        seen = {f"seen-{row['name']}": row["seen"] for row in page.context["rows"]}
        return (
            seen
            | {
                "name": "Hal Venning",
                "capacity": "Technical counselor",
                "certificate_kind": "A&P mechanic",
                "certificate_number": "DEMO-0417",
                "extent": "Interior by eye and mirror",
                "agreed": "on",
                "strokes": json.dumps(NAME),
                "outcome": "accepted",
            }
            | more
        )

    def sign_here(self, client: Client, token: str = TOKEN, **more: object):  # noqa: ANN201
        return client.post(self.at("sign", token=token), self.filled(client, token, **more))


@pytest.fixture
def shop() -> Visited:
    return Visited()


# ---- the door ----


def nothing_of(response) -> bytes:  # noqa: ANN001
    assert response.status_code == 404
    return response.content


def test_whatever_does_not_open_gets_one_answer(shop) -> None:
    """Guessed, malformed, expired, taken back, another's project, an address that is none, the wrong method."""
    other = Visited.__new__(Visited)
    other.project, other.edda = make_project("Cormorant", builder="Anselm Ruud")
    past = shop.link("expired-token", days=1)
    Visit.objects.filter(pk=past.pk).update(
        made_at=timezone.now() - timedelta(days=9), expires_at=timezone.now() - timedelta(days=2)
    )
    back = shop.link("revoked-token")
    commands.revoke(by=shop.edda, at=timezone.now(), visit=back, reason="Sent to the wrong address")
    client = Client()
    known = shop.open()
    answers = {
        "guessed": client.get("/visit/" + "x" * 43),
        "malformed": client.get("/visit/%00%ff'\"<script>/"),
        "empty": client.get("/visit/"),
        "deep": client.get("/visit/a/b/c/d/e/f"),
        "expired": client.get(shop.at("cover", token="expired-token")),
        "expired, its record": client.get(shop.at("home", token="expired-token")),
        "revoked": client.get(shop.at("cover", token="revoked-token")),
        "revoked, opening": client.post(shop.at("open", token="revoked-token")),
        "guessed, opening": client.post(shop.at("open", token="guessed")),
        "another area": known.get(shop.at("thing", "area", make_area(shop.edda, shop.assembly).pk)),
        "another kind": known.get(shop.at("thing", "point", shop.area.pk)),
        "an unknown kind": known.get(shop.at("thing", "project", shop.area.pk)),
        "no such page": known.get(f"/visit/{TOKEN}/areas/"),
        "a form where none is taken": known.post(shop.at("home")),
        "a look by reading": known.get(shop.at("look")),
        "an opening by reading": known.get(shop.at("open")),
        "taken away": known.delete(shop.at("home")),
        "put": known.put(shop.at("sign")),
        "what is allowed": known.options(shop.at("home")),
        "traced": known.generic("TRACE", shop.at("home")),
        "invented": known.generic("FROB", shop.at("home")),
        "a foreign form": known.post(shop.at("end"), headers={"Sec-Fetch-Site": "cross-site"}),
        "a thing not named": known.post(shop.at("look"), {"thing": "inspections.area:nothing", "outcome": "seen"}),
    }
    pages = {name: nothing_of(response) for name, response in answers.items()}
    assert len(set(pages.values())) == 1, [name for name, page in pages.items() if page != pages["guessed"]]
    told = pages["guessed"].decode()
    for word in ("Tarnwader", "Edda", "Venning", "expired", "revoked", shop.area.pk):
        assert word not in told


def test_every_answer_keeps_the_link_to_itself(shop) -> None:
    client = shop.open()
    pages = [
        shop.at("cover"),
        shop.at("home"),
        shop.thing,
        shop.at("sign"),
        shop.at("end"),
        "/visit/guessed/",
        "/visit/a/b/c",
    ]
    for page in pages:
        headers = client.get(page).headers
        assert headers["Referrer-Policy"] == "no-referrer", page
        assert headers["Cache-Control"] == "no-store", page
        assert "noindex" in headers["X-Robots-Tag"], page


def test_the_cover_tells_nothing_and_looking_at_it_opens_nothing(shop) -> None:
    """Messengers fetch a link before anybody taps on it."""
    client = Client()
    for ask in (client.get, client.head, client.get):
        assert ask(shop.at("cover")).status_code == 200
    assert client.get(shop.at("cover") + "/").status_code == 200
    told = client.get(shop.at("cover")).content.decode()
    for word in ("Tarnwader", "N0-DEMO", "Edda", "Venning", "24.1"):
        assert word not in told
    assert client.get(shop.at("home")).url == shop.at("cover")
    assert client.get(shop.thing).url == shop.at("cover")
    assert client.head(shop.at("home")).url == shop.at("cover")
    assert not Opening.objects.exists()


def test_opening_counts_once_for_each_browser_and_is_in_the_journal(shop) -> None:
    phone = Client(headers={"User-Agent": "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0) Safari/604.1"})
    for _ in range(3):
        assert phone.post(shop.at("open")).url == shop.at("home")
    assert phone.get(shop.at("cover")).url == shop.at("home")
    assert phone.get(shop.at("home")).status_code == 200
    assert [one.device for one in shop.visit.openings.all()] == ["iPhone"]
    Client().post(shop.at("open"))
    assert shop.visit.openings.count() == 2
    assert Entry.objects.filter(subject=shop.visit.subject, verb="visit.opened").count() == 2
    cookie = phone.cookies["visit"]
    assert cookie["path"] == shop.at("cover") and cookie["httponly"] and cookie["samesite"] == "Lax"


def test_the_cookie_of_one_visit_opens_no_other(shop) -> None:
    shop.link("second-token")
    client = shop.open()
    client.cookies["visit"]["path"] = "/"
    assert client.get(shop.at("home", token="second-token")).status_code == 302
    client.cookies["visit"] = "forged"
    assert client.get(shop.at("home")).status_code == 302


def test_only_a_digest_of_the_link_is_kept(shop) -> None:
    assert TOKEN not in str(shop.visit.state()) and shop.visit.digest.startswith("sha256:")
    assert not Entry.objects.filter(state__contains=TOKEN).exists()


def test_being_signed_in_gives_nothing_more(shop) -> None:
    """Neither the builder nor a stranger sees more by a link, nor a visitor anything without one."""
    member = client_for(shop.edda)
    assert member.get(shop.at("home", token="guessed")).status_code == 404
    assert member.get(shop.at("home")).status_code == 302
    visitor = shop.open()
    assert visitor.get(shop.url("area")).status_code == 302
    assert "/accounts/login/" in visitor.get(shop.url("area")).url
    assert visitor.get(reverse("evidence:rendition", args=[shop.project.slug, shop.photo.pk, 320])).status_code == 302
    page = member.post(shop.at("open"), follow=True)
    assert b"rail" not in page.content and shop.project.slug.encode() not in page.content


def test_guessing_is_slowed_down_but_not_for_a_browser_that_is_in(shop) -> None:
    inside, guesser = shop.open(), Client()
    for number in range(GUESSES):
        assert guesser.get(f"/visit/guess-{number}").status_code == 404
    assert guesser.get(shop.at("cover")).status_code == 404
    assert inside.get(shop.at("home")).status_code == 200


# ---- what he sees ----


def test_the_page_of_an_area_shows_what_is_in_place_and_nothing_of_other_areas(shop) -> None:
    other = make_area(shop.edda, shop.assembly, number="24.1-C9", name="Keel box")
    page = shop.open().get(shop.thing).content.decode()
    assert "Drain boss, sealed and taped" in page and "Interior vacuumed" in page and "camera" in page.lower()
    assert "Edda Norrell" in page and "2 of 3 in place" in page
    assert other.name not in page and shop.project.slug not in page
    assert len(page.encode()) < 100_000


def test_photos_outside_of_the_visit_do_not_open(shop) -> None:
    """Neither one of the same assembly, nor one that was taken away, nor an original."""
    beside = make_photo(shop.edda, places=[shop.assembly], at=timezone.now())
    client = shop.open()
    shown = client.get(shop.at("rendition", shop.photo.pk, 320))
    assert shown.status_code == 200 and shown["Content-Type"] == "image/jpeg"
    assert b"".join(shown.streaming_content).find(b"GPS") < 0
    assert client.get(shop.at("photo", shop.photo.pk)).status_code == 200
    assert client.head(shop.at("rendition", shop.photo.pk, 1280)).status_code == 200
    for address in (
        shop.at("rendition", beside.pk, 320),
        shop.at("photo", beside.pk),
        shop.at("rendition", shop.photo.pk, 640),
        f"/visit/{TOKEN}/photos/{shop.photo.pk}/original/",
        f"/visit/{TOKEN}/photos/{shop.photo.digest}/320.jpg",
    ):
        assert client.get(address).status_code == 404, address
    assert Client().get(shop.at("rendition", shop.photo.pk, 320)).status_code == 302
    shop.item(1).exhibits.all().delete()
    assert client.get(shop.at("rendition", shop.photo.pk, 320)).status_code == 404


# ---- what he says ----


def test_a_tap_is_saved_at_once_with_and_without_scripts(shop) -> None:
    client, item = shop.open(), shop.item(2)
    plain = client.post(shop.at("look"), {"thing": item.subject, "outcome": "seen"})
    assert plain.url == f"{shop.thing}#{item.pk}"
    piece = client.post(
        shop.at("look"),
        {"thing": item.subject, "outcome": "no_access", "words": "Panel is on"},
        headers={"HX-Request": "true"},
    ).content.decode()
    assert "Panel is on" in piece and "<html" not in piece and f'id="{item.pk}-look"' in piece
    assert list(Look.objects.values_list("outcome", "words")) == [("seen", ""), ("no_access", "Panel is on")]
    client.post(shop.at("look"), {"thing": item.subject, "outcome": "cleared"})
    assert "Panel is on" not in client.get(shop.thing).content.decode()
    why = client.post(shop.at("look"), {"thing": item.subject, "outcome": "no_access"}, headers={"HX-Request": "true"})
    assert why.status_code == 422 and "Say why it could not be reached." in why.content.decode()


def test_a_remark_becomes_a_discrepancy_found_by_the_visitor(shop) -> None:
    client, item = shop.open(), shop.item(1)
    address = shop.at("remark", "area", shop.area.pk)
    assert client.get(address).status_code == 200
    bad = client.post(address, {"words": "", "severity": "major"})
    assert bad.status_code == 422
    given = {"words": "Sealant not continuous", "severity": "major", "blocks": "on", "item": item.subject}
    assert client.post(address, given).url == f"{shop.thing}#found"
    found = Discrepancy.objects.get()
    assert (found.found_by, found.area, found.visit, found.blocks) == (shop.hal, shop.area, shop.visit, True)
    assert found.words == "item 1 Drain boss, sealed: Sealant not continuous"
    assert found.label in client.get(shop.at("home")).content.decode()


# ---- signing ----


def test_signing_stores_all_that_was_said_and_ends_the_visit(shop) -> None:
    client = shop.open()
    assert shop.sign_here(client).url == shop.at("home") + "#signed"
    signature = Signature.objects.get()
    assert (signature.name, signature.capacity, signature.shown_by) == ("Hal Venning", "Technical counselor", "link")
    assert signature.strokes == NAME and signature.visit == shop.visit.subject and signature.accepted
    assert shop.now.gate.may_close
    over = client.get(shop.at("home"))
    assert "This visit has ended" in over.content.decode()
    for word in ("24.1", "Tarnwader", "Drain boss"):
        assert word not in over.content.decode()
    assert "Edda Norrell" in over.content.decode()


def test_a_link_is_not_used_again_after_everything_was_signed(shop) -> None:
    client = shop.open()
    typed = shop.filled(client)
    client.post(shop.at("sign"), typed)
    for again in (
        client.post(shop.at("sign"), typed),
        client.get(shop.at("sign")),
        client.get(shop.thing),
        client.get(shop.at("rendition", shop.photo.pk, 320)),
        client.post(shop.at("look"), {"thing": shop.item(2).subject, "outcome": "seen"}),
        client.post(shop.at("end")),
        Client().get(shop.at("cover")),
        Client().post(shop.at("open")),
    ):
        assert b"This visit has ended" in again.content and b"24.1" not in again.content
    assert Signature.objects.count() == 1 and Opening.objects.count() == 1


def test_bad_input_keeps_everything_typed_and_nothing_is_signed(shop) -> None:
    client = shop.open()
    bad = shop.sign_here(client, agreed="", name="Hal Venning", extent="By mirror, all bays")
    told = bad.content.decode()
    assert bad.status_code == 422 and "Tick the statement" in told and "By mirror, all bays" in told
    assert json.dumps(NAME).replace('"', "&quot;") in told
    assert 'id="id_agreed" data-not-kept checked' not in told and not Signature.objects.exists()
    for more, why in (
        ({"strokes": ""}, "Sign with a finger"),
        ({"strokes": "[[1,2,3,4]]"}, "Sign with a finger"),
        ({"strokes": "[[1,2,-3,4]]"}, "did not arrive whole"),
        ({"strokes": "", "typed": "Somebody Else"}, "Type it as it stands"),
        ({"name": ""}, "required"),
        ({"outcome": "not_accepted", "reason": " "}, "Say what is not accepted"),
    ):
        page = shop.sign_here(client, **more)
        assert page.status_code == 422 and why in page.content.decode(), more
    assert not Signature.objects.exists()


def test_a_typed_name_signs_too(shop) -> None:
    client = shop.open()
    assert shop.sign_here(client, strokes="", typed="hal venning").status_code == 302
    assert Signature.objects.get().strokes == []


def test_what_was_changed_while_he_read_is_not_signed(shop) -> None:
    client = shop.open()
    typed = shop.filled(client)
    Photo.objects.filter(pk=shop.photo.pk).update(caption="Another caption")
    page = client.post(shop.at("sign"), typed)
    assert page.status_code == 422 and "changed while you read" in page.content.decode()
    assert "Another caption" in page.content.decode() and not Signature.objects.exists()


def test_not_accepted_needs_no_complete_gate_and_opens_none(shop) -> None:
    shop.answer("no", at=timezone.now())
    client = shop.open()
    assert shop.sign_here(client).status_code == 422
    done = shop.sign_here(client, outcome="not_accepted", reason="Chips under the bulkhead", agreed="")
    assert done.status_code == 302
    signature = Signature.objects.get()
    assert not signature.accepted and signature.reason == "Chips under the bulkhead"
    assert not shop.now.gate.may_close
    page = client_for(shop.edda).get(shop.url("area")).content.decode()
    assert "Chips under the bulkhead" in page and "Not accepted" in page


def test_several_are_signed_at_once_all_or_none(shop) -> None:
    point = point_commands.add_point(
        by=shop.edda,
        at=timezone.now(),
        project=shop.project,
        assembly=shop.assembly,
        number="W-1",
        kind="witness",
        words="Torque of the hardpoint bolts",
        role="inspector",
    )
    shop.link("both-token", points=[point])
    client = shop.open("both-token")
    none = shop.sign_here(client, "both-token")
    assert none.status_code == 422 and "Choose what you sign." in none.content.decode()
    names = [f"area:{shop.area.pk}", f"point:{point.pk}"]
    one = shop.sign_here(client, "both-token", things=names[1:])
    assert one.status_code == 302 and Signature.objects.count() == 1
    assert client.get(shop.at("home", token="both-token")).status_code == 200
    rest = shop.sign_here(client, "both-token", things=names)
    assert rest.status_code == 302 and Signature.objects.count() == 2
    assert b"This visit has ended" in client.get(shop.at("home", token="both-token")).content


def test_he_may_end_it_himself(shop) -> None:
    client = shop.open()
    assert "Not signed: 24.1-C1" in client.get(shop.at("end")).content.decode()
    assert client.post(shop.at("end")).status_code == 302
    assert "Nothing was signed" in client.get(shop.at("cover")).content.decode()


def test_another_area_below_another_assembly_is_not_told(shop) -> None:
    """The discrepancies of the rest of the aircraft are none of his."""
    far = make_assembly(shop.edda, "31", "Fuel")
    from inspections.commands import discrepancies

    discrepancies.find(
        by=shop.edda, at=timezone.now(), project=shop.project, assembly=far, words="Hose chafes", severity="major"
    )
    page = shop.open().get(shop.thing).content.decode()
    assert "Hose chafes" not in page
