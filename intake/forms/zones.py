"""The field in which a time zone is chosen."""

from __future__ import annotations

from django import forms

from intake.zones import known_zones, zone_choices


class ZoneField(forms.ChoiceField):
    """A choice of the zones in use today; a former name that stands there already may stay."""

    def __init__(self, **more: object) -> None:
        super().__init__(choices=zone_choices, **more)

    def valid_value(self, value: str) -> bool:
        return value in known_zones()

    def get_bound_field(self, form: forms.Form, field_name: str) -> forms.BoundField:
        bound = super().get_bound_field(form, field_name)
        standing = bound.value()
        offered = list(self.choices)
        if standing in known_zones() and standing not in dict(offered):
            self.choices = [*offered, (standing, str(standing).replace("_", " "))]
        return bound
