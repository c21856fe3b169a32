"""What is asked about a day of analysis."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm

#: More bottles than any day takes; beyond it the number is a slip (our choice).
MOST_BOTTLES = 5000


def _day(label: object) -> forms.DateField:
    return forms.DateField(
        label=label,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        input_formats=["%Y-%m-%d"],
        error_messages={"invalid": _("This is not a date. Type it as year-month-day, such as 2026-03-04.")},
    )


def _bottles(label: object) -> forms.IntegerField:
    return forms.IntegerField(
        label=label,
        min_value=0,
        max_value=MOST_BOTTLES,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        error_messages={
            "min_value": _("Write zero or more bottles."),
            "max_value": _("Ask for at most %(limit_value)s bottles."),
        },
    )


def _note(label: object) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"max_length": _("Use at most %(limit_value)s characters.")},
    )


class AskForm(OnceForm):
    """A day, and how many bottles of each line."""

    day = _day(_("Day of analysis"))
    anion_bottles = _bottles(_("Bottles for anions"))
    cation_bottles = _bottles(_("Bottles for cations"))
    note = _note(_("A word to the laboratory"))


class AcceptForm(OnceForm):
    """The proposed day is accepted."""


class NoteForm(OnceForm):
    """The day is confirmed or declined, with a word."""

    note = _note(_("A word with it"))


class ProposeForm(OnceForm):
    day = _day(_("Propose this day instead"))
    note = _note(_("Why"))


class PolicyForm(OnceForm):
    confirms_itself = forms.BooleanField(
        label=_("Days with room for all bottles confirm themselves"), required=False
    )
