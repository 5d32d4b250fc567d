"""What a row looks like as plain data: the form that the journal keeps, signatures cover and exports carry."""

from collections.abc import Iterable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from foundation.telling import Telling

PLAIN = (str, int, bool, float, type(None), list, dict)


class Recorded:
    """Mixed into every model. It says which kind of row this is and gives its state as JSON values.

    RECORD is one of
      "root"     a record of its own, with journal entries under its own name;
      "part"     rows that belong to a root and appear inside its state (listed in the root's PARTS);
      "derived"  rows that can be made again from the others;
      "access"   accounts and links: who may come in, not what was built;
      "delivery" how something arrived that is recorded elsewhere;
      "journal"  the journal itself.
    APART names the fields that are not part of the record (derived or private ones).
    LATER names fields and parts that came with a later release. They are left out of the state while they say
    nothing, so that what was recorded and signed before that release still reads the same, to the byte.
    SEALED pairs a text field kept apart for its bulk with the field that holds its digest.
    TELLING says how its history is told in words.
    `held` may carry parts that a command has just written, so that telling the state need not read them again.
    """

    RECORD: str = "root"
    PARTS: tuple[str, ...] = ()
    APART: frozenset[str] = frozenset()
    LATER: frozenset[str] = frozenset()
    SEALED: tuple[tuple[str, str], ...] = ()
    TELLING: Telling = Telling()
    held: dict[str, list[Any]] | None = None

    @property
    def subject(self) -> str:
        """The name under which the journal knows this row, such as `buildlog.worksession:7k3m...`."""
        return f"{self._meta.label_lower}:{self.pk}"  # type: ignore[attr-defined]  # mixed into models only

    def state(self) -> dict[str, Any]:
        """This row and its parts as JSON values; relations are given by key, times in UTC."""
        fields = self._meta.concrete_fields  # type: ignore[attr-defined]  # mixed into models only
        state = {field.name: plain(getattr(self, field.attname)) for field in fields if field.name not in self.APART}
        for part in self.PARTS:
            held = (self.held or {}).get(part)
            state[part] = part_states(getattr(self, part).all() if held is None else held)
        for name in self.LATER:
            if state[name] == self.silence(name):
                del state[name]
        return state

    def silence(self, name: str) -> Any:
        """What a field or part of LATER holds in every row from before it came."""
        if name in self.PARTS:
            return []
        return plain(self._meta.get_field(name).get_default())  # type: ignore[attr-defined]  # mixed into models only


def part_states(rows: Iterable[Any]) -> list[dict[str, Any]]:
    """The states of rows that belong to a root, ordered by key so that the same facts read the same."""
    return sorted((row.state() for row in rows), key=lambda state: str(state["id"]))


def plain(value: Any) -> Any:
    """One field value as JSON: times in UTC with a Z, dates in ISO 8601, decimals as text."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, PLAIN):
        return value
    raise TypeError(f"{type(value).__name__} has no plain form yet; add one to foundation.record.plain")
