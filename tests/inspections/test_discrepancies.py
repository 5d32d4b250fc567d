"""Discrepancies: where one stands, who may accept it, what a signature under it covers, its pages and its print."""

import re
from datetime import timedelta
from html import unescape
from io import BytesIO

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from accounts.models import Person
from evidence import commands as evidence
from evidence import queries as evidence_queries
from foundation.refusal import Refusal
from inspections.commands import discrepancies as commands
from inspections.models import Discrepancy, DiscrepancyStep, FoundPhoto
from inspections.pages import discrepancies as pages
from inspections.queries import discrepancies as queries
from inspections.rules import discrepancies as rules
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
    picture_bytes,
)

HOUR = timedelta(hours=1)


# ---- rules ----


def decided(disposition: str, person: str = "edda") -> rules.StepFacts:
    return rules.StepFacts(rules.DECIDED, person, disposition)


def fixed(person: str = "edda") -> rules.StepFacts:
    return rules.StepFacts(rules.FIXED, person)


def looked(accepted: bool = True, person: str = "hal", changes: tuple[str, ...] = ()) -> rules.StepFacts:
    return rules.StepFacts(rules.REINSPECTED, person, accepted=accepted, changes=changes)


@pytest.mark.parametrize(
    ("steps", "state", "next_step"),
    [
        ((), rules.FOUND, rules.DECIDED),
        ((decided("use"),), rules.TO_INSPECT, rules.REINSPECTED),
        ((decided("rework"),), rules.TO_DO, rules.FIXED),
        ((decided("repair"),), rules.TO_DO, rules.FIXED),
        ((decided("scrap"),), rules.TO_DO, rules.FIXED),
        ((decided("defer"),), rules.DEFERRED, rules.DECIDED),
        ((decided("rework"), fixed()), rules.TO_INSPECT, rules.REINSPECTED),
        ((decided("rework"), fixed(), looked(False)), rules.NOT_ACCEPTED, rules.FIXED),
        ((decided("use"), looked(False)), rules.NOT_ACCEPTED, rules.DECIDED),
        ((decided("rework"), fixed(), looked(False), fixed()), rules.TO_INSPECT, rules.REINSPECTED),
        ((decided("rework"), fixed(), looked()), rules.DONE, ""),
        ((decided("use"), looked()), rules.DONE, ""),
        ((decided("use"), looked(changes=("D-1: found",))), rules.CHANGED, rules.REINSPECTED),
        ((decided("use"), looked(changes=("D-1: found",)), looked()), rules.DONE, ""),
        ((decided("rework"), fixed(), decided("defer")), rules.DEFERRED, rules.DECIDED),
    ],
)
def test_where_it_stands_follows_from_its_steps(steps, state, next_step) -> None:  # noqa: ANN001
    now = rules.standing(steps)
    assert (now.state, now.next) == (state, next_step)
    assert now.open == (state != rules.DONE)
    assert not rules.standing(steps, withdrawn=True).open


def test_who_did_any_of_it_or_let_it_stay_looks_with_no_fresh_eyes() -> None:
    assert rules.standing([decided("use", "edda")]).doers == {"edda"}
    assert rules.standing([decided("rework", "edda"), fixed("jory")]).doers == {"jory"}
    steps = [decided("rework"), fixed("jory"), looked(False), fixed("edda"), decided("use", "hal")]
    assert rules.standing(steps).doers == {"jory", "edda", "hal"}


STEP = st.tuples(
    st.sampled_from([rules.DECIDED, rules.FIXED, rules.REINSPECTED]),
    st.sampled_from(["edda", "jory", "hal"]),
    st.sampled_from([*rules.DISPOSITIONS, ""]),
    st.booleans(),
    st.sampled_from(["", "said"]),
)


@settings(deadline=None, max_examples=300, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(STEP, max_size=14), st.booleans())
def test_nothing_is_done_without_an_accepting_look_at_the_last_work(steps, independent) -> None:  # noqa: ANN001
    taken: list[rules.StepFacts] = []
    worked, marked, wrote = set[str](), False, False
    for kind, person, disposition, accepted, words in steps:
        now = rules.standing(taken)
        try:
            if kind == rules.DECIDED:
                rules.check_decide(now, disposition, words)
                step = rules.StepFacts(kind, person, disposition)
            elif kind == rules.FIXED:
                rules.check_fix(now, words)
                step = rules.StepFacts(kind, person)
                worked.add(person)
            else:
                more = {"accepted": accepted, "words": words, "independent": independent}
                marked = rules.check_reinspect(now, person=person, may_sign=True, **more)
                step = rules.StepFacts(kind, person, accepted=accepted)
        except Refusal as no:
            assert no.message.endswith(".")
            continue
        taken.append(step)
        wrote = True
        if rules.standing(taken).state == rules.DONE:
            last, last_decision = taken[-1], [s for s in taken if s.kind == rules.DECIDED][-1]
            assert last.kind == rules.REINSPECTED and last.accepted
            assert last_decision.disposition != rules.DEFER
            after = taken[taken.index(last_decision) :]
            if last_decision.disposition in rules.TO_CORRECT:
                assert [s.kind for s in taken[-2:]] == [rules.FIXED, rules.REINSPECTED] or any(
                    s.kind == rules.FIXED for s in after
                )
            own = last.person in worked or (
                last_decision.disposition == rules.USE_AS_IS and last.person == last_decision.person
            )
            assert marked == own
            assert not (own and independent)
    if wrote and rules.standing(taken).state == rules.DONE:
        with pytest.raises(Refusal):
            rules.check_decide(rules.standing(taken), "rework", "again")


