"""Writes about sessions: sums that add back through every command, corrections, withdrawal, what the journal keeps."""

import json
import random
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from buildlog import commands, queries
from buildlog.models import SessionPerson, WorkSession
from buildlog.rules import Worked
from evidence import commands as evidence
from foundation.refusal import Refusal
from journal.models import Entry
from journal.queries import chain_faults, last_states
from tests.factories import NOW, make_assembly, make_person, make_photo, make_project, make_session, worked

pytestmark = pytest.mark.django_db


def reckoned(row: SessionPerson) -> int:
    """Labor of one row, from epoch seconds alone."""
    return (
        round(row.ended_at.timestamp()) - round(row.started_at.timestamp()) - row.break_seconds - row.unattended_seconds
    )


def adds_up(session: WorkSession) -> None:
    """Rules R1 and R2 over what the database holds, and the journal's last word about it."""
    session = WorkSession.objects.get(pk=session.pk)
    rows, shares = list(session.people.all()), list(session.shares.all())
    assert [row.labor_seconds for row in rows] == [reckoned(row) for row in rows]
    assert session.labor_seconds == sum(reckoned(row) for row in rows)
    assert sum(share.seconds for share in shares) == session.labor_seconds
    weights = sum(share.weight for share in shares)
    for share in shares:
        assert abs(share.seconds - session.labor_seconds * share.weight / weights) < 1
    assert session.started_at == min(row.started_at for row in rows)
    assert session.ended_at == max(row.ended_at for row in rows)
    assert json.loads(last_states(session.project_id)[session.subject]) == session.state()
    assert list(chain_faults(session.project_id)) == []


def some_work(chance: random.Random, people) -> list[Worked]:
    """Stretches of some of these people, with odd seconds."""
    start = NOW - timedelta(seconds=chance.randint(90_000, 900_000))
    rows = []
    for person in chance.sample(people, chance.randint(1, len(people))):
        began = start + timedelta(seconds=chance.randint(0, 4000))
        passed = chance.randint(1, 60_000)
        breaks = chance.randint(0, passed)
        rows.append(
            Worked(
                person.pk,
                person.name,
                began,
                began + timedelta(seconds=passed),
                breaks,
                chance.randint(0, passed - breaks),
            )
        )
    return rows


def some_shares(chance: random.Random, assemblies):
    return [(one, chance.randint(1, 9)) for one in chance.sample(assemblies, chance.randint(1, len(assemblies)))]


@pytest.mark.parametrize("seed", range(6))
def test_labor_and_shares_add_back_after_logging_and_after_each_correction(seed):
    chance = random.Random(seed)
    project, edda = make_project()
    people = [edda, *(make_person(project, role, account=False) for role in ("helper", "paid"))]
    assemblies = [make_assembly(edda) for _ in range(4)]
    session, _ = commands.log_session(
        by=edda,
        at=NOW,
        project=project,
        request_id=f"r{seed}",
        worked=some_work(chance, people),
        shares=some_shares(chance, assemblies),
    )
    adds_up(session)
    for number in range(3):
        values = {"worked": some_work(chance, people), "shares": some_shares(chance, assemblies)}
        commands.correct_session(by=edda, at=NOW, session=session, reason=f"Wrong {number}", **values)
        adds_up(session)
        fresh = WorkSession.objects.get(pk=session.pk)
        assert {row.person_id for row in fresh.people.all()} == {one.person for one in values["worked"]}
        assert {(share.assembly_id, share.weight) for share in fresh.shares.all()} == {
            (a.pk, w) for a, w in values["shares"]
        }


