"""Projects, people and sign-in links are written with a journal entry each, or not at all."""

from datetime import timedelta

import pytest

from accounts import commands, queries
from accounts.models import Person, Project, SignInLink, User
from foundation.refusal import Refusal
from journal.models import Entry
from journal.queries import chain_faults
from journal.queries.story import Step, told
from tests.factories import NOW, make_person, make_project, make_user

pytestmark = pytest.mark.django_db


def verbs(subject: str) -> list[str]:
    return list(Entry.objects.filter(subject=subject).order_by("seq").values_list("verb", flat=True))


def newest(record: Project | Person) -> Step:
    """The newest step of a record's history."""
    return told(str(record.pk if isinstance(record, Project) else record.project_id), record.subject)[0]


def lines(record: Project | Person) -> list[tuple[str, str, str]]:
    """What the newest step of a record's history says."""
    return [(line.label, line.before, line.after) for line in newest(record).changes]


def test_a_founded_project_has_its_builder_and_both_in_the_journal() -> None:
    project, builder = make_project()
    assert builder.role == "builder" and builder.user is not None
    assert verbs(project.subject) == ["project.founded"]
    assert verbs(builder.subject) == ["person.added"]


def test_the_second_project_of_a_name_gets_an_address_of_its_own() -> None:
    assert [make_project()[0].slug for _ in range(3)] == ["tarnwader-2", "tarnwader-2-2", "tarnwader-2-3"]


@pytest.mark.parametrize("name", ["Settings", "projects", "Accounts", "IN", "static"])
def test_no_project_takes_the_address_of_a_page(name: str) -> None:
    assert make_project(name)[0].slug == f"{name.lower()}-2"


def test_a_name_without_letters_for_an_address_still_gets_one() -> None:
    assert make_project("★★")[0].slug == "project"


def test_a_project_in_no_zone_is_not_founded() -> None:
    with pytest.raises(Refusal):
        make_project(time_zone="Moon/Tranquility")
    assert not Project.objects.exists() and not Entry.objects.exists()


def test_a_corrected_identity_keeps_the_old_value_readable() -> None:
    project, builder = make_project(serial_number="1")
    commands.correct_project(
        by=builder, at=NOW, project=project, serial_number="001", authority="CA", reason="As on the plate"
    )
    step = told(project.pk, project.subject, values=queries.authority_names())[0]
    assert step.entry.reason == "As on the plate"
    assert [(line.label, line.before, line.after) for line in step.changes] == [
        ("Serial number", "1", "001"),
        ("Authority", "United States", "Canada"),
    ]


def test_a_person_stands_in_the_record_without_an_account() -> None:
    project, _ = make_project()
    tam = make_person(project, name="Tam Wray", account=False)
    assert tam.user is None and tam in queries.people(project)


def test_a_name_stands_once_in_a_project_but_may_come_again_in_another() -> None:
    project, builder = make_project()
    make_person(project, name="Tam Wray", account=False)
    with pytest.raises(Refusal, match="already on this project") as refused:
        make_person(project, name="tam wray", account=False)
    assert refused.value.field == "name"
    other = make_person(project, name="Jory Pask", account=False)
    with pytest.raises(Refusal, match="already on this project"):
        commands.correct_person(by=builder, at=NOW, person=other, name="Tam Wray")
    make_person(make_project("Other")[0], name="Tam Wray", account=False)


def test_a_corrected_person_keeps_the_old_role_readable() -> None:
    project, builder = make_project()
    jory = make_person(project, "helper", name="Jory Pask")
    commands.correct_person(by=builder, at=NOW, person=jory, role="paid", name="Jory A. Pask", reason="Paid from May")
    assert lines(jory) == [("Name", "Jory Pask", "Jory A. Pask"), ("Role", "Helper, unpaid", "Paid help")]
    assert newest(jory).entry.reason == "Paid from May"


def test_a_person_may_keep_the_name_when_something_else_is_corrected() -> None:
    project, builder = make_project()
    jory = make_person(project, "helper", name="Jory Pask")
    commands.correct_person(by=builder, at=NOW, person=jory, name="Jory Pask", note="Left-handed")
    assert lines(jory) == [("Note", "", "Left-handed")]


def test_a_withdrawn_person_is_out_of_the_project_and_still_in_its_history() -> None:
    project, builder = make_project()
    jory = make_person(project, name="Jory Pask")
    commands.withdraw_person(by=builder, at=NOW, person=jory, reason="Moved away")
    assert jory not in queries.people(project) and jory in queries.gone_people(project)
    assert queries.seats_of(jory.user) == []
    assert (newest(jory).what, newest(jory).entry.reason) == ("Person withdrawn", "Moved away")


@pytest.mark.parametrize("reason", ["", "   "])
def test_nobody_is_withdrawn_without_a_reason(reason: str) -> None:
    project, builder = make_project()
    jory = make_person(project)
    with pytest.raises(Refusal, match="Say why"):
        commands.withdraw_person(by=builder, at=NOW, person=jory, reason=reason)
    assert jory in queries.people(project)


def test_the_last_builder_with_an_account_stays() -> None:
    project, builder = make_project()
    make_person(project, "builder", name="Second on paper", account=False)
    with pytest.raises(Refusal, match="needs a builder"):
        commands.withdraw_person(by=builder, at=NOW, person=builder, reason="Tired")
    with pytest.raises(Refusal, match="needs a builder"):
        commands.correct_person(by=builder, at=NOW, person=builder, role="reader")
    builder.refresh_from_db()
    assert builder.role == "builder" and not builder.withdrawn


