"""Fields for figures and moments as people at a bench type them."""

from __future__ import annotations

from datetime import datetime

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

#: Ways of typing a moment, beside what the browser's own date field sends.
MOMENT_FORMATS = (
    "%Y-%m-%dT%H:%M",
    "%Y-%m-%dT%H:%M:%S",
    "%Y-%m-%d %H:%M",
    "%d %b %Y %H:%M",
    "%d %B %Y %H:%M",
)


class FigureField(forms.FloatField):
    """A number with a decimal point or a decimal comma. ``example`` is shown when it is neither."""

    widget = forms.TextInput

    def __init__(self, *, example: str, **more: object) -> None:
        super().__init__(
            error_messages={
                "invalid": gettext_lazy("This is not a number. Type it in figures, such as %(example)s.")
                % {"example": example}
            },
            **more,
        )
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off", "class": "input-short"})

    def to_python(self, value: object) -> float | None:
        if isinstance(value, str):
            value = value.strip().replace("\N{MINUS SIGN}", "-").replace(",", ".")
        return super().to_python(value)


class MomentField(forms.CharField):
    """A day and a time of day on the clock of the laboratory's zone, as an aware moment.

    Refuses the hour that a change of the clocks leaves out or repeats, since nobody could
    tell which moment is meant.
    """

    def __init__(self, **more: object) -> None:
        super().__init__(widget=forms.DateTimeInput(attrs={"type": "datetime-local"}), strip=True, **more)

    def prepare_value(self, value: object) -> object:
        if isinstance(value, datetime):
            return f"{value.astimezone(timezone.get_default_timezone()):%Y-%m-%dT%H:%M}"
        return value

    def clean(self, value: object) -> datetime | None:
        text = super().clean(value)
        if not text:
            return None
        for form in MOMENT_FORMATS:
            try:
                naive = datetime.strptime(text, form)  # noqa: DTZ007 - the zone is put on below
            except ValueError:
                continue
            return self._placed(naive)
        raise ValidationError(
            _("“%(text)s” is not a day and time. Type them as 2026-03-04 14:05."), params={"text": text[:40]}
        )

    def _placed(self, naive: datetime) -> datetime:
        zone = timezone.get_default_timezone()
        early, late = naive.replace(tzinfo=zone, fold=0), naive.replace(tzinfo=zone, fold=1)
        if early.utcoffset() != late.utcoffset():
            raise ValidationError(
                _(
                    "The clocks of %(zone)s change at that hour: this time does not exist or exists twice. "
                    "Give a time before or after the change, and say the true one in the remark."
                ),
                params={"zone": str(zone)},
            )
        return early
