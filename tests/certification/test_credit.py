"""Lists of tasks and credit, through the pages: what is kept, refused, compared and only counted."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from accounts.models import Person
from archive.queries import faults
from calc.major_portion import COLUMNS
from certification.commands import credit as commands
from certification.models import Credit, CreditPlace, TaskList
from certification.queries import credit as queries
from certification.rules import credit as rules
from foundation.refusal import Refusal
from journal.models import Entry
from tests.factories import NOW, client_for, make_assembly, make_part, make_person, make_project, make_session

pytestmark = pytest.mark.django_db
HEAD = "section,section_title,task_id,task_text\n"
LIST = HEAD + "F,Fuselage,F1,Fabricate Members\nF,Fuselage,F2,Fabricate Skins\nW,Wings,W1,Fabricate Spars\n"
SAID = {"title": "Own list", "edition": "2026-05", "source": "Typed from the form"}


@pytest.fixture
def edda() -> Person:
    return make_project()[1]


@pytest.fixture
def client(edda: Person) -> Client:
    return client_for(edda)


def take(by: Person, text: str = LIST, **more: Any) -> TaskList:
    said = {**SAID, "sections": rules.read(text).sections, "at": NOW} | more
    return commands.take_up_list(by=by, project=by.project, **said)


def give(by: Person, code: str, a: int = 0, b: int = 0, c: int = 0, d: int = 0, **more: Any) -> Credit:
    tenths = dict(zip(COLUMNS, (a, b, c, d), strict=True))
    return commands.give_credit(by=by, at=more.pop("at", NOW), project=by.project, code=code, tenths=tenths, **more)


def posted(a: int = 0, b: int = 0, c: int = 0, d: int = 0, **more: Any) -> dict[str, Any]:
    return {**dict(zip(COLUMNS, (a, b, c, d), strict=True)), "applies": "yes", "reason": "", "part": ""} | more


# ---- taking a list up ----


def test_without_a_list_the_page_offers_one(client: Client) -> None:
    page = client.get("/tarnwader-2/credit/").content.decode()
    assert "No list of tasks yet" in page
    assert "not the official form" in page


def test_the_starter_list_is_taken_up_and_always_says_that_it_is_not_official(client: Client, edda: Person) -> None:
    assert "172 tasks" in client.get("/tarnwader-2/credit/lists/starter/").content.decode()
    assert client.post("/tarnwader-2/credit/lists/starter/").status_code == 302
    row = TaskList.objects.get()
    assert not row.official
    assert Entry.objects.get(subject=row.subject).verb == "tasklist.taken"
    warning = "Starter list, not the official form. Load the official list before you rely on this."
    paths = ("", "evidence/", "what-if/", "lists/", f"lists/{row.pk}/", "task/F1/", "add/")
    for path in paths:
        assert warning in client.get(f"/tarnwader-2/credit/{path}").content.decode(), path
    assert queries.credit_facts(edda.project)["caution"] == warning
    assert client.post("/tarnwader-2/credit/lists/starter/").status_code == 422
    assert TaskList.objects.count() == 1


def test_an_own_list_is_read_shown_and_only_then_taken_up(client: Client) -> None:
    file = SimpleUploadedFile("tasks.csv", ("\ufeff" + LIST).encode())
    # Even with the button for taking it up, a file is shown first: it has not been seen yet.
    page = client.post("/tarnwader-2/credit/lists/new/", {**SAID, "file": file, "take": "1"})
    assert page.status_code == 200
    assert b"3 tasks read, none taken up yet" in page.content
    assert not TaskList.objects.exists()
    text = page.context["form"]["text"].value()
    assert client.post("/tarnwader-2/credit/lists/new/", {**SAID, "text": text, "take": "1"}).status_code == 302
    row = TaskList.objects.get()
    assert rules.read(LIST).sections == queries.sections_of(row)
    assert queries.kept(queries.sections_of(row))[1] == row.digest
    shown = client.get("/tarnwader-2/credit/").content.decode()
    assert "Own list, not the official form." in shown


def test_the_official_list_carries_no_warning(client: Client) -> None:
    client.post("/tarnwader-2/credit/lists/new/", {**SAID, "text": LIST, "official": "on", "take": "1"})
    assert "not the official form" not in client.get("/tarnwader-2/credit/").content.decode()


def test_faults_are_told_by_line_and_nothing_typed_is_lost(client: Client) -> None:
    text = LIST + "W,Wings,W1,Twice\nW,Wings,,No number\n"
    file = SimpleUploadedFile("tasks.csv", text.encode())
    page = client.post("/tarnwader-2/credit/lists/new/", {**SAID, "file": file})
    assert page.status_code == 422
    said = page.content.decode()
    assert "Line 5" in said and "stands in line 4 already" in said
    assert "Line 6" in said and "task_id is empty" in said
    assert page.context["form"]["text"].value().replace("\r\n", "\n") == text
    assert SAID["source"] in said
    # Still wrong and confirmed: still nothing.
    assert client.post("/tarnwader-2/credit/lists/new/", {**SAID, "text": text, "take": "1"}).status_code == 422
    assert not TaskList.objects.exists()


def test_neither_file_nor_text_is_said(client: Client) -> None:
    page = client.post("/tarnwader-2/credit/lists/new/", {**SAID, "text": ""})
    assert page.status_code == 422
    assert "Choose a CSV file, or paste the lines." in page.content.decode()


def test_a_file_of_another_program_is_read(client: Client) -> None:
    for data in (LIST.replace("Spars", "Spärs").encode("cp1252"), LIST.encode("utf-16")):
        page = client.post("/tarnwader-2/credit/lists/new/", {**SAID, "file": SimpleUploadedFile("t.csv", data)})
        assert b"3 tasks read" in page.content


def test_a_newer_list_shows_what_changes_before_it_counts(client: Client, edda: Person) -> None:
    old = take(edda)
    give(edda, "F2", d=10)
    newer = HEAD + "F,Fuselage,F1,Fabricate Long Members\nW,Wings,W1,Fabricate Spars\nW,Wings,W2,Fabricate Ribs\n"
    page = client.post("/tarnwader-2/credit/lists/new/", {**SAID, "edition": "2027", "text": newer}).content.decode()
    assert "1 added" in page and "1 gone" in page and "1 worded anew" in page
    assert "1 credited task would be gone" in page
    client.post("/tarnwader-2/credit/lists/new/", {**SAID, "edition": "2027", "text": newer, "take": "1"})
    found = queries.sheet(edda.project)
    assert found.tasks and found.tasks.edition == "2027"
    assert [one.code for one in found.without_task] == ["F2"]
    assert (found.share.counted, found.share.builders) == (3, 0)
    assert "Credit whose task is gone" in client.get("/tarnwader-2/credit/").content.decode()
    assert client.get(f"/tarnwader-2/credit/lists/{old.pk}/").status_code == 200
    # Taken up by mistake: withdrawn, the old one counts again and the credit has its task.
    path = f"/tarnwader-2/credit/lists/{found.tasks.pk}/withdraw/"
    assert client.post(path, {"reason": ""}).status_code == 422
    assert client.post(path, {"reason": "wrong file"}).status_code == 302
    found = queries.sheet(edda.project)
    assert found.tasks == old
    assert found.share.builders == 10 and not found.without_task


def test_credit_without_a_task_can_be_withdrawn(client: Client, edda: Person) -> None:
    take(edda)
    row = give(edda, "F2", d=10)
    take(edda, HEAD + "W,Wings,W1,Fabricate Spars\n", edition="2", at=NOW + timedelta(days=1))
    assert client.get("/tarnwader-2/credit/task/F2/").status_code == 404
    path = f"/tarnwader-2/credit/gone/{row.pk}/withdraw/"
    assert client.post(path, {"reason": "credited under W1 now"}).status_code == 302
    assert not queries.sheet(edda.project).without_task


# ---- credit ----


def test_the_share_on_real_rows_counts_added_and_leaves_out_what_does_not_apply(edda: Person) -> None:
    """As MP-05 of the worked examples: N/A leaves the count, an added line enters it, both rules seen on the form."""
    take(edda)
    give(edda, "F1", c=10)
    give(edda, "F2", a=10)
    give(edda, "W1", applies=False, reason="No wing of this kind")
    commands.add_task(
        by=edda, at=NOW, project=edda.project, section="F", words="Added by builder", tenths={"builder_fabrication": 10}
    )
    share = queries.sheet(edda.project).share
    assert (share.counted, share.points, share.builders, share.others) == (3, 30, 20, 10)
    assert queries.percent_words(share) == "66.7 %"
    assert share.unbalanced == ()


def test_a_task_is_split_on_its_page_and_tied_to_places(client: Client, edda: Person) -> None:
    take(edda)
    hull, part = make_assembly(edda, "10", "Hull"), make_part(edda, make_assembly(edda, "20", "Wing"))
    said = posted(3, 1, 2, 3, reason="Kit stringers", assemblies=[hull.pk], part=part.pk)
    assert client.post("/tarnwader-2/credit/task/F1/", said).status_code == 302
    row = Credit.objects.get()
    assert (queries.tenths_of(row), row.reason) == (dict(zip(COLUMNS, (3, 1, 2, 3), strict=True)), "Kit stringers")
    assert {str(one.assembly or one.part) for one in row.places.all()} == {str(hull), str(part)}
    page = client.get("/tarnwader-2/credit/task/F1/").content.decode()
    assert "Nobody's yet" in page
    # The same again changes nothing; taking a place away is one entry and needs no reason.
    same = posted(3, 1, 2, 3, reason="Kit stringers", assemblies=[hull.pk], tied_parts=[part.pk])
    entries = Entry.objects.count()
    client.post("/tarnwader-2/credit/task/F1/", same)
    assert Entry.objects.count() == entries
    client.post("/tarnwader-2/credit/task/F1/", {**same, "tied_parts": []})
    assert Entry.objects.order_by("-seq").first().verb == "credit.placed"
    assert CreditPlace.objects.count() == 1
    assert not list(faults(edda.project))


def test_more_than_one_task_is_refused_and_what_was_typed_stands(client: Client, edda: Person) -> None:
    take(edda)
    page = client.post("/tarnwader-2/credit/task/F1/", posted(5, 0, 3, 4, reason="My words"))
    assert page.status_code == 422
    said = page.content.decode()
    assert "That is 12 tenths; one task is 10. Take 2 away." in said
    assert "My words" in said
    assert [page.context["form"][column].value() for column in COLUMNS] == ["5", "0", "3", "4"]
    assert not Credit.objects.exists()


def test_a_split_changes_with_a_reason_only(client: Client, edda: Person) -> None:
    take(edda)
    row = give(edda, "F1", d=10)
    page = client.post("/tarnwader-2/credit/task/F1/", posted(2, 0, 0, 8, why=""))
    assert page.status_code == 422
    assert "Say why the split changes" in page.content.decode()
    assert client.post("/tarnwader-2/credit/task/F1/", posted(2, 0, 0, 8, why="Two were bought")).status_code == 302
    entry = Entry.objects.filter(subject=row.subject).order_by("-seq").first()
    assert (entry.verb, entry.reason) == ("credit.corrected", "Two were bought")
    assert "Two were bought" in client.get("/tarnwader-2/credit/task/F1/").content.decode()


def test_what_does_not_apply_needs_a_reason(client: Client, edda: Person) -> None:
    take(edda)
    assert client.post("/tarnwader-2/credit/task/F1/", posted(applies="no")).status_code == 422
    assert client.post("/tarnwader-2/credit/task/F1/", posted(applies="no", reason="No such")).status_code == 302
    found = queries.sheet(edda.project)
    assert found.share.counted == 2
    assert "Does not apply." in client.get("/tarnwader-2/credit/").content.decode()


# ---- all tasks at once ----


def many(client: Client, reason: str = "", url: str = "/tarnwader-2/credit/all/", **rows: Any) -> Any:
    """Send the page of all tasks as it is shown, with these tasks filled in: tenths by column, or "-" for N/A."""
    page = client.get(url).content.decode()
    sent = {"seen": re.search(r'name="seen" value="([^"]*)"', page)[1], "reason": reason}
    sent |= dict(re.findall(r'name="([^"]+:[a-z_]+)" value="(\d*)"', page))
    sent |= dict.fromkeys(re.findall(r'name="([^"]+:away)" checked', page), "on")
    return client.post(url, sent | filled(rows))


def filled(rows: dict[str, Any]) -> dict[str, str]:
    found: dict[str, str] = {}
    for code, said in rows.items():
        tenths = ("", "", "", "") if said == "-" else said
        found |= {f"{code}:{column}": str(n) for column, n in zip(COLUMNS, tenths, strict=True)}
        found |= {f"{code}:away": "on"} if said == "-" else {}
    return found


def split(by: Person, code: str) -> tuple[Any, ...]:
    one = Credit.objects.standing().get(project=by.project, code=code)
    return (*(getattr(one, column) for column in COLUMNS), one.applies, one.reason)


def test_many_tasks_are_kept_at_once_and_only_those_that_changed(client: Client, edda: Person) -> None:
    take(edda)
    hull = make_assembly(edda)
    give(edda, "F1", 0, 0, 2, 8, reason="All ours", places=[hull])
    before = Entry.objects.count()
    page = client.get("/tarnwader-2/credit/").content.decode()
    assert "/tarnwader-2/credit/all/" in page
    assert many(client, "As the kit list says", F2=(5, 0, 0, 5), W1="-").status_code == 302
    assert split(edda, "F2") == (5, 0, 0, 5, True, "As the kit list says")
    assert split(edda, "W1") == (0, 0, 0, 0, False, "As the kit list says")
    assert [one.verb for one in Entry.objects.order_by("id")[before:]] == ["credit.given", "credit.given"]
    # A split that is changed keeps its reason and its places, and the journal has why it changed.
    assert many(client, "Jig was lent", F1=(1, 0, 2, 7)).status_code == 302
    assert split(edda, "F1") == (1, 0, 2, 7, True, "All ours")
    assert Entry.objects.order_by("id").last().reason == "Jig was lent" and CreditPlace.objects.get().assembly == hull
    count = Entry.objects.count()
    assert many(client, "No reason at all").status_code == 302
    assert Entry.objects.count() == count and not faults(edda.project)


def test_what_is_wrong_is_told_by_task_and_nothing_is_kept(client: Client, edda: Person) -> None:
    take(edda)
    give(edda, "F1", 0, 0, 0, 10)
    count = Entry.objects.count()
    answer = many(client, "", F1=(0, 0, 5, 5), F2=(6, 0, 0, 6), W1=("half", 0, 0, 3))
    page = answer.content.decode()
    assert answer.status_code == 422 and Entry.objects.count() == count
    assert "That is 12 tenths; one task is 10. Take 2 away." in page and "“half” is not 0 to 10" in page
    assert "Say why, for F1." in page
    assert 'value="half"' in page and 'name="F2:builder_fabrication" value="6"' in page
    assert 'href="#t-F2"' in page and 'href="#t-F1"' not in page
    answer = many(client, "", W1="-")
    assert answer.status_code == 422 and "Say why, for W1." in answer.content.decode()
    both = {**filled({"W1": "-"}), "W1:mfr": "3"}
    answer = client.post("/tarnwader-2/credit/all/", both | {"reason": "No wing", "seen": ""})
    assert "earns no credit" in answer.content.decode() and Entry.objects.count() == count


def test_what_somebody_else_changed_meanwhile_is_not_overwritten_unseen(client: Client, edda: Person) -> None:
    take(edda)
    give(edda, "F1", 0, 0, 0, 10)
    page = client.get("/tarnwader-2/credit/all/").content.decode()
    seen = re.search(r'name="seen" value="([^"]*)"', page)[1]
    give(edda, "F1", 3, 0, 0, 7, why="Measured")
    give(edda, "F2", 4, 0, 0, 6)
    # F2 was left empty on the page, F1 was changed there: one stays as it is, the other is asked about.
    sent = {"seen": seen, "reason": "Again", **filled({"F1": (0, 0, 1, 9), "F2": ("", "", "", ""), "W1": (0, 0, 0, 9)})}
    answer = client.post("/tarnwader-2/credit/all/", sent)
    page = answer.content.decode()
    assert answer.status_code == 422 and "Changed meanwhile, now: 0.3 maker, 0.7 fabricated" in page
    assert 'name="F1:builder_fabrication" value="9"' in page and 'name="F2:mfr" value="4"' in page
    assert split(edda, "F1")[:4] == (3, 0, 0, 7)
    seen = re.search(r'name="seen" value="([^"]*)"', page)[1]
    sent |= {"seen": seen, **filled({"F2": (4, 0, 0, 6)})}
    assert client.post("/tarnwader-2/credit/all/", sent).status_code == 302
    assert split(edda, "F1")[:4] == (0, 0, 1, 9) and split(edda, "F2")[:4] == (4, 0, 0, 6)
    # Sent twice, it changes nothing more.
    count = Entry.objects.count()
    assert client.post("/tarnwader-2/credit/all/", sent).status_code == 302 and Entry.objects.count() == count


def test_of_many_tasks_all_are_kept_or_none(edda: Person) -> None:
    take(edda)
    empty, all_ours = rules.Split(), rules.Split((0, 0, 0, 10))
    wrong = {"F1": (empty, all_ours), "F2": (all_ours, rules.Split((0, 0, 0, 9)))}
    with pytest.raises(Refusal) as no:
        commands.give_all(by=edda, at=NOW, project=edda.project, changes=wrong, reason="x")
    assert no.value.field == "F2" and not Credit.objects.exists()
    with pytest.raises(Refusal, match="not in the list"):
        gone = {"F1": (empty, all_ours), "X9": (empty, all_ours)}
        commands.give_all(by=edda, at=NOW, project=edda.project, changes=gone, reason="x")
    assert not Credit.objects.exists()


def test_a_task_that_applies_after_all_says_why_anew(edda: Person) -> None:
    take(edda)
    give(edda, "W1", applies=False, reason="No wing")
    changes = {"W1": (rules.Split(applies=False), rules.Split((0, 0, 0, 10)))}
    commands.give_all(by=edda, at=NOW, project=edda.project, changes=changes, reason="It has one")
    assert split(edda, "W1") == (0, 0, 0, 10, True, "It has one")


def test_a_whole_long_list_is_sent_in_one_go(client: Client, edda: Person) -> None:
    text = HEAD + "".join(f"F,Fuselage,F{n},Task {n}\n" for n in range(1, rules.MOST_ROWS + 1))
    take(edda, text)
    sent = {f"F{n}:{column}": "" for n in range(1, rules.MOST_ROWS + 1) for column in COLUMNS}
    assert client.post("/tarnwader-2/credit/all/", sent | {"seen": "", "reason": ""}).status_code == 302


@pytest.mark.parametrize("role", ["helper", "inspector", "reader"])
def test_many_tasks_are_for_the_builder(edda: Person, role: str) -> None:
    take(edda)
    other = client_for(make_person(edda.project, role))
    assert other.get("/tarnwader-2/credit/all/").status_code == 403
    assert "/credit/all/" not in other.get("/tarnwader-2/credit/").content.decode()


# ---- from the evidence to a task ----


def test_an_assembly_that_one_comes_from_is_ticked_at_the_task(client: Client, edda: Person) -> None:
    take(edda)
    hull, gear = make_assembly(edda, "10", "Hull"), make_assembly(edda, "40", "Gear")
    give(edda, "F1", 0, 0, 0, 10, places=[hull])
    for assembly in (hull, gear):
        make_session(edda, assembly, request_id=assembly.number)
    evidence = client.get("/tarnwader-2/credit/evidence/").content.decode()
    assert f"/tarnwader-2/credit/?tie={gear.pk}#tasks" in evidence
    listed = client.get(f"/tarnwader-2/credit/?tie={gear.pk}").content.decode()
    assert "Which task is 40 Gear part of?" in listed and f"/credit/task/F1/?tie={gear.pk}" in listed
    page = client.get(f"/tarnwader-2/credit/task/F1/?tie={gear.pk}")
    assert page.context["form"]["assemblies"].value() == [hull.pk, gear.pk]
    assert "40 Gear is ticked below." in page.content.decode()
    new = client.get(f"/tarnwader-2/credit/add/?section=F&tie={gear.pk}")
    assert new.context["form"]["assemblies"].value() == [gear.pk]
    # Of another project, or by whoever may not change anything, there is nothing to tie.
    theirs = make_assembly(make_project("Other")[1], "90", "Theirs")
    assert "Which task" not in client.get(f"/tarnwader-2/credit/?tie={theirs.pk}").content.decode()
    reader = client_for(make_person(edda.project, "reader"))
    assert "Which task" not in reader.get(f"/tarnwader-2/credit/?tie={gear.pk}").content.decode()


def test_an_own_task_is_added_counted_and_withdrawn(client: Client, edda: Person) -> None:
    take(edda)
    said = {k: v for k, v in posted(d=10).items() if k != "applies"}
    page = client.post("/tarnwader-2/credit/add/", {**said, "section": "F", "words": ""})
    assert page.status_code == 422
    said |= {"section": "F", "words": "Fabricate step"}
    assert client.post("/tarnwader-2/credit/add/", said).status_code == 302
    found = queries.sheet(edda.project)
    assert (found.share.counted, [one.code for one in found.added]) == (4, ["F+1"])
    assert client.get("/tarnwader-2/credit/task/F+1/").status_code == 200
    client.post("/tarnwader-2/credit/task/F+1/withdraw/", {"reason": "part of F2"})
    assert queries.sheet(edda.project).share.counted == 3
    client.post("/tarnwader-2/credit/add/", said)
    assert [one.code for one in queries.sheet(edda.project).added] == ["F+2"]  # a number is given once


def test_zero_fabrication_and_open_tenths_are_told(client: Client, edda: Person) -> None:
    take(edda)
    give(edda, "F1", c=10)
    give(edda, "F2", a=4, c=3)
    page = client.get("/tarnwader-2/credit/").content.decode()
    assert "Nothing is fabricated" in page
    assert "0.3 nobody" in page
    facts = queries.credit_facts(edda.project)
    assert (facts["unbalanced"], facts["untouched"], facts["without_fabrication"]) == (["F2"], 1, True)


def test_what_if_counts_and_writes_nothing(client: Client, edda: Person) -> None:
    take(edda)
    give(edda, "F1", d=10)
    give(edda, "F2", c=10)
    entries = Entry.objects.count()
    page = client.get("/tarnwader-2/credit/what-if/", {"task": ["F1", "nonsense", "F1"]})
    assert page.context["chosen"] == ["F1"]
    assert (page.context["now"]["percent"], page.context["after"]["percent"]) == ("66.7 %", "33.3 %")
    assert Entry.objects.count() == entries
    assert queries.sheet(edda.project).share.builders == 20


# ---- who may, and whose ----


@pytest.mark.parametrize("role", ["helper", "paid", "inspector", "reader"])
def test_only_the_builder_writes(edda: Person, role: str) -> None:
    row = take(edda)
    give(edda, "F1", d=10)
    other = client_for(make_person(edda.project, role))
    for path in ("", "evidence/", "what-if/", "lists/", f"lists/{row.pk}/", "task/F1/"):
        page = other.get(f"/tarnwader-2/credit/{path}")
        assert page.status_code == 200, path
        assert b"Keep it" not in page.content
    entries = Entry.objects.count()
    tries = ("task/F1/", "task/F1/withdraw/", "add/", "lists/new/", "lists/starter/", f"lists/{row.pk}/withdraw/")
    for path in tries:
        answer = other.post(f"/tarnwader-2/credit/{path}", {**posted(1), **SAID, "text": LIST, "take": "1"})
        assert answer.status_code == 403, path
    assert Entry.objects.count() == entries


def test_a_stranger_and_another_project_see_nothing(edda: Person) -> None:
    row = take(edda)
    _, other = make_project("Other hull", slug="other")
    client = client_for(other)
    assert client.get("/tarnwader-2/credit/").status_code == 404
    assert client.get(f"/other/credit/lists/{row.pk}/").status_code == 404
    assert client.post(f"/other/credit/lists/{row.pk}/withdraw/", {"reason": "x"}).status_code == 404
    assert client.get("/other/credit/task/F1/").status_code == 404
    take(other)
    # Places of another project are not offered and not taken.
    foreign = make_assembly(edda, "10", "Hull")
    answer = client.post("/other/credit/task/F1/", posted(1, assemblies=[foreign.pk]))
    assert answer.status_code == 422
    assert not Credit.objects.exists()


def test_the_same_list_twice_is_refused(edda: Person) -> None:
    take(edda)
    with pytest.raises(Refusal, match="counts already"):
        take(edda)
    take(edda, official=True)
