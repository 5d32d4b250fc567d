"""What a label says of a thing."""

from dataclasses import dataclass
from datetime import date

from evidence.models import Place
from parts.models import Lot, Part


@dataclass(frozen=True)
class Label:
    """What stands on one label. `facts` are lines such as "left, 1 of 2" or "Expires 3 May 2027"; `place` is the
    assembly that a part belongs to."""

    address: str
    number: str
    name: str
    kind: str
    registration: str
    facts: tuple[str, ...] = ()
    place: str = ""


def label_of(thing: Place, address: str, registration: str) -> Label:
    """The label of an assembly, part, bin or lot that leads to this address."""
    return Label(
        address=address,
        number=thing.number,
        name=thing.name,
        kind=thing.get_kind_display() if isinstance(thing, Part) else thing.TELLING.noun,
        registration=registration,
        facts=facts_of(thing),
        place=str(thing.assembly) if isinstance(thing, Part) else "",
    )


def facts_of(thing: Place) -> tuple[str, ...]:
    """The lines that only some kinds have."""
    if isinstance(thing, Part):
        return (thing.counted,) if thing.counted else ()
    if isinstance(thing, Lot):
        maker = f"Maker's lot {thing.maker_lot}" if thing.maker_lot else ""
        return tuple(line for line in (maker, day_words("Expires", thing.expires_on)) if line)
    return ()


def day_words(what: str, day: date | None) -> str:
    return f"{what} {day:%-d %b %Y}" if day else ""
