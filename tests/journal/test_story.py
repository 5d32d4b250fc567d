"""The history of any record is told in words: names for keys, local times, each person, share and photo by itself."""

import json
import re
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from buildlog import commands as buildlog
from buildlog.models import WorkSession
from foundation.fields import ALPHABET, LENGTH
from inspections import commands as inspections
from journal.commands import sign
from journal.models import Entry
from journal.queries.story import Change, Step, tell, told
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db

DENVER = ZoneInfo("America/Denver")
KEY = re.compile(rf"(?<![{ALPHABET}])[{ALPHABET}]{{{LENGTH}}}(?![{ALPHABET}])")


@pytest.fixture
def session() -> WorkSession:
    _, edda = factories.make_project()
    return factories.make_session(
        edda, factories.make_assembly(edda, "20", "Wing"), photos=[factories.make_photo(edda)]
    )


def entry(subject: str, verb: str = "thing.made", **state: Any) -> Entry:
    """An entry as the journal might have it, not stored."""
    return Entry(project="p", seq=1, at=NOW, by_name="x", verb=verb, subject=subject, state=json.dumps(state))


def change(subject: str, before: dict[str, Any], after: dict[str, Any]) -> list[Change]:
    return tell([entry(subject, **before), entry(subject, **after)], DENVER)[1].changes


def test_no_key_is_shown_in_the_history_of_any_record(session: WorkSession, django_assert_num_queries: Any) -> None:
    project, edda = session.project, session.entered_by
    wing, photo = session.shares.get().assembly, session.photos[0]
    area = factories.make_area(edda, wing)
    item = area.requirements.filter(kind="photo").first()
    inspections.show_photo(by=edda, at=NOW, requirement=item, photo=photo)
    inspections.answer_check(by=edda, at=NOW, requirement=area.requirements.get(kind="check"), answer="yes")
    factories.make_part(edda, wing)
    subjects = set(Entry.objects.filter(project=project.pk).values_list("subject", flat=True))
    with django_assert_num_queries(2):
        steps = told(project.pk, *subjects, whole=True)
    shown = [text for step in steps for one in step.changes for text in (one.label, one.before, one.after)]
    assert len(shown) > 60
    assert not [text for text in shown if KEY.search(text)]
    assert not [text for text in shown if "does not know" in text]


def test_a_part_that_is_written_anew_and_says_the_same_is_no_change(session: WorkSession) -> None:
    edda = session.entered_by
    buildlog.correct_session(
        by=edda,
        at=NOW,
        session=session,
        worked=(factories.worked(edda),),
        shares=[(share.assembly, share.weight) for share in session.shares.all()],
        photos=session.photos,
        note="More words",
        reason="Forgotten",
    )
    newest = told(session.project_id, session.subject)[0]
    assert (newest.what, [one.label for one in newest.changes]) == ("Session corrected", ["Note"])


def test_what_the_journal_does_not_know_is_said_so_and_not_shown_as_a_key() -> None:
    (one,) = change("parts.part:1", {"assembly": None}, {"assembly": "2345678923456789"})
    assert (one.label, one.before, one.after) == ("Assembly", "", "something that the journal does not know")


def test_words_that_look_like_a_record_stay_as_they_were_typed() -> None:
    (one,) = change("parts.part:1", {"note": ""}, {"note": "parts.part:2345678923456789"})
    assert one.after == "parts.part:2345678923456789"


def test_a_signature_names_the_record_it_stands_under(session: WorkSession) -> None:
    signature = sign_under(session)
    told_now = {one.label: one.after for one in told(session.project_id, signature.subject, whole=True)[0].changes}
    assert told_now["Signed"] == "Session 1"
    assert told_now["Identity shown by"] == "signed in, password given again"


def sign_under(session: WorkSession) -> Any:
    """A signature under a session."""
    from django.db import transaction

    with transaction.atomic():
        return sign(
            project=session.project_id,
            by=session.entered_by,
            at=NOW,
            zone="America/Denver",
            under=session.subject,
            role="builder",
            certificate=("", ""),
            shown_by="password",
            statement="Seen",
            self_inspected=True,
            covers=[],
        )


@pytest.mark.parametrize(
    ("kind", "name", "value", "words"),
    [
        ("buildlog.worksession", "started_at", "2026-05-14T14:00:00Z", "14 May 2026, 08:00"),
        ("buildlog.worksession", "started_at", "2026-05-14T14:00:09Z", "14 May 2026, 08:00:09"),
        ("buildlog.worksession", "started_at", "when the sun rose", "when the sun rose"),
        ("buildlog.worksession", "labor_seconds", 5400, "1:30 h"),
        ("buildlog.worksession", "kind", "study", "Study and planning"),
        ("buildlog.worksession", "kind", "of old", "of old"),
        ("accounts.project", "started_on", "2026-05-01", "1 May 2026"),
        ("accounts.project", "started_on", "spring", "spring"),
        ("evidence.photo", "builder_in_frame", True, "yes"),
        ("gone.thing", "note", "2026-05-14T14:00:00Z", "2026-05-14T14:00:00Z"),
        ("gone.thing", "list", ["a", {"label": "b"}], "a, b"),
        ("gone.thing", "map", {"a": 1}, '{"a": 1}'),
    ],
)
def test_values_in_words(kind: str, name: str, value: Any, words: str) -> None:
    (one,) = change(f"{kind}:1", {}, {name: value})
    assert one.after == words


@pytest.mark.parametrize("rows", [[{}], [{"person": 7, "started_at": "x"}], "nonsense", [1, None]])
def test_an_altered_list_of_parts_is_still_told(rows: Any) -> None:
    assert isinstance(change("buildlog.worksession:1", {"people": []}, {"people": rows}), list)


def test_nothing_tells_nothing() -> None:
    steps: list[Step] = told("p", "parts.part:1")
    assert steps == []
