"""Weight and balance of a project: its weighings, what is loaded, limits, cases, and what follows from them."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from django.db.models import Max, QuerySet

from accounts.models import Project
from calc import loading, weighing
from calc.trouble import Impossible
from certification.models import Equipment, Limits, LoadingCase, LoadItem, WeighIn
from certification.models.balance import LOADS, SIDES
from certification.rules import balance as rules
from parts.models import Origin, Part
from parts.queries import parts_of
from process.models import Tool
from process.queries import tools

# A part that another was made out of is no longer there by itself; a mold that it was made on is.
CONSUMED = ("cut_from", "split_from", "made_from", "replaces")


# ---- records ----


def all_weigh_ins(project: Project) -> QuerySet[WeighIn]:
    """The weighings of a project, withdrawn ones too, newest first."""
    rows = WeighIn.objects.filter(project=project).select_related("project", "done_by")
    return rows.prefetch_related("points__tool__events", "points__tool__rechecks", "fluids")


def weigh_ins(project: Project) -> QuerySet[WeighIn]:
    """The weighings that stand, newest first."""
    return all_weigh_ins(project).filter(withdrawn_at=None)


def naming_tools(project: Project, keys: Collection[str]) -> QuerySet[WeighIn]:
    """The weighings that stand and were made with one of these tools."""
    rows = WeighIn.objects.standing().filter(project=project, points__tool__in=keys).distinct()
    return rows.select_related("project", "done_by").prefetch_related("points")


def tools_named(row: WeighIn) -> set[str]:
    """The keys of the scales that a weighing names."""
    return {one.tool_id for one in row.points.all() if one.tool_id}


def newest(rows: Iterable[WeighIn]) -> WeighIn | None:
    """The weighing that counts: the finished one that was done last."""
    done = [one for one in rows if one.finished_at is not None and not one.withdrawn]
    return max(done, key=lambda one: (one.done_at, one.number), default=None)


def sent_before(project: Project, request_id: str) -> WeighIn | None:
    """The weighing that came of this request when it was sent before, be it withdrawn since."""
    return all_weigh_ins(project).filter(request_id=request_id).first() if request_id else None


def next_number(project: Project) -> int:
    """The number of the next weighing."""
    return (WeighIn.objects.filter(project=project).aggregate(last=Max("number"))["last"] or 0) + 1


def all_items(project: Project) -> QuerySet[LoadItem]:
    """What is loaded, withdrawn items too, from the front."""
    return LoadItem.objects.filter(project=project).select_related("project")


def load_items(project: Project) -> QuerySet[LoadItem]:
    """What is loaded, from the front."""
    return all_items(project).filter(withdrawn_at=None)


def limits_of(project: Project) -> Limits | None:
    """The limits that stand."""
    return Limits.objects.standing().filter(project=project).prefetch_related("corners").first()


def all_cases(project: Project) -> QuerySet[LoadingCase]:
    """Loading cases, withdrawn ones too."""
    return LoadingCase.objects.filter(project=project).select_related("project").prefetch_related("loads__item")


def cases(project: Project) -> QuerySet[LoadingCase]:
    """Loading cases that stand."""
    return all_cases(project).filter(withdrawn_at=None)


def cases_with(item: LoadItem) -> list[LoadingCase]:
    """The standing cases that have something of an item aboard."""
    return list(cases(item.project).filter(loads__item=item))


def scales(project: Project) -> QuerySet[Tool]:
    """The scales among the tools of a project."""
    return tools.tools(project).filter(kind="scale")


# ---- as rules take them ----


def readings(row: WeighIn) -> list[rules.Reading]:
    return [rules.Reading(one.name, one.reading, one.tare, one.arm) for one in row.points.all()]


def poured(row: WeighIn) -> list[rules.Poured]:
    return [rules.Poured(one.name, one.weight, one.arm, one.adds) for one in row.fluids.all()]


def weighed(row: WeighIn) -> rules.Weighed | None:
    """The empty aircraft by one weighing. Raises Impossible."""
    return rules.weighed(readings(row), poured(row))


def missing(row: WeighIn) -> list[str]:
    """What a weighing does not say yet."""
    return rules.missing(readings(row), poured(row), datum=row.datum, level=row.level, condition=row.condition)


def load_of(item: LoadItem) -> rules.Load:
    return rules.Load(item.pk, item.name, item.arm, item.least, item.most)


def bounds_of(limits: Limits) -> rules.Bounds:
    """The limits for computing. Raises Impossible."""
    sides = {side: [(one.weight, one.arm) for one in limits.corners.all() if one.side == side] for side in SIDES}
    return rules.bounds(limits.most, sides["forward"], sides["aft"])


def shown(project: Project) -> rules.Shown:
    return rules.SHOWN[project.units]


def scale_states(row: WeighIn) -> list[tuple[Tool | None, rules.ScaleState | None]]:
    """For each scale of a weighing how it stood that day; None where no tool is named."""
    day = row.done_at.astimezone(row.project.zone).date()
    found: list[tuple[Tool | None, rules.ScaleState | None]] = []
    for point in row.points.all():
        tool = point.tool
        if tool is None:
            found.append((None, None))
            continue
        events = tools.as_rules(tools.in_order(tool.events.all()))
        again = {
            one.event_id: rules.Again(one.outcome, one.looked_on, one.words)
            for one in tool.rechecks.all()
            if not one.withdrawn and (one.kind, one.record) == (row.KIND, row.pk)
        }
        found.append((tool, rules.scale_state(tool.interval_months, events, day, again)))
    return found


# ---- what follows ----


@dataclass
class Picture:
    """Everything that follows from the records of a project, still in exact figures."""

    project: Project
    shown: rules.Shown
    weigh_ins: list[WeighIn]
    counts: WeighIn | None = None
    empty: rules.Weighed | None = None
    items: list[LoadItem] = field(default_factory=list)
    limits: Limits | None = None
    bounds: rules.Bounds | None = None
    craft: loading.Aircraft | None = None
    judged: list[rules.Judged] = field(default_factory=list)
    found: list[rules.Judged] = field(default_factory=list)
    full: str = ""
    troubles: list[str] = field(default_factory=list)

    @property
    def all(self) -> list[rules.Judged]:
        """The builder's cases, then those found by computation: their numbers in table and plot."""
        return [*self.judged, *self.found]


