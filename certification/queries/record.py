"""The facts of a builder's record: everything that is printed, gathered once and frozen as JSON values."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q

from accounts.models import Person, Project
from accounts.queries import authority_of
from accounts.rules import ROLES
from buildlog import queries as work
from buildlog import rules as work_rules
from buildlog.models import WorkSession
from calc.hours import decimal_hours, roll_up
from certification.queries.balance import balance_facts
from certification.queries.closeout import discrepancies_facts, points_facts, visits_facts, withdrawn_points
from certification.queries.coverage import coverage_facts
from certification.queries.credit import credit_facts
from certification.queries.equipment import equipment_facts
from certification.queries.file_profiles import kept_profile
from certification.queries.flights import flights_facts
from certification.queries.gates import areas_facts, lost, withdrawn_areas
from certification.queries.inspection_lists import inspections_facts
from certification.queries.papers import file_facts, identity_troubles, papers
from certification.queries.people import builders_facts
from certification.queries.pictures import photos_facts, photos_printed
from certification.queries.placards import placards_facts
from certification.queries.process import (
    process_facts,
    process_judged,
    process_photos,
    process_rows,
    withdrawn_process,
)
from certification.queries.scope import Scope, own_seconds
from certification.queries.sessions import session_facts, with_corrections, withdrawn_facts
from certification.queries.signatures import known
from certification.queries.stores import stores_facts
from certification.queries.words import day, moment
from evidence import queries as evidence
from foundation.digest import short
from inspections import queries as inspections
from inspections import rules as gates
from inspections.queries import Branch, JudgedArea, discrepancies, points
from inspections.queries.discrepancies import JudgedDiscrepancy
from inspections.queries.points import JudgedPoint
from inspections.rules import discrepancies as found_rules
from inspections.rules import points as point_rules
from journal.queries import head
from parts.models import Assembly

# Facts of edition 1 have no points, discrepancies and visits, and say less of gates and signatures; those before
# edition 3 have no process records, and those before edition 4 are all of the record, for an examiner. The
# file stands in whole records only, and each part of it only where the project has something of it.
EDITION, EDITIONS = 4, frozenset({1, 2, 3, 4})


def builder_record(project: Project, at: datetime, by_name: str, asked: Scope | None = None) -> dict[str, Any]:
    """The facts of the builder's record of a project as they stand now: all of it, or the part that was asked for."""
    zone, asked = project.zone, asked or Scope(project.zone)
    sessions = list(work.sessions(project).exclude(ended_at=None).order_by("started_at", "number"))
    sessions = [one for one in sessions if asked.session(one)]
    gates_now = [one for one in inspections.judged(project) if asked.at(one.area.assembly_id)]
    points_now = [one for one in points.judged(project) if asked.at(one.point.assembly_id)]
    found_now = discrepancies.judged(project, discrepancies.all_rows(project))
    found_now = [one for one in found_now if asked.at(one.discrepancy.assembly_id)]
    printed, beside = {one.pk for one in sessions}, known(project)
    stretches = [one for one in work.work(project) if one.session in printed]
    made = [one for one in process_rows(project) if asked.at(one.assembly_id) and asked.on(one.done_at)]
    made_now = process_judged(project, made)
    shown = process_photos(made_now)
    photos = photos_printed(project, sessions, gates_now, points_now, found_now, beside, shown)
    areas = areas_facts(project, gates_now, beside)
    spots = points_facts(project, points_now, beside)
    found = discrepancies_facts(project, found_now, beside)
    newest = head(project.pk)
    return {
        "edition": EDITION,
        "printed": moment(at, zone),
        "printed_by": by_name,
        "scope": asked.words,
        "head": {"seq": newest.seq, "digest": newest.digest, "short": short(newest.digest)} if newest else None,
        "project": identity(project),
        "counts": {
            "sessions": len(sessions),
            "photos": evidence.photos(project).count() if asked.whole else len(photos),
            "photos_printed": sum(not photo.is_clip for photo in photos),
            "builder_in_frame": evidence.photos(project).filter(builder_in_frame=True).count()
            if asked.whole
            else sum(photo.builder_in_frame for photo in photos),
            "areas": len(gates_now),
            "areas_closed": sum(one.closing is not None for one in gates_now),
            "areas_advised": sum(one.gate.state == gates.ADVISED for one in gates_now),
            "signatures": sum(len(one["signatures"]) for one in (*areas, *spots, *found)),
        }
        | open_counts(gates_now, points_now, found_now),
        "period": [day(sessions[0].started_at, zone), day(sessions[-1].started_at, zone)] if sessions else None,
        "people": people_facts(project, work.by_person(stretches)),
        "hours": hours_facts(stretches, zone, branch_lines(project, gates_now, sessions, asked), asked),
        "sessions": [session_facts(pair, zone) for pair in with_corrections(project, sessions)],
        "withdrawn": withdrawn_facts(project, asked),
        "areas": areas,
        "withdrawn_areas": withdrawn_areas(project, asked),
        "points": spots,
        "withdrawn_points": withdrawn_points(project, asked),
        "discrepancies": found,
        "process": process_facts(project, made_now),
        "withdrawn_process": withdrawn_process(project, made),
        "visits": visits_facts(project, at, signed_things(areas, spots, found), asked),
        "photos": photos_facts(project, photos),
    } | ({"stores": stores_facts(project, at), "file": certification_file(project)} if asked.whole else {})


