"""What is asked about units and hours. Each default is shown with where it comes from."""

from __future__ import annotations

from datetime import time

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm
from intake.forms.plain import PlainForm, PlainMessages
from labqueue.actions.equipping import UNIT_FIELDS, Shift, holiday_countries
from labqueue.choices import WEEKDAYS
from labqueue.models import OpeningHours, Unit

MOMENT_FORMATS = ["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"]

#: Where the defaults come from, shown beside the fields.
HINTS = {
    "inject_min": _("From one injection to the next. Usual: 15 to 30 (common practice)."),
    "equil_min": _("Before the first injection of a run. Usual: 30 (common practice)."),
    "startup_inj": _(
        "Blank, calibration standards, check standard, injected before the first sample. "
        "Usual: 8 (common practice)."
    ),
    "qc_every": _(
        "After so many samples, and at the end of a run, come a check standard and a blank. "
        "Usual: 10 (common practice; your method or accreditation may ask for more)."
    ),
    "qc_inj": _("Usual: 2, a check standard and a blank (common practice). 0: none."),
    "batch_every": _(
        "One fortified sample in each batch of 20 is asked by US EPA Method 332.0, 9.3.7.1; "
        "a duplicate beside it is common practice."
    ),
    "batch_inj": _("Usual: 2, a duplicate and a spike of the last sample. 0: none."),
    "tray_places": _("All places of the tray, standards included."),
    "reserved_places": _("Usual: as many as start-up injections."),
    "turnaround_min": _("From the end of a run to the earliest start of the next: tray, eluent, waste."),
    "topup": _("Leave empty where the tray is closed once the run has started."),
    "largest_dilution": _("What goes beyond is diluted by hand first. 1: it dilutes nothing itself."),
    "out_from": _("Leave empty while it works. No run is planned into this time."),
}


class UnitForm(PlainMessages, forms.ModelForm):
    """A unit; moments are on the laboratory's clock."""

    token = OnceForm.base_fields["token"]
    version = OnceForm.base_fields["version"]

    class Meta:
        model = Unit
        fields = UNIT_FIELDS
        help_texts = HINTS

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name in ("out_from", "out_until"):
            self.fields[name] = forms.DateTimeField(
                label=self.fields[name].label,
                required=False,
                input_formats=MOMENT_FORMATS,
                help_text=self.fields[name].help_text,
                widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=MOMENT_FORMATS[0]),
            )
        self.say_plainly()

    def validate_unique(self) -> None:
        """The action says that a name is taken, in our words."""

    def validate_constraints(self) -> None:
        """The action says what is wrong with the values together."""

    def values(self) -> dict[str, object]:
        return {name: self.cleaned_data[name] for name in UNIT_FIELDS}


def _clock_field(label: object) -> forms.TimeField:
    return forms.TimeField(
        label=label,
        required=False,
        input_formats=["%H:%M"],
        error_messages={"invalid": _("Write the time like 08:00.")},
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )


class HoursForm(OnceForm):
    """One shift a weekday, the public holidays and the margin. An empty day is closed."""

    country = forms.ChoiceField(
        label=_("Public holidays of"),
        required=False,
        help_text=_("From the open-source package holidays; check the list below against your own calendar."),
    )
    region = forms.CharField(
        label=_("Region"),
        required=False,
        max_length=10,
        help_text=_("Where a region has holidays of its own, by its code of ISO 3166-2, such as BY."),
    )
    margin_min = forms.IntegerField(
        label=_("Minutes a plan keeps before a due moment where that costs nothing"),
        min_value=0,
        max_value=1440,
        help_text=_("Usual: 30 (a house choice, no published source)."),
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        countries = sorted(holiday_countries())
        self.fields["country"].choices = [("", _("none")), *((code, code) for code in countries)]
        for weekday, name in WEEKDAYS:
            self.fields[f"opens_{weekday}"] = _clock_field(_("%(day)s, from") % {"day": name})
            self.fields[f"closes_{weekday}"] = _clock_field(_("%(day)s, to") % {"day": name})
        days = [f"{end}_{weekday}" for weekday, _name in WEEKDAYS for end in ("opens", "closes")]
        self.order_fields([*days, "country", "region", "margin_min"])

    @staticmethod
    def initial_of(rows: list[OpeningHours]) -> dict[str, time]:
        found: dict[str, time] = {}
        for row in rows:
            found.setdefault(f"opens_{row.weekday}", row.opens)
            found.setdefault(f"closes_{row.weekday}", row.closes)
        return found

    def clean(self) -> dict[str, object]:
        for weekday, name in WEEKDAYS:
            opens = self.cleaned_data.get(f"opens_{weekday}")
            closes = self.cleaned_data.get(f"closes_{weekday}")
            if (opens is None) != (closes is None) and not self.errors:
                missing = f"opens_{weekday}" if opens is None else f"closes_{weekday}"
                self.add_error(
                    missing, _("Give both times of %(day)s, or neither if it is closed.") % {"day": name}
                )
        return self.cleaned_data

    def shifts(self) -> list[Shift]:
        given = self.cleaned_data
        return [
            (weekday, given[f"opens_{weekday}"], given[f"closes_{weekday}"])
            for weekday, _name in WEEKDAYS
            if given.get(f"opens_{weekday}") is not None
        ]


class ClosedDayForm(PlainForm):
    day = forms.DateField(label=_("Day"), widget=forms.DateInput(attrs={"type": "date"}))
    reason = forms.CharField(label=_("Reason"), max_length=120)
