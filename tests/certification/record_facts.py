"""Made-up facts of a builder's record, in the form that `certification.queries.builder_record` gives them."""

import hashlib
from pathlib import Path
from typing import Any

from PIL import Image

from evidence.queries import rendition_path

OPEN_COUNTS = (
    "areas_lost",
    "holds",
    "holds_open",
    "witness",
    "discrepancies",
    "discrepancies_open",
    "discrepancies_blocking",
    "not_accepted",
    "changed",
)


def rendition(number: int, size: tuple[int, int] = (64, 48), source: Path | None = None) -> str:
    """Put a rendition in its place and return the digest of the original that it stands for."""
    digest = "sha256:" + hashlib.sha256(f"photo {number} {size}".encode()).hexdigest()
    path = rendition_path(digest, 1280)
    path.parent.mkdir(parents=True, exist_ok=True)
    if source:
        path.write_bytes(source.read_bytes())
    else:
        Image.new("RGB", size, (number * 37 % 256, number * 91 % 256, 120)).save(path, "JPEG", quality=80)
    return digest


def photo(digest: str, **changes: Any) -> dict[str, Any]:
    """One photo."""
    body = digest.removeprefix("sha256:").upper()
    return {
        "digest": digest,
        "short": f"{body[:4]}-{body[4:8]}-{body[8:12]}",
        "width": 64,
        "height": 48,
        "drawn": True,
        "caption": "Bulkhead B, fillet and tape, aft face.",
        "taken": "14 May 2026, 18:31 MDT",
        "known": "by the camera, with its time zone",
        "received": "14 May 2026, 20:12 MDT",
        "in_frame": False,
        **changes,
    }


def worker(name: str = "Edda Norrell", role: str = "Builder", **changes: Any) -> dict[str, Any]:
    """One person's time in a session."""
    return {
        "name": name,
        "role": role,
        "start": "17:36",
        "end": "19:00",
        "breaks": 0,
        "unattended": 0,
        "labor": 5040,
        **changes,
    }


def session(number: int, **changes: Any) -> dict[str, Any]:
    """One session."""
    return {
        "number": number,
        "date": "Thu 14 May 2026",
        "iso_date": "2026-05-14",
        "start": "17:36",
        "end": "19:00",
        "people": [worker()],
        "shares": [{"number": "24.1", "name": "Tip float, left", "seconds": 5040}],
        "kind": "Labor",
        "work": "Bonding",
        "note": f"Note of session {number}: two plies of tape over the fillets, both faces.",
        "place": "",
        "late": "",
        "labor": 5040,
        "photos": [],
        "corrections": [],
        **changes,
    }


def assembly(number: str, name: str, depth: int, own: int, below: int, state: tuple[str, str]) -> dict[str, Any]:
    """One line of the tree."""
    return {
        "number": number,
        "name": name,
        "depth": depth,
        "own": own * 3600,
        "below": below * 3600,
        "total": (own + below) * 3600,
        "state": state[0],
        "state_words": state[1],
    }


def item(position: int, words: str, **changes: Any) -> dict[str, Any]:
    """One item of a gate."""
    return {
        "position": position,
        "kind": "Photo",
        "words": words,
        "detail": "",
        "in_place": True,
        "why": "",
        "photos": [],
        "answer": "",
        "late": [],
        "asks": "",
        "earlier": [],
        "records": [],
        "inner": "",
        **changes,
    }


def signature(**changes: Any) -> dict[str, Any]:
    """One signature."""
    return {
        "name": "Hal Venning",
        "initials": "HV",
        "role": "Inspector",
        "certificate": "A&P mechanic DEMO-0417",
        "at": "2 May 2026, 15:20 MDT",
        "day": "2 May 2026",
        "shown_by": "visit link",
        "statement": "I looked at what is listed here before it was closed.",
        "self_inspected": False,
        "covers": ["1 Bulkhead A, both faces", "P-0001", "2 Drain boss, sealed"],
        "digest": "7C41-09AE-52D0",
        "whole_digest": "sha256:7c4109ae52d0" + "0" * 52,
        "digests": ["1A2B-3C4D-5E6F", "93DB-B387-9FB7", "AE70-D46E-23AF"],
        "changes": [],
        "capacity": "",
        "place": "",
        "entered_by": "",
        "visit": "",
        "ink": "",
        "ink_page": "",
        "strokes": [],
        "accepted": True,
        "outcome": "Accepted",
        "reason": "",
        "extent": "",
        "time_in_service": "",
        "void": False,
        **changes,
    }


def closing(**changes: Any) -> dict[str, Any]:
    """One closing."""
    return {
        "closed": "3 May 2026, 09:10 MDT",
        "by": "Edda Norrell",
        "missing": [],
        "reason": "",
        "reopened": "",
        "reopened_by": "",
        "reopen_reason": "",
        **changes,
    }


