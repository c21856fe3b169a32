"""How long a password must be.

NIST SP 800-63B revision 4 asks for 15 characters where a password stands alone, and no rules on
what it is made of; with a second factor we ask for 12 (our choice; it asks for 8).
"""

from __future__ import annotations

from allauth.mfa.utils import is_mfa_enabled
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

ALONE = 15
WITH_SECOND_FACTOR = 12
#: Said beside every new password; all validators of the settings in one breath.
HINT = gettext_lazy(
    "At least 15 characters; a few words in a row are easy to remember. Not your name or address, "
    "and none of the passwords that everybody tries first."
)


class LengthValidator:
    """At least ``ALONE`` characters, or ``WITH_SECOND_FACTOR`` where codes from an app are on."""

    def validate(self, password: str, user: object = None) -> None:
        guarded = getattr(user, "pk", None) is not None and is_mfa_enabled(user)
        least = WITH_SECOND_FACTOR if guarded else ALONE
        if len(password) < least:
            raise ValidationError(
                _("This password is too short: %(length)s characters, of at least %(least)s. A few words do.")
                % {"length": len(password), "least": least},
                code="password_too_short",
            )

    def get_help_text(self) -> str:
        return _("At least %(least)s characters. A few words in a row are easy to remember.") % {
            "least": ALONE
        }


class NotThePlaceValidator:
    """Refuse passwords built around the name of this place: they are the first to be tried."""

    def validate(self, password: str, user: object = None) -> None:
        if "labqueue" in password.casefold():
            raise ValidationError(_("Do not build your password around “labqueue”."), code="password_context")

    def get_help_text(self) -> str:
        return ""
