"""What is asked of a priority."""

from __future__ import annotations

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm
from labqueue.choices import MEANING_OF, Priority


class PriorityForm(OnceForm):
    level = forms.ChoiceField(
        label=_("Priority"),
        choices=[
            (level.value, format_lazy("{}: {}", level.label, MEANING_OF[level]))
            for level in reversed(Priority)
        ],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label=_("Reason"), max_length=200, help_text=_("The group reads it in the record of its consignment.")
    )
