"""Filters that show seconds as hours, and moments as scripts count them."""

from datetime import datetime

from django import template

from calc.hours import clock_hours, decimal_hours

register = template.Library()


@register.filter
def hours(seconds: int | None) -> str:
    """Seconds as decimal hours with one place and thousands marked: 4930800 is 1,369.7."""
    return f"{decimal_hours(seconds or 0):,}"


@register.filter
def clock(seconds: int | None) -> str:
    """Seconds as h:min."""
    return clock_hours(seconds or 0)


@register.filter
def milliseconds(moment: datetime) -> int:
    """A moment as browsers count it: milliseconds since 1970."""
    return round(moment.timestamp() * 1000)
