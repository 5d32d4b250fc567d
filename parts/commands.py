"""All writes to assemblies and parts, bins and lots."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Max

from accounts.models import Person, Project
from calc import units
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record
from parts import queries, rules
from parts.models import Assembly, Bin, Lot, MadeOf, Origin, Part


@transaction.atomic
def add_assembly(
    *,
    by: Person,
    at: datetime,
    project: Project,
    number: str,
    name: str,
    parent: Assembly | None = None,
    note: str = "",
) -> Assembly:
    """Put an assembly into the tree, last among its neighbors."""
    take_turn(project.pk)
    check_number(project, number)
    rules.check_stands(parent.pk if parent else None, queries.parents(project))
    position = next_position(project, parent)
    assembly = Assembly(project=project, parent=parent, number=number, name=name, position=position, note=note)
    assembly.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="assembly.added", subject=assembly)
    return assembly


@transaction.atomic
def correct_assembly(
    *, by: Person, at: datetime, assembly: Assembly, number: str, name: str, note: str = "", reason: str = ""
) -> Assembly:
    """Change number, name or note."""
    take_turn(assembly.project_id)
    check_number(assembly.project, number, but=assembly)
    assembly.number, assembly.name, assembly.note = number, name, note
    assembly.save(update_fields=["number", "name", "note"])
    record_change(project=assembly.project_id, by=by, at=at, verb="assembly.corrected", subject=assembly, reason=reason)
    return assembly


@transaction.atomic
def move_assembly(
    *, by: Person, at: datetime, assembly: Assembly, parent: Assembly | None, after: Assembly | None = None
) -> Assembly:
    """Hang an assembly below `parent` (None: at the top), right after `after` (None: first)."""
    take_turn(assembly.project_id)
    parent_key = parent.pk if parent else None
    rules.check_move(assembly.pk, parent_key, queries.parents(assembly.project))
    neighbors = [row for row in queries.assemblies(assembly.project).filter(parent=parent) if row.pk != assembly.pk]
    place = neighbors.index(after) + 1 if after in neighbors else 0
    neighbors.insert(place, assembly)
    for position, row in enumerate(neighbors, start=1):
        moved = row.pk == assembly.pk
        if row.position != position or (moved and assembly.parent_id != parent_key):
            row.position = position
            if moved:
                row.parent = parent
            row.save(update_fields=["position", "parent"])
            record_change(project=assembly.project_id, by=by, at=at, verb="assembly.moved", subject=row)
    return assembly


def step_assembly(*, by: Person, at: datetime, assembly: Assembly, up: bool) -> Assembly:
    """Move an assembly one place up or down among its neighbors; the first and the last stay where they are."""
    neighbors = {row.pk: row for row in queries.assemblies(assembly.project).filter(parent=assembly.parent_id)}
    moves, after = rules.step(list(neighbors), assembly.pk, up)
    if not moves:
        return assembly
    return move_assembly(by=by, at=at, assembly=assembly, parent=assembly.parent, after=neighbors.get(after or ""))


@transaction.atomic
def withdraw_assembly(*, by: Person, at: datetime, assembly: Assembly, reason: str) -> Assembly:
    """Take an assembly with nothing standing below it out of the tree; what was logged on it stays readable."""
    take_turn(assembly.project_id)
    if queries.assemblies(assembly.project).filter(parent=assembly).exists():
        raise Refusal("has_children", "There are assemblies below this one. Move or withdraw them first.")
    if queries.parts_of(assembly.project).filter(assembly=assembly).exists():
        raise Refusal("has_parts", "There are parts in this assembly. Move or withdraw them first.")
    return withdraw_record(
        project=assembly.project_id, by=by, at=at, record=assembly, verb="assembly.withdrawn", reason=reason
    )


@transaction.atomic
def add_part(
    *, by: Person, at: datetime, project: Project, assembly: Assembly, number: str, name: str, **more: Any
) -> Part:
    """Put a part into an assembly."""
    take_turn(project.pk)
    part = Part(project=project, assembly=assembly, number=number, name=name)
    fill_part(part, more)
    part.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="part.added", subject=part)
    return part


@transaction.atomic
def correct_part(*, by: Person, at: datetime, part: Part, reason: str = "", **more: Any) -> Part:
    """Change a part; the old values stay in the journal."""
    take_turn(part.project_id)
    fill_part(part, more)
    part.save()
    record_change(project=part.project_id, by=by, at=at, verb="part.corrected", subject=part, reason=reason)
    return part


@transaction.atomic
def withdraw_part(*, by: Person, at: datetime, part: Part, reason: str) -> Part:
    """Take a part that was entered by mistake out of lists and weights. A scrapped part stays: it has a status."""
    take_turn(part.project_id)
    return withdraw_record(project=part.project_id, by=by, at=at, record=part, verb="part.withdrawn", reason=reason)


@transaction.atomic
def add_origin(*, by: Person, at: datetime, part: Part, kind: str, source: Part) -> Part:
    """Say where a part comes from: made on, cut from, split from, made from, or what it replaces. Never in a ring."""
    take_turn(part.project_id)
    if kind not in rules.ORIGIN_KINDS:
        raise Refusal("no_such_kind", "Choose how it comes from the other part.", "kind")
    if not queries.parts_of(part.project).filter(pk=source.pk).exists():
        raise Refusal("no_such_part", "This part is not there any more. Choose another one.", "source")
    if part.origins.filter(kind=kind, source=source).exists():
        raise Refusal("origin_there", f"{part} is {rules.ORIGIN_KINDS[kind].lower()} {source} already.", "source")
    rules.check_origin(part.pk, source.pk, queries.origin_links(part.project))
    Origin(part=part, kind=kind, source=source).save(force_insert=True)
    record_change(project=part.project_id, by=by, at=at, verb="part.traced", subject=part)
    return part


@transaction.atomic
def add_made_of(*, by: Person, at: datetime, part: Part, lot: Lot, words: str = "") -> Part:
    """Say that a lot of material went straight into a part: a core block, a tube, a sheet."""
    take_turn(part.project_id)
    if not queries.lots(part.project).filter(pk=lot.pk).exists():
        raise Refusal("no_such_lot", "This lot is not there any more. Choose another one.", "lot")
    if part.made_of.filter(lot=lot).exists():
        raise Refusal("lot_there", f"{lot} is in {part} already.", "lot")
    MadeOf(part=part, lot=lot, words=words).save(force_insert=True)
    record_change(project=part.project_id, by=by, at=at, verb="part.traced", subject=part)
    return part


@transaction.atomic
def take_away_origin(*, by: Person, at: datetime, part: Part, link: str, reason: str) -> Part:
    """Take away an origin or a lot that was entered by mistake, by its key; the journal keeps it."""
    take_turn(part.project_id)
    if not reason.strip():
        raise Refusal("no_reason", "Say why it is taken away. The reason stays with the part.", "reason")
    gone = part.origins.filter(pk=link).delete()[0] + part.made_of.filter(pk=link).delete()[0]
    if gone:
        record_change(project=part.project_id, by=by, at=at, verb="part.traced", subject=part, reason=reason)
    return part


@transaction.atomic
def add_bin(*, by: Person, at: datetime, project: Project, number: str, name: str, note: str = "") -> Bin:
    """Enter a drawer, box or shelf that wears a label."""
    take_turn(project.pk)
    made = Bin(project=project, number=number, name=name, note=note)
    check_store_number(made)
    made.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="bin.added", subject=made)
    return made


@transaction.atomic
def correct_bin(
    *, by: Person, at: datetime, store: Bin, number: str, name: str, note: str = "", reason: str = ""
) -> Bin:
    """Change number, name or note of a bin."""
    take_turn(store.project_id)
    store.number, store.name, store.note = number, name, note
    check_store_number(store)
    store.save(update_fields=["number", "name", "note"])
    record_change(project=store.project_id, by=by, at=at, verb="bin.corrected", subject=store, reason=reason)
    return store


@transaction.atomic
def withdraw_bin(*, by: Person, at: datetime, store: Bin, reason: str) -> Bin:
    """Take a bin out of the lists; the photos placed on it keep saying so."""
    take_turn(store.project_id)
    return withdraw_record(project=store.project_id, by=by, at=at, record=store, verb="bin.withdrawn", reason=reason)


@transaction.atomic
def add_lot(*, by: Person, at: datetime, project: Project, number: str, name: str, **label: Any) -> Lot:
    """Enter one delivery of a material with what its label says. A lot past its date is let in: the page warns."""
    take_turn(project.pk)
    lot = Lot(project=project, number=number, name=name)
    fill_lot(lot, at, label)
    lot.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="lot.added", subject=lot)
    return lot


@transaction.atomic
def correct_lot(*, by: Person, at: datetime, lot: Lot, reason: str = "", **label: Any) -> Lot:
    """Change what is said of a lot; the old values stay in the journal."""
    take_turn(lot.project_id)
    fill_lot(lot, at, label)
    lot.save()
    record_change(project=lot.project_id, by=by, at=at, verb="lot.corrected", subject=lot, reason=reason)
    return lot


@transaction.atomic
def withdraw_lot(*, by: Person, at: datetime, lot: Lot, reason: str) -> Lot:
    """Take a lot that was entered by mistake out of the lists; the photos placed on it keep saying so."""
    take_turn(lot.project_id)
    return withdraw_record(project=lot.project_id, by=by, at=at, record=lot, verb="lot.withdrawn", reason=reason)


def fill_lot(lot: Lot, at: datetime, values: dict[str, Any]) -> None:
    """Set what is said of a lot and refuse what cannot be on the day of the shop."""
    for name, value in values.items():
        setattr(lot, name, value)
    check_store_number(lot)
    today = at.astimezone(lot.project.zone).date()
    rules.check_lot_dates(lot.made_on, lot.opened_on, lot.expires_on, today)
    rules.check_lot_status(lot.status, lot.status_words)
    meant = rules.AREAL_IN[lot.project.units]
    lot.faw, lot.faw_gsm = rules.kept_quantity(lot.faw, "areal weight", "g/m2", meant, "faw")


def check_store_number(store: Bin | Lot) -> None:
    """Refuse the number of another bin or lot that stands."""
    noun, others = type(store).TELLING.noun, type(store)._default_manager.filter(withdrawn_at=None)
    if others.filter(project=store.project_id, number=store.number).exclude(pk=store.pk).exists():
        raise Refusal("number_taken", f"{noun} {store.number} is there already. Choose another number.", "number")


def fill_part(part: Part, values: dict[str, Any]) -> None:
    """Set a part's values, keep entered weights beside their grams, and refuse what cannot be."""
    for name, value in values.items():
        setattr(part, name, value)
    rules.check_count(part.n, part.of)
    rules.check_stands(part.assembly_id, queries.parents(part.project))
    for kind in ("weight", "estimate"):
        fill_weight(part, kind)
    meant = rules.LENGTH_IN[part.project.units]
    part.arm, part.arm_mm = rules.kept_quantity(part.arm, "length", "mm", meant, "arm")
    same = queries.parts_of(part.project).filter(number=part.number, side=part.side, n=part.n).exclude(pk=part.pk)
    if same.exists():
        raise Refusal("part_taken", f"Part {part.number} with this side and count is there already.", "number")


def fill_weight(part: Part, kind: str) -> None:
    """Keep an entered weight, its unit and its grams in step; `kind` is "weight" or "estimate"."""
    value = getattr(part, kind)
    unit = "" if value is None else getattr(part, f"{kind}_unit") or "g"
    grams = in_grams(value, unit)
    rules.check_weight(grams, kind)
    setattr(part, f"{kind}_unit", unit)
    setattr(part, f"{kind}_g", grams)


def in_grams(value: Decimal | None, unit: str) -> Decimal | None:
    """An entered weight in grams, to the millionth."""
    return None if value is None else units.grams(value, unit).quantize(Decimal("0.000001"))


def check_number(project: Project, number: str, but: Assembly | None = None) -> None:
    """Refuse an assembly number that is in use."""
    same = queries.assemblies(project).filter(number=number)
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refusal("number_taken", f"Assembly {number} is there already. Choose another number.", "number")


def next_position(project: Project, parent: Assembly | None) -> int:
    """The place behind the last neighbor."""
    last = queries.assemblies(project).filter(parent=parent).aggregate(last=Max("position"))["last"]
    return (last or 0) + 1
