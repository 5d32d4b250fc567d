"""The pages of sessions as a browser without script uses them: log, correct, withdraw, attach photos, look back."""

import json
from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts import commands as accounts
from buildlog import commands, queries
from buildlog.models import WorkSession
from evidence import commands as evidence
from evidence.models import Photo
from journal.models import Entry
from journal.queries import chain_faults
from parts import commands as parts
from tests.buildlog.browse import Shop, form_of, text_of
from tests.factories import (
    NOW,
    client_for,
    make_assembly,
    make_person,
    make_photo,
    make_project,
    make_session,
    make_user,
    picture_bytes,
    worked,
)

WORDS = {"note": "Ribs 4–7 & the <rear> spar\r\nglued", "place": "Barn", "work": "bonding", "kind": "labor"}


@pytest.fixture
def wing(shop: Shop):  # noqa: ANN201
    return make_assembly(shop.person, "20", "Wing")


def saved(response) -> WorkSession:
    assert response.status_code == 302, dict(response.context["form"].errors)
    return WorkSession.objects.get(pk=response["Location"].rstrip("/").rsplit("/", 1)[-1])


def told(response, client: Client) -> list[str]:
    """The messages on the page that follows."""
    return [str(message) for message in client.get(response["Location"]).context["messages"]]


def stays(session: WorkSession) -> dict:
    """What must not change when only words change."""
    state = WorkSession.objects.get(pk=session.pk).state()
    return {
        name: state[name]
        for name in ("started_at", "ended_at", "labor_seconds", "people", "shares", "source", "entered_at")
    }


# ---- logging ----


def test_a_session_with_everything_is_kept_as_typed(shop, wing):
    tail, jory = make_assembly(shop.person, "30", "Tail"), make_person(shop.project, name="Jory Pask")
    values = {
        **WORDS,
        "assembly": wing.pk,
        "weight_0": "2",
        "assembly_1": tail.pk,
        "day": "2026-05-13",
        "started": "08:00",
        "ended": "12:00",
        "breaks": "15",
        "unattended": "20",
        "people": [shop.person.pk, jory.pk],
        f"start_{jory.pk}": "09:00",
        f"breaks_{jory.pk}": "0",
        f"unattended_{jory.pk}": "0",
    }
    session = saved(shop.log(**values))
    assert {row.person_id: row.labor_seconds for row in session.people.all()} == {
        shop.person.pk: 205 * 60,
        jory.pk: 180 * 60,
    }
    assert session.labor_seconds == 385 * 60
    assert {share.assembly_id: share.seconds for share in session.shares.all()} == {wing.pk: 15400, tail.pk: 7700}
    assert {name: getattr(session, name) for name in WORDS} == WORDS
    assert (session.entered_by, session.number, session.source) == (shop.person, 1, "next_day")
    page = text_of(shop.get("session", session.pk))
    assert "6.4" in page
    assert "the &lt;rear&gt; spar" in shop.get("session", session.pk).content.decode()
    assert "09:00 to 12:00" in page
    # Shown again and saved untouched, it is the same.
    before = stays(session)
    assert saved(shop.fill(shop.get("session_edit", session.pk), reason="Looked again")).state()
    assert stays(session) == before


def test_the_same_form_sent_twice_is_one_session(shop, wing):
    page = shop.get("session_new")
    first, again = (shop.fill(page, assembly=wing.pk, **WORDS) for _ in range(2))
    assert saved(first) == saved(again)
    assert WorkSession.objects.count() == 1
    assert Entry.objects.filter(verb="session.logged").count() == 1


def test_what_was_typed_between_two_sends_is_not_lost_but_asked_for_as_a_correction(shop, wing):
    page = shop.get("session_new")
    first = saved(shop.fill(page, assembly=wing.pk, note="Ribs glued"))
    again = shop.fill(page, assembly=wing.pk, note="Ribs glued, clamps off at six")
    assert again.status_code == 422
    assert "As it is kept now" in text_of(again)
    assert form_of(again)[0]["note"] == ["Ribs glued, clamps off at six"]
    corrected = saved(shop.fill(again, reason="Clamps were missing"))
    assert corrected == first
    assert corrected.note == "Ribs glued, clamps off at six"
    assert WorkSession.objects.count() == 1


