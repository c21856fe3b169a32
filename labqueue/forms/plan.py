"""What is asked of a plan: units and days, where a bottle goes, whether to accept."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm
from intake.forms.plain import PlainForm
from labqueue.actions.proposing import MOST_DAYS
from labqueue.models import Unit

USUAL_DAYS = 7


class PlanForm(PlainForm):
    """Which units, and how far ahead."""

    units = forms.ModelMultipleChoiceField(
        label=_("Units"), queryset=Unit.objects.none(), widget=forms.CheckboxSelectMultiple
    )
    days = forms.IntegerField(
        label=_("Days ahead"),
        min_value=1,
        max_value=MOST_DAYS,
        initial=USUAL_DAYS,
        help_text=_("What is due later is left to the next plan."),
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        units = Unit.objects.filter(retired_at__isnull=True)
        self.fields["units"].queryset = units
        self.fields["units"].initial = [unit.pk for unit in units]


class TargetForm(OnceForm):
    """A place of the plan for one bottle: the run, and which sample of it."""

    run = forms.ChoiceField(label=_("Run"))
    sample = forms.IntegerField(
        label=_("As sample number"), min_value=1, max_value=2000, help_text=_("Counted from 1 in that run.")
    )

    def __init__(self, *args: object, runs: list[tuple[str, str]], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["run"].choices = runs
        self.order_fields(["run", "sample"])
