"""Reads about checks: fastener rows, torque, weighing, coupons, hardness, tap maps, function tests."""

from collections.abc import Callable, Sequence
from datetime import datetime
from re import findall
from typing import Any, cast

from django.db.models import QuerySet

from accounts.models import Person, Project
from calc import quantities
from calc.trouble import Impossible
from evidence.models import Photo
from process.models import (
    KINDS,
    Coupon,
    Fasteners,
    FunctionTest,
    Hardness,
    ProcessRecord,
    TapMap,
    Tool,
    Torque,
    Weighing,
)
from process.queries import tools
from process.queries.common import all_records, records
from process.queries.own import own_values
from process.queries.shots import shots
from process.rules import checks as rules
from process.rules import tools as tool_rules
from process.rules import words
from process.rules.quantities import size
from process.rules.summary import RECORDED
from process.rules.usual import Own
from process.rules.verdicts import GOOD, OPEN, Verdict, overall

CHECKS = (
    words.TORQUE,
    words.FASTENERS,
    words.WEIGHING,
    words.TAP_MAP,
    words.HARDNESS,
    words.COUPON,
    words.FUNCTION,
)
# What is read along with a record of each kind.
ALONG = {
    words.FASTENERS: ("lot", "gauge"),
    words.TORQUE: ("lot", "wrench"),
    words.WEIGHING: ("scale",),
    words.HARDNESS: ("tester",),
    words.TAP_MAP: ("tool", "photo"),
    words.FUNCTION: ("instrument",),
}
ROWS = {words.WEIGHING: ("readings",), words.TAP_MAP: ("taps",)}


def whole(kind: str, rows: QuerySet[Any]) -> QuerySet[Any]:
    along = ALONG.get(kind, ())
    used = [name for name in along if name not in {"lot", "photo"}]
    if along:
        rows = rows.select_related(*along, *(f"{name}__project" for name in used))
    tools_told = (f"{name}__{told}" for name in used for told in ("events", "rechecks"))
    return rows.prefetch_related(*ROWS.get(kind, ()), *tools_told)


def checks(project: Project, kind: str) -> QuerySet[Any]:
    """The checks of one kind that stand, newest first."""
    return whole(kind, records(KINDS[kind], project))


def all_checks(project: Project, kind: str) -> QuerySet[Any]:
    """The checks of one kind, withdrawn ones too."""
    return whole(kind, all_records(KINDS[kind], project))


def counts(project: Project) -> dict[str, int]:
    """How many checks of each kind stand."""
    return {kind: records(KINDS[kind], project).count() for kind in CHECKS}


# ---- facts, as the rules take them ----


def lot_of(record: Fasteners | Torque) -> rules.Lot | None:
    return rules.Lot(str(record.lot), record.lot.status) if record.lot else None


def fastener_facts(row: Fasteners) -> rules.FastenerFacts:
    return rules.FastenerFacts(
        count=row.count,
        rejected=row.rejected,
        solid_rivet=row.solid_rivet,
        diameter=row.diameter,
        grip=row.grip,
        length=row.length,
        edge=row.edge,
        pitch=row.pitch,
        head_height=row.head_height,
        head_width=row.head_width,
        rule=row.rule,
        lot=lot_of(row),
    )


def unit_of(wrench: Tool | None, project: Project) -> str:
    """The unit a wrench is read in: its scale's, or else the project's."""
    if wrench is not None and wrench.full_scale:
        try:
            return quantities.parse(wrench.full_scale, "torque").unit
        except Impossible:
            pass
    return "N*m" if project.units == "si" else "in-lbf"


def torque_facts(row: Torque) -> rules.TorqueFacts:
    wrench = row.wrench
    return rules.TorqueFacts(
        thread=row.thread,
        nut_type=row.nut_type,
        window_min=row.window_min,
        window_max=row.window_max,
        source=row.source,
        drag=row.drag,
        shown=row.shown,
        lever=row.lever,
        adapter=row.adapter,
        adapter_degrees=row.adapter_degrees,
        castle=row.castle,
        safetied=row.safetied,
        mark=row.mark,
        wrench=rules.Wrench(str(wrench), wrench.full_scale, wrench.resolution) if wrench else None,
        lot=lot_of(row),
        unit=unit_of(wrench, row.project),
    )


