"""Limits that a page has to know before it sends a photo."""

from django import template
from django.conf import settings

register = template.Library()


@register.simple_tag
def most_bytes() -> str:
    """The largest photo that is taken, in bytes."""
    return str(settings.PHOTO_MAX_BYTES)


@register.simple_tag
def most_clip_bytes() -> str:
    """The largest video or voice note that is taken, in bytes."""
    return str(settings.CLIP_MAX_BYTES)
