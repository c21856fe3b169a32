"""What every form carries that changes something: a token, and what was read before it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import time

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.plain import PlainForm


class Carried:
    """A hidden field: what cannot be read in it counts as not told; no person typed it."""

    def clean(self, value: object) -> object:
        try:
            return super().clean(value)
        except forms.ValidationError:
            return self.empty_value if isinstance(self, forms.CharField) else None


class CarriedText(Carried, forms.CharField):
    pass


class CarriedNumber(Carried, forms.IntegerField):
    pass


class Reread(PlainForm):
    """A form of which hidden values can be put in anew while what was typed stays."""

    def reread(self, **hidden: object) -> None:
        """Put fresh ``hidden`` values into a bound form; what the person typed stays."""
        self.data = self.data.copy()
        for name, value in hidden.items():
            self.data[self.add_prefix(name)] = str(value)


def how_it_stands(form: forms.BaseForm, stands: Mapping[str, object]) -> str:
    """In words, what of ``stands`` is other than what ``form`` would make it."""
    others = [
        f"{form.fields[name].label}: {_said(form.fields[name], value)}"
        for name, value in stands.items()
        if name in form.cleaned_data and form.cleaned_data[name] != value
    ]
    return _("It now says: %(values)s.") % {"values": "; ".join(others) or _("the same as you typed")}


def _said(field: forms.Field, value: object) -> str:
    if isinstance(value, (list, tuple, set, frozenset)):
        return ", ".join(_said(field, one) for one in value) or str(_("nothing"))
    if isinstance(value, time):
        return f"{value:%H:%M}"
    choices = dict(getattr(field, "choices", ()))
    return str(choices.get(value, value)) if value not in (None, "") else str(_("nothing"))


class EditForm(Reread):
    """An edit of something without a version: how it stood when the page was read goes along.

    The view gives how it stands as ``initial``, also when the form comes back. If that is not what
    was read, the form cannot be taken: it says how things stand now, and what was typed stays, so
    that saving again replaces it knowingly.
    """

    was = CarriedText(max_length=64, required=False, widget=forms.HiddenInput)
    stale = False

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.stands = {
            name: self.get_initial_for_field(field, name)
            for name, field in self.fields.items()
            if not isinstance(field, Carried)
        }
        text = json.dumps(self.stands, sort_keys=True, default=str)
        self.initial["was"] = hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()

    def clean(self) -> dict[str, object]:
        cleaned = super().clean() or self.cleaned_data
        was = cleaned.pop("was", "")
        if was and was != self.initial["was"]:
            self.stale = True
            self.reread(was=self.initial["was"])
            sentence = _("Somebody changed this after you opened the page. %(now)s") % {
                "now": how_it_stands(self, self.stands)
            }
            raise forms.ValidationError(
                sentence + " " + _("What you typed is still here; save again if it is to replace that.")
            )
        return cleaned


class OnceForm(Reread):
    """A form that takes effect once, on the version of the consignment it was read at.

    ``seen`` is how far the record had come then, so that newer changes can be told.
    """

    token = CarriedText(max_length=64, required=False, widget=forms.HiddenInput)
    version = CarriedNumber(min_value=0, max_value=2**31 - 1, required=False, widget=forms.HiddenInput)
    seen = CarriedNumber(min_value=0, max_value=2**31 - 1, required=False, widget=forms.HiddenInput)

    def content(self) -> list[tuple[str, object]]:
        """What the person entered, without what the form itself carries."""
        return [
            (name, value) for name, value in self.cleaned_data.items() if name not in OnceForm.base_fields
        ]

    def read_version(self) -> int:
        """The version this form was read at; -1, which no consignment has, where it is not told."""
        version = self.cleaned_data.get("version")
        return -1 if version is None else version


class ReasonForm(OnceForm):
    """A change that needs a reason once the laboratory was told; before that none is asked for."""

    reason = forms.CharField(
        label=_("Why you change it"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("It was sent already; the laboratory sees what you change and why."),
        error_messages={
            "required": _("Say why you change it; the laboratory was told otherwise."),
            "max_length": _("The reason is too long: use at most %(limit_value)s characters."),
        },
    )

    def __init__(self, *args: object, was_sent: bool, **kwargs: object):
        super().__init__(*args, **kwargs)
        if not was_sent:
            del self.fields["reason"]

    def why(self) -> str:
        """The reason, empty where none was asked for."""
        return self.cleaned_data.get("reason", "")


class SamplesForm(ReasonForm):
    """Saves samples. ``told`` says which readings the person was told look wrong since this change."""

    told = CarriedText(max_length=64, required=False, widget=forms.HiddenInput)