def picture(project: Project) -> Picture:
    """Read and work out everything, in a fixed number of queries."""
    seen = Picture(project, shown(project), list(weigh_ins(project)))
    seen.counts = newest(seen.weigh_ins)
    seen.items, seen.limits = list(load_items(project)), limits_of(project)
    loads = {one.pk: load_of(one) for one in seen.items}
    try:
        seen.bounds = bounds_of(seen.limits) if seen.limits else None
        seen.empty = weighed(seen.counts) if seen.counts else None
    except Impossible as no:
        seen.troubles.append(no.sentence)
    if seen.empty is None or seen.empty.arm is None or seen.troubles:
        return seen
    rows = list(loads.values())
    for case in cases(project):
        aboard = {one.item_id: one.weight for one in case.loads.all()}
        what = rules.case_loading(seen.empty, rows, aboard)
        seen.judged.append(rules.judge(case.name, what, loads, seen.bounds, seen.shown, key=case.pk, why=case.note))
    try:
        seen.craft = rules.craft_of(seen.empty, rows, seen.bounds)
        if rows:
            seen.found = rules.extremes(seen.craft, loads, seen.bounds, seen.shown)
            seen.full = rules.all_at_once(seen.craft, seen.bounds, seen.shown)
    except Impossible as no:
        seen.troubles.append(no.sentence)
    return seen


def balance_facts(project: Project) -> dict[str, Any]:
    """Weight and balance as JSON values in words and figures: for page, report, printed record and file."""
    seen = picture(project)
    lacking = [
        (seen.counts is None, "a finished weighing"),
        (not seen.items, "what is loaded: seats, tanks, lockers"),
        (seen.limits is None, "the designer's limits"),
        (not seen.judged and seen.counts is not None and bool(seen.items), "loading cases of your own"),
    ]
    return {
        "units": {"mass": seen.shown.mass, "length": seen.shown.length, "moment": seen.shown.moment},
        "empty": weigh_in_facts(seen.counts) if seen.counts else None,
        "weighings": [weigh_in_line(one, seen.counts, seen.shown) for one in seen.weigh_ins],
        "items": [item_facts(one) for one in seen.items],
        "limits": limits_facts(seen.limits) if seen.limits else None,
        "cases": [case_facts(number, one, seen.shown) for number, one in enumerate(seen.all, start=1)],
        "outside": sum(one.inside is False for one in seen.all),
        "full": seen.full,
        "troubles": seen.troubles,
        "missing": [words for wanted, words in lacking if wanted],
        "figure": figure(seen),
        "forecast": forecast_facts(project, seen),
        "rules": [rules.said(one) for one in (rules.NET, weighing.CENTER, loading.EXTREMES, loading.ENVELOPE)],
        "caution": rules.CAUTION,
    }