def test_nothing_chosen_is_an_error_for_each_field_and_loses_no_word(shop, wing):
    page = shop.log(assembly="", people=[], note="Kept", breaks="-3", weight_0="0", started="25:00")
    assert page.status_code == 422
    assert page.context["form"].errors.keys() == {"assembly", "people", "breaks", "weight_0", "started"}
    fields, _ = form_of(page)
    assert (fields["note"], fields["breaks"], fields["started"]) == (["Kept"], ["-3"], ["25:00"])
    assert "Choose the assembly that was worked on." in text_of(page)
    assert "Say who worked." in text_of(page)


def test_refusals_of_the_rules_stand_beside_their_field(shop, wing):
    page = shop.log(assembly=wing.pk, assembly_1=wing.pk, weight_1="3")
    assert page.status_code == 422
    assert page.context["form"].errors["assembly"] == ["The same assembly stands twice. Put its share on one line."]
    page = shop.log(assembly=wing.pk, breaks="61")
    assert "breaks and unattended time are longer" in page.context["form"].errors["breaks"][0]


def test_assemblies_and_people_of_another_project_are_no_choice(shop, wing):
    _, olin = make_project("Other boat", builder="Olin Marsh")
    theirs = make_assembly(olin)
    assert "assembly" in shop.log(assembly=theirs.pk).context["form"].errors
    assert "assembly_1" in shop.log(assembly=wing.pk, assembly_1=theirs.pk).context["form"].errors
    assert "people" in shop.log(assembly=wing.pk, people=[olin.pk]).context["form"].errors
    assert not WorkSession.objects.exists()


def test_a_request_of_another_project_is_refused_without_telling_about_it(shop, wing):
    _, olin = make_project("Other boat", builder="Olin Marsh")
    make_session(olin, make_assembly(olin, name="Hidden hull"), request_id="taken-there", note="Private words")
    page = shop.log(assembly=wing.pk, request_id="taken-there", note="My words")
    assert page.status_code == 422
    text = text_of(page)
    assert "was sent before for another project" in text
    assert all(word not in text for word in ("Private words", "Hidden hull", "Olin", "Other boat"))
    assert form_of(page)[0]["note"] == ["My words"]


def test_the_same_work_sent_by_a_fresh_form_is_asked_about_once(shop, wing):
    values = {**WORDS, "assembly": wing.pk, "day": "2026-05-13", "started": "08:00", "ended": "12:00"}
    saved(shop.log(**values))
    page = shop.log(**values)
    assert page.status_code == 422
    assert "This looks like session 1, logged already. Save again to log it all the same." in text_of(page)
    assert WorkSession.objects.count() == 1
    assert saved(shop.fill(page)).number == 2
    # Other people, another assembly or another time are other work.
    tail, jory = make_assembly(shop.person, "30", "Tail"), make_person(shop.project)
    for other in ({"assembly": tail.pk}, {"people": [jory.pk]}, {"ended": "12:01"}, {"assembly_1": tail.pk}):
        saved(shop.log(**(values | other)))


def test_an_answered_question_does_not_answer_another(shop, wing):
    tail = make_assembly(shop.person, "30", "Tail")
    values = {"day": "2026-05-13", "started": "08:00", "ended": "12:00"}
    saved(shop.log(assembly=wing.pk, **values))
    saved(shop.log(assembly=tail.pk, **values))
    page = shop.fill(shop.log(assembly=wing.pk, **values), assembly=tail.pk)
    assert "This looks like session 2" in text_of(page)
    assert saved(shop.fill(page)).number == 3