def certification_file(project: Project) -> dict[str, Any]:
    """The certification file: every part of it that the project has something of."""
    credit, balance, flights, people = (
        facts(project) for facts in (credit_facts, balance_facts, flights_facts, builders_facts)
    )
    told = kept_profile(project) or papers(project).exists() or identity_troubles(project)
    found = {
        "credit": credit if credit["list"] or credit["sections"] or credit["without_task"] else None,
        "papers": file_facts(project) if told else None,
        "equipment": equipment_facts(project),
        "placards": placards_facts(project),
        "balance": balance if any(balance[part] for part in ("weighings", "items", "limits")) else None,
        "inspections": inspections_facts(project),
        "flights": flights if any(flights[part] for part in ("asked", "flights", "points", "statements")) else None,
        "people": people if any(one["sessions"] for one in people["people"]) else None,
    }
    if found["credit"]:
        found["coverage"] = coverage_facts(project)
    return {part: facts for part, facts in found.items() if facts}


def open_counts(
    areas: Iterable[JudgedArea], spots: Iterable[JudgedPoint], found: Iterable[JudgedDiscrepancy]
) -> dict[str, int]:
    """What an examiner asks first: how many holds, discrepancies and signatures are not as they should be."""
    areas, spots = list(areas), list(spots)
    standing = [one for one in found if not one.discrepancy.withdrawn]
    return {
        "areas_lost": sum(bool(lost(one)) for one in areas),
        "holds": sum(one.point.kind == point_rules.HOLD for one in spots),
        "holds_open": sum(one.stops for one in spots),
        "witness": sum(one.point.kind == point_rules.WITNESS for one in spots),
        "discrepancies": len(standing),
        "discrepancies_open": sum(one.open for one in standing),
        "discrepancies_blocking": sum(one.blocking for one in standing),
        "not_accepted": sum(refused(one) for one in areas)
        + sum(one.state == point_rules.NOT_ACCEPTED for one in spots)
        + sum(one.state == found_rules.NOT_ACCEPTED for one in standing),
        "changed": sum(one.changed for one in areas)
        + sum(one.changed for one in spots)
        + sum(one.state == found_rules.CHANGED for one in standing),
    }


def refused(one: JudgedArea) -> bool:
    """Whether somebody's last signature under an area, for this closing, does not accept it."""
    last = {signed.signature.role: signed.signature for signed in one.signed if not signed.void}
    return any(not signature.accepted for signature in last.values())


