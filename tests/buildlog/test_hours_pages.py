"""The page of hours and its tables against independent sums (rules R3 to R5)."""

import csv
import random
import re
from collections import Counter
from datetime import date, datetime, timedelta
from io import StringIO
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from buildlog import commands, queries
from inspections import queries as inspections
from parts import commands as parts
from tests import factories
from tests.factories import NOW, worked

pytestmark = pytest.mark.django_db

DENVER = ZoneInfo("America/Denver")


def page(person) -> str:
    response = factories.client_for(person).get(reverse("buildlog:hours", args=[person.project.slug]))
    assert response.status_code == 200
    return response.content.decode()


def table(person, name: str) -> list[list[str]]:
    response = factories.client_for(person).get(
        reverse("buildlog:hours_csv", args=[person.project.slug]) + f"?table={name}"
    )
    assert response.status_code == 200
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response.content.startswith(b"\xef\xbb\xbf")
    return list(csv.reader(StringIO(response.content.decode("utf-8-sig"), newline="")))


def random_log(seed: int):
    """A project with a random tree and random sessions; returns what an independent bookkeeper wrote down."""
    chance = random.Random(seed)
    project, edda = factories.make_project(f"Log {seed}")
    people = [edda, *(factories.make_person(project, role, account=False) for role in ("helper", "helper", "paid"))]
    nodes, above = [], {}
    for number in range(chance.randint(3, 14)):
        parent = chance.choice([None, *nodes]) if nodes else None
        node = factories.make_assembly(edda, f"{seed}.{number}", f"Node {number}", parent)
        above[node.pk] = [parent.pk, *above[parent.pk]] if parent else []
        nodes.append(node)
    book = {
        "own": Counter(),
        "person": Counter(),
        "total": 0,
        "month": Counter(),
        "week": Counter(),
        "role": Counter(),
        "kind": Counter(),
    }
    for _ in range(chance.randint(8, 20)):
        start = NOW - timedelta(minutes=chance.randint(2000, 200_000), seconds=chance.randint(0, 59))
        workers = chance.sample(people, chance.randint(1, 3))
        stretches = [
            worked(
                one,
                start + timedelta(minutes=5 * i),
                chance.randint(60, 500),
                chance.randint(0, 30),
                chance.randint(0, 20),
            )
            for i, one in enumerate(workers)
        ]
        shares = [(node, chance.randint(1, 7)) for node in chance.sample(nodes, chance.randint(1, 3))]
        kind = chance.choice(["labor", "process", "study"])
        session = factories.make_session(
            edda, nodes[0], *stretches, shares=shares, kind=kind, work=chance.choice(["", "layup"])
        )
        if chance.random() < 0.2:
            commands.withdraw_session(by=edda, at=NOW, session=session, reason="Entered twice")
            continue
        for one, stretch in zip(workers, stretches, strict=True):
            seconds = int(stretch.end.timestamp() - stretch.start.timestamp()) - stretch.breaks - stretch.unattended
            local = datetime.fromtimestamp(stretch.start.timestamp(), DENVER).date()
            book["person"][one.pk] += seconds
            book["role"][one.role] += seconds
            book["kind"][kind] += seconds
            book["month"][local.replace(day=1)] += seconds
            book["week"][local - timedelta(days=local.weekday())] += seconds
            book["total"] += seconds
        for share in session.shares.all():
            book["own"][share.assembly_id] += share.seconds
    commands.start_timer(by=edda, at=NOW - timedelta(minutes=30), project=project, assembly=nodes[-1])
    return project, edda, nodes, above, book


@pytest.mark.parametrize("seed", range(6))
def test_own_below_and_total_agree_with_the_project_at_every_level(seed):
    project, _, nodes, above, book = random_log(seed)
    assert sum(book["own"].values()) == book["total"] == queries.total_seconds(project)
    rows = {row.node.assembly.pk: row for row in queries.hours_by_assembly(project)}
    assert rows.keys() == {node.pk for node in nodes}
    for key, row in rows.items():
        below = sum(seconds for other, seconds in book["own"].items() if key in above[other])
        assert (row.own, row.below, row.total) == (book["own"][key], below, book["own"][key] + below)
    assert sum(row.total for key, row in rows.items() if not above[key]) == book["total"]
    branches = inspections.branches(project)
    assert [(b.key, b.own, b.below) for b in branches] == [(key, r.own, r.below) for key, r in rows.items()]
    assert {key: (r.own, r.below) for key, r in queries.rolled_hours(project).items()} == {
        key: (r.own, r.below) for key, r in rows.items()
    }