def test_a_withdrawn_session_is_not_asked_about(shop, wing):
    values = {"assembly": wing.pk, "day": "2026-05-13", "started": "08:00", "ended": "12:00"}
    commands.withdraw_session(by=shop.person, at=NOW, session=saved(shop.log(**values)), reason="Twice")
    saved(shop.log(**values))


def test_a_day_before_the_work_started_is_asked_about_once(shop, wing):
    accounts.correct_project(by=shop.person, at=NOW, project=shop.project, started_on=date(2025, 9, 25))
    saved(shop.log(assembly=wing.pk, day="2025-09-25", started="08:00", ended="12:00"))
    page = shop.log(assembly=wing.pk, day="2025-05-13", started="08:00", ended="12:00")
    assert page.status_code == 422
    assert "The work started 25 Sep 2025. Is the year right? Save again if it is." in text_of(page)
    session = saved(shop.fill(page))
    # Correcting its words does not ask again; another early day does.
    saved(shop.fill(shop.get("session_edit", session.pk), note="Words", reason="None before"))
    page = shop.fill(shop.get("session_edit", session.pk), day="2025-05-12", reason="Wrong day")
    assert "Is the year right?" in text_of(page)
    assert saved(shop.fill(page)).started_at.day == 12


def test_a_persons_own_break_that_is_too_long_is_marked_in_his_own_field(shop, wing):
    jory = make_person(shop.project, name="Jory Pask")
    values = {"assembly": wing.pk, "day": "2026-05-13", "started": "08:00", "ended": "09:00"}
    people = [shop.person.pk, jory.pk]
    page = shop.log(**values, people=people, breaks="5", **{f"breaks_{jory.pk}": "61"})
    assert page.status_code == 422
    assert page.context["form"].errors.keys() == {f"breaks_{jory.pk}"}
    assert "Jory Pask: breaks and unattended time are longer" in text_of(page)
    page = shop.log(**values, people=people, breaks="61", **{f"breaks_{jory.pk}": "5"})
    assert page.context["form"].errors.keys() == {"breaks"}


def test_without_an_assembly_the_form_gives_way_to_the_first_step(shop):
    text = text_of(shop.get("session_new"))
    assert "An assembly comes first" in text
    assert shop.url("parts:assembly_new") in text
    assert "Save session" not in text
    helper = make_person(shop.project)
    assert shop.url("parts:assembly_new") not in text_of(Shop(helper, client_for(helper)).get("session_new"))


# ---- who may ----


@pytest.mark.parametrize("his", ["entered", "worked"])
def test_a_helper_changes_what_he_entered_or_worked_in(shop, wing, his):
    jory = make_person(shop.project, name="Jory Pask")
    helper = Shop(jory, client_for(jory))
    by, who = (jory, shop.person) if his == "entered" else (shop.person, jory)
    session = make_session(by, wing, worked(who))
    assert shop.url("session_edit", session.pk) in text_of(helper.get("session", session.pk))
    saved(helper.fill(helper.get("session_edit", session.pk), note="Words", reason="None before"))
    assert saved(helper.fill(helper.get("session_withdraw", session.pk), reason="Twice")).withdrawn


def test_a_helper_does_not_change_the_builders_session_and_is_told_who_does(shop, wing):
    jory = make_person(shop.project, name="Jory Pask")
    helper, session = Shop(jory, client_for(jory)), make_session(shop.person, wing)
    text = text_of(helper.get("session", session.pk))
    for name in ("session_edit", "session_withdraw"):
        assert shop.url(name, session.pk) not in text
        for answer in (helper.get(name, session.pk), helper.post(name, session.pk, reason="x")):
            assert answer.status_code == 403
            assert "Only the builder, whoever entered a session" in text_of(answer)
    assert not WorkSession.objects.get().withdrawn
    theirs = make_session(jory, wing, worked(jory))
    assert shop.url("session_withdraw", theirs.pk) in text_of(shop.get("session", theirs.pk))


