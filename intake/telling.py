"""The record in plain sentences: who did what, what it was before, and why."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db.models import Model

from intake import record
from intake.models import Arrival, BenchCheck, Bottle, Consignment, DateRequest, RecordEntry, Sample
from intake.shown import show_list

#: An aware moment as the record keeps it.
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)")

#: Details beyond this many are counted, not listed; the samples themselves stand on the page.
MOST_DETAILS = 40

Values = Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Told:
    """One entry of the record in words: ``sentence`` follows the name of who did it."""

    entry: RecordEntry
    sentence: str
    details: tuple[str, ...] = ()


def say_value(value: object, zone: str) -> str:
    """A value of the record as people read it; moments on the clocks of ``zone``."""
    if value is None or value == "" or value == []:
        return "not stated"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return show_list(f"{name} ({reason})" for name, reason in value.items()) or "nothing"
    if isinstance(value, list):
        return show_list(str(part) for part in value)
    if isinstance(value, str) and MOMENT.fullmatch(value):
        there = datetime.fromisoformat(value).astimezone(ZoneInfo(zone))
        return f"{there:%Y-%m-%d %H:%M} {zone}"
    if isinstance(value, float):
        return f"{value:g}"
    return str(value)


def _names(*kinds: type[Model]) -> dict[str, str]:
    """What the fields of ``kinds`` are called on pages; the last kind has the last word."""
    fields = [field for kind in kinds for field in kind._meta.get_fields()]
    return {field.name: str(field.verbose_name) for field in fields if hasattr(field, "verbose_name")}


NAMES = _names(DateRequest, Arrival, Sample, Bottle, Consignment)
CHECK_NAMES = _names(BenchCheck)


def say_name(name: str, names: Mapping[str, str] = NAMES) -> str:
    return names.get(name) or NAMES.get(name) or name.replace("_", " ")


def _changes(before: Values, after: Values, zone: str, names: Mapping[str, str] = NAMES) -> list[str]:
    return [
        f"{say_name(name, names)}: {say_value(before.get(name), zone)} → {say_value(value, zone)}"
        for name, value in after.items()
    ]


def _listed(value: object) -> list[str]:
    return [str(part) for part in value] if isinstance(value, list) else []


def _mapping(value: object) -> Values:
    return value if isinstance(value, dict) else {}


Teller = Callable[[RecordEntry, str], tuple[str, list[str]]]


def _made(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    return "made this consignment", [
        f"{say_name(name)}: {say_value(value, zone)}" for name, value in entry.after.items()
    ]


def _amended(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    changed = show_list(say_name(name) for name in entry.after)
    return f"changed {changed}", _changes(entry.before, entry.after, zone)


def _entered(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    added, removed = _listed(entry.after.get("added")), _listed(entry.before.get("removed"))
    was, becomes = _mapping(entry.before.get("changed")), _mapping(entry.after.get("changed"))
    details = [f"added {name}" for name in added] + [f"removed {name}" for name in removed]
    for name, values in becomes.items():
        details += [
            f"{name}: {change}" for change in _changes(_mapping(was.get(name)), _mapping(values), zone)
        ]
    count = entry.after.get("samples")
    return f"entered samples; the list now has {count}", details


def _sent(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    losses = _listed(entry.after.get("known losses"))
    known = f", told of {len(losses)} {'cause' if len(losses) == 1 else 'causes'} of loss" if losses else ""
    return f"sent it with {entry.after.get('bottles')} bottles{known}", losses


def _arrived(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    received = say_value(entry.after.get("received"), zone)
    details = [
        f"{say_name(name)}: {say_value(value, zone)}"
        for name, value in entry.after.items()
        if name != "received" and value not in (None, "")
    ]
    return f"took in {entry.subject}, received {received}", details


def _closed(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    missing = _listed(entry.after.get("missing"))
    here = _listed(entry.after.get("here, not checked"))
    more = " More is to come." if entry.after.get("more to come") else ""
    return (
        f"finished {entry.subject}{'; bottles missing: ' + str(len(missing)) if missing else ''}"
        f"{'; here, not checked: ' + str(len(here)) if here else ''}.{more}",
        [*(f"missing: {number}" for number in missing), *(f"here, not checked: {number}" for number in here)],
    )


def _with_changes(verb: str) -> Teller:
    def tell_it(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
        return f"{verb} {entry.subject}", _changes(entry.before, entry.after, zone)

    return tell_it


def _checked(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    return f"checked {entry.subject}", _changes(entry.before, entry.after, zone, CHECK_NAMES)


def _judged(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    return f"judged {entry.subject} anew", []


def _withdrew(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    return "withdrew it", []


def _purged(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    removed = _mapping(entry.after.get("removed"))
    return "removed its samples, which were kept long enough", [
        f"{kind}: {count}" for kind, count in removed.items()
    ]


def _without_details(verb: str) -> Teller:
    return lambda entry, zone: (f"{verb} {entry.subject}", [])


def _asked(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    bottles = _listed(entry.after.get("bottles"))
    people = _listed(entry.after.get("people asked"))
    details = [
        f"{say_name(name)}: {say_value(entry.after.get(name), zone)}"
        for name in ("found", "ions concerned", "answers allowed", "useful until")
    ]
    return (
        f"asked {show_list(people) or 'a group without people'} the {entry.subject} about "
        f"{len(bottles)} bottle{'' if len(bottles) == 1 else 's'}",
        [*details, *(f"bottle {number}" for number in bottles)],
    )


def _answered(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    said = say_value(entry.after.get("disclaimer"), zone)
    details = [f"disclaimer: {said}"] if entry.after.get("disclaimer") else []
    details += [f"bottle {number}" for number in _listed(entry.after.get("bottles"))]
    return f"answered the {entry.subject}: {entry.after.get('answer')}", details


def _stated(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    replaced = entry.before.get("replaces")
    sentence = f"issued {entry.subject}{f', which replaces {replaced}' if replaced else ''}"
    return sentence, [f"{count} {word}" for word, count in _mapping(entry.after.get("ions")).items()]


def _moved(verb: str) -> Teller:
    """Bottles that went into a run or out of it; which ones only where there are several."""

    def tell_it(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
        bottles = _listed(entry.after.get("bottles"))
        listed = [f"bottle {number}" for number in bottles] if len(bottles) > 1 else []
        return f"{verb} {entry.subject}", listed

    return tell_it


def _injected(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    details = []
    for number, told in _mapping(entry.after.get("injections")).items():
        at, label = [*_listed(told), "", ""][:2]
        where = f", {label}" if label else ""
        details.append(f"bottle {number}: {say_value(at, zone)}{where}")
    return f"entered the injection of {entry.subject}", details


def _measured(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    former, now = _mapping(entry.before.get("values")), _mapping(entry.after.get("values"))
    details = [f"file: {entry.after.get('file')}"]
    details += [f"bottle {number}: {told}" for number, told in now.items()]
    details += [f"bottle {number}, before: {told}" for number, told in former.items()]
    return f"{'corrected' if former else 'entered'} results of {entry.subject}", details


#: How each act is told; whoever adds an act adds its teller here.
TELLERS: dict[str, Teller] = {
    "consignment.make": _made,
    "consignment.amend": _amended,
    "samples.enter": _entered,
    "consignment.send": _sent,
    "consignment.withdraw": _withdrew,
    "consignment.purge": _purged,
    "date.ask": _with_changes("asked for a day of analysis for"),
    "date.agree": _with_changes("agreed the day of analysis for"),
    "date.propose": _with_changes("proposed another day of analysis for"),
    "date.accept": _with_changes("accepted the proposed day for"),
    "date.follow": _with_changes("sends other bottles than stood for the day of analysis of"),
    "date.decline": _with_changes("declined the day of analysis for"),
    "arrival.open": _arrived,
    "arrival.amend": _with_changes("corrected"),
    "arrival.close": _closed,
    "bottle.check": _checked,
    "bottle.undo": _with_changes("took back the check of"),
    "bottle.take-in": _with_changes("took in, unannounced,"),
    "bottle.decide": _with_changes("decided on"),
    "bottle.hold": _with_changes("wrote down what puts on hold"),
    "bottle.place": _moved("put into a run"),
    "bottle.take-back": _moved("took back out of a run"),
    "priority.give": _with_changes("set the priority in plans of"),
    "bottle.inject": _injected,
    "injection.void": _with_changes("took back the injection of"),
    "results.enter": _measured,
    "statement.issue": _stated,
    "sample.rejudge": _judged,
    "consignment.name-group": _with_changes("said whose bottles are in"),
    "photograph.add": _with_changes("added a photograph to"),
    "photograph.remove": _with_changes("removed a photograph of"),
    "bottle.store": _with_changes("put away"),
    "bottle.discard": _with_changes("discarded"),
    "question.ask": _asked,
    "question.answer": _answered,
    "question.remind": _without_details("reminded the group of"),
    "question.fall": _without_details("handed to the lab manager the"),
    "ion.give-up": _with_changes("gave up an ion of"),
    "ion.restore": _with_changes("took back that an ion was given up of"),
}


def tell(entry: RecordEntry, zone: str, most: int | None = MOST_DETAILS) -> Told:
    """``entry`` in words, its moments on the clocks of ``zone``, with at most so many details."""
    teller = TELLERS.get(entry.verb) or _with_changes(f"did “{entry.verb}” to")
    sentence, details = record.readable(teller(entry, zone))
    if most is not None and len(details) > most:
        details = [*details[:most], f"and {len(details) - most} more"]
    return Told(entry, sentence, tuple(details))


@dataclass(frozen=True, slots=True)
class Amended:
    """What a group changed in ``consignment`` after sending it, the latest first."""

    consignment: Consignment
    told: tuple[Told, ...]


def told_after_sending(consignments: Iterable[Consignment]) -> list[Amended]:
    """Those of ``consignments`` that were changed after sending, with what was changed; one query."""
    entries: dict[int, list[RecordEntry]] = {}
    named = list(consignments)
    for entry in RecordEntry.objects.after_sending().filter(consignment__in=named).order_by("-position"):
        entries.setdefault(entry.consignment_id, []).append(entry)
    return [
        Amended(consignment, tuple(tell(entry, consignment.zone) for entry in entries[consignment.pk]))
        for consignment in named
        if consignment.pk in entries
    ]