def weigh_in_facts(row: WeighIn) -> dict[str, Any]:
    """One weighing: what was read, every step to the empty aircraft, how the scales stood, what it does not say."""
    units = shown(row.project)
    trouble, found = "", None
    try:
        found = weighed(row)
    except Impossible as no:
        trouble = no.sentence
    at = row.done_at.astimezone(row.project.zone)
    return {
        "key": row.pk,
        "label": row.label,
        "date": f"{at:%-d %b %Y, %H:%M}",
        "by": row.done_by.name,
        **{name: getattr(row, name) for name in ("witness", "place", "datum", "level", "condition", "note")},
        "finished": row.finished_at is not None,
        "withdrawn": row.withdrawn,
        "scales": [
            {"name": point.name, "reading": point.reading, "tare": point.tare, "arm": point.arm} | scale_facts(*stood)
            for point, stood in zip(row.points.all(), scale_states(row), strict=True)
        ],
        "steps": [step_facts(one, units) for one in found.steps] if found else [],
        "on_scales": units.weight(found.on_scales) if found else "",
        "weight": units.weight(found.weight) if found else "",
        "moment": units.turning(found.moment) if found and found.moment is not None else "",
        "center": rules.center_words(found.arm, units) if found and found.arm is not None else "",
        "arm": units.arm(found.arm) if found and found.arm is not None else "",
        "missing": missing(row),
        "trouble": trouble,
    }


def scale_facts(tool: Tool | None, state: rules.ScaleState | None) -> dict[str, Any]:
    """The scale that was used, and how it stood."""
    if tool is None or state is None:
        return {"tool": "", "tool_key": "", "tool_words": "No scale is named.", "doubtful": False}
    return {"tool": str(tool), "tool_key": tool.pk, "tool_words": state.words, "doubtful": state.doubtful}


def step_facts(one: rules.Step, units: rules.Shown) -> dict[str, Any]:
    return {
        "name": one.name,
        "kind": one.kind,
        "typed": one.typed,
        "tare": one.tare,
        "net": units.weight(one.net),
        "arm": units.arm(one.arm) if one.arm is not None else "",
        "moment": units.turning(one.moment) if one.moment is not None else "",
    }


def weigh_in_line(row: WeighIn, counts: WeighIn | None, units: rules.Shown) -> dict[str, Any]:
    """A weighing in the list of them."""
    try:
        found = weighed(row)
    except Impossible:
        found = None
    return {
        "key": row.pk,
        "label": row.label,
        "date": f"{row.done_at.astimezone(row.project.zone):%-d %b %Y}",
        "by": row.done_by.name,
        "weight": units.weight(found.weight) if found else "",
        "arm": units.arm(found.arm) if found and found.arm is not None else "",
        "finished": row.finished_at is not None,
        "counts": row == counts,
        "doubtful": any(state.doubtful for _, state in scale_states(row) if state is not None),
    }


def item_facts(one: LoadItem) -> dict[str, Any]:
    return {
        "key": one.pk,
        "name": one.name,
        "kind": LOADS[one.kind],
        "arm": one.arm,
        "least": one.least or "none",
        "most": one.most,
        "source": one.source,
    }


def limits_facts(limits: Limits) -> dict[str, Any]:
    corners = list(limits.corners.all())
    sides = {side: [{"weight": one.weight, "arm": one.arm} for one in corners if one.side == side] for side in SIDES}
    return {"key": limits.pk, "most": limits.most, "source": limits.source, **sides}


def case_facts(number: int, one: rules.Judged, units: rules.Shown) -> dict[str, Any]:
    """One case: what is aboard, weight and center, the room to each limit, inside or outside in words."""

    def room(value: Fraction | None, *, long: bool) -> str:
        if value is None:
            return "no limit there" if one.limited else ""
        return units.some(value, long=long) if value >= 0 else f"over by {units.some(value, long=long)}"

    return {
        "number": number,
        "key": one.key,
        "name": one.name,
        "note": one.why,
        "computed": not one.key,
        "aboard": [{"name": name, "weight": units.weight(weight)} for name, weight in one.aboard if weight],
        "weight": units.weight(one.weight),
        "moment": units.turning(one.moment),
        "arm": units.arm(one.arm),
        "room_forward": room(one.room_forward, long=True),
        "room_aft": room(one.room_aft, long=True),
        "room_weight": room(one.room_weight, long=False),
        "inside": one.inside,
        "faults": list(one.faults),
        "words": verdict_words(one),
    }


