"""Forms of storage: one scan, and a new place."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import CarriedText, OnceForm
from intake.models import StoragePlace
from intake.models.storage import KINDS


class StoreScanForm(OnceForm):
    """One scan. ``place`` is the number of the place that bottles are put into now."""

    text = forms.CharField(required=False, max_length=2000)
    place = CarriedText(required=False, max_length=12)


class PlaceForm(OnceForm):
    name = forms.CharField(
        label=_("Name"),
        max_length=80,
        error_messages={"max_length": _("The name is too long: use at most %(limit_value)s characters.")},
    )
    kind = forms.ChoiceField(label=_("Kind"), choices=KINDS)
    inside = forms.ModelChoiceField(
        label=_("Stands in"),
        queryset=StoragePlace.objects.none(),
        required=False,
        to_field_name="number",
        empty_label=_("nothing else"),
        error_messages={"invalid_choice": _("Choose one of the listed places.")},
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["inside"].queryset = StoragePlace.objects.select_related("inside__inside__inside")
        self.fields["inside"].label_from_instance = lambda place: place.where
