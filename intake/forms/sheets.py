"""The form that takes a workbook."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.plain import PlainForm


class UploadForm(PlainForm):
    """One workbook. What is in it is looked at by ``intake.sheets``."""

    sheet = forms.FileField(
        label=_("Filled workbook"),
        help_text=_("The file you downloaded here and filled, ending in .xlsx."),
        max_length=200,
        widget=forms.FileInput(
            attrs={"accept": ".xlsx,application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}
        ),
        error_messages={
            "required": _("Choose the workbook you filled."),
            "missing": _("Choose the workbook you filled."),
            "empty": _("This file is empty. Save the workbook and choose it again."),
            "max_length": _("The file's name is too long: use at most %(max)s characters."),
        },
    )