@pytest.mark.parametrize("name", ["sessions", "session", "session_new", "session_edit", "session_withdraw"])
@pytest.mark.parametrize(
    ("role", "reads", "logs"),
    [("helper", 200, 200), ("paid", 200, 200), ("inspector", 200, 403), ("reader", 200, 403), ("", 404, 404)],
)
def test_helpers_log_inspectors_and_readers_only_read_strangers_see_nothing(shop, wing, name, role, reads, logs):
    session = make_session(shop.person, wing)
    keys = [] if name in {"sessions", "session_new"} else [session.pk]
    client = Client()
    client.force_login(make_person(shop.project, role).user if role else make_user())
    url = shop.url(name, *keys)
    if logs == 200 and name in {"session_edit", "session_withdraw"}:
        logs = 403  # it is the builder's own
    expected = reads if name in {"sessions", "session"} else logs
    assert client.get(url).status_code == expected
    if name not in {"sessions", "session"} and logs != 200:
        assert client.post(url, {"reason": "x"}).status_code == logs
    if role and logs == 403 and name == "session":
        page = client.get(url).content.decode()
        assert shop.url("session_edit", session.pk) not in page
        assert shop.url("session_withdraw", session.pk) not in page


def test_a_session_of_another_project_is_not_there(shop):
    _, olin = make_project("Other boat", builder="Olin Marsh")
    theirs = make_session(olin, make_assembly(olin))
    for name in ("session", "session_edit", "session_withdraw"):
        assert shop.get(name, theirs.pk).status_code == 404
        assert shop.post(name, theirs.pk, reason="Mine now").status_code == 404
    theirs.refresh_from_db()
    assert not theirs.withdrawn


def test_who_is_not_signed_in_is_sent_to_sign_in(shop):
    response = Client().get(shop.url("session_new"))
    assert (response.status_code, response["Location"].split("?")[0]) == (302, reverse("account_login"))


# ---- correcting ----


def test_a_correction_needs_a_reason_and_keeps_what_was_typed(shop, wing):
    session = make_session(shop.person, wing, note="Old words")
    page = shop.fill(shop.get("session_edit", session.pk), note="New words", breaks="10")
    assert page.status_code == 422
    assert page.context["form"].errors.keys() == {"reason"}
    fields, _ = form_of(page)
    assert (fields["note"], fields["breaks"]) == (["New words"], ["10"])
    session.refresh_from_db()
    assert session.note == "Old words"
    corrected = saved(shop.fill(page, reason="Wrong rib numbers"))
    assert (corrected.note, corrected.labor_seconds) == ("New words", 110 * 60)
    for url in (shop.url("session", session.pk), shop.url("archive:history", session.subject)):
        history = text_of(shop.client.get(url))
        assert "Old words" in history
        assert "New words" in history
        assert "Wrong rib numbers" in history


def test_the_history_tells_old_and_new_times_shares_and_photos_of_each(shop, wing):
    tail, jory = make_assembly(shop.person, "30", "Tail"), make_person(shop.project, name="Jory Pask")
    first, second = make_photo(shop.person), make_photo(shop.person)
    session = make_session(shop.person, wing, worked(shop.person), worked(jory), photos=[first])
    commands.correct_session(
        by=shop.person,
        at=NOW,
        session=session,
        worked=[worked(shop.person, minutes=100, breaks=5)],
        shares=[(wing, 2), (tail, 1)],
        photos=[second],
        kind="study",
        reason="Mixed up",
    )
    changes = shop.get("session", session.pk).context["history"][0].changes
    told = {change.label: (change.before, change.after) for change in changes}
    assert told["Edda Norrell"] == ("14 May 2026, 08:00 to 10:00", "14 May 2026, 08:00 to 09:40, breaks 0:05")
    assert told["Jory Pask"] == ("14 May 2026, 08:00 to 10:00", "")
    assert told["20 Wing"] == ("share 1, 4:00 h", "share 2, 1:03 h")
    assert told["30 Tail"] == ("", "share 1, 0:31 h")
    assert told[first.label] == ("attached", "")
    assert told[second.label] == ("", "attached")
    assert told["Labor"] == ("4:00 h", "1:35 h")
    assert told["Kind"] == ("Labor", "Study and planning")