@pytest.mark.parametrize("seed", range(8))
def test_labor_adds_back_however_people_come_go_and_rest(seed):
    chance = random.Random(seed)
    project, edda = make_project()
    people = [edda, *(make_person(project) for _ in range(3))]
    session = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    # An independent bookkeeper: everybody's seconds, second by second.
    inside, resting, seconds, came = {edda.pk}, False, {edda.pk: 0}, {edda.pk}
    at = NOW
    for _ in range(chance.randint(6, 16)):
        passed = chance.randint(1, 3000)
        at += timedelta(seconds=passed)
        for key in inside:
            seconds[key] += 0 if resting else passed
        act, person = chance.choice(["break", "on", "join", "leave"]), chance.choice(people)
        if act == "break":
            commands.take_break(by=edda, at=at, session=session)
            resting = True
        elif act == "on":
            commands.end_break(by=edda, at=at, session=session)
            resting = False
        elif act == "join" and person.pk not in came:
            commands.join_timer(by=person, at=at, session=session, person=person)
            inside.add(person.pk)
            came.add(person.pk)
            seconds[person.pk] = 0
        elif act == "leave" and inside != {person.pk}:
            commands.leave_timer(by=person, at=at, session=session, person=person)
            inside.discard(person.pk)
    at += timedelta(seconds=77)
    for key in inside:
        seconds[key] += 0 if resting else 77
    stopped = commands.stop_timer(by=edda, at=at, session=session)
    adds_up(stopped)
    assert {row.person_id: row.labor_seconds for row in stopped.people.all()} == seconds


def test_the_same_shares_split_the_same_when_a_session_is_saved_again():
    project, edda = make_project()
    shares = [(make_assembly(edda), 1) for _ in range(3)]
    one = Worked(edda.pk, edda.name, NOW - timedelta(seconds=100), NOW)
    session = make_session(edda, shares[0][0], one, shares=shares)
    before = {share.assembly_id: share.seconds for share in session.shares.all()}
    assert sorted(before.values()) == [33, 33, 34]
    for order in (shares[::-1], shares[1:] + shares[:1]):
        commands.correct_session(
            by=edda, at=NOW, session=session, worked=[one], shares=order, reason="Words", note="New"
        )
        assert {share.assembly_id: share.seconds for share in session.shares.all()} == before


def test_the_same_request_twice_is_one_session():
    project, edda = make_project()
    wing = make_assembly(edda)
    values = {
        "by": edda,
        "at": NOW,
        "project": project,
        "request_id": "once",
        "worked": [worked(edda)],
        "shares": [(wing, 1)],
    }
    first, new = commands.log_session(**values)
    again, newer = commands.log_session(**values)
    assert (first.pk, new, newer) == (again.pk, True, False)
    assert WorkSession.objects.count() == 1
    assert Entry.objects.filter(subject=first.subject).count() == 1


def test_a_request_of_another_project_is_refused_and_tells_nothing_of_it():
    project, edda = make_project()
    other, olin = make_project("Other boat", builder="Olin Marsh")
    kept = make_session(edda, make_assembly(edda), request_id="taken", note="A secret of the first project")
    wing = make_assembly(olin)
    with pytest.raises(Refusal) as no:
        make_session(olin, wing, request_id="taken")
    assert no.value.code == "request_reused"
    assert all(word not in no.value.message for word in (kept.pk, project.name, "secret", "Edda"))
    with pytest.raises(Refusal) as no:
        commands.start_timer(by=olin, at=NOW, project=other, assembly=wing, request_id="taken")
    assert no.value.code == "request_reused"
    assert not WorkSession.objects.filter(project=other).exists()


def test_a_correction_keeps_the_old_values_with_reason_and_person():
    project, edda = make_project()
    jory = make_person(project, name="Jory Pask")
    session = make_session(edda, make_assembly(edda), note="Glued ribs", place="Shop")
    old = session.state()
    commands.correct_session(
        by=jory,
        at=NOW,
        session=session,
        worked=[worked(edda, minutes=90, breaks=5)],
        shares=[(share.assembly, 2) for share in session.shares.all()],
        note="Glued ribs 4 to 7",
        reason="Rib numbers were missing",
    )
    first, second = Entry.objects.filter(subject=session.subject).order_by("seq")
    assert json.loads(first.state) == old
    assert (second.by_name, second.reason, second.verb) == (
        "Jory Pask",
        "Rib numbers were missing",
        "session.corrected",
    )
    new = json.loads(second.state)
    assert (new["note"], new["labor_seconds"], new["place"]) == ("Glued ribs 4 to 7", 85 * 60, "Shop")
    assert [row["break_seconds"] for row in new["people"]] == [300]


