"""Fields that records of the certification file share."""

from django.db import models


def entered() -> models.CharField:
    """A quantity as it was typed, with its unit, such as "12.5 in"."""
    return models.CharField(max_length=40, blank=True)


def figure() -> models.DecimalField:
    """The same quantity in the unit that the field's name ends with; derived, but kept for sums."""
    return models.DecimalField(max_digits=18, decimal_places=8, null=True, blank=True)
