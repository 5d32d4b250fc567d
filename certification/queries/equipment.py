"""The equipment list: what is installed, with weights and arms where they are known."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from accounts.models import Project
from certification.models import Equipment


def equipment(project: Project) -> QuerySet[Equipment]:
    """What stands on the list, by name."""
    return Equipment.objects.standing().filter(project=project).order_by("name", "pk")


def all_equipment(project: Project) -> QuerySet[Equipment]:
    """The list with what was withdrawn: its pages stay readable."""
    return Equipment.objects.filter(project=project).select_related("project")


@dataclass(frozen=True)
class Sum:
    """What the list weighs as far as it says, and how many lines do not."""

    grams: Decimal
    lines: int
    without_weight: int
    without_arm: int


def summed(rows: list[Equipment]) -> Sum:
    """The weights of the list together."""
    weighed = [row.weight_g for row in rows if row.weight_g is not None]
    return Sum(sum(weighed, Decimal(0)), len(rows), len(rows) - len(weighed), sum(row.arm_mm is None for row in rows))


def equipment_facts(project: Project) -> list[dict[str, Any]]:
    """The list for the printed record."""
    return [
        {
            "name": row.name,
            "maker": row.maker,
            "model": row.model,
            "serial": row.serial,
            "weight": row.weight,
            "arm": row.arm,
            "installed_on": row.installed_on.isoformat() if row.installed_on else "",
            "note": row.note,
        }
        for row in equipment(project)
    ]