def test_a_described_session_is_not_corrected_without_a_reason():
    _, edda = make_project()
    session = make_session(edda, make_assembly(edda), note="Glued ribs")
    values = {"worked": [worked(edda)], "shares": [(session.shares.get().assembly, 1)], "note": "Other words"}
    with pytest.raises(Refusal) as no:
        commands.correct_session(by=edda, at=NOW, session=session, reason="  ", **values)
    assert (no.value.code, no.value.field) == ("no_reason", "reason")
    assert WorkSession.objects.get().note == "Glued ribs"


def test_moving_a_session_to_an_earlier_day_marks_it_late_and_moving_it_back_unmarks_it():
    _, edda = make_project()
    wing = make_assembly(edda)
    session = make_session(edda, wing)
    assert session.source == "live"
    values = {
        "by": edda,
        "at": NOW + timedelta(days=9),
        "session": session,
        "shares": [(wing, 1)],
        "reason": "Wrong day",
    }
    moved = commands.correct_session(worked=[worked(edda, NOW - timedelta(days=7))], **values)
    assert moved.source == "reconstructed"
    assert commands.correct_session(worked=[worked(edda)], **values).source == "live"


def test_two_edits_of_one_version_do_not_overwrite_each_other():
    _, edda = make_project()
    wing = make_assembly(edda)
    session = make_session(edda, wing, note="First words")
    seen = commands.version_of(session)
    values = {
        "by": edda,
        "at": NOW,
        "session": session,
        "worked": [worked(edda)],
        "shares": [(wing, 1)],
        "reason": "Words",
    }
    second = commands.correct_session(note="Second words", seen=seen, **values)
    assert commands.version_of(second) != seen
    with pytest.raises(Refusal) as no:
        commands.correct_session(note="Third words", seen=seen, **values)
    assert no.value.code == "changed_elsewhere"
    assert WorkSession.objects.get().note == "Second words"


def test_the_version_token_is_the_same_however_a_session_was_fetched():
    project, edda = make_project()
    photo = make_photo(edda)
    session = make_session(edda, make_assembly(edda), photos=[photo, make_photo(edda)])
    evidence.withdraw_photo(by=edda, at=NOW, photo=photo, reason="Wrong aircraft")
    shown, bare = queries.sessions(project).get(), WorkSession.objects.get()
    assert commands.version_of(shown) == commands.version_of(bare) == commands.version_of(session)


def test_a_withdrawn_photo_keeps_its_place_in_a_session_that_is_corrected():
    project, edda = make_project()
    gone, stays, off = make_photo(edda), make_photo(edda), make_photo(edda)
    wing = make_assembly(edda)
    session = make_session(edda, wing, photos=[gone, stays, off])
    evidence.withdraw_photo(by=edda, at=NOW, photo=gone, reason="Wrong aircraft")
    commands.correct_session(
        by=edda,
        at=NOW,
        session=session,
        worked=[worked(edda)],
        shares=[(wing, 1)],
        photos=[stays],
        reason="One too many",
    )
    shown = queries.sessions(project).get()
    assert {row.photo_id for row in shown.attachments.all()} == {gone.pk, stays.pk}
    assert queries.photos_of(shown) == [stays]


def test_a_withdrawn_session_is_out_of_the_totals_and_keeps_its_number():
    project, edda = make_project()
    wing = make_assembly(edda)
    first, second = make_session(edda, wing), make_session(edda, wing, worked(edda, NOW - timedelta(days=1)))
    commands.withdraw_session(by=edda, at=NOW, session=first, reason="Logged twice")
    assert queries.total_seconds(project) == second.labor_seconds == 7200
    assert queries.own_seconds(project) == {wing.pk: 7200}
    assert [one.pk for one in queries.sessions(project)] == [second.pk]
    assert queries.all_sessions(project).get(pk=first.pk).withdrawn
    assert make_session(edda, wing, worked(edda, NOW - timedelta(days=2))).number == 3
    entry = Entry.objects.get(subject=first.subject, verb="session.withdrawn")
    assert entry.reason == "Logged twice"


def test_withdrawing_asks_why_and_happens_once():
    _, edda = make_project()
    session = make_session(edda, make_assembly(edda))
    with pytest.raises(Refusal):
        commands.withdraw_session(by=edda, at=NOW, session=session, reason=" ")
    assert not WorkSession.objects.get().withdrawn
    commands.withdraw_session(by=edda, at=NOW, session=session, reason="Twice")
    with pytest.raises(Refusal) as no:
        commands.withdraw_session(by=edda, at=NOW, session=session, reason="Again")
    assert no.value.code == "already_withdrawn"
    with pytest.raises(Refusal) as no:
        commands.correct_session(by=edda, at=NOW, session=session, worked=[worked(edda)], shares=[], reason="x")
    assert no.value.code == "withdrawn"


