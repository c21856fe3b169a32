"""Forms of the submitter's pages about a consignment as a whole."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from intake.actions.copying import Plan
from intake.forms.once import OnceForm, ReasonForm
from intake.forms.plain import PlainForm
from intake.forms.zones import ZoneField
from intake.models import Consignment, DateRequest, Group, RulebookVersion
from intake.phrasebook import said_later
from intake.rules.ions import IONS
from intake.states import ConsignmentState
from intake.zones import zone_choices

#: Furthest day that can be asked for, in days from today; beyond it the year is a slip (our choice).
FURTHEST_DAYS = 730


def _day(**more: object) -> forms.DateField:
    return forms.DateField(
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        input_formats=["%Y-%m-%d", "%d %b %Y", "%d %B %Y"],
        error_messages={"invalid": _("This is not a date. Type it as year-month-day, such as 2026-03-04.")},
        **more,
    )


class HeadForm(OnceForm):
    """Title, purpose, rulebook, zone and wanted date: what concerns the consignment as a whole."""

    title = forms.CharField(
        label=_("Title"),
        max_length=200,
        help_text=_("A few words by which you will know it again, such as “Mill brook, March”."),
        error_messages={
            "required": _("Give the consignment a title."),
            "max_length": _("The title is too long: use at most %(limit_value)s characters."),
        },
    )
    purpose = forms.CharField(
        label=_("Purpose"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("What the results are for; it helps the laboratory to choose what to save first."),
        error_messages={"max_length": _("The purpose is too long: use at most %(limit_value)s characters.")},
    )
    rulebook = forms.ModelChoiceField(
        label=_("Rulebook"),
        queryset=RulebookVersion.objects.none(),
        empty_label=None,
        help_text=_("The rules by which your bottles are judged and their holding times counted."),
        error_messages={
            "required": _("Choose a rulebook."),
            "invalid_choice": _("This rulebook is not offered any more. Choose another."),
        },
    )
    zone = ZoneField(
        label=_("Time zone of the sampling"),
        help_text=_("Times you enter are read, and due moments shown, on the clocks of this zone."),
        error_messages={
            "required": _("Choose the time zone in which the samples are taken."),
            "invalid_choice": _("“%(value)s” is not a time zone we know. Choose one from the list."),
        },
    )
    requested_on = _day(
        label=_("Analysis wanted on"),
        required=False,
        help_text=_("The day on which you would like the samples to be measured."),
    )

    def __init__(self, *args: object, at: datetime, standing: Consignment | None = None, **kwargs: object):
        super().__init__(*args, **kwargs)
        self.at = at
        self.standing = standing
        if standing is not None and DateRequest.objects.filter(consignment=standing).exists():
            del self.fields["requested_on"]  # it is agreed on a page of its own
        offered = RulebookVersion.objects.filter(offered=True)
        if standing is not None:
            offered = offered | RulebookVersion.objects.filter(pk=standing.rulebook_id)
        self.fields["rulebook"].queryset = offered.order_by("-default", "title", "-version").defer("data")

    def clean(self) -> dict[str, object]:
        cleaned = super().clean()
        day, zone = cleaned.get("requested_on"), cleaned.get("zone")
        if day is None or not zone:
            return cleaned
        if self.standing is not None and day == self.standing.requested_on:
            return cleaned
        today = self.at.astimezone(ZoneInfo(zone)).date()
        if day < today:
            self.add_error("requested_on", _("This day is over. Choose today or a later day."))
        elif (day - today).days > FURTHEST_DAYS:
            self.add_error("requested_on", _("This day is more than two years away. Check the year."))
        return cleaned

    def head(self) -> dict[str, object]:
        """The cleaned values of the consignment's head."""
        names = ("title", "purpose", "rulebook", "zone", "requested_on")
        return {name: self.cleaned_data[name] for name in names if name in self.fields}


class AmendForm(ReasonForm, HeadForm):
    """The head of a consignment that stands; a reason is asked for once it was sent."""

    field_order = ("title", "purpose", "rulebook", "zone", "requested_on", "reason")


class NewConsignmentForm(HeadForm):
    """A new consignment. With several groups the zone may stay open: it is then the group's usual one."""

    group = forms.ModelChoiceField(
        label=_("Group"),
        queryset=Group.objects.none(),
        empty_label=None,
        error_messages={
            "required": _("Choose the group that sends the samples."),
            "invalid_choice": _("Choose one of your groups."),
        },
    )
    field_order = ("group", "title", "purpose", "requested_on", "zone", "rulebook")

    def __init__(self, *args: object, groups: QuerySet[Group], **kwargs: object):
        super().__init__(*args, **kwargs)
        self.fields["group"].queryset = groups
        several = list(groups[:2])
        if len(several) == 1:
            self.initial.setdefault("zone", several[0].zone)
        else:
            self.fields["zone"].required = False
            self.fields["zone"].choices = [("", _("the group's usual one")), *zone_choices()]

    def clean_zone(self) -> str:
        group = self.cleaned_data.get("group")
        return self.cleaned_data["zone"] or (group.zone if group is not None else "")


class PlanForm(forms.Form):
    """What the address of a new consignment may tell of a planned trip; nobody types it."""

    sites = forms.IntegerField(min_value=1, max_value=500)
    ions = forms.MultipleChoiceField(choices=[(ion.name, said_later(ion.name)) for ion in IONS])
    acid_ml = forms.FloatField(required=False, min_value=0.001, max_value=50)

    def plan(self) -> Plan | None:
        """The plan, or nothing where the address does not tell one that can be."""
        if not self.is_valid():
            return None
        given = self.cleaned_data
        return Plan(given["sites"], tuple(given["ions"]), given["acid_ml"])


class SendForm(OnceForm):
    """Confirms that a consignment is sent; where readings look wrong, says why they are right."""

    reason = forms.CharField(
        label=_("Why these readings are right"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Such as “read twice” or “meter calibrated that morning”. The laboratory sees it."),
        error_messages={
            "required": _("Correct the readings, or say why they are right."),
            "max_length": _("The reason is too long: use at most %(limit_value)s characters."),
        },
    )

    def __init__(self, *args: object, doubted: bool, **kwargs: object):
        super().__init__(*args, **kwargs)
        if not doubted:
            del self.fields["reason"]


class WithdrawForm(OnceForm):
    """Confirms that a consignment is taken back. A reason is due once it was sent."""

    reason = forms.CharField(
        label=_("Why you withdraw it"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={
            "required": _("Say why you withdraw it; the laboratory was expecting it."),
            "max_length": _("The reason is too long: use at most %(limit_value)s characters."),
        },
    )

    def __init__(self, *args: object, was_sent: bool, **kwargs: object):
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = was_sent


class ConsignmentFilterForm(PlainForm):
    """Search and filters of the list; they live in the address."""

    q = forms.CharField(label=_("Search"), required=False, max_length=100)
    state = forms.ChoiceField(
        label=_("State"), required=False, choices=[("", _("all")), *ConsignmentState.choices]
    )
    group = forms.ModelChoiceField(
        label=_("Group"), required=False, queryset=Group.objects.none(), empty_label=_("all")
    )

    def __init__(self, *args: object, groups: QuerySet[Group], **kwargs: object):
        super().__init__(*args, **kwargs)
        self.fields["group"].queryset = groups
        if len(groups[:2]) < 2:
            del self.fields["group"]