@pytest.mark.parametrize("seed", range(6))
def test_totals_by_person_role_kind_week_and_month_agree_with_the_book(seed):
    project, _, _, _, book = random_log(seed)
    told = queries.hours_page(project, NOW.date())
    assert told.total == book["total"]
    assert {p.person: p.logged for p in told.people} == dict(book["person"])
    assert (told.everybody.builder, told.everybody.helpers, told.everybody.paid) == tuple(
        book["role"][role] for role in ("builder", "helper", "paid")
    )
    assert {line.key: line.total for line in told.kinds} == dict(book["kind"])
    assert sum(line.total for line in told.works) == book["total"]
    assert {month: seconds for month, seconds in told.months if seconds} == {
        m: s for m, s in book["month"].items() if s
    }
    assert [seconds for _, seconds in told.weeks] == [book["week"][week] for week, _ in told.weeks]
    assert [week.weekday() for week, _ in told.weeks] == [0] * 12


def test_months_without_work_stand_with_zero():
    project, edda = factories.make_project()
    hull = factories.make_assembly(edda)
    for month in (1, 4):
        factories.make_session(edda, hull, worked(edda, datetime(2026, month, 9, 15, tzinfo=DENVER)))
    months = queries.hours_page(project, date(2026, 5, 1)).months
    assert [(month.month, seconds) for month, seconds in months] == [(4, 7200), (3, 0), (2, 0), (1, 7200)]


def test_a_session_belongs_to_the_local_day_on_which_it_began():
    project, edda = factories.make_project()
    factories.make_session(
        edda, factories.make_assembly(edda), worked(edda, datetime(2026, 4, 30, 23, 30, tzinfo=DENVER))
    )
    told = queries.hours_page(project, date(2026, 5, 1))
    assert told.since == date(2026, 4, 30)
    assert told.months == [(date(2026, 4, 1), 7200)]


def test_the_average_counts_idle_weeks_but_none_before_the_first_work():
    project, edda = factories.make_project()
    hull = factories.make_assembly(edda)
    for day in (datetime(2026, 4, 20, 12, tzinfo=DENVER), datetime(2026, 5, 11, 9, tzinfo=DENVER)):
        factories.make_session(edda, hull, worked(edda, day, minutes=90))
    told = queries.hours_page(project, date(2026, 5, 14))
    assert (told.this_week, told.average) == (5400, 1800)


def test_withdrawn_sessions_and_running_timers_are_out_of_everything():
    project, edda = factories.make_project()
    hull = factories.make_assembly(edda, "10", "Hull")
    kept = factories.make_session(edda, hull, note="kept")
    gone = factories.make_session(edda, hull, worked(edda, NOW - timedelta(days=2)), note="gone")
    commands.withdraw_session(by=edda, at=NOW, session=gone, reason="Wrong day")
    commands.start_timer(by=edda, at=NOW - timedelta(hours=1), project=project, assembly=hull)
    told = queries.hours_page(project, NOW.date())
    assert (told.total, told.sessions, queries.total_seconds(project)) == (7200, 1, 7200)
    assert queries.own_seconds(project) == {hull.pk: 7200}
    assert [row[0] for row in table(edda, "sessions")[1:]] == [str(kept.number)]
    assert table(edda, "assemblies")[-1][-1] == "7200"


def test_hours_on_a_withdrawn_assembly_stand_on_a_line_of_their_own():
    project, edda = factories.make_project()
    hull, mock = factories.make_assembly(edda, "10", "Hull"), factories.make_assembly(edda, "90", "Mock-up frame")
    factories.make_session(edda, hull)
    factories.make_session(edda, mock, worked(edda, NOW - timedelta(days=1), minutes=60))
    parts.withdraw_assembly(by=edda, at=NOW, assembly=mock, reason="Burnt")
    rows = queries.hours_by_assembly(project)
    elsewhere = queries.hours_elsewhere(project)
    assert [(assembly.number, seconds) for assembly, seconds in elsewhere] == [("90", 3600)]
    assert sum(row.own for row in rows) + 3600 == queries.total_seconds(project)
    html = page(edda)
    assert "Mock-up frame" in html
    assert "withdrawn" in html
    assert table(edda, "assemblies")[-2][:4] == ["90", "Mock-up frame", "0", "withdrawn"]


def test_overlaps_are_shown_with_both_sessions_and_count_once():
    project, edda = factories.make_project()
    hull = factories.make_assembly(edda)
    first = factories.make_session(edda, hull, worked(edda, NOW - timedelta(hours=6), minutes=120))
    second = factories.make_session(edda, hull, worked(edda, NOW - timedelta(hours=5), minutes=120))
    (edda_hours,) = queries.hours_page(project, NOW.date()).people
    assert (edda_hours.logged, edda_hours.counted, edda_hours.doubled) == (14_400, 10_800, 3600)
    html = page(edda)
    for session in (first, second):
        assert reverse("buildlog:session", args=[project.slug, session.pk]) in html
    assert "1 overlap in one person" in html
    assert "11:00 to 12:00" not in html
    assert "06:00 to 07:00 (1:00)" in html


