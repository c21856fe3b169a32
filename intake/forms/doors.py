"""The forms of the doors: allauth's, with our labels and sentences and without what we do not show."""

from __future__ import annotations

from allauth.account import forms as account
from allauth.mfa.base import forms as second_factor
from allauth.mfa.totp import forms as app_codes
from allauth.mfa.webauthn import forms as keys
from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.plain import PlainMessages
from intake.passwords import HINT


class Door(PlainMessages):
    """Labels and hints of a form from elsewhere; its placeholders go, since labels say it all."""

    labels: dict[str, object] = {}
    hints: dict[str, object] = {}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.label = self.labels.get(name, field.label)
            field.help_text = self.hints.get(name, "")
            field.widget.attrs.pop("placeholder", None)
        self.say_plainly()


ADDRESS = _("Your mail address")
PASSWORD = _("Your password")
NEW_PASSWORD = {
    "oldpassword": _("Your present password"),
    "password1": _("New password"),
    "password2": _("New password once more"),
}
CODE_HINT = _("Six digits from your app, or one of your recovery codes.")


NO_KEY = _("The browser gave no answer of a key. Try again, and touch the key when it blinks.")


class NewPassword(Door):
    labels = NEW_PASSWORD
    hints = {"password1": HINT}


class SignInForm(Door, account.LoginForm):
    labels = {"login": ADDRESS, "password": PASSWORD}


class ForgottenForm(Door, account.ResetPasswordForm):
    labels = {"email": ADDRESS}


class ChangePasswordForm(NewPassword, account.ChangePasswordForm):
    pass


class FirstPasswordForm(NewPassword, account.SetPasswordForm):
    """For somebody who is in without ever having had a password."""


class ResetPasswordForm(NewPassword, account.ResetPasswordKeyForm):
    pass


class ItIsYouForm(Door, account.ReauthenticateForm):
    labels = {"password": PASSWORD}


def _code_entry(form: forms.Form) -> None:
    form.fields["code"].widget.attrs |= {"inputmode": "numeric", "class": "input-short"}


class CodeForm(Door, second_factor.AuthenticateForm):
    labels = {"code": _("Code")}
    hints = {"code": CODE_HINT}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["code"].widget.attrs["class"] = "input-short"


class ItIsYouCodeForm(Door, second_factor.ReauthenticateForm):
    labels = {"code": _("Code")}
    hints = {"code": CODE_HINT}


class SwitchOnCodesForm(Door, app_codes.ActivateTOTPForm):
    labels = {"code": _("Code that the app shows now")}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        _code_entry(self)


class AddKeyForm(Door, keys.AddWebAuthnForm):
    labels = {"name": _("Name of the key")}
    hints = {"name": _("For you, to tell your keys apart, such as: the blue one at the key ring.")}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].max_length = 60
        self.fields["name"].widget.attrs |= {"maxlength": 60, "autocomplete": "off"}
        self.fields["credential"].error_messages |= {"required": NO_KEY, "invalid": NO_KEY}
