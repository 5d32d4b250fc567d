"""A signature given on a visit tells what published lists ask of an entry: in its row, on its page, on paper."""

import json
import re
from html import unescape
from io import BytesIO
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from foundation.digest import canonical, digest_bytes
from inspections.commands import STATEMENT
from journal.models import Entry, Signature
from tests.factories import client_for
from tests.inspections.test_visitor import Visited

LISTS = json.loads((Path(__file__).parent.parent / "data" / "signature_content.json").read_text())["lists"]
ITEMS = [item for one in LISTS for item in one["items"]]
SERVICE = "12.4 h"
WHY = "Chips under the bulkhead; sealant thin at bay 3"

pytestmark = pytest.mark.django_db


def signed(shop: Visited, *, accepted: bool) -> Signature:
    """A signature with everything filled in, by drawn name over a link."""
    more = {"time_in_service": SERVICE, "outcome": "accepted" if accepted else "not_accepted"}
    shop.sign_here(shop.open(), **more, **({} if accepted else {"reason": WHY, "agreed": ""}))
    return Signature.objects.get()


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: item["id"])
def test_each_thing_asked_for_is_told(item) -> None:
    """In the row, and in the journal's entry of it."""
    signature = signed(Visited(), accepted=item["id"] != "43.11(a)(5)")
    state = json.loads(Entry.objects.get(subject=signature.subject).state)
    for name in item["told_by"]:
        assert getattr(signature, name), (item["asks"], name)
        assert name in state or name == "outcome", (item["asks"], name)


def test_the_work_is_described_with_its_doer_and_every_photo_by_its_digest() -> None:
    """43.9(a)(1) and (3): what was done stands item by item, with who answered, apart from who signs."""
    shop = Visited()
    signature = signed(shop, accepted=True)
    facts = {item["label"]: item["facts"] for item in signature.covers}
    assert [name for name in facts if shop.photo.label in name]
    assert shop.photo.digest in canonical(list(facts.values()))
    assert "Edda Norrell" in canonical(list(facts.values()))
    assert signature.name == "Hal Venning" and not signature.self_inspected
    assert signature.covers_digest == digest_bytes(canonical(signature.covers).encode())
    assert all(item["digest"] == digest_bytes(canonical(item["facts"]).encode()) for item in signature.covers)


def test_an_entry_that_does_not_accept_says_so_and_why() -> None:
    """43.11(a)(5): other words than those of an accepted one."""
    shop = Visited()
    signature = signed(shop, accepted=False)
    assert signature.outcome == "not_accepted" and signature.reason == WHY
    assert "do not accept" in signature.statement and signature.statement != STATEMENT


@pytest.mark.parametrize("accepted", [True, False])
def test_its_page_shows_all_of_it(accepted: bool) -> None:
    shop = Visited()
    signature = signed(shop, accepted=accepted)
    page = client_for(shop.edda).get(shop.url("area")).content.decode()
    told = " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())
    day = timezone.localtime(signature.at, shop.project.zone)
    for words in (
        signature.name,
        signature.capacity,
        "A&P mechanic",
        "DEMO-0417",
        f"{day:%-d %b %Y, %H:%M}",
        day.tzname() or "",
        signature.extent,
        SERVICE,
        signature.statement,
        "By visit link, V-1",
        signature.short_digest,
        *(() if accepted else (WHY, "Not accepted")),
    ):
        assert words in told, words
    assert 'aria-label="Drawn signature of Hal Venning"' in page


def test_the_page_to_be_signed_in_ink_has_a_place_for_each_thing() -> None:
    shop = Visited()
    file = client_for(shop.edda).get(f"/{shop.project.slug}/paper/area/{shop.area.pk}/sheet.pdf")
    told = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(file.content)).pages).split())
    for words in (
        "Printed name",
        "Signing as",
        "Kind of certificate",
        "Number of certificate",
        "Type and extent of the inspection",
        "Total time in service",
        "Signature",
        "Date",
        "Accepted.",
        "Not accepted.",
        "If not accepted, why",
        "Record number",
    ):
        assert words in told, words


def test_nobody_without_the_link_signs() -> None:
    shop = Visited()
    filled = shop.filled(shop.open())
    assert Client().post(shop.at("sign"), filled).status_code == 302
    assert Client().post(shop.at("sign", token="guessed"), filled).status_code == 404
    assert not Signature.objects.exists()