@pytest.mark.parametrize(
    ("check", "sentence"),
    [
        (lambda: rules.check_words("  "), "Say what was found."),
        (lambda: rules.check_decide(rules.standing([]), "", "x"), "Choose what is to become of it."),
        (lambda: rules.check_decide(rules.standing([]), "defer", " "), "Say until when or until what it is deferred."),
        (lambda: rules.check_decide(rules.standing([]), "use", ""), "Say why it can stay as it is"),
        (lambda: rules.check_decide(rules.standing([decided("use"), looked()]), "use", "x"), "a new discrepancy"),
        (lambda: rules.check_fix(rules.standing([]), "x"), "Decide first"),
        (lambda: rules.check_fix(rules.standing([decided("defer")]), "x"), "It was decided: defer. Decide anew first."),
        (lambda: rules.check_fix(rules.standing([decided("rework")]), ""), "Say what was done."),
        (lambda: reinspect([]), "Decide first"),
        (lambda: reinspect([decided("rework")]), "Tell first what was done, by whom and when."),
        (lambda: reinspect([decided("defer")]), "It is deferred."),
        (lambda: reinspect([decided("use"), looked()]), "nothing was changed since"),
        (lambda: reinspect([decided("rework"), fixed(), looked(False)]), "It was not accepted."),
        (lambda: reinspect([decided("use")], accepted=False), "Say what is not accepted."),
        (lambda: reinspect([decided("use", "hal")], independent=True), "Another person has to look."),
        (lambda: reinspect([decided("use")], may_sign=False), "Only an inspector or the builder signs."),
        (lambda: rules.check_withdraw(rules.standing([decided("use"), looked(changes=("x",))])), "stays on the list"),
        (lambda: rules.check_decide(rules.standing([], withdrawn=True), "use", "x"), "was withdrawn"),
    ],
)
def test_each_refusal_says_what_to_do(check, sentence: str) -> None:  # noqa: ANN001
    with pytest.raises(Refusal, match=re.escape(sentence)):
        check()


def reinspect(steps: list[rules.StepFacts], **more: object) -> bool:
    facts = {"person": "hal", "may_sign": True, "accepted": True, "words": "", "independent": False} | more
    return rules.check_reinspect(rules.standing(steps), **facts)


def test_not_accepting_ones_own_work_is_never_refused() -> None:
    assert reinspect([decided("use", "hal")], accepted=False, words="Too deep", independent=True)


# ---- commands ----


class Found:
    """One discrepancy with the people about it."""

    def __init__(self, authority: str = "US") -> None:
        cache.clear()
        self.project, self.edda = make_project(authority=authority)
        self.hal = make_person(
            self.project,
            "inspector",
            name="Hal Venning",
            certificate_kind="A&P mechanic",
            certificate_number="DEMO-0417",
        )
        self.jory = make_person(self.project, "helper", name="Jory")
        self.hull = make_assembly(self.edda, "10", name="Hull")
        self.deck = make_assembly(self.edda, "10.1", name="Deck", parent=self.hull)
        self.area = make_area(self.edda, self.hull, number="10-C1", name="Aft tank")
        self.part = make_part(self.edda, self.deck, "TW2-0007", name="Deck beam")
        self.photo = make_photo(self.edda)
        self.one = self.find(photos=[self.photo])

    def find(self, **more: object) -> Discrepancy:
        values = {"by": self.edda, "at": NOW, "words": "Void at the fillet, 12 mm long", "severity": "major"} | more
        return commands.find(project=self.project, assembly=values.pop("assembly", self.deck), **values)

    def decide(self, disposition: str = "rework", at=NOW + HOUR, **more: object) -> DiscrepancyStep:  # noqa: ANN001
        values = {"by": self.edda, "words": "Grind out and refill"} | more
        return commands.decide(at=at, discrepancy=self.one, disposition=disposition, **values)

    def fix(self, by: Person | None = None, at=NOW + 2 * HOUR, **more: object) -> DiscrepancyStep:  # noqa: ANN001
        values = {"words": "Ground out, refilled with flox"} | more
        return commands.fix(by=by or self.edda, at=at, discrepancy=self.one, **values)

    def look(self, accepted: bool = True, by: Person | None = None, at=NOW + 3 * HOUR, **more: object):  # noqa: ANN001, ANN201
        return commands.reinspect(by=by or self.hal, at=at, discrepancy=self.one, accepted=accepted, **more)

    def through(self) -> "Found":
        self.decide()
        self.fix()
        self.look()
        return self

    @property
    def now(self) -> queries.JudgedDiscrepancy:
        return commands.judged(Discrepancy.objects.select_related("project").get(pk=self.one.pk))

    def url(self, name: str, *more: object) -> str:
        return reverse(f"inspections:{name}", args=[self.project.slug, *more])