def test_two_edits_of_one_version_show_each_other_and_both_stay_in_the_journal(shop, wing):
    jory = make_person(shop.project, name="Jory Pask")
    other = Shop(jory, client_for(jory))
    session = make_session(jory, wing, worked(shop.person), note="First words")
    mine, his = (one.get("session_edit", session.pk) for one in (shop, other))
    saved(other.fill(his, note="Words of Jory", breaks="20", reason="Pause was missing"))
    page = shop.fill(mine, note="Words of Edda", reason="Ribs were wrong")
    assert page.status_code == 422
    text = text_of(page)
    assert "Somebody changed this session since you opened it" in text
    assert "As it is kept now" in text
    assert "Words of Jory" in text
    fields, _ = form_of(page)
    assert (fields["note"], fields["reason"]) == (["Words of Edda"], ["Ribs were wrong"])
    assert saved(shop.fill(page)).note == "Words of Edda"
    notes = [json.loads(entry.state)["note"] for entry in Entry.objects.filter(subject=session.subject).order_by("seq")]
    assert notes == ["First words", "Words of Jory", "Words of Edda"]
    assert list(chain_faults(shop.project.pk)) == []


def test_a_conflict_is_seen_through_an_error_in_between(shop, wing):
    session = make_session(shop.person, wing, note="First words")
    page = shop.get("session_edit", session.pk)
    saved(shop.fill(shop.get("session_edit", session.pk), note="Second words", reason="Wrong"))
    page = shop.fill(page, note="Third words", reason="")  # refused for the reason; the old token goes along
    page = shop.fill(page, reason="Also wrong")
    assert page.status_code == 422
    assert "Somebody changed this session" in text_of(page)


def test_a_session_with_a_withdrawn_photo_is_still_edited(shop, wing):
    photo = make_photo(shop.person)
    session = make_session(shop.person, wing, photos=[photo])
    evidence.withdraw_photo(by=shop.person, at=NOW, photo=photo, reason="Wrong boat")
    page = shop.get("session_edit", session.pk)
    assert "photos" not in form_of(page)[0]
    assert saved(shop.fill(page, note="Words", reason="None before")).attachments.count() == 1
    assert photo.label not in text_of(shop.get("session", session.pk)).split("History")[0]


def test_an_old_session_keeps_its_withdrawn_assembly_and_person(shop, wing):
    tail, jory = make_assembly(shop.person, "30", "Tail"), make_person(shop.project, name="Jory Pask")
    session = make_session(
        shop.person, wing, worked(shop.person), worked(jory, minutes=60), shares=[(wing, 1), (tail, 2)]
    )
    before = stays(session)
    accounts.withdraw_person(by=shop.person, at=NOW, person=jory, reason="Moved away")
    parts.withdraw_assembly(by=shop.person, at=NOW, assembly=tail, reason="Not built")
    assert "Tail" in text_of(shop.get("session", session.pk))
    page = shop.get("session_edit", session.pk)
    assert "30 Tail (withdrawn)" in text_of(page)
    assert jory.pk in form_of(page)[0]["people"]
    saved(shop.fill(page, note="Words", reason="None before"))
    assert stays(session) == before
    # A new session has neither.
    fresh = text_of(shop.get("session_new"))
    assert "Tail" not in fresh
    assert "Jory Pask" not in fresh


def test_a_session_on_many_assemblies_keeps_them_all(shop):
    shares = [(make_assembly(shop.person), weight) for weight in (1, 2, 3, 4, 5, 6)]
    session = make_session(shop.person, shares[0][0], shares=shares)
    before = stays(session)
    saved(shop.fill(shop.get("session_edit", session.pk), note="Words", reason="None before"))
    assert stays(session) == before


def test_a_withdrawn_session_is_not_edited(shop, wing):
    session = make_session(shop.person, wing)
    commands.withdraw_session(by=shop.person, at=NOW, session=session, reason="Twice")
    assert shop.get("session_edit", session.pk).status_code == 404