def test_a_refused_log_leaves_nothing_behind():
    project, edda = make_project()
    entries = Entry.objects.count()
    with pytest.raises(Refusal):
        make_session(edda, make_assembly(edda), worked(edda, NOW, minutes=0))
    assert not WorkSession.objects.exists()
    assert not SessionPerson.objects.exists()
    assert Entry.objects.count() == entries + 1  # the assembly


# ---- timers ----


def test_one_running_timer_per_person_is_the_databases_own_rule():
    project, edda = make_project()
    commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    second = WorkSession(
        project=project, number=2, request_id="x", started_at=NOW, source="live", entered_at=NOW, entered_by=edda
    )
    second.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        SessionPerson.objects.create(session=second, person=edda, started_at=NOW)


def test_a_start_sent_twice_is_one_timer():
    project, edda = make_project()
    wing = make_assembly(edda)
    first = commands.start_timer(by=edda, at=NOW, project=project, assembly=wing, request_id="tap")
    again = commands.start_timer(
        by=edda, at=NOW + timedelta(seconds=40), project=project, assembly=wing, request_id="tap"
    )
    assert first.pk == again.pk
    assert WorkSession.objects.get().started_at == NOW


def test_switching_stops_the_first_and_leaves_no_overlap_even_within_one_second():
    project, edda = make_project()
    first = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    second = commands.start_timer(
        by=edda, at=NOW + timedelta(microseconds=500), project=project, assembly=make_assembly(edda)
    )
    first.refresh_from_db()
    assert first.ended_at == second.started_at == NOW + timedelta(seconds=1)
    adds_up(first)
    adds_up(commands.stop_timer(by=edda, at=NOW + timedelta(minutes=5), session=second))
    assert queries.overlaps(queries.work(project)) == []


def test_switching_takes_one_of_two_people_off_and_the_other_goes_on():
    project, edda = make_project()
    jory = make_person(project)
    job = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda), people=[edda, jory])
    commands.start_timer(by=jory, at=NOW + timedelta(minutes=10), project=project, assembly=make_assembly(edda))
    job.refresh_from_db()
    assert job.running
    stopped = commands.stop_timer(by=edda, at=NOW + timedelta(minutes=30), session=job)
    assert {row.person_id: row.labor_seconds for row in stopped.people.all()} == {edda.pk: 1800, jory.pk: 600}
    adds_up(stopped)


def test_the_last_person_who_leaves_stops_the_timer():
    project, edda = make_project()
    jory = make_person(project)
    job = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda), people=[edda, jory])
    commands.leave_timer(by=edda, at=NOW + timedelta(minutes=10), session=job, person=edda)
    left = commands.leave_timer(by=edda, at=NOW + timedelta(minutes=25), session=job, person=jory)
    assert not left.running
    assert left.ended_at == NOW + timedelta(minutes=25)
    adds_up(left)


def test_who_left_does_not_come_back_into_the_same_session():
    project, edda = make_project()
    jory = make_person(project, name="Jory Pask")
    job = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    commands.join_timer(by=jory, at=NOW, session=job, person=jory)
    commands.join_timer(by=jory, at=NOW, session=job, person=jory)
    assert job.people.count() == 2
    commands.leave_timer(by=jory, at=NOW + timedelta(minutes=1), session=job, person=jory)
    with pytest.raises(Refusal, match="Jory Pask left this session before"):
        commands.join_timer(by=jory, at=NOW + timedelta(minutes=2), session=job, person=jory)


def test_who_joins_and_stops_in_the_same_second_has_a_second_that_the_form_takes():
    project, edda = make_project()
    jory = make_person(project)
    job = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    at = NOW + timedelta(minutes=3)
    commands.join_timer(by=jory, at=at, session=job, person=jory)
    stopped = commands.stop_timer(by=jory, at=at, session=job)
    adds_up(stopped)
    rows = {row.person_id: row.labor_seconds for row in stopped.people.all()}
    assert rows[jory.pk] == 1
    assert stopped.ended_at == at + timedelta(seconds=1)


