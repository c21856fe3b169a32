"""What is asked of a run: its start, what failed, a repeat, injections by hand or from a list."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm
from intake.forms.zones import ZoneField
from labqueue.forms.equipment import MOMENT_FORMATS


def moment_field(label: object, hint: object = "") -> forms.DateTimeField:
    """A moment on the laboratory's clock."""
    return forms.DateTimeField(
        label=label,
        help_text=hint,
        input_formats=[*MOMENT_FORMATS, "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M:%S"],
        error_messages={"invalid": _("Write the moment like 2026-11-27 16:40.")},
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=MOMENT_FORMATS[0]),
    )


class StartForm(OnceForm):
    started_at = moment_field(
        _("Started"), _("The moment of pressing start; planned moments of all places move with it.")
    )


class CancelForm(OnceForm):
    reason = forms.CharField(label=_("Why it is cancelled"), max_length=200)


class FailForm(OnceForm):
    position = forms.IntegerField(
        label=_("First place that was not injected properly"), min_value=1, max_value=100_000
    )
    reason = forms.CharField(label=_("What failed"), max_length=200)


class RepeatForm(OnceForm):
    dilution = forms.FloatField(
        label=_("New dilution, 1 to"),
        min_value=1,
        max_value=1_000_000,
        help_text=_("5 means five times the volume."),
    )


class HandForm(OnceForm):
    injected_at = moment_field(_("Injected"))


class VoidForm(OnceForm):
    reason = forms.CharField(label=_("Why the injection is taken back"), max_length=1000)


class TrayForm(OnceForm):
    position = forms.IntegerField(label=_("Place"), min_value=1, max_value=100_000)
    scanned = forms.CharField(
        label=_("Bottle"),
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autofocus": True}),
    )


class ListForm(OnceForm):
    file = forms.FileField(
        label=_("List of injections"),
        help_text=_("CSV or workbook (.xlsx), headings in the first row; place or bottle, and the moment."),
    )


class MatchForm(OnceForm):
    """Which of their columns hold what; ``headings`` are theirs."""

    place = forms.ChoiceField(
        label=_("Column with the place (injection number of the run list)"), required=False
    )
    bottle = forms.ChoiceField(label=_("Column with the bottle number"), required=False)
    moment = forms.ChoiceField(label=_("Column with date and time of the injection"))
    moments_of = ZoneField(label=_("Time zone of these moments"), initial=settings.TIME_ZONE)
    name = forms.CharField(
        label=_("Remember this matching as"),
        max_length=60,
        required=False,
        help_text=_("Such as the unit's name; the next list with these columns is then read by itself."),
    )

    def __init__(self, *args: object, headings: list[str], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", _("none")), *((heading, heading) for heading in headings)]
        for ours in ("place", "bottle", "moment"):
            self.fields[ours].choices = choices

    def clean(self) -> dict[str, object]:
        given = self.cleaned_data
        if not given.get("place") and not given.get("bottle") and not self.errors:
            self.add_error("place", _("Choose the column of the place, of the bottle, or both."))
        return given

    def matching(self) -> dict[str, str]:
        return {
            ours: self.cleaned_data[ours] for ours in ("place", "bottle", "moment") if self.cleaned_data[ours]
        }