def test_a_corrected_session_says_so_on_its_face(shop, wing):
    session = make_session(shop.person, wing, note="First words")
    assert "Corrected" not in text_of(shop.get("session", session.pk)).split("History,")[0]
    for reason in ("Ribs were wrong", "Clamps too"):
        saved(shop.fill(shop.get("session_edit", session.pk), note=reason, reason=reason))
    face = text_of(shop.get("session", session.pk)).split("History,")[0]
    assert "Corrected 2 times" in face
    assert "by Edda Norrell. Reason: Clamps too" in face


# ---- withdrawing ----


def test_withdrawing_needs_a_reason_leaves_the_totals_and_the_page_stays(shop, wing):
    session = make_session(shop.person, wing, note="Glued twice in the log")
    page = shop.fill(shop.get("session_withdraw", session.pk), reason="  ")
    assert page.status_code == 422
    response = shop.fill(page, reason="Logged twice")
    assert saved(response).withdrawn
    text = text_of(shop.get("session", session.pk))
    assert "Reason: Logged twice" in text.split("What was done")[0]
    for words in ("Withdrawn 14 May 2026, 11:00", "Glued twice in the log", "Logged twice", "out of every total"):
        assert words in text
    assert shop.url("session_edit", session.pk) not in text
    assert "Glued twice in the log" not in text_of(shop.get("sessions"))
    assert queries.total_seconds(shop.project) == 0
    assert shop.get("session_withdraw", session.pk).status_code == 404


def test_a_withdrawal_that_somebody_else_was_faster_with_is_told(shop, wing, monkeypatch):
    session = make_session(shop.person, wing)
    meanwhile = commands.withdraw_session

    def slower(**values):
        meanwhile(**values)
        return meanwhile(**values)

    monkeypatch.setattr(commands, "withdraw_session", slower)
    response = shop.post("session_withdraw", session.pk, reason="Logged twice")
    assert told(response, shop.client) == ["This was withdrawn before."]


# ---- overlaps (rule R3) ----


def test_an_overlap_is_told_after_saving_and_on_both_pages(shop, wing):
    first = make_session(shop.person, wing, worked(shop.person, NOW - timedelta(hours=3), minutes=120))
    response = shop.log(assembly=wing.pk, day="2026-05-14", started="09:30", ended="10:30")
    second = saved(response)
    assert told(response, shop.client) == [
        "Session 2 is kept.",
        "Edda Norrell also stands in session 1 at that time. It counts once in the total.",
    ]
    for session in (first, second):
        text = text_of(shop.get("session", session.pk))
        assert "Edda Norrell stands in two sessions at once" in text
        assert "overlap from 09:30 to 10:00" in text
    commands.withdraw_session(by=shop.person, at=NOW, session=second, reason="Twice")
    assert "two sessions at once" not in text_of(shop.get("session", first.pk))


def test_sessions_that_touch_or_are_of_different_people_do_not_overlap(shop, wing):
    jory = make_person(shop.project)
    make_session(shop.person, wing, worked(shop.person, NOW - timedelta(hours=3), minutes=120))
    response = shop.log(assembly=wing.pk, day="2026-05-14", started="10:00", ended="10:30")
    assert told(response, shop.client) == ["Session 2 is kept."]
    response = shop.log(assembly=wing.pk, day="2026-05-14", started="08:30", ended="09:30", people=[jory.pk])
    assert told(response, shop.client) == ["Session 3 is kept."]


# ---- photos ----


def picture(name: str, seed: int) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, picture_bytes(seed=seed))


