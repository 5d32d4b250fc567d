"""What is told of the file on other pages."""

from typing import Any

from django import template

from accounts.models import Project
from certification.queries.papers import identity_troubles as troubles

register = template.Library()


@register.inclusion_tag("certification/_identity_troubles.html")
def identity_troubles(project: Project) -> dict[str, Any]:
    """Every paper, plate and mark that does not say the same as the project (rule R52)."""
    return {"troubles": troubles(project), "project": project}
