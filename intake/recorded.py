"""Words for what entries of the record hold: their fields, values and subjects.

Entries are stored in English and by codes; here they are said in the reader's language.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Field, Model
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from intake.models import Arrival, BenchCheck, Bottle, Consignment, DateRequest, RecordEntry, Sample
from intake.phrasebook import said
from intake.shown import show_list

#: An aware moment as the record keeps it.
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)")

Values = Mapping[str, object]


def say_value(value: object, zone: str) -> str:
    """A value of the record as people read it; moments on the clocks of ``zone``."""
    if value is None or value == "" or value == []:
        return _("not stated")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, dict):
        return show_list(f"{said(name)} ({reason})" for name, reason in value.items()) or _("nothing")
    if isinstance(value, list):
        return show_list(str(part) for part in value)
    if isinstance(value, str) and MOMENT.fullmatch(value):
        there = datetime.fromisoformat(value).astimezone(ZoneInfo(zone))
        return f"{there:%Y-%m-%d %H:%M} {zone}"
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)


Fields = Mapping[str, Field]


def _fields(*kinds: type[Model]) -> dict[str, Field]:
    """The fields of ``kinds`` by name; the last kind has the last word."""
    fields = [field for kind in kinds for field in kind._meta.get_fields()]
    return {field.name: field for field in fields if hasattr(field, "verbose_name")}


KINDS_OF_ROWS = (DateRequest, Arrival, Sample, Bottle, Consignment)
FIELDS = _fields(*KINDS_OF_ROWS)
#: Labels of values by the name of their field, whichever of the kinds has it: all have states.
LABELS = {
    name: {
        value: label
        for kind in KINDS_OF_ROWS
        for value, label in getattr(_fields(kind).get(name), "flatchoices", None) or ()
    }
    for name in FIELDS
}
CHECK_FIELDS = _fields(BenchCheck)
#: What entries hold beside fields, by the words that they are kept under.
KEPT_UNDER = {
    "found": gettext_lazy("found"),
    "ions concerned": gettext_lazy("ions concerned"),
    "answers allowed": gettext_lazy("answers allowed"),
    "useful until": gettext_lazy("useful until"),
    "disclaimer": gettext_lazy("disclaimer"),
    "seen in order": gettext_lazy("seen in order"),
    "given up": gettext_lazy("given up"),
    "stands in": gettext_lazy("stands in"),
    "what it shows": gettext_lazy("what it shows"),
    "own id": gettext_lazy("own id"),
    "injected": gettext_lazy("injected"),
    "dilution": gettext_lazy("dilution"),
    "level": gettext_lazy("priority"),
}
#: Of these, what is kept is a sentence or word of the rules.
OF_THE_RULES = ("found", "ions concerned", "answers allowed", "disclaimer", "ions", "dropped", "given up")


def say_name(name: str, fields: Fields = FIELDS) -> str:
    field = fields.get(name) or FIELDS.get(name)
    if field is not None:
        return str(field.verbose_name)
    return str(KEPT_UNDER.get(name) or name.replace("_", " "))


def _say(name: str, value: object, zone: str, fields: Fields = FIELDS) -> str:
    """``value`` of the field ``name``: by its label, where it is one of a few."""
    field = fields.get(name) or FIELDS.get(name)
    if isinstance(value, str) and value and field is not None and getattr(field, "choices", None):
        return said(LABELS.get(name, {}).get(value) or dict(field.flatchoices).get(value, value))
    if name in OF_THE_RULES and isinstance(value, list):
        return say_value([said(part) for part in value], zone)
    told = say_value(value, zone)
    return said(told) if name in OF_THE_RULES else told


def changes(before: Values, after: Values, zone: str, fields: Fields = FIELDS) -> list[str]:
    return [
        f"{say_name(name, fields)}: {_say(name, before.get(name), zone, fields)} → "
        f"{_say(name, value, zone, fields)}"
        for name, value in after.items()
    ]


def facts(values: Values, zone: str, names: Iterable[str]) -> list[str]:
    return [f"{say_name(name)}: {_say(name, values.get(name), zone)}" for name in names]


#: What a subject is; the rest of it is its number or name.
KINDS = {
    "bottle": gettext_lazy("bottle %(name)s"),
    "arrival": gettext_lazy("arrival %(name)s"),
    "question": gettext_lazy("question %(name)s"),
    "sample": gettext_lazy("sample %(name)s"),
    "statement": gettext_lazy("statement %(name)s"),
    "run": gettext_lazy("run %(name)s"),
    "place": gettext_lazy("place %(name)s"),
}
COUNTED = re.compile(r"(\d[\d,]*) bottles?")


def say_subject(entry: RecordEntry) -> str:
    """What an entry is about, in the reader's language."""
    kind, _space, name = entry.subject.partition(" ")
    counted = COUNTED.fullmatch(entry.subject)
    if counted:
        count = int(counted[1].replace(",", ""))
        return ngettext("%(count)s bottle", "%(count)s bottles", count) % {"count": counted[1]}
    if not name or kind not in KINDS:
        return entry.subject
    if name.startswith("“") and name.endswith("”"):
        name = _("“%(words)s”") % {"words": said(name[1:-1])}
    return KINDS[kind] % {"name": said(name)}


def listed_of(value: object) -> list[str]:
    return [str(part) for part in value] if isinstance(value, list) else []


def mapping_of(value: object) -> Values:
    return value if isinstance(value, dict) else {}