def test_a_bad_file_loses_neither_the_session_nor_the_good_photo(shop, wing):
    files = [picture("good.jpg", 9001), SimpleUploadedFile("notes.jpg", b"not a picture")]
    page = shop.log(assembly=wing.pk, new_photos=files, **WORDS)
    assert page.status_code == 422
    assert "notes.jpg: " in text_of(page)
    assert not WorkSession.objects.exists()
    good = Photo.objects.get()
    fields, _ = form_of(page)
    assert fields["photos"] == [good.pk]
    assert {name: fields[name][0] for name in WORDS} == WORDS
    assert fields["assembly"] == [wing.pk]
    session = saved(shop.fill(page))
    assert [row.photo_id for row in session.attachments.all()] == [good.pk]
    assert Photo.objects.count() == 1
    assert good.label in text_of(shop.get("session", session.pk))


def test_photos_stay_in_the_form_through_any_other_error(shop, wing):
    page = shop.log(assembly="", new_photos=[picture("a.jpg", 9002)])
    page = shop.fill(page, new_photos=[picture("b.jpg", 9003)])
    assert len(form_of(page)[0]["photos"]) == 2
    assert saved(shop.fill(page, assembly=wing.pk)).attachments.count() == 2


def test_photos_are_added_and_taken_off_in_a_correction_and_stay_in_the_record(shop, wing):
    first, second = make_photo(shop.person), make_photo(shop.person)
    session = make_session(shop.person, wing, photos=[first, second])
    page = shop.get("session_edit", session.pk)
    assert form_of(page)[0]["photos"] == [first.pk, second.pk]
    saved(shop.fill(page, remove_photos=[first.pk], new_photos=[picture("c.jpg", 9004)], reason="Wrong rib"))
    kept = {row.photo_id for row in session.attachments.all()}
    assert second.pk in kept
    assert first.pk not in kept
    assert len(kept) == 2
    assert Photo.objects.standing().count() == 3


def test_a_photo_of_another_project_is_not_attached(shop, wing):
    _, olin = make_project("Other boat", builder="Olin Marsh")
    page = shop.log(assembly=wing.pk, photos=[make_photo(olin).pk])
    assert page.status_code == 422
    assert "no longer in this record" in text_of(page)
    assert saved(shop.fill(page)).attachments.count() == 0


# ---- the list ----


def test_the_list_takes_as_many_queries_for_thirty_sessions_as_for_three(shop, wing):
    jory = make_person(shop.project)

    def fill(count: int) -> int:
        for _ in range(count):
            start = NOW - timedelta(days=WorkSession.objects.count() + 1)
            make_session(
                shop.person, wing, worked(shop.person, start), worked(jory, start), photos=[make_photo(shop.person)]
            )
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert shop.get("sessions").status_code == 200
        return len(caught)

    assert fill(3) == fill(27)


def test_the_list_is_newest_first_paged_and_of_one_branch_when_asked(shop, wing):
    rib, tail = make_assembly(shop.person, "20.1", "Rib", wing), make_assembly(shop.person, "30", "Tail")
    for number in range(33):
        place = tail if number == 0 else rib
        make_session(
            shop.person, place, worked(shop.person, NOW - timedelta(days=number + 1)), note=f"Note {number:02d}."
        )
    text = text_of(shop.get("sessions"))
    assert "Note 00." in text
    assert text.index("Note 01.") < text.index("Note 02.")
    assert "Note 30." not in text
    assert "Note 32." in text_of(shop.get("sessions", page="2"))
    branch = shop.get("sessions", assembly=wing.pk)
    assert "Note 00." not in text_of(branch)
    assert f"assembly={wing.pk}&page=2" in text_of(branch)
    assert "Note 30." in text_of(branch)


def test_an_empty_list_says_how_sessions_come_about(shop):
    assert "No sessions yet" in text_of(shop.get("sessions"))


def test_the_pages_carry_no_inline_code_or_style(shop, wing):
    session = make_session(shop.person, wing)
    for page in (
        shop.get("sessions"),
        shop.get("session", session.pk),
        shop.get("session_edit", session.pk),
        shop.get("session_new"),
    ):
        text = page.content.decode()
        assert " style=" not in text
        assert "<style" not in text
        assert "<script>" not in text
        assert " onclick" not in text