def area(number: str, **changes: Any) -> dict[str, Any]:
    """One enclosed area."""
    return {
        "number": number,
        "name": "Interior before deck bond",
        "assembly": "24.1 Tip float, left",
        "kind": "Closed for good",
        "state": "hold",
        "state_words": "Hold",
        "items": [],
        "signatures": [],
        "closings": [],
        "list": "",
        "waits": [],
        "lost": [],
        "dropped": [],
        "explained": [],
        "corrections": [],
        **changes,
    }


def person(name: str, role: str, sessions: int, logged: int, counted: int, certificate: str = "") -> dict[str, Any]:
    """One line of the people."""
    return {
        "name": name,
        "role": role,
        "certificate": certificate,
        "sessions": sessions,
        "logged": logged,
        "counted": counted,
    }


def sums(*rows: tuple[str, int]) -> list[dict[str, Any]]:
    """Lines of a table of sums."""
    return [{"words": words, "seconds": seconds} for words, seconds in rows]


def facts(**changes: Any) -> dict[str, Any]:
    """A small record; its counts follow from what is given."""
    sessions = changes.get("sessions", [session(1)])
    areas = changes.get("areas", [])
    photos = changes.get("photos", {})
    state = [one["state"] for one in areas]
    return {
        "edition": 2,
        "printed": "17 May 2026, 09:00 MDT",
        "printed_by": "Edda Norrell",
        "head": {"seq": 4711, "digest": "sha256:58d2c0b711fe" + "0" * 52, "short": "58D2-C0B7-11FE"},
        "project": {
            "name": "Tarnwader 2",
            "description": "Two-seat amphibian, wood and composite",
            "registration": "N0-DEMO",
            "model_designation": "Tarnwader 2",
            "serial_number": "001",
            "builder_name": "Edda Norrell",
            "place": "Shop at Lake Tarn",
            "started_on": "11 August 2024",
            "time_zone": "America/Denver",
            "authority": "United States",
            "closing_policy": "advise",
            "authority_edition": "1",
        },
        "counts": {
            "sessions": len(sessions),
            "photos": len(photos),
            "photos_printed": len(photos),
            "builder_in_frame": sum(one["in_frame"] for one in photos.values()),
            "areas": len(areas),
            "areas_closed": sum(one in {"closed", "advised"} for one in state),
            "areas_advised": state.count("advised"),
            "signatures": sum(len(one["signatures"]) for one in areas),
        }
        | dict.fromkeys(OPEN_COUNTS, 0),
        "period": ["11 Aug 2024", "14 May 2026"],
        "people": [
            person("Edda Norrell", "Builder", 209, 4370400, 4366800),
            person("Jory Pask", "Helper, unpaid", 31, 351000, 351000),
            person("Tam Wray", "Paid help", 18, 201600, 201600),
            person("Hal Venning", "Inspector", 0, 0, 0, "A&P mechanic DEMO-0417"),
        ],
        "hours": {
            "total": 4919400,
            "assemblies": [
                assembly("10", "Hull", 0, 96, 316, ("work", "In work")),
                assembly("20", "Wing", 0, 18, 520, ("work", "In work")),
                assembly("24", "Tip floats", 1, 12, 90, ("work", "In work")),
                assembly("24.1", "Tip float, left", 2, 60, 0, ("hold", "Hold")),
                assembly("24.2", "Tip float, right", 2, 30, 0, ("closed", "Closed up")),
                assembly("30", "Tail", 0, 22, 163, ("signed", "Signed")),
                assembly("50", "Pylon and nacelle", 0, 0, 0, ("not-started", "Not started")),
            ],
            "kinds": sums(("Labor", 4500000), ("Paper and visits", 419400)),
            "works": sums(
                ("Woodwork", 1449000),
                ("Layup", 1144800),
                ("Fairing", 675000),
                ("Bonding", 590400),
                ("Fit and rig", 561600),
                ("Systems", 147600),
                ("Metalwork", 147000),
                ("Rework", 138600),
                ("Not said", 65400),
            ),
            "roles": sums(("Builder", 4366800), ("Helper, unpaid", 351000), ("Paid help", 201600)),
            "months": sums(("April 2026", 216000), ("May 2026", 108000)),
            "conflicts": [
                "Edda Norrell: sessions 12 and 13 overlap by 1.00 h on 4 May 2026; counted once in this person's total."
            ],
        },
        "withdrawn": [],
        "sessions": sessions,
        "areas": areas,
        "withdrawn_areas": [],
        "points": [],
        "withdrawn_points": [],
        "discrepancies": [],
        "visits": [],
        "photos": photos,
        **{key: value for key, value in changes.items() if key not in {"sessions", "areas", "photos"}},
    }
