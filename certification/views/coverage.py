"""The page of evidence: what stands for each claim, claims without evidence, evidence without a claim."""

from django.http import HttpResponse

from accounts.access import SeatedRequest, for_member
from certification.queries import coverage as queries
from certification.rules import coverage as rules
from foundation.answer import answer


@for_member()
def coverage(request: SeatedRequest, slug: str) -> HttpResponse:
    """The evidence of every task that the builders claim, with the rule by which it is called strong or thin."""
    context = {"coverage": queries.coverage(request.seat.project), "rule": rules.RULE, "source": rules.RULE_SOURCE}
    return answer(request, "certification/coverage.html", context)
