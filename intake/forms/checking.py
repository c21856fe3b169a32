"""Forms about one bottle: what was seen on it, what happens to it, and one that nobody announced."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from intake import choices
from intake.actions.entries import BottleEntry, SampleEntry
from intake.actions.naming import UNKNOWN
from intake.forms.figures import FigureField, MomentField
from intake.forms.once import OnceForm
from intake.forms.receiving import NOT_LOOKED_AT
from intake.models import Arrival, Consignment, Group
from intake.phrasebook import said
from intake.rules.ions import IONS, SETS

TOO_LONG = _("This is too long: use at most %(limit_value)s characters.")


def _seen(label: object, no: object, yes: object) -> forms.TypedChoiceField:
    """A look with three answers; not looked at is the one it starts with."""
    return forms.TypedChoiceField(
        label=label,
        required=False,
        choices=[NOT_LOOKED_AT, ("no", no), ("yes", yes)],
        coerce=lambda answer: answer == "yes",
        empty_value=None,
        error_messages={"invalid_choice": _("Choose one of the answers in the list.")},
    )


class BenchCheckForm(OnceForm):
    """Everything that can be seen on one bottle. Nothing is answered beforehand."""

    arrival = forms.ModelChoiceField(
        label=_("Arrival"),
        queryset=Arrival.objects.none(),
        to_field_name="number",
        empty_label=None,
        error_messages={
            "required": _("Choose the arrival in which the bottle came."),
            "invalid_choice": _("This arrival is not on the bench any more. Choose another."),
        },
    )
    label_matches = _seen(_("Label"), _("unlike the list"), _("agrees with the list"))
    broken = _seen(_("Bottle"), _("whole"), _("broken"))
    leaking = _seen(_("Outside"), _("dry"), _("leaking"))
    cold = _seen(_("To the touch"), _("not cold"), _("cold"))
    temperature_c = FigureField(label=_("Temperature of this bottle, °C"), required=False, example="4.5")
    frozen = _seen(_("Ice"), _("liquid"), _("frozen"))
    headspace = _seen(_("Fill"), _("to the brim"), _("air over the water"))
    cloudy = _seen(_("Water"), _("clear"), _("cloudy or a deposit"))
    ph_low = FigureField(
        label=_("pH of a portion poured off, from"),
        required=False,
        example="1.5",
        help_text=_("Pour a little into another vessel. Never dip a strip into the bottle."),
    )
    ph_high = FigureField(
        label=_("pH, to"),
        required=False,
        example="2",
        help_text=_("The same figure again where the strip shows one value."),
    )
    acid_added_ml = FigureField(label=_("Nitric acid added here, mL"), required=False, example="0.5")
    acid_added_mol_l = FigureField(label=_("Its strength, mol/L"), required=False, example="1")
    acid_added_at = MomentField(label=_("Acid added at"), required=False)
    remark = forms.CharField(
        label=_("Remark"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"max_length": TOO_LONG},
    )
    verdict = forms.ChoiceField(
        label=_("Your verdict"),
        choices=[
            ("in order", _("I looked at this bottle and it is in order.")),
            ("not", _("Something is wrong, or I am not sure. Put it on hold.")),
        ],
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Say whether the bottle is in order."),
            "invalid_choice": _("Say whether the bottle is in order."),
        },
    )

    def __init__(self, *args: object, arrivals: QuerySet[Arrival], acid_allowed: bool, **kwargs: object):
        super().__init__(*args, **kwargs)
        self.fields["arrival"].queryset = arrivals
        if not acid_allowed:
            for name in ("acid_added_ml", "acid_added_mol_l", "acid_added_at"):
                del self.fields[name]

    def clean(self) -> dict[str, object]:
        cleaned = super().clean()
        low, high = cleaned.get("ph_low"), cleaned.get("ph_high")
        if low is None and high is not None:
            cleaned["ph_low"] = high
        if high is None and low is not None:
            cleaned["ph_high"] = low
        for name, sentence in (
            ("acid_added_ml", _("Give a volume above 0 mL, or leave it empty.")),
            ("acid_added_mol_l", _("Give a strength above 0 mol/L, or leave it empty.")),
        ):
            value = cleaned.get(name)
            if value is not None and not 0 < value <= 100:
                self.add_error(name, sentence)
        if cleaned.get("acid_added_ml") is None and (
            cleaned.get("acid_added_mol_l") is not None or cleaned.get("acid_added_at") is not None
        ):
            self.add_error("acid_added_ml", _("Say how much acid was added, in mL."))
        temperature = cleaned.get("temperature_c")
        if temperature is not None and not -30 <= temperature <= 60:
            self.add_error("temperature_c", _("Give a temperature between -30 and 60 °C; read it again."))
        return cleaned

    def seen(self) -> dict[str, object]:
        """What was seen, by name of the fact, for the action."""
        carried = {"arrival", "remark", "verdict", *OnceForm.base_fields}
        return {name: value for name, value in self.cleaned_data.items() if name not in carried}


class DecideForm(OnceForm):
    """What is to happen to a checked bottle. Nothing is chosen beforehand."""

    decision = forms.ChoiceField(
        label=_("Decision"),
        choices=[
            (choices.Decision.ACCEPTED.value, _("Accept")),
            (choices.Decision.RESERVED.value, _("Accept with a reservation, which stands on the statement")),
            (choices.Decision.HELD.value, _("Hold until the submitter has said what is wanted")),
            (choices.Decision.REFUSED.value, _("Refuse")),
        ],
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose what is to happen to the bottle."),
            "invalid_choice": _("Choose one of the four decisions."),
        },
    )
    reason = forms.CharField(
        label=_("Reason"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Needed for a reservation, a refusal, and to overrule the rules. The group reads it."),
        error_messages={"max_length": TOO_LONG},
    )


class IonForm(OnceForm):
    """One ion of a bottle is given up, or taken back."""

    ion = forms.ChoiceField(
        label=_("Ion"),
        error_messages={
            "required": _("Choose an ion."),
            "invalid_choice": _("%(value)s cannot be chosen for this bottle any more."),
        },
    )
    reason = forms.CharField(
        label=_("Why it is given up"),
        max_length=1000,
        error_messages={"required": _("Say why; the group will read it."), "max_length": TOO_LONG},
    )

    def __init__(self, *args: object, ions: list[str], reason: bool, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ion"].choices = [(ion, said(ion)) for ion in ions]
        if not reason:
            del self.fields["reason"]


class UnannouncedForm(OnceForm):
    """A bottle that nobody announced: what its label says, and whose it is. The rest stays unknown."""

    consignment = forms.ModelChoiceField(
        label=_("Consignment"),
        queryset=Consignment.objects.none(),
        required=False,
        to_field_name="number",
        empty_label=_("none of these"),
        help_text=_("Where the bottle belongs to a consignment of this arrival."),
        error_messages={"invalid_choice": _("This consignment is not part of the arrival. Choose another.")},
    )
    group = forms.ModelChoiceField(
        label=_("Or the group it comes from"),
        queryset=Group.objects.none(),
        required=False,
        empty_label=_("not known"),
        help_text=_("The group is then asked to complete a new consignment."),
        error_messages={"invalid_choice": _("This group does not send samples any more. Choose another.")},
    )
    group_unknown = forms.BooleanField(
        label=_("Nobody here knows the group, or it is not registered yet"),
        required=False,
        help_text=_("It is named later, on the page of the arrival."),
    )
    own_id = forms.CharField(
        label=_("Sample id on the label"),
        max_length=60,
        error_messages={
            "required": _("Type what the label says. Where nothing can be read, describe the bottle."),
            "max_length": TOO_LONG,
        },
    )
    site = forms.CharField(
        label=_("Site on the label"), required=False, max_length=200, error_messages={"max_length": TOO_LONG}
    )
    collected_at = MomentField(
        label=_("Collected, as the label says"),
        required=False,
        help_text=_("On the clock of the place where the box stands. Empty where the label does not say."),
    )
    line = forms.ChoiceField(
        label=_("Line"),
        choices=choices.LINES,
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Say for which line the bottle is."),
            "invalid_choice": _("Choose a line."),
        },
    )
    ions = forms.MultipleChoiceField(
        label=_("Ions wanted"),
        required=False,
        choices=choices.ion_choices(IONS),
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Leave all empty to take the usual ones of the line until the group has said."),
        error_messages={"invalid_choice": _("%(value)s is not an ion we measure.")},
    )
    acidified = _seen(_("Acid, as the label says"), _("no acid"), _("acidified"))

    def __init__(
        self, *args: object, consignments: QuerySet[Consignment], groups: QuerySet[Group], **kwargs: object
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["consignment"].queryset = consignments
        self.fields["group"].queryset = groups

    def clean(self) -> dict[str, object]:
        cleaned = super().clean()
        if not any(cleaned.get(name) for name in ("consignment", "group", "group_unknown")):
            self.add_error(
                "consignment",
                _("Choose the consignment or the group of the bottle, or say that it is not known."),
            )
        return cleaned

    def entry(self) -> SampleEntry:
        """The sample with its one bottle, as far as the label tells."""
        told: Callable[[str], object] = self.cleaned_data.get
        collected: datetime | None = told("collected_at")
        line = told("line")
        usual = SETS["common anions" if line == "anion" else "common cations"]
        return SampleEntry(
            own_id=told("own_id"),
            site=told("site"),
            collected_at=collected,
            precision="minute" if collected else "unknown",
            bottles=(BottleEntry(line=line, ions=tuple(told("ions")) or usual, acidified=told("acidified")),),
        )


class NameGroupForm(OnceForm):
    """Whose bottles came, of which nobody knew it."""

    consignment = forms.ModelChoiceField(
        label=_("Consignment"),
        queryset=Consignment.objects.none(),
        to_field_name="number",
        empty_label=None,
        error_messages={
            "required": _("Choose the consignment."),
            "invalid_choice": _("The group of this consignment is known already. Choose another."),
        },
    )
    group = forms.ModelChoiceField(
        label=_("The group that sent it"),
        queryset=Group.objects.none(),
        help_text=_("One that is not in the list yet is made by the lab manager first, under People."),
        error_messages={
            "required": _("Choose the group that sent it."),
            "invalid_choice": _("This group does not send samples any more. Choose another."),
        },
    )

    def __init__(
        self, *args: object, consignments: QuerySet[Consignment], groups: QuerySet[Group], **kwargs: object
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["consignment"].queryset = consignments
        self.fields["group"].queryset = groups.exclude(name=UNKNOWN)
