"""The questions the queue can be asked; they live in the address."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake import choices
from intake.models import Group, User
from intake.states import BottleState
from labqueue.queue import NONE_LEFT, STATES, WITHIN, Wanted


class QueueForm(forms.Form):
    """Filters of the queue. An answer that is not offered is passed over, never an error page."""

    q = forms.CharField(label=_("Find"), required=False, max_length=100)
    line = forms.ChoiceField(label=_("Line"), required=False)
    group = forms.ChoiceField(label=_("Group"), required=False)
    within = forms.ChoiceField(label=_("Due within"), required=False)
    state = forms.ChoiceField(label=_("State"), required=False)

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        any_of = [("", _("any"))]
        self.fields["line"].choices = any_of + choices.LINES
        self.fields["group"].choices = any_of + [
            (str(pk), name) for pk, name in Group.objects.visible_to(user).values_list("pk", "name")
        ]
        self.fields["within"].choices = (
            any_of
            + [(word, label) for word, label, _hours in WITHIN]
            + [(NONE_LEFT, _("nothing left to keep"))]
        )
        self.fields["state"].choices = [("", _("waiting"))] + [
            (state.value, BottleState(state).label) for state in STATES
        ]

    def wanted(self) -> Wanted:
        """What was asked for, leaving out what is not among the answers."""
        self.is_valid()
        given = self.cleaned_data
        return Wanted(
            search=given.get("q", "").strip(),
            line=given.get("line", ""),
            group=given.get("group", ""),
            within=given.get("within", ""),
            state=given.get("state", ""),
        )

    def in_words(self) -> str:
        """What narrows the queue, as the page and its print say it; empty for the whole queue."""
        self.is_valid()
        said = []
        for field in self:
            value = self.cleaned_data.get(field.name)
            if value:
                label = dict(getattr(field.field, "choices", ())).get(value, f"“{value}”")
                said.append(f"{field.label.lower()} {label}")
        return ", ".join(said)
