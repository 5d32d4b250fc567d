"""What an authority asks for: its items, statements, dates and plates, and how two editions differ."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any


@dataclass(frozen=True)
class FillIn:
    """One box of an official form: what it asks for, and which fact of the record belongs there."""

    box: str
    source: str
    mark: str = ""


@dataclass(frozen=True)
class Item:
    """One thing that the file has to hold."""

    code: str
    title: str
    form: str
    group: str
    purpose: str
    says: tuple[str, ...]
    needs: tuple[str, ...]
    attachment: bool
    fill_in: tuple[FillIn, ...]
    source: str
    mark: str
    lead_months: int = 0

    @property
    def name(self) -> str:
        """Title with the number of the form."""
        return f"{self.title}, {self.form}" if self.form else self.title


@dataclass(frozen=True)
class Element:
    """One thing that a statement has to say; `fact` names what the record knows of it."""

    words: str
    fact: str
    source: str
    mark: str


@dataclass(frozen=True)
class Statement:
    """A text that the builder signs, by its elements; its wording is his own."""

    code: str
    title: str
    elements: tuple[Element, ...]


@dataclass(frozen=True)
class Every:
    """A date that comes again."""

    code: str
    title: str
    months: int
    after: str
    words: str
    source: str
    mark: str


@dataclass(frozen=True)
class Plate:
    """A plate, marks or a placard that has to be on the aircraft."""

    code: str
    kind: str
    facts: tuple[str, ...]
    words: str
    letter_mm: str
    least_mm: str | None
    place: str
    note: str
    source: str
    mark: str


@dataclass(frozen=True)
class MajorPortion:
    words: str
    source: str
    mark: str


@dataclass(frozen=True)
class FileList:
    """All that one edition says for one authority."""

    authority: str
    edition: str
    date: str
    note: str
    source: str
    major_portion: MajorPortion
    items: tuple[Item, ...] = ()
    statements: tuple[Statement, ...] = ()
    dates: tuple[Every, ...] = ()
    plates: tuple[Plate, ...] = field(default=())

    @property
    def edition_words(self) -> str:
        """Edition and its day, as a project keeps it."""
        return f"{self.edition}, {self.date}"

    def item(self, code: str) -> Item | None:
        return next((one for one in self.items if one.code == code), None)

    def statement(self, code: str) -> Statement | None:
        return next((one for one in self.statements if one.code == code), None)


def read(data: Mapping[str, Any]) -> FileList:
    """The list that a data file, or the content kept with a project, holds."""
    return FileList(
        authority=data["authority"],
        edition=data["edition"],
        date=data["date"],
        note=data["note"],
        source=data["source"],
        major_portion=MajorPortion(**data["major_portion"]),
        items=tuple(read_item(row) for row in data["items"]),
        statements=tuple(
            Statement(row["code"], row["title"], tuple(read_element(one) for one in row["elements"]))
            for row in data["statements"]
        ),
        dates=tuple(Every(**row) for row in data["dates"]),
        plates=tuple(read_plate(row) for row in data["placards"]),
    )


def read_item(row: Mapping[str, Any]) -> Item:
    boxes = tuple(FillIn(one["box"], one["from"], one.get("mark", "")) for one in row["fill_in"])
    return Item(**{**row, "says": tuple(row["says"]), "needs": tuple(row["needs"]), "fill_in": boxes})


def read_element(row: Mapping[str, Any]) -> Element:
    return Element(row["words"], row["from"], row["source"], row["mark"])


def read_plate(row: Mapping[str, Any]) -> Plate:
    rest = {name: value for name, value in row.items() if name != "from"}
    return Plate(facts=tuple(row["from"]), **rest)


@dataclass(frozen=True)
class Difference:
    """One thing that a newer edition says otherwise: what it is about, and the old and new words."""

    about: str
    before: str
    after: str


def differences(old: FileList, new: FileList) -> list[Difference]:
    """What taking up the newer edition would change, in the order of the newer one, what is gone last."""
    found = [
        Difference(words, str(getattr(old, name)), str(getattr(new, name)))
        for name, words in (("note", "Note"), ("source", "Source"))
    ]
    found.append(Difference("Major portion", spelled(old.major_portion), spelled(new.major_portion)))
    for part, noun in (("items", "Paper"), ("statements", "Statement"), ("dates", "Date"), ("plates", "Plate")):
        before = {one.code: one for one in getattr(old, part)}
        after = {one.code: one for one in getattr(new, part)}
        for code in dict.fromkeys([*after, *before]):
            found += between(noun, code, before.get(code), after.get(code))
    return [one for one in found if one.before != one.after]


def between(noun: str, code: str, old: Any, new: Any) -> list[Difference]:
    """What differs in one entry: the whole of it where it is new or gone, else field by field."""
    shown = new or old
    about = f"{noun} {getattr(shown, 'title', '') or code}"
    if old is None or new is None:
        return [Difference(about, spelled(old), spelled(new))]
    names = asdict(new)
    return [
        Difference(f"{about}: {name.replace('_', ' ')}", spelled(getattr(old, name)), spelled(getattr(new, name)))
        for name in names
    ]


def spelled(value: Any) -> str:
    """A value of a list in words."""
    if value is None:
        return ""
    if isinstance(value, tuple):
        return "; ".join(spelled(one) for one in value)
    if hasattr(value, "__dataclass_fields__"):
        return " · ".join(words for name in value.__dataclass_fields__ if (words := spelled(getattr(value, name))))
    return str(value)
