"""The questions the queue can be asked; they live in the address."""

from __future__ import annotations

from collections.abc import Sequence

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy as _

from intake import choices
from intake.forms.once import OnceForm
from intake.forms.plain import PlainForm, inside_a_sentence
from intake.states import BottleState
from labqueue.queue import BY_CONSIGNMENT, NONE_LEFT, SORTS, STATES, WITHIN, Wanted
from labqueue.today import CHANGES

FILTERS = ("q", "line", "group", "within", "state", "changed")
#: What a saved view keeps.
KEPT = (*FILTERS, "by", "sort")


class QueueForm(forms.Form):
    """Filters of the queue. An answer that is not offered is passed over, never an error page."""

    q = forms.CharField(label=_("Find"), required=False, max_length=100)
    line = forms.ChoiceField(label=_("Line"), required=False)
    group = forms.ChoiceField(label=_("Group"), required=False)
    within = forms.ChoiceField(label=_("Due within"), required=False)
    state = forms.ChoiceField(label=_("State"), required=False)
    changed = forms.ChoiceField(label=_("Changed"), required=False)
    by = forms.ChoiceField(label=_("Gather by"), required=False)
    sort = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput)

    def __init__(self, *args: object, groups: Sequence[tuple[str, str]], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        any_of = [("", _("any"))]
        self.fields["line"].choices = any_of + choices.LINES
        self.fields["group"].choices = [*any_of, *groups]
        self.fields["within"].choices = (
            any_of
            + [(word, label) for word, label, _hours in WITHIN]
            + [(NONE_LEFT, _("nothing left to keep"))]
        )
        self.fields["state"].choices = [("", _("waiting"))] + [
            (state.value, BottleState(state).label) for state in STATES
        ]
        self.fields["changed"].choices = [("", _("whenever"))] + [
            (word, change.filter_words) for word, change in CHANGES.items()
        ]
        self.fields["by"].choices = [("", _("nothing")), (BY_CONSIGNMENT, _("consignment"))]

    def clean_sort(self) -> str:
        sort = self.cleaned_data["sort"]
        return sort if sort.removeprefix("-") in SORTS else ""

    def wanted(self) -> Wanted:
        """What was asked for, leaving out what is not among the answers."""
        self.is_valid()
        given = self.cleaned_data
        words = {name: given.get(name, "") for name in KEPT[1:]}
        return Wanted(search=given.get("q", "").strip(), **words)

    def selects(self) -> list[tuple[BoundField, list[tuple[str, object, bool]]]]:
        """The fields with a list to choose from, and their answers: value, words, whether it is chosen.

        Printed by the page itself; Django's own widgets make a template of each answer.
        """
        self.is_valid()
        return [
            (
                field,
                [
                    (value, words, value == self.cleaned_data.get(field.name, ""))
                    for value, words in field.field.choices
                ],
            )
            for field in self
            if isinstance(field.field, forms.ChoiceField)
        ]

    @property
    def gathered(self) -> bool:
        return bool(self.wanted().by)

    def in_words(self) -> str:
        """What narrows the queue, as the page and its print say it; empty for the whole queue."""
        self.is_valid()
        said = []
        for name in FILTERS:
            value = self.cleaned_data.get(name)
            if value:
                field = self[name]
                label = dict(getattr(field.field, "choices", ())).get(value, f"“{value}”")
                said.append(f"{inside_a_sentence(field.label)} {label}")
        return ", ".join(said)


class ViewNameForm(PlainForm):
    """A name for what the queue shows now."""

    name = forms.CharField(
        label=_("Name"),
        max_length=60,
        error_messages={"max_length": _("The name is too long: use at most %(limit_value)s characters.")},
    )


class HoldForm(OnceForm):
    """Why the chosen bottles are put on hold."""

    reason = forms.CharField(
        label=_("Why they are put on hold"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("It is written into the record, and the groups are asked about their bottles."),
        error_messages={
            "required": _("Say why these bottles are put on hold."),
            "max_length": _("The reason is too long: use at most %(limit_value)s characters."),
        },
    )
