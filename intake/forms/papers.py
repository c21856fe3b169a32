"""What can be chosen before labels are printed."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.forms.plain import PlainForm


class LabelForm(PlainForm):
    """Which labels go on which sheet, and where the first unused one is."""

    form = forms.ChoiceField(label=_("Labels"))
    first = forms.IntegerField(
        label=_("Begin at label"),
        min_value=1,
        max_value=100,
        initial=1,
        help_text=_("Counted from the top left, row by row, where a sheet was begun before."),
        error_messages={
            "min_value": _("The first label of a sheet is number 1."),
            "max_value": _("No sheet has more than 100 labels."),
        },
    )

    def __init__(
        self, *args: object, choices: list[tuple[str, object]], first_choice: str, **kwargs: object
    ) -> None:
        """``choices`` are codes and names of the label formats of this laboratory."""
        super().__init__(*args, **kwargs)
        self.fields["form"].choices = choices
        self.fields["form"].initial = first_choice
