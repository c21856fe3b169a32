"""The form that takes a file of results."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm
from intake.rules.values import UNITS

YES_NO = [("yes", _("yes, the file has done it")), ("no", _("no, do it here"))]


class ResultsForm(OnceForm):
    """A file, and what was done to its values: asked, so that no factor is applied twice."""

    file = forms.FileField(
        label=_("File"),
        help_text=_(
            "CSV or .xlsx, a row a value, headed Bottle, Ion, Value; if you like also Run, Place, Injected, "
            "Unit, As (ion, N, P, S), Dilution, Range top, Remark. Without a dilution that of the run list "
            "is taken."
        ),
        error_messages={
            "required": _("Choose the file with the results."),
            "empty": _("This file is empty. Choose the file with the results."),
        },
    )
    unit = forms.ChoiceField(
        label=_("Unit where a row names none"), choices=[(unit, unit) for unit in UNITS], initial="mg/L"
    )
    dilution_applied = forms.ChoiceField(
        label=_("Are the values already multiplied by the dilution?"),
        choices=YES_NO,
        widget=forms.RadioSelect,
    )
    acid_applied = forms.ChoiceField(
        label=_("Are they already corrected for the volume of the acid?"),
        choices=YES_NO,
        widget=forms.RadioSelect,
    )
    requeue = forms.BooleanField(
        label=_("Put bottles with a value above the range back into the queue"), required=False
    )
    reason = forms.CharField(
        label=_("Why values entered before are corrected"),
        max_length=500,
        required=False,
        help_text=_("Only where the file corrects some; the old values are kept, with this."),
        error_messages={"max_length": _("The reason is too long: use at most %(limit_value)s characters.")},
    )
