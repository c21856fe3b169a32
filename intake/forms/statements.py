"""The form that issues a statement."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import CarriedText, OnceForm


class IssueForm(OnceForm):
    """Releases the statement that was shown. ``content`` is the digest of what was shown.

    A reason is asked for a correction, a tick where bottles may still be measured.
    """

    content = CarriedText(max_length=64, required=False, widget=forms.HiddenInput)
    reason = forms.CharField(
        label=_("Why it replaces the one before"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Say what was wrong or is new; the group will read it."),
        error_messages={
            "required": _("Say what was wrong or is new; the group will read it."),
            "max_length": _("The reason is too long: use at most %(limit_value)s characters."),
        },
    )
    early = forms.BooleanField(label=_("I know that bottles may still be measured"), required=False)

    def __init__(self, *args: object, correction: bool, waiting: bool, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        if not correction:
            del self.fields["reason"]
        if not waiting:
            del self.fields["early"]