@pytest.fixture
def found(db: None) -> Found:
    return Found()


def entries() -> list[str]:
    return list(Entry.objects.order_by("seq").values_list("verb", flat=True))


def test_the_whole_way_leaves_one_entry_a_command_and_the_signature(found: Found) -> None:
    before = len(entries())
    found.through()
    assert entries()[before:] == ["discrepancy.decided", "discrepancy.fixed", "signed", "discrepancy.reinspected"]
    signature = Signature.objects.get()
    assert found.now.state == rules.DONE
    assert found.now.accepted_by.step.signature == signature.pk
    assert signature.under == found.one.subject and signature.accepted and not signature.self_inspected
    assert (signature.certificate_kind, signature.certificate_number) == ("A&P mechanic", "DEMO-0417")
    labels = [item["label"] for item in signature.covers]
    assert labels == ["D-1", f"{found.photo.label}, as found", "Step 1, disposition", "Step 2, correction"]


def test_numbers_go_on_and_are_not_given_twice(found: Found) -> None:
    second = found.find()
    commands.withdraw(by=found.edda, at=NOW, discrepancy=second, reason="Twice")
    assert [found.one.label, second.label, found.find().label] == ["D-1", "D-2", "D-3"]
    other, edda = make_project("Other")
    assembly = make_assembly(edda, "1")
    made = commands.find(by=edda, at=NOW, project=other, assembly=assembly, words="A crack", severity="minor")
    assert made.label == "D-1"


def test_who_found_it_may_be_another_than_who_enters_it(found: Found) -> None:
    one = found.find(found_by=found.hal, found_at=NOW - HOUR)
    assert (one.found_by, one.entered_by, one.found_at, one.entered_at) == (found.hal, found.edda, NOW - HOUR, NOW)


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"found_at": NOW + HOUR}, "found_at"),
        ({"words": " "}, "words"),
        ({"part": "deck beam", "assembly": "hull"}, "part"),
        ({"area": "aft tank", "assembly": "other"}, "area"),
    ],
)
def test_a_finding_that_cannot_be_is_refused_at_its_field(found: Found, more: dict, field: str) -> None:
    wing = make_assembly(found.edda, "30")
    things = {"deck beam": found.part, "aft tank": found.area, "hull": found.hull, "other": wing}
    values = {name: things.get(value, value) if isinstance(value, str) else value for name, value in more.items()}
    with pytest.raises(Refusal) as refused:
        found.find(**values)
    assert refused.value.field == field
    assert Discrepancy.objects.count() == 1


def test_an_area_takes_what_is_found_on_its_assembly_and_below(found: Found) -> None:
    assert found.find(area=found.area).area == found.area
    assert found.find(area=found.area, assembly=found.hull).area == found.area


def test_steps_of_one_moment_stay_in_their_order(found: Found) -> None:
    for _ in range(6):
        found.decide(at=NOW)
        found.fix(at=NOW)
    kinds = [told.step.kind for told in found.now.steps]
    assert kinds == [rules.DECIDED, rules.FIXED] * 6


def test_a_step_lies_neither_ahead_nor_before_the_finding(found: Found) -> None:
    for when, words in ((NOW + 9 * HOUR, "lies ahead"), (NOW - HOUR, "before it was found")):
        with pytest.raises(Refusal, match=words) as refused:
            found.decide(done_at=when)
        assert refused.value.field == "done_at"
    found.decide()
    with pytest.raises(Refusal, match="before it was found"):
        found.fix(done_at=NOW - HOUR)
    assert found.fix(person=found.jory, done_at=NOW).person == found.jory


@pytest.mark.parametrize("authority", ["CA", "UK"])
def test_where_another_pair_of_eyes_is_asked_nobody_accepts_his_own_work(authority: str, db: None) -> None:
    found = Found(authority)
    found.decide()
    found.fix()
    with pytest.raises(Refusal, match="Another person has to look"):
        found.look(by=found.edda)
    assert not Signature.objects.exists() and found.now.state == rules.TO_INSPECT
    assert not found.look().self_inspected


@pytest.mark.parametrize("authority", ["US", "AU", "other"])
def test_elsewhere_ones_own_work_is_accepted_and_marked(authority: str, db: None) -> None:
    found = Found(authority)
    found.decide()
    found.fix()
    assert found.look(by=found.edda).self_inspected
    assert Signature.objects.get().self_inspected and found.now.self_inspected
    assert "self-inspected" in rules.step_in_words(
        {"kind": "Inspection after it", "disposition": "", "accepted": True, "words": "", "self_inspected": True}
    )


def test_who_only_decided_a_rework_may_accept_what_another_did(db: None) -> None:
    found = Found("CA")
    found.decide()
    found.fix(by=found.jory)
    assert not found.look(by=found.edda).self_inspected


