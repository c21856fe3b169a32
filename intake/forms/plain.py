"""Forms whose messages say what is missing or wrong and what to do, in plain sentences."""

from __future__ import annotations

from django import forms
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from intake.errors import Refused


def inside_a_sentence(label: object) -> str:
    """A label as it stands inside a sentence: small in English, but for pH, EC and the like.

    German writes nouns with a capital, wherever they stand.
    """
    said = str(label or "")
    if get_language() != "en" or said[1:2].isupper():
        return said
    return said[:1].lower() + said[1:]


def _messages(field: forms.Field) -> dict[str, str]:
    """Our sentences for the faults Django finds by itself."""
    named = inside_a_sentence(field.label)
    sentences = {
        "required": _("Fill in: %(label)s."),
        "invalid_choice": _("Choose one of the listed answers for: %(label)s."),
        "invalid_list": _("Choose from the listed answers for: %(label)s."),
    }
    if isinstance(field, forms.FloatField | forms.DecimalField):
        sentences["invalid"] = _("Write %(label)s as a plain number, such as 12.5, without its unit.")
    elif isinstance(field, forms.IntegerField):
        sentences["invalid"] = _("Write %(label)s as a whole number.")
    elif isinstance(field, forms.EmailField):
        sentences["invalid"] = _("Write %(label)s like name@example.org.")
    elif isinstance(field, forms.DateField | forms.DateTimeField):
        sentences["invalid"] = _("Write %(label)s like 2026-11-24.")
    return {code: sentence % {"label": named} for code, sentence in sentences.items()}


def _said_by_django(field: forms.Field) -> dict[str, str]:
    """What such a field says when nobody gave it sentences of its own."""
    said: dict[str, str] = {}
    for kind in reversed(type(field).__mro__):
        said |= getattr(kind, "default_error_messages", {})
    return said


class PlainMessages:
    """Mix in before ``Form`` or ``ModelForm``; sentences that a field brings itself are kept."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if field.label is None:
                field.label = name.replace("_", " ").capitalize()
        self.say_plainly()

    def say_plainly(self) -> None:
        """Put our sentences where Django's stand; again, once labels have changed."""
        for field in self.fields.values():
            said = _said_by_django(field)
            for code, sentence in _messages(field).items():
                own = field.error_messages.get(code)
                if own == said.get(code) or own == getattr(field, "plain", {}).get(code):
                    field.error_messages[code] = sentence
            field.plain = _messages(field)

    def take(self, refusal: Refused) -> None:
        """Show what an action refused, beside the fields it names, else over the form."""
        problems = getattr(refusal, "problems", {})
        for name, sentence in problems.items():
            self.add_error(name if name in self.fields else None, sentence)
        if not problems:
            self.add_error(None, refusal.sentence)


class PlainForm(PlainMessages, forms.Form):
    """The form that every form of ours starts from."""
