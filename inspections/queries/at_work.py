"""What somebody who works on an assembly should know of gates and points: said when work is logged (R23, R25)."""

from collections.abc import Iterable

from accounts.models import Project
from inspections.models import Closing
from inspections.queries import points
from inspections.rules.since import FOR_GOOD
from parts import queries as parts

HOLD = "{point} is a hold point here: {words}. Go no further than that before it is released."
SHUT = "{area} is closed for good. Was its inside touched? Open it again; else say on its page why not."


def notices(project: Project, assemblies: Iterable[str]) -> list[str]:
    """Hold points that stop work on these assemblies, and areas closed for good on them or above: five queries."""
    keys, parent_of = set(assemblies), parts.parents(project)
    around = keys | {up for key in keys for up in parts.above(key, parent_of)}
    open_holds = points.open_holds(project) if keys else {}
    held = [one.point for key in sorted(keys) for one in open_holds.get(key, [])]
    shut = Closing.objects.filter(
        area__project=project,
        area__kind=FOR_GOOD,
        area__assembly__in=around,
        area__withdrawn_at=None,
        reopened_at=None,
    ).select_related("area", "area__assembly")
    return [
        *(HOLD.format(point=point.number, words=point.words) for point in held),
        *(SHUT.format(area=one.area) for one in shut.order_by("area__number")),
    ]
