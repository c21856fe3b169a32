"""Forms about photographs of an arrival."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm

TOO_LONG = _("This is too long: use at most %(limit_value)s characters.")


class PhotographForm(OnceForm):
    """One picture and what it shows."""

    picture = forms.FileField(
        label=_("Photograph"),
        help_text=_("JPEG, PNG or WebP, at most 12 MB. Place, device and time are taken out of the file."),
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        error_messages={
            "required": _("Choose a photograph."),
            "missing": _("Choose a photograph."),
            "empty": _("This file is empty. Choose the photograph again."),
            "invalid": _("Choose a photograph."),
            "max_length": _("The file's name is too long: use at most %(max)s characters."),
        },
        max_length=200,
    )
    caption = forms.CharField(
        label=_("What it shows"),
        max_length=200,
        help_text=_("Such as: seal torn, ice melted, bottle leaking."),
        error_messages={"required": _("Say what the picture shows."), "max_length": TOO_LONG},
    )


class RemovePhotographForm(OnceForm):
    """Why a photograph is removed."""

    reason = forms.CharField(
        label=_("Why it is removed"),
        max_length=500,
        help_text=_("Such as: shows a person, or another box."),
        error_messages={"required": _("Say why the picture is removed."), "max_length": TOO_LONG},
    )