def signed_things(
    areas: list[dict[str, Any]], spots: list[dict[str, Any]], found: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Every signature given on a visit, with what it stands under."""
    named = [("area", one["number"], f"{one['number']} {one['name']}", one) for one in areas]
    named += [("point", one["number"], f"{one['number']} {one['words']}", one) for one in spots]
    named += [("discrepancy", one["label"], one["label"], one) for one in found]
    return [
        {"visit": given["visit"], "kind": kind, "number": number, "title": title}
        | {name: given[name] for name in ("outcome", "at", "name")}
        for kind, number, title, one in named
        for given in one["signatures"]
        if given["visit"]
    ]


def identity(project: Project) -> dict[str, Any]:
    """The aircraft exactly as registered (rule R52), and the rules it is built under."""
    authority = authority_of(project)
    return {
        "name": project.name,
        "description": project.description,
        "registration": project.registration,
        "model_designation": project.model_designation,
        "serial_number": project.serial_number,
        "builder_name": project.builder_name,
        "place": project.place,
        "started_on": f"{project.started_on:%-d %B %Y}" if project.started_on else "",
        "time_zone": project.time_zone,
        "authority": authority.name,
        "closing_policy": authority.closing,
        "authority_edition": authority.edition,
    }


def people_facts(project: Project, totals: list[work.PersonHours]) -> list[dict[str, Any]]:
    """Everybody who stands in the record, and whoever has left it but worked."""
    everybody = Person.objects.filter(Q(withdrawn_at=None) | Q(pk__in=[row.person for row in totals]), project=project)
    return [person_line(person, totals) for person in everybody]


def person_line(person: Any, totals: list[work.PersonHours]) -> dict[str, Any]:
    """One person with what he logged."""
    mine = next((row for row in totals if row.person == person.pk), None)
    return {
        "name": person.name,
        "role": ROLES[person.role],
        "certificate": person.certificate,
        "sessions": mine.sessions if mine else 0,
        "logged": mine.logged if mine else 0,
        "counted": mine.counted if mine else 0,
    }


def branch_lines(
    project: Project, gates_now: list[JudgedArea], sessions: list[WorkSession], asked: Scope
) -> list[dict[str, Any]]:
    """The assemblies that are printed with their hours: of a part of the record only what is printed of it."""
    rows = [branch for branch in inspections.branches(project, gates_now) if asked.at(branch.key)]
    if asked.whole:
        return [branch_line(one, one.own, one.below) for one in rows] + [
            withdrawn_line(assembly, seconds) for assembly, seconds in work.hours_elsewhere(project)
        ]
    own = own_seconds(sessions, asked)
    parents = {one.key: one.node.assembly.parent_id for one in rows}
    rolled = roll_up({key: parent if parent in parents else None for key, parent in parents.items()}, own)
    top = min((one.depth for one in rows), default=0)
    return [branch_line(one, rolled[one.key].own, rolled[one.key].below, top) for one in rows]


def branch_line(branch: Branch, own: int, below: int, top: int = 0) -> dict[str, Any]:
    """An assembly as a line of the table; `top` is the depth at which the table begins."""
    return {
        "number": branch.number,
        "name": branch.name,
        "depth": branch.depth - top,
        "own": own,
        "below": below,
        "total": own + below,
        "state": branch.state,
        "state_words": branch.state_word,
    }


def hours_facts(
    stretches: list[work.Work],
    zone: ZoneInfo,
    assemblies: list[dict[str, Any]],
    asked: Scope,
) -> dict[str, Any]:
    """The tables of hours, in seconds. `assemblies` are their lines.

    Of some assemblies only shares of sessions are printed, and shares say nothing of kinds, people and months.
    """
    if asked.keys is not None:
        own = sum(line["own"] for line in assemblies)
        return {"total": own, "assemblies": assemblies} | {key: [] for key in SUMS} | {"conflicts": None}
    months = work.summed(stretches, work.month_of(zone))
    return {
        "total": sum(stretch.labor for stretch in stretches),
        "assemblies": assemblies,
        "kinds": lines(work.summed(stretches, lambda s: s.kind), work_rules.KINDS),
        "works": lines(work.summed(stretches, lambda s: s.work), work_rules.WORK),
        "roles": lines(work.summed(stretches, lambda s: s.role), ROLES),
        "months": [{"words": f"{month:%B %Y}", "seconds": seconds} for month, seconds in sorted(months.items())],
        "conflicts": [
            f"{one.name}: sessions {one.first_number} and {one.second_number} overlap by "
            f"{decimal_hours(one.seconds, 2)} h on {day(one.start, zone)}; counted once in this person's total."
            for one in work.overlaps(stretches)
        ],
    }


def withdrawn_line(assembly: Assembly, seconds: int) -> dict[str, Any]:
    """An assembly that was withdrawn but has hours: without it the lines would not make the total (rule R4)."""
    return {
        "number": assembly.number,
        "name": assembly.name,
        "depth": 0,
        "own": seconds,
        "below": 0,
        "total": seconds,
        "state": "not-started",
        "state_words": "Withdrawn",
    }


SUMS = ("kinds", "works", "roles", "months")


def lines(sums: dict[str, int], words: dict[str, str]) -> list[dict[str, Any]]:
    """Sums as table lines, most first."""
    rows = [{"words": words.get(key, key), "seconds": seconds} for key, seconds in sums.items()]
    return sorted(rows, key=lambda row: (-row["seconds"], row["words"]))
