"""What is asked of somebody who plans a trip. Everything lives in the address; nothing is kept."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from intake import choices
from intake.forms.plain import PlainForm
from intake.forms.zones import ZoneField
from intake.models import RulebookVersion
from intake.rules.facts import Line, WaterKind
from intake.rules.ions import IONS, SETS, of_line
from labqueue.planning.outing import Habit, Outing, earliest_of, latest_of

#: Bounds beyond which an answer is a slip of the finger (our choice).
MOST_SITES, MOST_TRANSPORT_H, LONGEST_TRIP = 500, 240, timedelta(days=14)
EARLIEST, FURTHEST = timedelta(days=-400), timedelta(days=730)
LOCAL = "%Y-%m-%dT%H:%M"

KEPT = (
    (Habit.FILTERED.value, _("filtered at the water, 0.45 µm")),
    (Habit.CHILLED.value, _("on ice at once, above freezing to 6 °C")),
    (Habit.FROZEN.value, _("frozen at once")),
    (Habit.ACID.value, _("nitric acid into the bottles for cations")),
)
_NO_DATE = _("Type a date and a time, such as 2026-03-04 09:30.")


class LocalMoment(forms.DateTimeField):
    """A date and time on the clock of a zone that another field names; stays without a zone."""

    def __init__(self, **more: object) -> None:
        super().__init__(
            input_formats=[LOCAL, "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"],
            widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=LOCAL),
            error_messages={"invalid": _NO_DATE},
            **more,
        )

    def to_python(self, value: object) -> datetime | None:
        found = forms.Field.to_python(self, value)
        if not found:
            return None
        for form in self.input_formats:
            try:
                return datetime.strptime(str(found).strip(), form).replace(second=0)  # noqa: DTZ007
            except ValueError:
                continue
        raise forms.ValidationError(self.error_messages["invalid"], code="invalid")

    def prepare_value(self, value: object) -> object:
        return value


def _number(**more: object) -> forms.FloatField:
    return forms.FloatField(
        required=False,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
        **more,
    )


class TripForm(PlainForm):
    """A trip that has not happened yet."""

    sets = forms.MultipleChoiceField(
        label=_("Ions wanted"),
        required=False,
        choices=choices.SETS,
        widget=forms.CheckboxSelectMultiple,
    )
    ions = forms.MultipleChoiceField(
        label=_("Single ions"),
        required=False,
        choices=choices.ion_choices(IONS),
        widget=forms.CheckboxSelectMultiple,
    )
    sites = forms.IntegerField(
        label=_("Number of sites"),
        min_value=1,
        max_value=MOST_SITES,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        error_messages={
            "min_value": _("A trip has at least one site."),
            "max_value": _("Ask for at most %(limit_value)s sites at a time."),
        },
    )
    begins = LocalMoment(label=_("First sample"))
    ends = LocalMoment(label=_("Last sample"))
    zone = ZoneField(
        label=_("Time zone of the sampling"),
        error_messages={"invalid_choice": _("“%(value)s” is not a time zone we know. Choose one.")},
    )
    transport_h = forms.FloatField(
        label=_("Hours from the last sample to the laboratory's door"),
        min_value=0,
        max_value=MOST_TRANSPORT_H,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
        error_messages={
            "min_value": _("The way cannot take less than no time. Type the hours it takes."),
            "max_value": _("Type at most %(limit_value)s hours; nothing keeps on a longer way."),
        },
    )
    kept = forms.MultipleChoiceField(
        label=_("How the bottles will be kept"),
        required=False,
        choices=KEPT,
        widget=forms.CheckboxSelectMultiple,
    )
    water = forms.ChoiceField(label=_("Kind of water"), required=False, choices=choices.WATER_KINDS)
    ec = _number(
        label=_("Expected EC, µS/cm at 25 °C"),
        min_value=0,
        max_value=900_000,
        error_messages={
            "min_value": _("EC cannot be below zero."),
            "max_value": _("No water has an EC above %(limit_value)s µS/cm. Check the unit."),
        },
    )
    alkalinity = _number(
        label=_("Expected alkalinity, meq/L"),
        min_value=0,
        max_value=1000,
        error_messages={
            "min_value": _("Write an expected alkalinity of zero or more."),
            "max_value": _("An alkalinity above %(limit_value)s meq/L cannot be. Check the unit."),
        },
    )
    book = forms.ModelChoiceField(
        label=_("Rulebook"), queryset=RulebookVersion.objects.none(), empty_label=None
    )

    def __init__(self, data: QueryDict | None, *, at: datetime, zone: str) -> None:
        offered = RulebookVersion.objects.filter(offered=True).order_by("-default", "title", "-version")
        tomorrow = at.astimezone(ZoneInfo(zone)).date() + timedelta(days=1)
        first = offered.values_list("pk", flat=True).first() if data is None else None
        initial = {
            "sets": ["common anions", "common cations"],
            "sites": 4,
            "begins": datetime.combine(tomorrow, time(9)).strftime(LOCAL),
            "ends": datetime.combine(tomorrow, time(15)).strftime(LOCAL),
            "zone": zone,
            "transport_h": 4,
            "kept": [Habit.FILTERED, Habit.CHILLED, Habit.ACID],
            "book": first,
        }
        super().__init__(data, initial=initial)
        self.at = at
        self.fields["book"].queryset = offered.defer("data")

    @property
    def wanted(self) -> frozenset[str]:
        """Every ion that is ticked, alone or in a set."""
        given = self.cleaned_data
        of_sets = {ion for name in given.get("sets", ()) for ion in SETS[name]}
        return frozenset(of_sets | set(given.get("ions", ())))

    def clean(self) -> dict[str, object]:
        given = super().clean()
        if not self.wanted and not {"sets", "ions"} & set(self.errors):
            self.add_error("sets", _("Tick at least one set or one single ion."))
        begins, ends, zone = given.get("begins"), given.get("ends"), given.get("zone")
        if begins and ends and zone:
            self._clean_moments(begins, ends, zone)
        return given

    def _clean_moments(self, begins: datetime, ends: datetime, zone: str) -> None:
        today = self.at.astimezone(ZoneInfo(zone)).date()
        if not EARLIEST <= begins.date() - today <= FURTHEST:
            self.add_error("begins", _("This day is more than a year past or two years ahead. Check it."))
        elif ends < begins:
            self.add_error("ends", _("The last sample cannot come before the first."))
        elif ends - begins > LONGEST_TRIP:
            self.add_error("ends", _("Ask for at most 14 days at a time: the first bottles wait longest."))

    def outing(self) -> Outing:
        """The trip of a valid form. An hour that clocks show twice is reckoned both ways for safety."""
        given = self.cleaned_data
        return Outing(
            ions=self.wanted,
            sites=given["sites"],
            begins=earliest_of(given["begins"], given["zone"]),
            ends=latest_of(given["ends"], given["zone"]),
            zone=given["zone"],
            transport_min=round(given["transport_h"] * 60),
            kept=frozenset(Habit(word) for word in given["kept"]),
            ec_us_cm=given["ec"],
            alkalinity_meq_l=given["alkalinity"],
            water_kind=WaterKind(given["water"] or WaterKind.UNKNOWN),
        )

    def clocks_unclear(self) -> bool:
        """Whether the clocks of the zone show one of the two moments twice, or skip it."""
        given = self.cleaned_data
        moments = (given["begins"], given["ends"])
        return any(earliest_of(when, given["zone"]) != latest_of(when, given["zone"]) for when in moments)

    def first_day(self) -> int:
        """Where the days that are looked at begin, in days from the first sample's: the Monday of its
        week, or today if that is later.
        """
        day: date = self.cleaned_data["begins"].date()
        today = self.at.astimezone(ZoneInfo(self.cleaned_data["zone"])).date()
        monday = day - timedelta(days=day.weekday())
        return (max(monday, today) - day).days


def address_of(outing: Outing, book: RulebookVersion) -> str:
    """``outing`` as the query of an address."""
    zone = ZoneInfo(outing.zone)
    query = QueryDict(mutable=True)
    whole_sets = [name for name, ions in SETS.items() if set(ions) <= outing.ions]
    covered = {ion for name in whole_sets for ion in SETS[name]}
    query.setlist("sets", whole_sets)
    query.setlist("ions", [ion for line in Line for ion in of_line(line) if ion in outing.ions - covered])
    query["sites"] = str(outing.sites)
    query["begins"] = outing.begins.astimezone(zone).strftime(LOCAL)
    query["ends"] = outing.ends.astimezone(zone).strftime(LOCAL)
    query["zone"] = outing.zone
    query["transport_h"] = f"{round(outing.transport_min / 60, 2):g}"
    query.setlist("kept", [habit for habit in Habit if habit in outing.kept])
    query["water"] = outing.water_kind
    query["ec"] = "" if outing.ec_us_cm is None else f"{outing.ec_us_cm:g}"
    query["alkalinity"] = "" if outing.alkalinity_meq_l is None else f"{outing.alkalinity_meq_l:g}"
    query["book"] = str(book.pk)
    return query.urlencode()