def test_a_helper_signs_nothing(found: Found) -> None:
    found.decide("use")
    with pytest.raises(Refusal, match="Only an inspector or the builder signs"):
        found.look(by=found.jory)


def test_not_accepted_goes_back_and_stays_readable(found: Found) -> None:
    found.decide()
    found.fix()
    found.look(False, words="Still soft at the end")
    signature = Signature.objects.get()
    assert (signature.outcome, signature.reason) == ("not_accepted", "Still soft at the end")
    assert found.now.state == rules.NOT_ACCEPTED and found.now.blocking
    with pytest.raises(Refusal, match="not accepted"):
        found.look()
    found.fix(at=NOW + 4 * HOUR)
    found.look(at=NOW + 5 * HOUR)
    assert found.now.state == rules.DONE and len(found.now.steps) == 5


def test_nobody_signs_what_was_changed_while_he_read(found: Found) -> None:
    found.decide()
    found.fix()
    with pytest.raises(Refusal) as refused:
        found.look(seen="sha256:" + "0" * 64)
    assert refused.value.code == "changed_meanwhile" and not Signature.objects.exists()


def change_words(found: Found) -> None:
    commands.correct(by=found.edda, at=NOW + 4 * HOUR, discrepancy=found.one, reason="Measured", words="Void, 21 mm")


def change_blocks(found: Found) -> None:
    commands.correct(by=found.edda, at=NOW + 4 * HOUR, discrepancy=found.one, reason="Outside", blocks=False)


def change_caption(found: Found) -> None:
    evidence.describe_photo(by=found.edda, at=NOW + 4 * HOUR, photo=found.photo, caption="The fillet")


def change_marks(found: Found) -> None:
    ring = evidence.MarkFacts("ring", (2000, 2000, 6000, 6000), "", "")
    evidence.mark_photo(
        by=found.edda, at=NOW + 4 * HOUR, photo=found.photo, marks=[ring], seen=evidence_queries.marks_token([])
    )


def take_photo_away(found: Found) -> None:
    commands.take_away_photo(by=found.edda, at=NOW + 4 * HOUR, found_photo=FoundPhoto.objects.get())


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (change_words, "what was found, signed as 'Void at the fillet, 12 mm long', now 'Void, 21 mm'"),
        (change_blocks, "closing, signed as 'blocked', now 'not blocked'"),
        (change_caption, "caption, signed empty, now 'The fillet'"),
        (change_marks, "marks drawn"),
        (take_photo_away, "no longer in place"),
    ],
)
def test_what_is_changed_after_it_was_accepted_opens_it_again_until_somebody_looks(found: Found, change, words) -> None:  # noqa: ANN001
    found.through()
    change(found)
    now = Found.now.fget(found)
    assert now.state == rules.CHANGED and now.open and words in " ".join(now.changes)
    found.one.refresh_from_db()
    found.look(at=NOW + 5 * HOUR)
    assert found.now.state == rules.DONE
    assert [bool(told.changes) for told in found.now.steps if told.signature] == [True, False]


def test_what_was_accepted_is_not_withdrawn(found: Found) -> None:
    found.through()
    with pytest.raises(Refusal, match="stays on the list"):
        commands.withdraw(by=found.edda, at=NOW, discrepancy=found.one, reason="Twice")
    change_words(found)
    with pytest.raises(Refusal, match="stays on the list"):
        commands.withdraw(by=found.edda, at=NOW, discrepancy=found.one, reason="Twice")


def test_a_correction_keeps_its_reason_and_a_withdrawn_one_takes_nothing(found: Found) -> None:
    with pytest.raises(Refusal, match="Say why"):
        commands.correct(by=found.edda, at=NOW, discrepancy=found.one, reason=" ", words="Other")
    before = len(entries())
    found.one.refresh_from_db()
    commands.correct(by=found.edda, at=NOW, discrepancy=found.one, reason="", words=found.one.words)
    assert len(entries()) == before, "nothing changed, nothing written"
    change_words(found)
    assert Entry.objects.order_by("-seq").first().reason == "Measured"
    commands.withdraw(by=found.edda, at=NOW, discrepancy=found.one, reason="Not here")
    for act in (found.decide, lambda: change_blocks(found), lambda: commands.show_photos(**photo_of(found))):
        with pytest.raises(Refusal, match="withdrawn"):
            act()


def photo_of(found: Found) -> dict:
    return {"by": found.edda, "at": NOW, "discrepancy": found.one, "photos": [found.photo], "phase": "corrected"}


def test_the_same_photo_twice_writes_nothing_and_may_stand_in_both_phases(found: Found) -> None:
    before = len(entries())
    commands.show_photos(**photo_of(found) | {"phase": "found"})
    assert len(entries()) == before
    commands.show_photos(**photo_of(found))
    commands.show_photos(**photo_of(found))
    assert entries()[before:] == ["discrepancy.photo_shown"]
    assert len(found.now.found_photos) == len(found.now.corrected_photos) == 1


# ---- queries ----


