"""A strict reader of calendar files, written from the rules of RFC 5545 and knowing nothing of the writer."""

import re
from dataclasses import dataclass, field
from datetime import UTC, date, datetime

# Section 3.1: name, parameters, value. Only what is used here: no quoted parameters.
LINE = re.compile(r"(?P<name>[A-Z0-9-]+)(?P<parameters>(?:;[A-Z0-9-]+=[^:;,\"]+)*):(?P<value>.*)", re.DOTALL)
ONCE = {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "TRANSP"}


@dataclass
class Calendar:
    """What a file holds."""

    properties: dict[str, str] = field(default_factory=dict)
    events: list[dict] = field(default_factory=list)


def unfolded(data: bytes) -> list[str]:
    """Content lines: delimited by CR LF, at most 75 octets each, a blank or tab after CR LF joins (section 3.1)."""
    assert data.endswith(b"\r\n")
    physical = data[:-2].split(b"\r\n")
    assert not any(b"\r" in line or b"\n" in line for line in physical), "a bare CR or LF"
    assert all(len(line) <= 75 for line in physical), "a line of more than 75 octets"
    assert all(line for line in physical), "an empty line"
    whole: list[bytes] = []
    for line in physical:
        line.decode("utf-8")  # a fold inside a character would not decode
        if line[:1] in (b" ", b"\t"):
            whole[-1] += line[1:]
        else:
            whole.append(line)
    return [line.decode("utf-8") for line in whole]


def text(value: str) -> str:
    """A TEXT value (section 3.3.11): backslash, semicolon, comma and line feed are escaped, nothing else is."""
    out, signs = [], iter(value)
    for sign in signs:
        assert sign not in ";,", f"unescaped {sign}"
        assert ord(sign) >= 32 or sign == "\t", "a control character"
        assert ord(sign) != 127
        if sign == "\\":
            after = next(signs)
            assert after in "\\;,nN", f"unknown escape {after}"
            out.append("\n" if after in "nN" else after)
        else:
            out.append(sign)
    return "".join(out)


def value_of(name: str, parameters: str, value: str):  # noqa: ANN201
    if name in {"DTSTART", "DTEND"}:
        assert parameters == ";VALUE=DATE"
        return date.fromisoformat(value)
    if name == "DTSTAMP":  # in UTC (section 3.8.7.2)
        assert not parameters
        return datetime.strptime(value, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
    return text(value)


def read_calendar(data: bytes) -> Calendar:
    """One VCALENDAR with its events; raises AssertionError where the file breaks a rule."""
    found, event = Calendar(), None
    lines = unfolded(data)
    assert lines[0] == "BEGIN:VCALENDAR" and lines[-1] == "END:VCALENDAR"
    for line in lines[1:-1]:
        match = LINE.fullmatch(line)
        assert match, line
        name, parameters, value = match["name"], match["parameters"], match["value"]
        if (name, value) == ("BEGIN", "VEVENT"):
            assert event is None
            event = {}
        elif (name, value) == ("END", "VEVENT"):
            assert event is not None
            assert {"UID", "DTSTAMP", "DTSTART"} <= set(event)  # section 3.6.1: required
            assert isinstance(event["DTSTART"], date) and event["DTEND"] > event["DTSTART"]
            found.events.append(event)
            event = None
        elif event is not None:
            assert name in ONCE and name not in event, name
            event[name] = value_of(name, parameters, value)
        else:
            found.properties[name] = value
    assert found.properties["VERSION"] == "2.0" and found.properties["PRODID"]  # section 3.6: required, once
    uids = [one["UID"] for one in found.events]
    assert len(uids) == len(set(uids))
    return found
