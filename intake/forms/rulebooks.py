"""Forms for making the next version of a rulebook."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from intake.choices import choices_of, ion_choices
from intake.errors import EntryProblem
from intake.forms.once import EditForm
from intake.forms.plain import PlainForm
from intake.rules.book import Confidence, Counting, KeepingRow, LimitUnit, Outcome, Rulebook
from intake.rules.facts import AcidKind, Container
from intake.rules.ions import IONS
from intake.rules.plain import to_plain

UNSET = [("", _("asks for nothing"))]
YES_NO = [("yes", _("yes")), ("no", _("no"))]
NO_ACID = "none"
_ACIDS = [(kind, word) for kind, word in choices_of(AcidKind) if kind != AcidKind.NONE]


def _three_ways(label: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=UNSET + YES_NO, required=False)


def _number(label: str) -> forms.FloatField:
    return forms.FloatField(label=label, required=False)


class RowForm(EditForm):
    """One row: an ion, how it has to be kept, how long it may then wait, and where that stands."""

    ion = forms.ChoiceField(label=_("Ion"), choices=ion_choices(IONS))
    limit_value = forms.FloatField(
        label=_("Limit"), required=False, help_text=_("Empty: the laboratory still has to set one.")
    )
    limit_unit = forms.ChoiceField(label=_("Unit of the limit"), choices=choices_of(LimitUnit))
    filter_pore_max_um = _number(_("Filter pore at most, µm"))
    filtered_within_min = _number(_("Filtered within, minutes of collection"))
    min_c = _number(_("Kept at least at, °C"))
    max_c = _number(_("Kept at most at, °C"))
    frozen = _three_ways(_("Frozen"))
    frozen_within_min = _number(_("Frozen within, minutes of collection"))
    acid = forms.MultipleChoiceField(
        label=_("Acid that satisfies the row"),
        choices=[(NO_ACID, _("no acid at all")), *_ACIDS],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None ticked: the row asks for nothing."),
    )
    acid_ph_max = _number(_("Acidified to a pH of at most"))
    acid_within_min = _number(_("Acidified within, minutes of collection"))
    containers = forms.MultipleChoiceField(
        label=_("Containers"),
        choices=choices_of(Container),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None ticked: any container."),
    )
    to_brim = _three_ways(_("Filled to the brim"))
    chlorinated = _three_ways(_("Chlorinated water"))
    additive = forms.CharField(label=_("Other preservative"), required=False, max_length=60)
    document = forms.CharField(label=_("Source: document"), max_length=300)
    edition = forms.CharField(label=_("Source: edition"), required=False, max_length=200)
    place = forms.CharField(label=_("Source: table or section"), required=False, max_length=200)
    confidence = forms.ChoiceField(label=_("How well it is founded"), choices=choices_of(Confidence))
    note = forms.CharField(label=_("Note"), required=False, max_length=1000, widget=forms.Textarea)
    reason = forms.CharField(label=_("Why you change it"), max_length=1000)

    _NUMBERS = (
        "filter_pore_max_um",
        "filtered_within_min",
        "min_c",
        "max_c",
        "frozen_within_min",
        "acid_ph_max",
        "acid_within_min",
    )
    _THREE_WAYS = ("frozen", "to_brim", "chlorinated")

    @classmethod
    def initial_of(cls, row: KeepingRow) -> dict[str, object]:
        """What the form shows for a standing row."""
        asks = row.conditions
        three = {None: "", True: "yes", False: "no"}
        return {
            "ion": row.ion,
            "limit_value": row.limit.value if row.limit else None,
            "limit_unit": row.limit.unit.value if row.limit else LimitUnit.DAYS.value,
            **{name: getattr(asks, name) for name in cls._NUMBERS},
            **{name: three[getattr(asks, name)] for name in cls._THREE_WAYS},
            "acid": [NO_ACID] if asks.acid == () else [kind.value for kind in asks.acid or ()],
            "containers": [kind.value for kind in asks.containers or ()],
            "additive": asks.additive or "",
            "document": row.source.document,
            "edition": row.source.edition,
            "place": row.source.place,
            "confidence": row.confidence.value,
            "note": row.note,
        }

    _NAMED_OTHERWISE = {"value": "limit_value", "unit": "limit_unit"}

    def at_its_fields(self, problem: EntryProblem) -> EntryProblem:
        """``problem`` of the plain row, told at the fields of this form."""
        named = {self._NAMED_OTHERWISE.get(name, name): text for name, text in problem.problems.items()}
        return EntryProblem(problem.sentence, named)

    def clean_acid(self) -> list[str]:
        acids = self.cleaned_data["acid"]
        if NO_ACID in acids and len(acids) > 1:
            raise forms.ValidationError(_("Tick either “no acid at all” or the acids, not both."))
        return acids

    def row(self, number: int) -> dict[str, object]:
        """The row as plain data, as ``intake.rules.book_data`` reads it."""
        given = self.cleaned_data
        conditions: dict[str, object] = {
            name: given[name] for name in self._NUMBERS if given[name] is not None
        }
        conditions |= {name: given[name] == "yes" for name in self._THREE_WAYS if given[name]}
        if given["acid"]:
            conditions["acid"] = [] if given["acid"] == [NO_ACID] else given["acid"]
        if given["containers"]:
            conditions["containers"] = given["containers"]
        if given["additive"].strip():
            conditions["additive"] = given["additive"].strip()
        immediately = given["limit_unit"] == LimitUnit.IMMEDIATELY.value
        value = 0 if immediately else given["limit_value"]
        return {
            "number": number,
            "ion": given["ion"],
            "conditions": conditions,
            "limit": None if value is None else {"value": value, "unit": given["limit_unit"]},
            "source": {name: given[name].strip() for name in ("document", "edition", "place")},
            "confidence": given["confidence"],
            "note": given["note"].strip(),
        }


class SettingsForm(EditForm):
    """What holds for every row of the book."""

    title = forms.CharField(label=_("Title"), max_length=200)
    about = forms.CharField(label=_("About"), required=False, widget=forms.Textarea)
    counting = forms.ChoiceField(label=_("Days and months are counted"), choices=choices_of(Counting))
    departure = forms.ChoiceField(label=_("A departure means at reception"), choices=choices_of(Outcome))
    immediately_min = forms.FloatField(label=_("“At once” means within, minutes"))
    gross_factor = forms.FloatField(label=_("Grossly late is more than the limit times"))
    arrival_tolerance_c = forms.FloatField(label=_("A box may be warmer on opening by, °C"))
    line_volume_ml = forms.FloatField(label=_("Volume a line, mL"))
    injection_volume_ml = forms.FloatField(label=_("One injection takes, mL"))
    repeats = forms.IntegerField(label=_("Repeats to have water for"))
    filter_pore_max_um = _number(_("Every bottle filtered at, µm at most"))
    bottle_max_c = _number(_("Every bottle kept at, °C at most"))
    chilled_within_min = _number(_("Every bottle in the cold within, minutes of collection"))
    to_brim = forms.ChoiceField(label=_("Every bottle filled to the brim"), choices=YES_NO)
    acid_dose_ml = forms.FloatField(label=_("Usual acid dose, mL"))
    acid_dose_mol_l = forms.FloatField(label=_("Usual acid, mol/L"))
    acid_ph_target = _number(_("pH that acid has to reach"))
    acid_standing_h = forms.FloatField(label=_("After acid in the laboratory a bottle stands, hours"))
    same_day_allowance = forms.ChoiceField(
        label=_("Warm bottles of the same day pass when cooling has begun"), choices=YES_NO
    )
    gel_packs_count_as_ice = forms.ChoiceField(label=_("Gel packs count as ice"), choices=YES_NO)
    reason = forms.CharField(label=_("Why you change it"), max_length=1000)

    FLAGS = ("to_brim", "same_day_allowance", "gel_packs_count_as_ice")

    @classmethod
    def initial_of(cls, book: Rulebook) -> dict[str, object]:
        plain = {name: getattr(book, name) for name in cls.base_fields if name not in ("reason", "was")}
        return {
            name: ("yes" if value else "no") if name in cls.FLAGS else to_plain(value)
            for name, value in plain.items()
        }

    def changes(self) -> dict[str, object]:
        """Settings as plain data."""
        return {
            name: value == "yes" if name in self.FLAGS else value
            for name, value in self.cleaned_data.items()
            if name != "reason"
        }


class CopyForm(PlainForm):
    """The next version of the same book, or a book of one's own."""

    code = forms.SlugField(
        label=_("Code of a new book"),
        required=False,
        max_length=60,
        help_text=_("Leave empty to make the next version of this book."),
    )
    title = forms.CharField(label=_("Title"), required=False, max_length=200)


class PublishForm(PlainForm):
    dated = forms.DateField(label=_("Dated"), widget=forms.DateInput(attrs={"type": "date"}))
    reason = forms.CharField(label=_("Why there is a new version"), max_length=2000, widget=forms.Textarea)
    offered = forms.BooleanField(label=_("Offer it for new consignments"), required=False, initial=True)


class RemoveForm(PlainForm):
    reason = forms.CharField(label=_("Why the row goes"), max_length=1000)