def test_the_open_ones_that_block_stand_under_their_assembly(found: Found) -> None:
    found.find(blocks=False)
    on_hull = found.find(assembly=found.hull)
    assert queries.open_blocking(found.project) == {found.deck.pk: [found.one], found.hull.pk: [on_hull]}
    found.through()
    assert queries.open_blocking(found.project) == {found.hull.pk: [on_hull]}
    change_caption(found)
    assert found.deck.pk in queries.open_blocking(found.project)


def test_deferring_does_not_unblock(found: Found) -> None:
    found.decide("defer", words="Until the first flight")
    assert found.deck.pk in queries.open_blocking(found.project)
    change_blocks(found)
    assert not queries.open_blocking(found.project)


def test_judging_takes_a_fixed_number_of_queries(found: Found) -> None:
    def counted() -> int:
        with CaptureQueriesContext(connection) as captured:
            queries.judged(found.project)
        return len(captured)

    found.through()
    few = counted()
    for _ in range(4):
        one = Found.find(found, photos=[make_photo(found.edda)])
        commands.decide(by=found.edda, at=NOW, discrepancy=one, disposition="use", words="Within 15 mm")
        commands.reinspect(by=found.hal, at=NOW, discrepancy=one, accepted=True)
    assert counted() == few <= 5


def test_the_list_filters_and_counts(found: Found) -> None:
    other = found.find(severity="safety", blocks=False, assembly=found.hull, found_by=found.hal, area=found.area)
    on_part = found.find(part=found.part)

    def shown(**wanted: object) -> set[int]:
        return {one.discrepancy.number for one in queries.listed(found.project, queries.Wanted(**wanted)).shown}

    assert shown() == {1, 2, 3}
    assert shown(blocks=True) == {1, 3} and shown(severity="safety") == {2}
    assert shown(assembly=found.hull) == {1, 2, 3} and shown(assembly=found.deck) == {1, 3}
    assert shown(area=found.area) == {other.number} and shown(part=found.part) == {on_part.number}
    assert shown(found_by=found.hal) == {other.number}
    found.through()
    listed = queries.listed(found.project, queries.Wanted())
    assert listed.counts == {"open": 2, "done": 1, "all": 3} and listed.blocking == 1
    assert shown(state="done") == {1} and shown(state="all") == {1, 2, 3}
    assert [one.discrepancy.number for one in listed.shown] == [3, 2], "those that block come first"


def test_its_photos_have_a_home(found: Found) -> None:
    assert found.photo not in evidence_queries.shown(found.project, evidence_queries.Wanted(unplaced=True))
    assert found.photo in evidence_queries.photos_on(found.hull)
    commands.withdraw(by=found.edda, at=NOW, discrepancy=found.one, reason="Twice")
    assert found.photo in evidence_queries.shown(found.project, evidence_queries.Wanted(unplaced=True))


# ---- pages ----

ROUTES = {
    "discrepancies": "read",
    "discrepancies_print": "read",
    "discrepancy": "read",
    "discrepancy_new": "find",
    "discrepancy_photo": "find",
    "discrepancy_fix": "log",
    "discrepancy_edit": "edit",
    "discrepancy_withdraw": "edit",
    "discrepancy_decide": "edit",
    "discrepancy_reinspect": "sign",
}
MAY = {
    "builder": {"read", "log", "find", "edit", "sign"},
    "helper": {"read", "log", "find"},
    "inspector": {"read", "find", "sign"},
    "reader": {"read"},
}


def address(found: Found, name: str) -> str:
    more = {"discrepancies": (), "discrepancies_print": (), "discrepancy_new": ()}.get(name, (found.one.pk,))
    return found.url(name, *more, *(("found",) if name == "discrepancy_photo" else ()))


def member(found: Found, role: str) -> Person:
    known = {"builder": found.edda, "helper": found.jory, "inspector": found.hal}
    return known.get(role) or make_person(found.project, role)


def text(answer) -> str:  # noqa: ANN001
    body = re.search(r"<main.*?</main>", answer.content.decode(), re.S).group()
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


def links(answer) -> list[str]:  # noqa: ANN001
    body = re.search(r"<main.*?</main>", answer.content.decode(), re.S).group()
    return [unescape(url) for url in re.findall(r'<a[^>]*href="(/[^"#]*)', body)]


@pytest.mark.parametrize("role", MAY)
@pytest.mark.parametrize("name", ROUTES)
def test_each_page_opens_for_those_who_may_and_tells_the_others(found: Found, role: str, name: str) -> None:
    answer = client_for(member(found, role)).get(address(found, name))
    assert answer.status_code == (200 if ROUTES[name] in MAY[role] else 403)
    if answer.status_code == 403:
        assert "Only" in answer.content.decode()


@pytest.mark.parametrize("name", ROUTES)
def test_strangers_and_keys_of_another_project_find_nothing(found: Found, name: str) -> None:
    project, other = make_project("Other")
    client = client_for(other)
    assert client.get(address(found, name)).status_code == 404
    if name not in {"discrepancies", "discrepancies_print", "discrepancy_new"}:
        url = address(found, name).replace(f"/{found.project.slug}/", f"/{project.slug}/")
        assert client.get(url).status_code == 404 and client.post(url, {"reason": "x"}).status_code in {404, 405}
    assert Client().get(address(found, name)).status_code == 302


