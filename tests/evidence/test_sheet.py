"""The contact sheet: pieces by month, filters, months to jump to; the page of a photo among those of its sheet."""

import re
from datetime import UTC, datetime, timedelta
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from evidence import commands, forms, queries, rules
from evidence.models import Photo
from foundation.fields import new_key
from inspections import commands as inspections
from parts import commands as parts
from tests.evidence.conftest import Bench
from tests.factories import (
    NOW,
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

HTMX = {"HX-Request": "true"}


def bulk(bench: Bench, times: list[datetime], **facts: object) -> list[Photo]:
    """Rows of photos with these times, newest number last; their files are not there."""
    first = queries.next_number(bench.project)
    rows = [
        Photo(
            project=bench.project,
            number=first + n,
            digest=f"sha256:{new_key():x>64}",
            size=1000,
            width=640,
            height=480,
            taken_at=at,
            taken_known="camera",
            received_at=at,
            sent_by=bench.builder,
            drawn_at=at,
            **{"kind": "jpg", "caption": f"Photo {first + n}", **facts},
        )
        for n, at in enumerate(times)
    ]
    return Photo.objects.bulk_create(rows)


def shown(bench: Bench, query: str = "", **more: object) -> str:
    answer = bench.client.get(bench.url("photos") + query, **more)
    assert answer.status_code == 200
    return answer.content.decode()


def labels(html: str) -> list[str]:
    return re.findall(r'<span class="asm-no">(P-\d+)</span>', html)


def further(html: str) -> str:
    """The address of what comes next; empty at the end."""
    found = re.search(r'data-further href="([^"]*)"', html)
    return unescape(found[1]) if found else ""


def walk(bench: Bench, query: str = "") -> tuple[list[str], list[str]]:
    """All labels and all month headings of the sheet, piece by piece as the script loads them."""
    html = shown(bench, query)
    found, months = labels(html), re.findall(r'id="m-([\d-]+)"', html)
    while address := further(html):
        html = shown(bench, address, headers=HTMX)
        assert "<html" not in html
        found += labels(html)
        months += re.findall(r'id="m-([\d-]+)"', html)
    return found, months


# ---- pieces ----


def test_piece_by_piece_every_photo_comes_once_in_order_and_every_month_has_one_heading(bench):
    times = [NOW - timedelta(hours=7 * n) for n in range(400)]
    bulk(bench, times)
    found, months = walk(bench)
    assert found == [f"P-{n:04d}" for n in range(1, 401)]
    assert months == sorted(set(months), reverse=True) and len(months) == 5


def test_photos_of_one_moment_are_told_apart_by_their_number(bench):
    bulk(bench, [NOW] * 250)
    found, months = walk(bench)
    assert found == [f"P-{n:04d}" for n in range(250, 0, -1)]
    assert months == ["2026-05"]


def test_pieces_within_a_month_are_whole_rows_and_a_new_month_begins_a_piece(bench):
    bulk(bench, [NOW - timedelta(minutes=n) for n in range(130)] + [NOW - timedelta(days=40)] * 3)
    with timezone.override(bench.project.zone):
        rows = queries.photos(bench.project)
        first = queries.chunk(rows, None)
        second = queries.chunk(rows, first.further)
        third = queries.chunk(rows, second.further)
    assert [len(piece.photos) for piece in first.pieces] == [60]
    assert [len(piece.photos) for piece in second.pieces] == [60]
    assert [(len(piece.photos), piece.first) for piece in third.pieces] == [(10, False), (3, True)]
    assert third.further is None


def test_many_small_months_come_together_in_one_answer(bench):
    bulk(bench, [NOW - timedelta(days=31 * n) for n in range(40)])
    html = shown(bench)
    assert len(labels(html)) == 40 and not further(html)


def test_a_month_is_that_of_the_projects_clock(bench):
    bulk(bench, [datetime(2026, 5, 1, 5, 0, tzinfo=UTC)])
    assert "April 2026" in shown(bench)


def test_the_sheet_begins_with_any_month_and_leads_back_to_newer_ones(bench):
    bulk(bench, [NOW - timedelta(days=30 * n) for n in range(6)])
    html = shown(bench)
    assert re.findall(r"month=(2026-\d\d|2025-\d\d)#", html) == [
        "2026-05", "2026-04", "2026-03", "2026-02", "2026-01", "2025-12",
    ]  # fmt: skip
    middle = shown(bench, "?month=2026-03")
    assert labels(middle) == ["P-0003", "P-0004", "P-0005", "P-0006"]
    assert "Newer: April 2026" in middle and "To the newest" in middle
    assert "Newer:" not in shown(bench, "?month=2026-05")


@pytest.mark.parametrize("query", ["?before=soon", "?before=99999999999999999999-1", "?month=2026-13", "?month=x"])
def test_a_place_that_cannot_be_read_begins_at_the_newest(bench, query):
    bulk(bench, [NOW])
    assert labels(shown(bench, query)) == ["P-0001"]


def test_a_piece_asks_as_often_however_many_photos_there_are(bench):
    photo = make_photo(bench.builder)
    commands.mark_photo(
        by=bench.builder,
        at=NOW,
        photo=photo,
        marks=[commands.MarkFacts("note", (1, 1, 1, 1), "x")],
        seen=queries.marks_token([]),
    )

    def asked(query: str = "", **more: object) -> int:
        with CaptureQueriesContext(
            connection,
        ) as found:
            shown(bench, query, **more)
        return len(found)

    before = queries.Spot(NOW + timedelta(days=1), 0)
    few = asked(), asked(f"?before={before}", headers=HTMX)
    bulk(bench, [NOW - timedelta(hours=n) for n in range(300)])
    assert (asked(), asked(f"?before={before}", headers=HTMX)) == few
    assert few[1] < few[0]


# ---- filters ----


def test_the_short_filters_count_and_find(bench):
    told, bare = bulk(bench, [NOW] * 2)
    Photo.objects.filter(pk=bare.pk).update(caption="", builder_in_frame=True)
    clip = bulk(bench, [NOW], kind="mp4", shows="gauge")[0]
    commands.place_photo(by=bench.builder, at=NOW, photo=told, places=[make_assembly(bench.builder)])
    html = shown(bench)
    for words in ("All 3", "No caption 1", "No place 2", "Clips 1", "Builder in the picture 1"):
        assert words in html
    assert labels(shown(bench, "?caption=none")) == [bare.label]
    assert labels(shown(bench, "?place=none")) == [clip.label, bare.label]
    assert labels(shown(bench, "?medium=clip")) == [clip.label]
    assert labels(shown(bench, "?builder=on")) == [bare.label]
    assert labels(shown(bench, "?shows=gauge")) == [clip.label]
    assert "Nothing in the record is all of this" in shown(bench, "?shows=scale&builder=on")


def test_a_photo_of_a_session_or_a_gate_has_a_place_and_stands_on_its_assembly(bench):
    wing = make_assembly(bench.builder, "20", "Wing")
    hull = make_assembly(bench.builder, "10", "Hull")
    in_session, at_gate, loose = (make_photo(bench.builder) for _ in range(3))
    make_session(bench.builder, wing, photos=[in_session])
    area = make_area(bench.builder, hull)
    inspections.show_photo(by=bench.builder, at=NOW, requirement=area.requirements.get(kind="photo"), photo=at_gate)
    assert labels(shown(bench, "?place=none")) == [loose.label]
    assert labels(shown(bench, f"?assembly={wing.pk}")) == [in_session.label]
    assert labels(shown(bench, f"?assembly={hull.pk}")) == [at_gate.label]


def test_photos_of_a_part_a_bin_or_a_lot(bench):
    part = make_part(bench.builder, make_assembly(bench.builder))
    on_part, other = make_photo(bench.builder), make_photo(bench.builder)
    commands.place_photo(by=bench.builder, at=NOW, photo=on_part, places=[part])
    assert labels(shown(bench, f"?part={part.pk}")) == [on_part.label]
    assert other.label in shown(bench, "?part=nothing")


def test_further_pieces_keep_the_filter(bench):
    bulk(bench, [NOW - timedelta(minutes=n) for n in range(130)], caption="")
    bulk(bench, [NOW] * 5)
    found, _ = walk(bench, "?caption=none")
    assert len(found) == 130 and len(set(found)) == 130


def test_a_filter_is_carried_in_the_address_and_nothing_else(bench):
    form = forms.FilterForm({"caption": "none", "month": "2026-05", "shows": "no such"}, project=bench.project)
    assert form.carried == "?caption=none"
    assert form.wanted == queries.Wanted(uncaptioned=True)


# ---- the photo among those of its sheet ----


def test_a_photo_opened_from_a_filtered_sheet_leads_on_inside_it(bench):
    wing = make_assembly(bench.builder, "20", "Wing")
    photos = [make_photo(bench.builder) for _ in range(5)]
    for photo in photos[::2]:
        commands.place_photo(by=bench.builder, at=NOW, photo=photo, places=[wing])
    query = f"?assembly={wing.pk}"
    sheet = shown(bench, query)
    assert f'href="{bench.url("photo", photos[2].pk)}{query}"' in sheet
    page = bench.client.get(bench.url("photo", photos[2].pk) + query).content.decode()
    assert "2 of 3 on this assembly" in page
    assert f'rel="prev" href="{bench.url("photo", photos[4].pk)}{query}"' in page
    assert f'rel="next" href="{bench.url("photo", photos[0].pk)}{query}"' in page
    assert bench.url("photo", photos[1].pk) not in page
    outside = bench.client.get(bench.url("photo", photos[1].pk) + query).content.decode()
    assert "on this assembly" not in outside


def test_a_photo_says_its_place_among_all(bench):
    photos = [make_photo(bench.builder) for _ in range(3)]
    page = bench.client.get(bench.url("photo", photos[0].pk)).content.decode()
    assert "3 of 3" in page and 'rel="next"' not in page


def test_the_caption_is_saved_on_the_page_itself_and_says_so_once(bench):
    photo = make_photo(bench.builder, caption="Bulkhead A")
    url = bench.url("photo_caption", photo.pk)
    back = bench.url("photo", photo.pk) + "?caption=none"
    sent = {"caption": "Bulkhead B", "was": "Bulkhead A", "next": back}
    answer = bench.client.post(url, sent)
    photo.refresh_from_db()
    assert (answer["Location"], photo.caption) == (back, "Bulkhead B")
    assert "<del>Bulkhead A</del>" in bench.client.get(back).content.decode()


def test_a_caption_changed_meanwhile_is_shown_before_it_is_written_over(bench):
    photo = make_photo(bench.builder, caption="Theirs")
    url = bench.url("photo_caption", photo.pk)
    answer = bench.client.post(url, {"caption": "Mine", "was": "Before"})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "It now says: Theirs" in html and ">\nMine</textarea>" in html
    assert 'name="was" value="Theirs"' in html
    assert bench.client.post(url, {"caption": "Mine", "was": "Theirs"}).status_code == 302


@pytest.mark.parametrize(("role", "status"), [("helper", 302), ("inspector", 403), ("reader", 403)])
def test_who_may_write_a_caption(bench, role, status):
    photo = make_photo(bench.builder)
    client = client_for(make_person(bench.project, role))
    assert client.post(bench.url("photo_caption", photo.pk), {"caption": "x", "was": ""}).status_code == status


def test_the_page_tells_when_the_phone_kept_it_and_how_wrong_its_clock_was(bench):
    photo = make_photo(bench.builder, captured_at=NOW - timedelta(hours=3), clock_ahead=-5400)
    html = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    assert "Kept on the phone" in html and "14 May 2026, 08:00" in html
    assert "The phone's clock was 1 h 30 min behind when it sent this" in html
    assert (
        "Kept on the phone" not in bench.client.get(bench.url("photo", make_photo(bench.builder).pk)).content.decode()
    )


@pytest.mark.parametrize(
    ("ahead", "words"),
    [
        (180, "3 min ahead"),
        (-61, "1 min behind"),
        (7200, "2 h ahead"),
        (90_000, "1 day 1 h ahead"),
    ],
)
def test_how_wrong_a_clock_was_in_words(ahead, words):
    assert rules.clock_words(ahead) == words


def test_a_photo_on_a_bin_and_a_lot_names_them(bench):
    photo = make_photo(bench.builder)
    known = {"by": bench.builder, "at": NOW, "project": bench.project}
    things = [parts.add_bin(number="B-3", name="Fittings", **known), parts.add_lot(number="L-7", name="Resin", **known)]
    commands.place_photo(by=bench.builder, at=NOW, photo=photo, places=things)
    html = bench.client.get(bench.url("photo", photo.pk)).content.decode()
    for words in ("B-3", "Fittings", "L-7", "Resin"):
        assert words in html


# ---- before and after ----


def test_two_photos_are_compared_the_earlier_one_first(bench):
    first = make_photo(bench.builder, data=picture_bytes(taken="2026:03:01 09:00:00"), caption="Before tape")
    second = make_photo(bench.builder, caption="After tape")
    for query in (f"?a={second.pk}&b={first.pk}", f"?pick={first.pk}&pick={second.pk}"):
        html = bench.client.get(bench.url("compare") + query).content.decode()
        assert html.index("Before tape") < html.index("After tape")
        assert "2 months, 1 week between them" in html.replace("\xa0", " ")


@pytest.mark.parametrize(("count", "words"), [(0, "Tick two"), (1, "One is ticked"), (3, "3 are ticked")])
def test_anything_but_two_is_told_in_words(bench, count, words):
    picked = "&".join(f"pick={make_photo(bench.builder).pk}" for _ in range(count))
    assert words in bench.client.get(f"{bench.url('compare')}?{picked}").content.decode()


def test_clips_and_photos_of_others_are_not_compared(bench):
    _, other = make_project("Other boat")
    theirs, mine = make_photo(other, caption="Secret"), make_photo(bench.builder)
    answer = bench.client.get(f"{bench.url('compare')}?a={theirs.pk}&b={mine.pk}")
    assert answer.status_code == 422 and "Secret" not in answer.content.decode()
    clip = bulk(bench, [NOW], kind="mp4")[0]
    assert bench.client.get(f"{bench.url('compare')}?a={clip.pk}&b={mine.pk}").status_code == 422


def test_a_photo_offers_earlier_ones_of_the_same_place_to_compare_with(bench):
    wing, hull = make_assembly(bench.builder, "20", "Wing"), make_assembly(bench.builder, "10", "Hull")
    old, in_session, elsewhere, now = (make_photo(bench.builder) for _ in range(4))
    commands.place_photo(by=bench.builder, at=NOW, photo=old, places=[wing])
    make_session(bench.builder, wing, photos=[in_session])
    commands.place_photo(by=bench.builder, at=NOW, photo=elsewhere, places=[hull])
    commands.place_photo(by=bench.builder, at=NOW, photo=now, places=[wing])
    assert queries.earlier_of_same_place(now) == [in_session, old]
    html = bench.client.get(bench.url("photo", now.pk)).content.decode()
    assert f"?a={old.pk}&amp;b={now.pk}" in html
    assert queries.earlier_of_same_place(elsewhere) == []


def test_ticks_for_comparing_stand_on_the_sheet_only_when_asked_for(bench):
    make_photo(bench.builder)
    make_photo(bench.builder)
    assert 'name="pick"' not in shown(bench)
    assert shown(bench, "?compare=on").count('name="pick"') == 2