@pytest.mark.parametrize("later", [timedelta(0), timedelta(microseconds=900), timedelta(seconds=-90)])
def test_a_timer_stopped_in_the_second_it_started_or_by_a_clock_set_back_has_one_second(later):
    project, edda = make_project()
    timer = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    stopped = commands.stop_timer(by=edda, at=NOW + later, session=timer)
    assert stopped.labor_seconds == 1
    adds_up(stopped)


def test_stopping_twice_changes_nothing():
    project, edda = make_project()
    timer = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    first = commands.stop_timer(by=edda, at=NOW + timedelta(minutes=9), session=timer).state()
    entries = Entry.objects.count()
    assert commands.stop_timer(by=edda, at=NOW + timedelta(hours=9), session=timer).state() == first
    assert Entry.objects.count() == entries


def test_a_break_counts_once_however_often_it_is_tapped_and_is_ended_by_the_stop():
    project, edda = make_project()
    timer = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))

    def after(minutes: int) -> dict:
        return {"by": edda, "at": NOW + timedelta(minutes=minutes), "session": timer}

    commands.take_break(**after(10))
    commands.take_break(**after(14))
    commands.end_break(**after(20))
    commands.end_break(**after(25))
    commands.take_break(**after(50))
    stopped = commands.stop_timer(**after(60))
    assert stopped.labor_seconds == 40 * 60
    assert stopped.break_since is None
    adds_up(stopped)
    commands.take_break(**after(70))
    commands.end_break(**after(80))
    assert WorkSession.objects.get().state() == stopped.state()


def test_the_clock_of_a_running_timer_takes_off_the_breaks_though_somebody_joined_after_them():
    project, edda = make_project()
    jory = make_person(project)
    timer = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    commands.take_break(by=edda, at=NOW + timedelta(minutes=10), session=timer)
    commands.end_break(by=edda, at=NOW + timedelta(minutes=25), session=timer)
    commands.join_timer(by=jory, at=NOW + timedelta(minutes=30), session=timer, person=jory)
    assert queries.running(project).get().off_seconds == 15 * 60
    commands.take_break(by=edda, at=NOW + timedelta(minutes=40), session=timer)
    assert queries.running(project).get().elapsed_now == 25 * 60


def test_a_timer_in_another_project_of_the_same_account_is_refused():
    project, edda = make_project()
    other, there = make_project("Other boat", user=edda.user)
    commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    wing = make_assembly(there)
    with pytest.raises(Refusal, match="runs in another project. Stop it there first.") as no:
        commands.start_timer(by=there, at=NOW, project=other, assembly=wing)
    assert no.value.code == "runs_elsewhere"
    assert project.name not in no.value.message
    assert not WorkSession.objects.filter(project=other).exists()
    commands.stop_timer(by=edda, at=NOW + timedelta(minutes=1), session=WorkSession.objects.get())
    assert commands.start_timer(by=there, at=NOW + timedelta(minutes=2), project=other, assembly=wing).running


def test_a_running_timer_that_is_withdrawn_stops_and_frees_its_people():
    project, edda = make_project()
    timer = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    gone = commands.withdraw_session(by=edda, at=NOW + timedelta(minutes=5), session=timer, reason="Wrong boat")
    assert gone.ended_at == NOW + timedelta(minutes=5)
    assert queries.running_of(edda) is None
    assert queries.total_seconds(project) == 0
    assert commands.start_timer(
        by=edda, at=NOW + timedelta(minutes=6), project=project, assembly=make_assembly(edda)
    ).running


def test_photos_are_attached_to_a_running_timer_once():
    project, edda = make_project()
    timer = commands.start_timer(by=edda, at=NOW, project=project, assembly=make_assembly(edda))
    photo = make_photo(edda)
    commands.attach_photos(by=edda, at=NOW, session=timer, photos=[photo])
    entries = Entry.objects.count()
    commands.attach_photos(by=edda, at=NOW, session=timer, photos=[photo])
    assert (timer.attachments.count(), Entry.objects.count()) == (1, entries)
    adds_up(commands.stop_timer(by=edda, at=NOW + timedelta(minutes=5), session=timer))