def weighing_facts(row: Weighing, readings: Sequence[dict[str, Any]] | None = None) -> rules.WeighingFacts:
    """`readings` are those of a weighing that is not kept yet."""
    if readings is None:
        scales = [rules.Scale(one.place, one.shown, one.tare, one.arm) for one in row.readings.all()]
    else:
        scales = [rules.Scale(one["place"], one["shown"], one["tare"], one["arm"]) for one in readings]
    part = row.part
    estimate = f"{part.estimate.normalize():f} {part.estimate_unit}" if part and part.estimate is not None else ""
    return rules.WeighingFacts(
        whole_aircraft=row.whole_aircraft,
        weight=row.weight,
        estimate=estimate,
        level=row.level,
        datum=row.datum,
        fluids=row.fluids,
        scales=scales,
    )


def coupon_facts(row: Coupon) -> rules.CouponFacts:
    return rules.CouponFacts(
        value=row.value,
        limit=row.limit,
        least=row.least,
        source=row.source,
        specimen_g=row.specimen_g,
        fiber_g=row.fiber_g,
        laminate_density=row.laminate_density,
        fiber_density=row.fiber_density,
        resin_density=row.resin_density,
    )


def hardness_facts(row: Hardness) -> rules.HardnessFacts:
    return rules.HardnessFacts(row.readings, row.least, row.source, row.thickness, row.edge)


def tap_facts(row: TapMap, taps: Sequence[dict[str, Any]] | None = None) -> rules.TapFacts:
    sounds = [tap.sound for tap in row.taps.all()] if taps is None else [tap["sound"] for tap in taps]
    return rules.TapFacts(row.skin, row.sandwich, row.sides_tapped, sounds, row.photo_id is not None, row.accepted)


def function_facts(row: FunctionTest) -> rules.FunctionFacts:
    return rules.FunctionFacts(row.value, row.unit, row.low, row.high, row.source, row.passed)


Judge = Callable[[Any, Any, Own], list[Verdict]]
JUDGES: dict[str, Judge] = {
    words.FASTENERS: lambda row, rows, own: rules.fastener_verdicts(fastener_facts(row)),
    words.TORQUE: lambda row, rows, own: rules.torque_verdicts(torque_facts(row)),
    words.WEIGHING: lambda row, rows, own: rules.weighing_verdicts(weighing_facts(row, rows), own),
    words.COUPON: lambda row, rows, own: rules.coupon_verdicts(coupon_facts(row)),
    words.HARDNESS: lambda row, rows, own: rules.hardness_verdicts(hardness_facts(row)),
    words.TAP_MAP: lambda row, rows, own: rules.tap_verdicts(tap_facts(row, rows)),
    words.FUNCTION: lambda row, rows, own: rules.function_verdicts(function_facts(row)),
}


def verdicts(
    record: ProcessRecord, own: Own | None = None, rows: Sequence[dict[str, Any]] | None = None
) -> list[Verdict]:
    """What can be said of a check, and of the tool it was made with. `rows` belong to one that is not kept yet."""
    values = own_values(record.project) if own is None else own
    return [*JUDGES[record.KIND](record, rows, values), *about_tools(record)]


def about_tools(record: ProcessRecord) -> list[Verdict]:
    """Warnings about the tools of a check: due or upset on that day, or found bad later (rule R44)."""
    found: list[Verdict] = []
    for name in tools.tool_fields(type(record)):
        tool = getattr(record, name)
        if tool is None:
            continue
        day = record.done_at.astimezone(record.project.zone).date()
        touched = tools.doubts_on(tool, record, day)
        done = [(one, again) for one, again in touched if again is not None]
        found += [rules.looked_again_verdict(str(tool), *tools.told_again(one, again)) for one, again in done]
        # What was used after it was found bad, `usable_at` tells, unless that was looked at again.
        suspected = [one for one, again in touched if again is None and day <= one.found_bad]
        since = tool_rules.day_words(suspected[0].found_bad) if suspected else ""
        if suspected or not any(day > one.found_bad for one, _ in done):
            found += rules.tool_verdict(str(tool), tools.usable_at(tool, record.done_at).verdict, since)
    return found