@pytest.mark.parametrize("state", ["found", "rework", "fixed", "use", "defer", "not", "done", "changed", "withdrawn"])
@pytest.mark.parametrize("role", MAY)
def test_nobody_is_offered_what_he_may_not_do(found: Found, role: str, state: str) -> None:
    bring(found, state)
    client = client_for(member(found, role))
    for name in ("discrepancy", "discrepancies"):
        for url in links(client.get(address(found, name))):
            assert client.get(url).status_code in {200, 302}, f"{name} leads to {url}"


def bring(found: Found, state: str) -> None:
    """Bring the discrepancy into a state."""
    if state in {"rework", "fixed", "not", "done", "changed"}:
        found.decide()
    if state in {"fixed", "not", "done", "changed"}:
        found.fix()
    if state in {"use", "defer"}:
        found.decide(state)
    if state in {"not", "done", "changed"}:
        found.look(state != "not", words="Soft")
    if state == "changed":
        change_caption(found)
    if state == "withdrawn":
        commands.withdraw(by=found.edda, at=NOW, discrepancy=found.one, reason="Twice")


def picture(**more: object) -> SimpleUploadedFile:
    return SimpleUploadedFile("void.jpg", picture_bytes(seed=4711, **more), content_type="image/jpeg")


def typed(found: Found, **more: object) -> dict:
    return {
        "words": "Wrong drill, 4.8 for 4.1",
        "severity": "minor",
        "blocks": "on",
        "assembly": found.deck.pk,
        "area": "",
        "part": "",
        "found_by": found.edda.pk,
        "found_at": f"{timezone.localtime(timezone.now() - HOUR, found.project.zone):%Y-%m-%dT%H:%M}",
    } | more


@pytest.mark.parametrize("role", ["builder", "helper", "inspector"])
def test_recording_one_with_a_photo_leads_to_its_page_where_it_can_be_marked(found: Found, role: str) -> None:
    client = client_for(member(found, role))
    answer = client.post(found.url("discrepancy_new"), typed(found, new_photos=picture()), follow=True)
    made = Discrepancy.objects.get(number=2)
    assert answer.redirect_chain[-1][0] == found.url("discrepancy", made.pk)
    photo = made.found_photos.get().photo
    marks = reverse("evidence:photo_marks", args=[found.project.slug, photo.pk])
    assert (marks in links(answer)) == (role != "inspector"), "marks are drawn by those who log"
    assert "Wrong drill, 4.8 for 4.1" in text(answer) and made.blocks


def test_what_was_typed_and_sent_stays_when_it_is_refused(found: Found) -> None:
    client = client_for(found.edda)
    ahead = f"{timezone.localtime(timezone.now() + 9 * HOUR, found.project.zone):%Y-%m-%dT%H:%M}"
    data = typed(found, found_at=ahead, severity="safety", new_photos=picture())
    answer = client.post(found.url("discrepancy_new"), data)
    page = answer.content.decode()
    assert answer.status_code == 422 and "lies ahead" in page and "Wrong drill, 4.8 for 4.1</textarea>" in page
    assert 'value="safety" checked' in page and ahead in page
    photo = re.search(r'name="photos" value="(\w+)"', page).group(1)
    client.post(found.url("discrepancy_new"), typed(found, photos=photo))
    assert Discrepancy.objects.get(number=2).found_photos.get().photo_id == photo


def test_a_file_that_is_no_photo_is_told_and_the_rest_stays(found: Found) -> None:
    bad = SimpleUploadedFile("notes.jpg", b"not a picture", content_type="image/jpeg")
    answer = client_for(found.edda).post(found.url("discrepancy_new"), typed(found, new_photos=bad))
    assert answer.status_code == 422 and "notes.jpg" in text(answer)
    assert Discrepancy.objects.count() == 1


@pytest.mark.parametrize("name", ["area", "part", "assembly"])
def test_the_address_says_where(found: Found, name: str) -> None:
    thing = {"area": found.area, "part": found.part, "assembly": found.deck}[name]
    page = client_for(found.edda).get(f"{found.url('discrepancy_new')}?{name}={thing.pk}").content.decode()
    assert f'<option value="{thing.pk}" selected>' in page
    above = {"area": found.hull, "part": found.deck, "assembly": found.deck}[name]
    assert f'<option value="{above.pk}" selected>' in page


def test_the_assembly_follows_from_the_part(found: Found) -> None:
    client_for(found.edda).post(found.url("discrepancy_new"), typed(found, assembly="", part=found.part.pk))
    assert Discrepancy.objects.get(number=2).assembly == found.deck
    answer = client_for(found.edda).post(found.url("discrepancy_new"), typed(found, assembly=""))
    assert answer.status_code == 422 and "Choose the assembly, or a part or an area of it." in text(answer)