def test_two_people_at_the_same_time_are_no_conflict():
    project, edda = factories.make_project()
    jory = factories.make_person(project)
    factories.make_session(edda, factories.make_assembly(edda), worked(edda), worked(jory))
    told = queries.hours_page(project, NOW.date())
    assert told.conflicts == []
    assert told.total == 14_400


def test_the_page_says_that_hours_are_not_the_major_portion():
    project, edda = factories.make_project()
    jory = factories.make_person(project)
    factories.make_session(edda, factories.make_assembly(edda), worked(edda, minutes=90), worked(jory, minutes=30))
    html = page(edda)
    assert re.search(r"75<small>%", html)
    assert "not the major-portion figure" in html


def test_the_chart_tells_its_figures_in_words_and_in_a_table():
    project, edda = factories.make_project()
    factories.make_session(edda, factories.make_assembly(edda))
    html = page(edda)
    assert "<title id=" in html
    assert "<desc id=" in html
    assert html.count('<th scope="row">') > 12
    assert "style=" not in html


def test_an_empty_log_says_where_hours_come_from():
    _, edda = factories.make_project()
    assert "No hours yet" in page(edda)


def test_the_number_of_queries_is_the_same_for_3_and_for_60_assemblies():
    counts = []
    for size in (3, 60):
        _, edda = factories.make_project(f"Size {size}")
        parent = None
        for number in range(size):
            parent = factories.make_assembly(edda, str(number), parent=parent if number % 7 else None)
            factories.make_session(edda, parent, worked(edda, NOW - timedelta(days=number + 1)))
        factories.make_area(edda, parent)
        client, address = factories.client_for(edda), reverse("buildlog:hours", args=[edda.project.slug])
        client.get(address)
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert client.get(address).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]
    assert counts[0] < 25


# ---- tables ----


def test_the_table_of_assemblies_has_three_forms_of_every_duration():
    project, edda = factories.make_project()
    wing = factories.make_assembly(edda, "20", "Wing")
    spar = factories.make_assembly(edda, "21", "Main spar", wing)
    factories.make_session(edda, spar, worked(edda, minutes=100), shares=((spar, 2), (wing, 1)))
    head, *rows = table(edda, "assemblies")
    assert head[4:7] == ["Own, hours", "Own, h:min", "Own, seconds"]
    assert rows[0] == ["20", "Wing", "0", "yes", "0.56", "0:33", "2000", "1.11", "1:06", "4000", "1.67", "1:40", "6000"]
    assert rows[1][:7] == ["21", "Main spar", "1", "yes", "1.11", "1:06", "4000"]
    assert rows[2][-3:] == ["1.67", "1:40", "6000"]


def test_the_table_of_sessions_tells_local_times_and_both_dates_of_a_late_entry():
    project, edda = factories.make_project()
    hull = factories.make_assembly(edda, "10", "Hull")
    start = datetime(2026, 5, 9, 22, 30, tzinfo=DENVER)
    factories.make_session(edda, hull, worked(edda, start), note="=HYPERLINK(1)")
    (row,) = table(edda, "sessions")[1:]
    assert row[1:6] == ["2026-05-09", "2026-05-09 22:30", "2026-05-10 00:30", "Edda Norrell 2:00", "10 Hull 2:00"]
    assert row[8:11] == ["Reconstructed later", "2026-05-14 11:00", "'=HYPERLINK(1)"]
    assert row[11:] == ["2.00", "2:00", "7200"]


def test_the_tables_of_people_and_months_add_up():
    project, edda, _, _, book = random_log(11)
    assert sum(int(row[5]) for row in table(edda, "people")[1:]) == book["total"]
    months = table(edda, "months")[1:]
    assert sum(int(row[-1]) for row in months) == book["total"]
    assert [row[0] for row in months] == sorted(row[0] for row in months)


def test_an_unknown_table_is_not_found():
    _, edda = factories.make_project()
    address = reverse("buildlog:hours_csv", args=[edda.project.slug])
    assert factories.client_for(edda).get(address + "?table=wages").status_code == 404


def test_a_stranger_learns_nothing():
    project, _ = factories.make_project()
    _, other = factories.make_project("Second hull")
    for name in ("buildlog:hours", "buildlog:hours_csv"):
        assert factories.client_for(other).get(reverse(name, args=[project.slug])).status_code == 404


def test_a_reader_may_look():
    project, edda = factories.make_project()
    factories.make_session(edda, factories.make_assembly(edda))
    reader = factories.make_person(project, "reader")
    assert "Hours per assembly" in page(reader)
    assert len(table(reader, "people")) == 2
