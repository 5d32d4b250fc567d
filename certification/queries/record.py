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
from calc.hours import decimal_hours
from certification.queries.closeout import discrepancies_facts, points_facts, visits_facts, withdrawn_points
from certification.queries.gates import areas_facts, lost, withdrawn_areas
from certification.queries.pictures import photos_facts, photos_printed
from certification.queries.process import (
    process_facts,
    process_judged,
    process_photos,
    process_rows,
    withdrawn_process,
)
from certification.queries.sessions import session_facts, with_corrections, withdrawn_facts
from certification.queries.signatures import known
from certification.queries.words import day, moment
from evidence import queries as evidence
from foundation.digest import short
from inspections import queries as inspections
from inspections import rules as gates
from inspections.queries import JudgedArea, discrepancies, points
from inspections.queries.discrepancies import JudgedDiscrepancy
from inspections.queries.points import JudgedPoint
from inspections.rules import discrepancies as found_rules
from inspections.rules import points as point_rules
from journal.queries import head
from parts.models import Assembly

# Facts of edition 1 have no points, discrepancies and visits, and say less of gates and signatures; those before
# edition 3 have no process records.
EDITION, EDITIONS = 3, frozenset({1, 2, 3})


def builder_record(project: Project, at: datetime, by_name: str) -> dict[str, Any]:
    """The facts of the builder's record of a project as they stand now."""
    zone = project.zone
    sessions = list(work.sessions(project).exclude(ended_at=None).order_by("started_at", "number"))
    gates_now, points_now = inspections.judged(project), points.judged(project)
    found_now = discrepancies.judged(project, discrepancies.all_rows(project))
    stretches, beside = work.work(project), known(project)
    made = process_rows(project)
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
        "head": {"seq": newest.seq, "digest": newest.digest, "short": short(newest.digest)} if newest else None,
        "project": identity(project),
        "counts": {
            "sessions": len(sessions),
            "photos": evidence.photos(project).count(),
            "photos_printed": sum(not photo.is_clip for photo in photos),
            "builder_in_frame": evidence.photos(project).filter(builder_in_frame=True).count(),
            "areas": len(gates_now),
            "areas_closed": sum(one.closing is not None for one in gates_now),
            "areas_advised": sum(one.gate.state == gates.ADVISED for one in gates_now),
            "signatures": sum(len(one["signatures"]) for one in (*areas, *spots, *found)),
        }
        | open_counts(gates_now, points_now, found_now),
        "period": [day(sessions[0].started_at, zone), day(sessions[-1].started_at, zone)] if sessions else None,
        "people": people_facts(project, work.by_person(stretches)),
        "hours": hours_facts(project, stretches, gates_now, zone),
        "sessions": [session_facts(pair, zone) for pair in with_corrections(project, sessions)],
        "withdrawn": withdrawn_facts(project),
        "areas": areas,
        "withdrawn_areas": withdrawn_areas(project),
        "points": spots,
        "withdrawn_points": withdrawn_points(project),
        "discrepancies": found,
        "process": process_facts(project, made_now),
        "withdrawn_process": withdrawn_process(project, made),
        "visits": visits_facts(project, at, signed_things(areas, spots, found)),
        "photos": photos_facts(project, photos),
    }


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


def hours_facts(
    project: Project, stretches: list[work.Work], gates_now: list[JudgedArea], zone: ZoneInfo
) -> dict[str, Any]:
    """The tables of hours, in seconds."""
    months = work.summed(stretches, work.month_of(zone))
    return {
        "total": sum(stretch.labor for stretch in stretches),
        "assemblies": [
            {
                "number": branch.number,
                "name": branch.name,
                "depth": branch.depth,
                "own": branch.own,
                "below": branch.below,
                "total": branch.total,
                "state": branch.state,
                "state_words": branch.state_word,
            }
            for branch in inspections.branches(project, gates_now)
        ]
        + [withdrawn_line(assembly, seconds) for assembly, seconds in work.hours_elsewhere(project)],
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


def lines(sums: dict[str, int], words: dict[str, str]) -> list[dict[str, Any]]:
    """Sums as table lines, most first."""
    rows = [{"words": words.get(key, key), "seconds": seconds} for key, seconds in sums.items()]
    return sorted(rows, key=lambda row: (-row["seconds"], row["words"]))