def test_places_and_people_of_another_project_are_no_choice(found: Found) -> None:
    other, edda = make_project("Other")
    for field, value in (("assembly", make_assembly(edda, "1").pk), ("found_by", edda.pk)):
        answer = client_for(found.edda).post(found.url("discrepancy_new"), typed(found, **{field: value}))
        assert answer.status_code == 422
    assert Discrepancy.objects.count() == 1


def test_the_way_through_the_pages(found: Found) -> None:
    edda, hal = client_for(found.edda), client_for(found.hal)
    when = f"{timezone.localtime(timezone.now(), found.project.zone):%Y-%m-%dT%H:%M}"
    said = {"person": found.edda.pk, "done_at": when}
    bad = edda.post(address(found, "discrepancy_decide"), said | {"disposition": "defer", "words": ""})
    assert bad.status_code == 422 and "Say until when" in text(bad) and 'value="defer" checked' in bad.content.decode()
    edda.post(address(found, "discrepancy_decide"), said | {"disposition": "repair", "words": "Scarf a patch"})
    bad = edda.post(address(found, "discrepancy_fix"), said | {"words": ""})
    assert bad.status_code == 422 and "Say what was done." in text(bad)
    edda.post(address(found, "discrepancy_fix"), said | {"words": "Patched, 3 plies", "new_photos": picture()})
    assert "To be inspected again" in text(edda.get(address(found, "discrepancy")))
    page = hal.get(address(found, "discrepancy_reinspect"))
    assert "Scarf a patch" in text(page) and "Patched, 3 plies" in text(page)
    seen = re.search(r'name="seen" value="([^"]+)"', page.content.decode()).group(1)
    sign = {"seen": seen, "agreed": "on", "password": PASSWORD, "accepted": "no", "words": ""}
    for wrong, words in (
        ({"accepted": ""}, "Choose whether you accept it."),
        ({"password": "no"}, "not this account's password"),
        ({"agreed": ""}, "Tick this"),
        ({}, "Say what is not accepted."),
    ):
        answer = hal.post(address(found, "discrepancy_reinspect"), sign | wrong)
        assert answer.status_code == 422 and words in text(answer), words
        assert 'name="agreed" checked' not in answer.content.decode()
    assert not Signature.objects.exists()
    answer = hal.post(address(found, "discrepancy_reinspect"), sign | {"accepted": "yes"}, follow=True)
    assert "Signed by Hal Venning." in text(answer) and "Done" in text(answer)
    assert "D-1 inspected again" in text(answer) and "A&P mechanic DEMO-0417" in text(answer)


def test_what_was_changed_while_he_read_is_not_signed(found: Found) -> None:
    found.decide("use")
    hal = client_for(found.hal)
    page = hal.get(address(found, "discrepancy_reinspect")).content.decode()
    seen = re.search(r'name="seen" value="([^"]+)"', page).group(1)
    change_caption(found)
    sign = {"seen": seen, "agreed": "on", "password": PASSWORD, "accepted": "yes", "words": ""}
    answer = hal.post(address(found, "discrepancy_reinspect"), sign)
    assert answer.status_code == 422 and "was changed while you read" in text(answer)


def test_self_inspected_shows_on_page_list_and_print(found: Found) -> None:
    found.decide()
    found.fix()
    assert "Self-inspected" in text(client_for(found.edda).get(address(found, "discrepancy_reinspect")))
    found.look(by=found.edda)
    client = client_for(found.edda)
    assert "Self-inspected" in text(client.get(address(found, "discrepancy")))
    assert "Self-inspected" in text(client.get(address(found, "discrepancies") + "?state=done"))
    printed = client.get(address(found, "discrepancies_print") + "?state=done")
    assert "self-inspected" in words_of(printed.content)


def test_correcting_by_the_page_keeps_the_seconds_and_asks_why(found: Found) -> None:
    client = client_for(found.edda)
    Discrepancy.objects.filter(pk=found.one.pk).update(found_at=NOW + timedelta(seconds=17))
    page = client.get(address(found, "discrepancy_edit")).content.decode()
    when = re.search(r'name="found_at" value="([^"]+)"', page).group(1)
    data = typed(found, found_at=when, words="Void, 21 mm", severity="major")
    assert "Say why it is corrected" in text(client.post(address(found, "discrepancy_edit"), data))
    answer = client.post(address(found, "discrepancy_edit"), data | {"reason": "Measured"}, follow=True)
    assert found.now.discrepancy.found_at == NOW + timedelta(seconds=17)
    assert "Void, 21 mm" in text(answer) and "Reason: Measured" in text(answer)


def test_photos_are_added_chosen_and_taken_away(found: Found) -> None:
    client, url = client_for(found.edda), found.url("discrepancy_photo", found.one.pk, "corrected")
    assert client.post(url).status_code == 422
    assert client.get(found.url("discrepancy_photo", found.one.pk, "later")).status_code == 404
    client.post(url, {"new_photos": picture(), "file_time": ""})
    kept = make_photo(found.edda, places=[found.deck])
    assert kept.label in text(client.get(url))
    client.post(url, {"photos": [kept.pk]})
    assert len(found.now.corrected_photos) == 2
    row = found.now.corrected_photos[0]
    away = found.url("discrepancy_photo_away", found.one.pk, row.pk)
    assert client.get(away).status_code == 405
    assert client_for(found.hal).post(away).status_code == 403
    client.post(away)
    assert len(found.now.corrected_photos) == 1


