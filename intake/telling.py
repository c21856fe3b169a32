"""The record in plain sentences: who did what, what it was before, and why."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from intake import record
from intake.models import Consignment, RecordEntry
from intake.phrasebook import said
from intake.recorded import (
    CHECK_FIELDS,
    changes,
    facts,
    listed_of,
    mapping_of,
    say_name,
    say_subject,
    say_value,
)
from intake.shown import show_list

#: Details beyond this many are counted, not listed; the samples themselves stand on the page.
MOST_DETAILS = 40


@dataclass(frozen=True, slots=True)
class Told:
    """One entry of the record in words: ``sentence`` follows the name of who did it."""

    entry: RecordEntry
    sentence: str
    details: tuple[str, ...] = ()


Teller = Callable[[RecordEntry, str], tuple[str, list[str]]]


def _made(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    return _("made this consignment"), facts(entry.after, zone, entry.after)


def _amended(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    changed = show_list(say_name(name) for name in entry.after)
    return _("changed %(what)s") % {"what": changed}, changes(entry.before, entry.after, zone)


IN_SAMPLE = re.compile(r"(?P<sample>.*?) ?(?P<line>anion|cation) bottle (?P<number>\S+)")


def _say_bottle_in(name: str) -> str:
    """``S1 anion bottle B2345678``, as the list of samples names a bottle."""
    found = IN_SAMPLE.fullmatch(name)
    if found is None:
        return say_subject(RecordEntry(subject=name))
    words = _("anion bottle %(number)s") if found["line"] == "anion" else _("cation bottle %(number)s")
    return f"{found['sample']} {words % {'number': found['number']}}".strip()


def _entered(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    added, removed = listed_of(entry.after.get("added")), listed_of(entry.before.get("removed"))
    was, becomes = mapping_of(entry.before.get("changed")), mapping_of(entry.after.get("changed"))
    details = [_("added %(name)s") % {"name": _say_bottle_in(name)} for name in added]
    details += [_("removed %(name)s") % {"name": _say_bottle_in(name)} for name in removed]
    for name, values in becomes.items():
        details += [
            f"{name}: {change}" for change in changes(mapping_of(was.get(name)), mapping_of(values), zone)
        ]
    told = _("entered samples; the list now has %(count)s") % {"count": entry.after.get("samples")}
    return told, details + _confirmed(entry)


def _confirmed(entry: RecordEntry) -> list[str]:
    """Readings that looked wrong and that the reason of ``entry`` says are right."""
    causes = listed_of(entry.after.get("readings confirmed"))
    return [_("confirmed: %(cause)s") % {"cause": cause} for cause in causes]


def _sent(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    losses = listed_of(entry.after.get("known losses"))
    told = _("sent it with %(count)s bottles") % {"count": entry.after.get("bottles")}
    if losses:
        known = ngettext("told of %(count)s cause of loss", "told of %(count)s causes of loss", len(losses))
        told = f"{told}, {known % {'count': len(losses)}}"
    return told, losses + _confirmed(entry)


def _arrived(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    told = _("took in %(subject)s, received %(moment)s") % {
        "subject": say_subject(entry),
        "moment": say_value(entry.after.get("received"), zone),
    }
    names = [name for name, value in entry.after.items() if name != "received" and value not in (None, "")]
    return told, facts(entry.after, zone, names)


def _closed(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    missing = listed_of(entry.after.get("missing"))
    here = listed_of(entry.after.get("here, not checked"))
    told = _("finished %(subject)s") % {"subject": say_subject(entry)}
    if missing:
        told += "; " + _("bottles missing: %(count)s") % {"count": len(missing)}
    if here:
        told += "; " + _("here, not checked: %(count)s") % {"count": len(here)}
    if entry.after.get("more to come"):
        told += "; " + _("more is to come")
    return told, [
        *(_("missing: %(number)s") % {"number": number} for number in missing),
        *(_("here, not checked: %(number)s") % {"number": number} for number in here),
    ]


def _with_changes(words: object) -> Teller:
    def tell_it(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
        return words % {"subject": say_subject(entry)}, changes(entry.before, entry.after, zone)

    return tell_it


def _checked(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    told = _("checked %(subject)s") % {"subject": say_subject(entry)}
    return told, changes(entry.before, entry.after, zone, CHECK_FIELDS)


def _withdrew(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    return _("withdrew it"), []


def _purged(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    removed = mapping_of(entry.after.get("removed"))
    return _("removed its samples, which were kept long enough"), [
        f"{kind}: {count}" for kind, count in removed.items()
    ]


def _without_details(words: object) -> Teller:
    return lambda entry, zone: (words % {"subject": say_subject(entry)}, [])


def _say_bottles(numbers: Iterable[str]) -> list[str]:
    return [_("bottle %(name)s") % {"name": number} for number in numbers]


def _asked(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    bottles = listed_of(entry.after.get("bottles"))
    people = listed_of(entry.after.get("people asked"))
    told = ngettext(
        "asked %(people)s the %(question)s about %(count)s bottle",
        "asked %(people)s the %(question)s about %(count)s bottles",
        len(bottles),
    )
    names = ("found", "ions concerned", "answers allowed", "useful until")
    return (
        told
        % {
            "people": show_list(people) or _("a group without people"),
            "question": say_subject(entry),
            "count": len(bottles),
        },
        [*facts(entry.after, zone, names), *_say_bottles(bottles)],
    )


def _answered(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    details = facts(entry.after, zone, ["disclaimer"]) if entry.after.get("disclaimer") else []
    details += _say_bottles(listed_of(entry.after.get("bottles")))
    told = _("answered the %(question)s: %(answer)s") % {
        "question": say_subject(entry),
        "answer": said(entry.after.get("answer")),
    }
    return told, details


def _stated(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    replaced = entry.before.get("replaces")
    told = _("issued %(subject)s") % {"subject": say_subject(entry)}
    if replaced:
        told += ", " + _("which replaces %(former)s") % {"former": replaced}
    return told, [f"{count} {said(word)}" for word, count in mapping_of(entry.after.get("ions")).items()]


def _moved(words: object) -> Teller:
    """Bottles that went into a run or out of it; which ones only where there are several."""

    def tell_it(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
        bottles = listed_of(entry.after.get("bottles"))
        listed = _say_bottles(bottles) if len(bottles) > 1 else []
        return words % {"subject": say_subject(entry)}, listed

    return tell_it


def _injected(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    details = []
    for number, told in mapping_of(entry.after.get("injections")).items():
        at, label = [*listed_of(told), "", ""][:2]
        where = f", {label}" if label else ""
        details.append(f"{_('bottle %(name)s') % {'name': number}}: {say_value(at, zone)}{where}")
    return _("entered the injection of %(subject)s") % {"subject": say_subject(entry)}, details


def _measured(entry: RecordEntry, zone: str) -> tuple[str, list[str]]:
    former, now = mapping_of(entry.before.get("values")), mapping_of(entry.after.get("values"))
    details = [_("file: %(name)s") % {"name": entry.after.get("file")}]
    details += [
        _("bottle %(name)s: %(told)s") % {"name": number, "told": told} for number, told in now.items()
    ]
    details += [
        _("bottle %(name)s, before: %(told)s") % {"name": number, "told": told}
        for number, told in former.items()
    ]
    words = _("corrected results of %(subject)s") if former else _("entered results of %(subject)s")
    return words % {"subject": say_subject(entry)}, details


#: How each act is told; whoever adds an act adds its teller here.
TELLERS: dict[str, Teller] = {
    "consignment.make": _made,
    "consignment.amend": _amended,
    "samples.enter": _entered,
    "consignment.send": _sent,
    "consignment.withdraw": _withdrew,
    "consignment.purge": _purged,
    "date.ask": _with_changes(gettext_lazy("asked for a day of analysis for %(subject)s")),
    "date.agree": _with_changes(gettext_lazy("agreed the day of analysis for %(subject)s")),
    "date.propose": _with_changes(gettext_lazy("proposed another day of analysis for %(subject)s")),
    "date.accept": _with_changes(gettext_lazy("accepted the proposed day for %(subject)s")),
    "date.follow": _with_changes(
        gettext_lazy("sends other bottles than stood for the day of analysis of %(subject)s")
    ),
    "date.decline": _with_changes(gettext_lazy("declined the day of analysis for %(subject)s")),
    "arrival.open": _arrived,
    "arrival.amend": _with_changes(gettext_lazy("corrected %(subject)s")),
    "arrival.close": _closed,
    "bottle.check": _checked,
    "bottle.undo": _with_changes(gettext_lazy("took back the check of %(subject)s")),
    "bottle.take-in": _with_changes(gettext_lazy("took in, unannounced, %(subject)s")),
    "bottle.decide": _with_changes(gettext_lazy("decided on %(subject)s")),
    "bottle.hold": _with_changes(gettext_lazy("wrote down what puts on hold %(subject)s")),
    "bottle.place": _moved(gettext_lazy("put into a run %(subject)s")),
    "bottle.take-back": _moved(gettext_lazy("took back out of a run %(subject)s")),
    "priority.give": _with_changes(gettext_lazy("set the priority in plans of %(subject)s")),
    "bottle.inject": _injected,
    "injection.void": _with_changes(gettext_lazy("took back the injection of %(subject)s")),
    "results.enter": _measured,
    "statement.issue": _stated,
    "sample.rejudge": _without_details(gettext_lazy("judged %(subject)s anew")),
    "consignment.name-group": _with_changes(gettext_lazy("said whose bottles are in %(subject)s")),
    "photograph.add": _with_changes(gettext_lazy("added a photograph to %(subject)s")),
    "photograph.remove": _with_changes(gettext_lazy("removed a photograph of %(subject)s")),
    "bottle.store": _with_changes(gettext_lazy("put away %(subject)s")),
    "bottle.discard": _with_changes(gettext_lazy("discarded %(subject)s")),
    "question.ask": _asked,
    "question.answer": _answered,
    "question.remind": _without_details(gettext_lazy("reminded the group of %(subject)s")),
    "question.fall": _without_details(gettext_lazy("handed to the lab manager the %(subject)s")),
    "ion.give-up": _with_changes(gettext_lazy("gave up an ion of %(subject)s")),
    "ion.restore": _with_changes(gettext_lazy("took back that an ion was given up of %(subject)s")),
}


def tell(entry: RecordEntry, zone: str, most: int | None = MOST_DETAILS) -> Told:
    """``entry`` in words, its moments on the clocks of ``zone``, with at most so many details."""
    teller = TELLERS.get(entry.verb) or _with_changes(
        _("did “%(verb)s” to %%(subject)s") % {"verb": entry.verb.replace("%", "%%")}
    )
    sentence, details = record.readable(teller(entry, zone))
    if most is not None and len(details) > most:
        details = [*details[:most], _("and %(more)s more") % {"more": len(details) - most}]
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
