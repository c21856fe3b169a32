"""What allauth asks of us about accounts."""

from __future__ import annotations

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class AccountAdapter(DefaultAccountAdapter):
    """People come by invitation only."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