def test_a_withdrawn_one_stays_readable_and_takes_nothing(found: Found) -> None:
    client = client_for(found.edda)
    client.post(address(found, "discrepancy_withdraw"), {"reason": "Twice"})
    words = text(client.get(address(found, "discrepancy")))
    assert "Withdrawn" in words and "Reason: Twice" in words
    for name in ("edit", "decide", "fix", "reinspect", "withdraw"):
        assert client.get(address(found, f"discrepancy_{name}")).status_code == 404
    assert "D-1" not in text(client.get(address(found, "discrepancies") + "?state=all"))


def test_the_filter_works_by_its_address_and_says_what_it_cannot_read(found: Found) -> None:
    found.find(words="Crack in the rib", severity="safety", assembly=found.hull)
    client = client_for(found.edda)
    words = text(client.get(found.url("discrepancies") + "?severity=safety"))
    assert "Crack in the rib" in words and "Void at the fillet" not in words
    assert client.get(found.url("discrepancies") + "?assembly=nowhere").status_code == 422


def test_the_pages_of_its_assembly_and_area_show_it_and_lead_to_a_new_one(found: Found) -> None:
    found.find(words="Dent in the tank wall", assembly=found.hull, area=found.area)
    client = client_for(found.jory)
    for name, thing, said in (("assembly", found.deck, "Void at the fillet"), ("area", found.area, "Dent in the tank")):
        answer = client.get(found.url(name, thing.pk))
        assert said in text(answer)
        assert f"{found.url('discrepancy_new')}?{name}={thing.pk}" in links(answer)


def test_what_people_typed_is_shown_as_text(found: Found) -> None:
    found.find(words="<script>1</script>", assembly=found.deck)
    page = client_for(found.edda).get(found.url("discrepancies")).content.decode()
    assert "<script>1" not in page and "&lt;script&gt;1" in page


# ---- the print ----


def words_of(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages).split())


def test_the_print_tells_all_of_the_open_ones_and_leaves_boxes_to_sign(found: Found) -> None:
    found.decide(words="Grind out and refill")
    change_marks(found)
    found.find(words="Crack in the rib", severity="safety", blocks=False, part=found.part)
    done = found.find(words="Long settled")
    commands.decide(by=found.edda, at=NOW, discrepancy=done, disposition="use", words="Within limits")
    commands.reinspect(by=found.hal, at=NOW, discrepancy=done, accepted=True)
    answer = client_for(found.edda).get(found.url("discrepancies_print"))
    assert answer["Content-Type"] == "application/pdf" and "no-store" in answer["Cache-Control"]
    words = words_of(answer.content)
    for said in (
        "Open discrepancies",
        "D-1",
        "Void at the fillet, 12 mm long",
        "10.1 Deck",
        "Major",
        "Blocks closing",
        "Disposition: Rework, Edda Norrell",
        "Grind out and refill",
        found.photo.label,
        "D-2",
        "Flight safety",
        "Does not block",
        "Deck beam",
        "Seen",
        "Not accepted",
        "Signature",
        "Printed name",
        "Certificate kind and number",
        "Date",
        "Tarnwader 2",
        "N0-DEMO",
        "1 of 1",
    ):
        assert said in words, said
    assert "Long settled" not in words and "airworthy" not in words.lower()


def test_a_long_print_numbers_its_sheets_and_keeps_boxes_with_their_discrepancy(found: Found) -> None:
    for number in range(7):
        found.find(words=f"Finding {number}: " + "a long tale of what was seen. " * 20)
    content = pages.print_discrepancies(found.project, queries.judged(found.project), "Open discrepancies", NOW)
    reader = PdfReader(BytesIO(content))
    assert len(reader.pages) > 2
    for place, page in enumerate(reader.pages, start=1):
        assert f"{place} of {len(reader.pages)}" in page.extract_text()
    assert words_of(content).count("Printed name") == 8
    assert not [line for line in words_of(content).split() if "\ufffd" in line]


def test_a_tale_longer_than_a_sheet_goes_on_and_an_empty_list_says_so(found: Found) -> None:
    found.find(words="End to end. " * 700)
    content = pages.print_discrepancies(found.project, queries.judged(found.project), "All discrepancies", NOW)
    assert "D-2, continued" in words_of(content) and words_of(content).count("End to end.") == 700
    empty = pages.print_discrepancies(found.project, [], "Open discrepancies", NOW)
    assert "None: there is nothing of this kind in the record." in words_of(empty)


def test_the_print_is_without_color(found: Found) -> None:
    content = pages.print_discrepancies(found.project, queries.judged(found.project), "Open discrepancies", NOW)
    for page in PdfReader(BytesIO(content)).pages:
        drawn = page.get_contents().get_data().decode("latin-1")
        for red, green, blue in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)\b", drawn):
            assert red == green == blue
        for image in page.images:
            assert image.image.mode == "L"
