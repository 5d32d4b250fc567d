"""How the account pages behave here: nobody signs himself up; the builder lets people in."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedDoorAdapter(DefaultAccountAdapter):
    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
