"""What allauth asks of us about accounts and second factors."""

from __future__ import annotations

from typing import ClassVar

from allauth.account.adapter import DefaultAccountAdapter
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import get_language, override
from django.utils.translation import gettext_lazy as _

from intake.mails import language_of, post
from intake.models import User

HERE = "::1"
TOO_MANY = _("That was tried too often in a short time. Wait five minutes, then try again.")
WRONG_CODE = _(
    "This code does not fit. Codes change every half minute: write the one your app shows now. "
    "If it never fits, set the clock of your phone by the network."
)


class AccountAdapter(DefaultAccountAdapter):
    """People come by invitation only; what goes wrong at the doors is said in our words."""

    error_messages: ClassVar[dict[str, object]] = {
        **DefaultAccountAdapter.error_messages,
        "account_inactive": _("This account is switched off. Ask the manager of your laboratory."),
        "email_password_mismatch": _(
            "Mail address and password do not fit together, so one of them is not correct. "
            "Write both again, or ask for a new password."
        ),
        "enter_current_password": _("This is not your present password. Write it again."),
        "incorrect_password": _("This is not your password. Write it again."),
        "too_many_login_attempts": TOO_MANY,
        "rate_limited": TOO_MANY,
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_client_ip(self, request: HttpRequest) -> str:
        """Where a request came from; what comes over a local socket comes from nowhere else."""
        try:
            return super().get_client_ip(request)
        except PermissionDenied:
            return HERE

    def send_mail(self, template_prefix: str, email: str, context: dict[str, object]) -> None:
        """Like allauth's, but the mail is left as a job: a mail server that is away stops nobody."""
        person = User.objects.filter(email=email.lower()).first()
        # Who has chosen nothing has just asked for this mail on a page of ours, most likely.
        chosen = language_of(person) if person is not None and person.language else get_language()
        with override(chosen):
            message = self.render_mail(template_prefix, email, {"email": email, **context})
        post(email, message.subject, message.body, at=timezone.now())

    def format_email_subject(self, subject: str) -> str:
        return f"labqueue: {subject}"


class SecondFactorAdapter(DefaultMFAAdapter):
    error_messages: ClassVar[dict[str, object]] = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": WRONG_CODE,
    }

    def generate_authenticator_name(self, user: User, type: str) -> str:
        there = Authenticator.objects.filter(user=user, type=type).count()
        return _("Security key %(number)s") % {"number": there + 1}
