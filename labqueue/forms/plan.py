"""What is asked of a plan: units and days, where a bottle goes, whether to accept."""

from __future__ import annotations

from datetime import time

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm
from intake.forms.plain import PlainForm
from labqueue.actions.proposing import MOST_DAYS
from labqueue.announced import USUAL_READY_FROM
from labqueue.models import Place, Unit

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

    announced = forms.BooleanField(
        label=_("Reserve places for bottles that are still to come"),
        required=False,
        help_text=_(
            "Those with an agreed or wanted day. A reserved place is never injected by itself: what has not "
            "come when the run starts goes to the next plan."
        ),
    )
    ready_from = forms.TimeField(
        label=_("On their day they can be put on a tray from"),
        required=False,
        initial=USUAL_READY_FROM,
        input_formats=["%H:%M"],
        error_messages={"invalid": _("Write the time like 12:00.")},
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text=_("On the laboratory's clock. Usual: 12:00 (our choice)."),
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        units = Unit.objects.filter(retired_at__isnull=True)
        self.fields["units"].queryset = units
        self.fields["units"].initial = [unit.pk for unit in units]
        self.fields["announced"].initial = Place.objects.filter(reserved=True).exists()

    def wanted_from(self) -> time | None:
        """From when on bottles to come are planned with; None if they are not."""
        given = self.cleaned_data
        return (given["ready_from"] or USUAL_READY_FROM) if given["announced"] else None


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

    def target(self) -> tuple[str, int, int]:
        """Unit, start and sample number from 0, as pins name a place."""
        start, _space, unit = self.cleaned_data["run"].partition(" ")
        return (
            unit,
            int(start) if start.isdecimal() and len(start) < 9 else -1,
            self.cleaned_data["sample"] - 1,
        )