def test_a_builder_may_go_when_another_one_can_open_the_project() -> None:
    project, builder = make_project()
    make_person(project, "builder")
    commands.withdraw_person(by=builder, at=NOW, person=builder, reason="Sold the project")
    assert queries.builders_with_account(project) == 1


def test_an_account_is_given_with_a_link_that_signs_in_once() -> None:
    project, builder = make_project()
    tam = make_person(project, name="Tam Wray", account=False)
    user, token = commands.give_account(by=builder, at=NOW, person=tam, username="tam")
    assert not user.has_usable_password()
    assert not SignInLink.objects.filter(digest__contains=token).exists()
    assert verbs(tam.subject) == ["person.added", "person.given_account"]
    assert commands.use_sign_in_link(token=token, at=NOW) == user
    with pytest.raises(Refusal, match="used before"):
        commands.use_sign_in_link(token=token, at=NOW)


def test_a_link_is_good_for_a_week() -> None:
    token = commands.make_sign_in_link(user=make_user(), at=NOW)
    late = NOW + timedelta(days=commands.LINK_DAYS)
    assert queries.link_stands(token, late - timedelta(seconds=1)) and not queries.link_stands(token, late)
    with pytest.raises(Refusal):
        commands.use_sign_in_link(token=token, at=late)


def test_a_link_to_an_account_that_was_shut_opens_nothing() -> None:
    user = make_user()
    token = commands.make_sign_in_link(user=user, at=NOW)
    User.objects.filter(pk=user.pk).update(is_active=False)
    with pytest.raises(Refusal):
        commands.use_sign_in_link(token=token, at=NOW)


def test_a_further_link_is_in_the_journal_too() -> None:
    project, builder = make_project()
    jory = make_person(project)
    commands.give_account(by=builder, at=NOW, person=jory)
    assert verbs(jory.subject)[-1] == "person.given_link"


def test_a_user_name_that_is_taken_is_refused_and_nothing_is_made() -> None:
    project, builder = make_project()
    make_user("tam")
    tam = make_person(project, name="Tam Wray", account=False)
    with pytest.raises(Refusal, match="taken") as refused:
        commands.give_account(by=builder, at=NOW, person=tam, username="TAM")
    assert refused.value.field == "username"
    tam.refresh_from_db()
    assert tam.user is None and not SignInLink.objects.exists()


def test_no_link_is_made_to_an_account_that_opens_somebody_elses_project() -> None:
    project, builder = make_project()
    jory = make_person(project)
    make_project("Other", user=jory.user, builder="Jory Pask")
    with pytest.raises(Refusal, match="another project"):
        commands.give_account(by=builder, at=NOW, person=jory)
    assert not SignInLink.objects.exists()


def test_a_link_is_made_when_the_same_builder_has_both_projects() -> None:
    project, builder = make_project()
    jory = make_person(project)
    other, again = make_project("Other", user=builder.user)
    seated = make_person(other, account=False)
    commands.join_account(by=again, at=NOW, person=seated, username=jory.user.username)
    commands.give_account(by=builder, at=NOW, person=jory)
    assert SignInLink.objects.count() == 1


def test_only_the_owner_makes_a_link_to_the_owners_account() -> None:
    owner = commands.first_owner(at=NOW)
    project, builder = make_project(user=owner)
    second = make_person(project, "builder")
    with pytest.raises(Refusal, match="Only the owner"):
        commands.give_account(by=second, at=NOW, person=builder)
    commands.give_account(by=builder, at=NOW, person=builder)


def test_an_account_that_exists_is_seated_without_a_link() -> None:
    other, _ = make_project("Other")
    jory = make_person(other, name="Jory Pask")
    project, builder = make_project()
    here = make_person(project, name="Jory Pask", account=False)
    commands.join_account(by=builder, at=NOW, person=here, username=jory.user.username)
    assert [seat.project for seat in queries.seats_of(jory.user)] == [other, project]
    assert not SignInLink.objects.exists()
    assert verbs(here.subject)[-1] == "person.given_account"


@pytest.mark.parametrize(("username", "code"), [("nobody", "no_such_account"), ("edda", "account_seated")])
def test_an_account_is_not_seated_where_it_does_not_belong(username: str, code: str) -> None:
    project, builder = make_project(user=make_user("edda"))
    tam = make_person(project, name="Tam Wray", account=False)
    with pytest.raises(Refusal) as refused:
        commands.join_account(by=builder, at=NOW, person=tam, username=username)
    assert refused.value.code == code


def test_an_installation_has_one_first_owner() -> None:
    owner = commands.first_owner(at=NOW)
    assert commands.first_owner(at=NOW) == owner
    assert User.objects.count() == 1


def test_the_chain_of_the_journal_holds_after_all_of_it() -> None:
    project, builder = make_project()
    jory = make_person(project)
    commands.correct_person(by=builder, at=NOW, person=jory, note="x")
    commands.give_account(by=builder, at=NOW, person=jory)
    commands.withdraw_person(by=builder, at=NOW, person=jory, reason="Left")
    assert list(chain_faults(project.pk)) == []