def verdict_words(one: rules.Judged) -> str:
    """Inside or outside, in words."""
    if one.faults:
        return f"{'Outside the limits' if one.limited else 'Not as its items allow'}: {'; '.join(one.faults)}"
    return "Inside the limits" if one.limited else "Not judged: no limits are entered"


def figure(seen: Picture) -> dict[str, Any] | None:
    """What the plot shows, as figures in the units of the project; None before there is a weighing."""
    if seen.empty is None or seen.empty.arm is None:
        return None
    units = seen.shown

    def spot(weight: Fraction, arm: Fraction) -> list[float]:
        return [float(units.in_length(arm)), float(units.in_mass(weight))]

    def edge(rows: Sequence[loading.Loading]) -> list[list[float]]:
        return [spot(one.weight, one.arm) for one in rows]

    limits = seen.bounds
    return {
        "mass": units.mass,
        "length": units.length,
        "empty": spot(seen.empty.weight, seen.empty.arm),
        "forward": [spot(*one) for one in limits.envelope.forward.points] if limits else [],
        "aft": [spot(*one) for one in limits.envelope.aft.points] if limits else [],
        "most": float(units.in_mass(limits.most)) if limits else None,
        "reach_forward": edge(rules.reach(seen.craft, aft=False)) if seen.craft else [],
        "reach_aft": edge(rules.reach(seen.craft, aft=True)) if seen.craft else [],
        "cases": [
            {"number": number, "spot": spot(one.weight, one.arm), "inside": one.inside is not False}
            for number, one in enumerate(seen.all, start=1)
        ],
    }


# ---- a forecast ----


def pieces(project: Project) -> tuple[list[rules.Piece], int]:
    """Parts that fly and equipment, and how many parts are left out because another was made out of them."""
    # Withdrawn offspring gives its source back.
    gone = Origin.objects.filter(
        part__project=project, part__withdrawn_at=None, part__status="flight", kind__in=CONSUMED
    ).values_list("source_id", flat=True)
    consumed = set(gone)
    flying = list(parts_of(project).filter(kind="part", status="flight"))
    found = [part_piece(one) for one in flying if one.pk not in consumed]
    equipment = Equipment.objects.standing().filter(project=project)
    found += [
        rules.Piece(
            one.name,
            estimate=None if one.weight_g is None else Fraction(one.weight_g),
            arm=None if one.arm_mm is None else Fraction(one.arm_mm),
            equipment=True,
        )
        for one in equipment
    ]
    return found, sum(one.pk in consumed for one in flying)


def part_piece(part: Part) -> rules.Piece:
    name = f"{part}, {part.counted}" if part.counted else str(part)
    return rules.Piece(
        name,
        estimate=None if part.estimate_g is None else Fraction(part.estimate_g),
        reading=None if part.weight_g is None else Fraction(part.weight_g),
        arm=None if part.arm_mm is None else Fraction(part.arm_mm),
    )


def forecast_facts(project: Project, seen: Picture) -> dict[str, Any]:
    """The forecast of the empty aircraft in words, and how far the weighing is from it."""
    rows, consumed = pieces(project)
    found, units = rules.forecast(rows), seen.shown
    off = ""
    if seen.empty is not None and found.weight:
        gap = seen.empty.weight - found.weight
        side = "more than" if gap > 0 else "less than"
        off = f"{units.some(gap, long=False)} {side} this forecast" if gap else "the same as this forecast"
    return {
        "pieces": found.count,
        "equipment": sum(one.equipment for one in rows),
        "consumed": consumed,
        "weight": units.weight(found.weight),
        "on_scale": units.weight(found.on_scale),
        "share_weighed": rules.percent(found.share_weighed),
        "with_arm": units.weight(found.with_arm),
        "share_with_arm": rules.percent(found.share_with_arm),
        "arm": units.arm(found.arm) if found.arm is not None else "",
        "no_weight": list(found.no_weight),
        "no_arm": list(found.no_arm),
        "weighing": off,
        "rule": rules.said(rules.FORECAST),
    }