def state(record: ProcessRecord, own: Own | None = None) -> str:
    """The state of all verdicts together.

    A finished check that no rule judges, such as a row of bolts, stands for a gate; pages call it recorded, not good.
    """
    found = verdicts(record, own)
    return overall(found) if found else GOOD if record.finished_at else OPEN


def first_words(record: ProcessRecord, found: Sequence[Verdict]) -> str:
    """The one line about a check for a list: what is wrong first, then what waits; of one that no rule judges, that."""
    if not found:
        return RECORDED if record.finished_at else "No verdict yet"
    worst = sorted(found, key=lambda one: (not one.bad, one.good))
    return worst[0].words


def judged(rows: Sequence[ProcessRecord], project: Project) -> list[tuple[ProcessRecord, str, str]]:
    """Checks with their state and its words, for lists."""
    own = own_values(project)
    lines = []
    for row in rows:
        found = verdicts(row, own)
        overall_ = overall(found) if found else GOOD if row.finished_at else OPEN
        lines.append((row, overall_, first_words(row, found)))
    return lines


def setting(record: Torque) -> rules.Setting | None:
    """What to dial in; None where nothing is known, or what was typed cannot be."""
    try:
        return rules.setting_of(torque_facts(record))
    except Impossible:
        return None


def unkept(project: Project, kind: str, by: Person, values: dict[str, Any], at: datetime) -> Any:
    """A check as it would be if it were kept now, to be judged while it is typed."""
    fields = {field.name for field in KINDS[kind]._meta.concrete_fields}
    said = {name: value for name, value in values.items() if name in fields and value is not None}
    return KINDS[kind](**{"project": project, "done_at": at, "done_by": by} | said)


def photos_of(record: TapMap) -> list[Photo]:
    """The photos that marks can go on: those of the map, and the one that has them."""
    found = {record.photo.pk: record.photo} if record.photo else {}
    return list((found | {shot.photo.pk: shot.photo for shot in shots(record) if not shot.photo.withdrawn}).values())


def nothing_weighed(record: ProcessRecord) -> bool:
    """Whether a weighing has no reading yet."""
    weighing = cast("Weighing", record)
    if weighing.whole_aircraft:
        return not any(row.shown for row in weighing.readings.all())
    return not weighing.weight


def weight_to_give(record: Weighing) -> str:
    """The weight that the part does not have yet, in whatever unit; empty where there is nothing to write."""
    part = record.part
    if record.withdrawn or record.whole_aircraft or part is None or part.withdrawn or not record.weight_g:
        return ""
    value, unit = rules.part_weight(record.weight)
    said = f"{value.normalize():f} {unit}"
    if part.weight is not None and size(f"{part.weight:f} {part.weight_unit}", "g") == size(said, "g"):
        return ""
    return said


def made_with(coupon: Coupon) -> list[tuple[str, ProcessRecord | None]]:
    """The mixes, layups and bonds that a coupon names, by their numbers; None where there is no such record."""
    by_letter = {words.LETTERS[kind]: KINDS[kind] for kind in (words.MIX, words.LAYUP, words.BOND)}
    found: list[tuple[str, ProcessRecord | None]] = []
    for letter, number in findall(r"\b([A-Z]+)-(\d{1,6})\b", coupon.made_with):
        model = by_letter.get(letter)
        rows = all_records(model, coupon.project).filter(number=int(number)) if model else None
        found.append((f"{letter}-{number}", rows.first() if rows is not None else None))
    return found


def last_of(project: Project, kind: str) -> Any:
    """The check of this kind recorded last: the next one is mostly like it."""
    return checks(project, kind).first()
