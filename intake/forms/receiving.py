"""Forms of an arrival: how the box came, what is in it, and that it is finished."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from intake import choices
from intake.actions.receiving import TRANSPORT_FIELDS, moment_problems, transport_problems
from intake.forms.figures import FigureField, MomentField
from intake.forms.once import EditForm, OnceForm
from intake.models import Arrival, Consignment

NOT_LOOKED_AT = ("", _("not looked at"))


class TransportForm(OnceForm):
    """How the box came. What nobody looked at stays empty."""

    temperature_c = FigureField(
        label=_("Temperature on opening, °C"),
        required=False,
        example="4.5",
        help_text=_("Always the figure; that the bottles came on ice is not enough."),
    )
    measured_on = forms.ChoiceField(
        label=_("Read on"),
        required=False,
        choices=[NOT_LOOKED_AT, *choices.MEASURED_ON],
        help_text=_("Needed with a temperature."),
    )
    cooling = forms.ChoiceField(
        label=_("Cooling found"), required=False, choices=[NOT_LOOKED_AT, *choices.COOLINGS]
    )
    seal = forms.ChoiceField(
        label=_("Seal of the box"), required=False, choices=[NOT_LOOKED_AT, *choices.SEALS]
    )
    carrier = forms.CharField(
        label=_("Brought by"),
        required=False,
        max_length=120,
        help_text=_("The person or the carrier, with the number of the waybill."),
        error_messages={"max_length": _("This is too long: use at most %(limit_value)s characters.")},
    )
    remark = forms.CharField(
        label=_("Remark"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Where no temperature could be read, say why."),
        error_messages={"max_length": _("The remark is too long: use at most %(limit_value)s characters.")},
    )

    def clean(self) -> dict[str, object]:
        cleaned = super().clean()
        self._tell(transport_problems(cleaned))
        return cleaned

    def _tell(self, problems: dict[str, str]) -> None:
        for name, sentence in problems.items():
            self.add_error(name, sentence)

    def transport(self) -> dict[str, object]:
        """The cleaned facts of the transport, for the action."""
        return {name: self.cleaned_data[name] for name in TRANSPORT_FIELDS}

    @staticmethod
    def of(arrival: Arrival) -> dict[str, object]:
        """What stands of ``arrival``, to begin with."""
        return {name: getattr(arrival, name) for name in TRANSPORT_FIELDS}


class AmendTransportForm(EditForm, TransportForm):
    """The transport of an arrival that stands, corrected or stated later."""


class OpenArrivalForm(TransportForm):
    """A new arrival of one or more announced consignments, now or at an earlier moment."""

    consignments = forms.ModelMultipleChoiceField(
        label=_("What came"),
        queryset=Consignment.objects.none(),
        widget=forms.CheckboxSelectMultiple,
        to_field_name="number",
        error_messages={
            "required": _("Tick at least one consignment."),
            "invalid_choice": _("Consignment %(value)s cannot arrive. Take it out, or look it up again."),
            "invalid_pk_value": _("“%(pk)s” is not the number of a consignment. Look it up again."),
            "invalid_list": _("Tick the consignments that came."),
        },
    )
    received_at = MomentField(
        label=_("Handed over at"),
        required=False,
        help_text=_("Empty means now."),
    )
    earlier_reason = forms.CharField(
        label=_("Why it is entered only now"),
        required=False,
        max_length=500,
        help_text=_("Needed when the box came more than 15 minutes ago."),
        error_messages={"max_length": _("The reason is too long: use at most %(limit_value)s characters.")},
    )
    field_order = (
        "consignments",
        "received_at",
        "earlier_reason",
        "temperature_c",
        "measured_on",
        "cooling",
        "seal",
        "carrier",
        "remark",
    )

    def __init__(
        self,
        *args: object,
        at: datetime,
        announced: QuerySet[Consignment],
        chosen: Iterable[str],
        unannounced: bool = False,
        **kwargs: object,
    ):
        super().__init__(*args, **kwargs)
        self.at = at
        if unannounced:
            del self.fields["consignments"]
            return
        self.fields["consignments"].queryset = announced.filter(number__in=list(chosen))

    def clean(self) -> dict[str, object]:
        cleaned = super().clean()
        if "received_at" in cleaned:
            reason = cleaned.get("earlier_reason", "")
            self._tell(moment_problems(self.moment(), self.at, reason))
        return cleaned

    def moment(self) -> datetime:
        """When the box was handed over: as stated, else now."""
        return self.cleaned_data["received_at"] or self.at


class AddConsignmentForm(OnceForm):
    """A further consignment was found in the box."""

    number = forms.CharField(
        label=_("Number of the consignment, or of one of its bottles"),
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off", "class": "input-short"}),
        error_messages={
            "required": _("Scan or type a number."),
            "max_length": _("No number is that long. Scan it again."),
        },
    )


class CloseArrivalForm(OnceForm):
    """Finishing an arrival: what is to be said of bottles without a check.

    ``unchecked`` and ``absent`` say whether there are any that were scanned, and any that were not.
    """

    scanned = forms.ChoiceField(
        label=_("What about the bottles that were scanned, but not checked?"),
        choices=[
            (
                "here",
                _("They are here and stay expected. The group is told that they are not checked yet."),
            ),
            ("not", _("They are not here, only their number was scanned. They count like the others.")),
        ],
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Say whether these bottles are here, or check them first."),
            "invalid_choice": _("Say whether these bottles are here, or check them first."),
        },
    )
    more_to_come = forms.ChoiceField(
        label=_("What about the bottles that nobody scanned?"),
        choices=[
            ("no", _("They were not in the box. They are missing, and the group is told so.")),
            ("yes", _("Another box is on its way. They stay expected.")),
        ],
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Say whether another box is on its way."),
            "invalid_choice": _("Say whether another box is on its way."),
        },
    )

    def __init__(self, *args: object, unchecked: bool, absent: bool, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        if not unchecked:
            del self.fields["scanned"]
        if not absent:
            del self.fields["more_to_come"]

    def more(self) -> bool:
        return self.cleaned_data.get("more_to_come") == "yes"

    def scanned_are_here(self) -> bool | None:
        """Whether the scanned bottles are here; ``None`` where that was not asked."""
        scanned = self.cleaned_data.get("scanned")
        return None if scanned is None else scanned == "here"
