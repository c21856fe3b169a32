"""The form that answers a question."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.once import OnceForm
from intake.models import Question
from intake.phrasebook import said
from intake.rules.choosing import Choice
from intake.shown import show_list


def _labels(question: Question) -> list[tuple[str, str]]:
    """The allowed answers, each with what it does to the bottles asked about."""
    ions = show_list(map(said, question.ions))
    labels = {
        Choice.RESERVATION: _("Go on; the results of %(ions)s carry a reservation")
        if question.ions
        else _("Go on; the results carry a reservation"),
        Choice.DROP: _("Give up %(ions)s, go on with the rest"),
        Choice.DISCARD: _("Do not measure; the laboratory discards the bottles"),
        Choice.RESEND: _("Do not measure; we send new bottles"),
    }
    return [(choice, labels[Choice(choice)] % {"ions": ions}) for choice in question.choices]


class AnswerForm(OnceForm):
    """One of the answers that the rulebook allows, with a word of the group's own."""

    choice = forms.ChoiceField(
        label=_("What is to happen"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose one of the answers."),
            "invalid_choice": _("Choose one of the listed answers; the rulebook allows no other here."),
        },
    )
    words = forms.CharField(
        label=_("In your words"),
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"max_length": _("This is too long: use at most %(limit_value)s characters.")},
    )

    def __init__(self, *args: object, question: Question, for_the_group: bool, **kwargs: object) -> None:
        kwargs.setdefault("auto_id", f"id_{question.pk}_%s")
        super().__init__(*args, **kwargs)
        self.fields["choice"].choices = _labels(question)
        if for_the_group:
            self.fields["words"].label = _("Whom you asked, how, and what was said")
            self.fields["words"].help_text = _("You answer for the group; this goes on record.")
