"""Checking one bottle at the bench: each check is one explicit act on that bottle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import numbers, record
from intake.actions.entries import BottleEntry, SampleEntry
from intake.actions.indexing import index_consignments
from intake.actions.judging import bottle_facts, judge_bottles, judge_in_turn, rulebook_of, sample_facts
from intake.actions.moving import STATE_OF, move_to_be_judged
from intake.actions.naming import unknown_group
from intake.actions.numbering import free_number
from intake.actions.registering import BOTTLE_FIELDS, SAMPLE_FIELDS
from intake.actions.steps import require_open, take_token, take_turn
from intake.choices import Decision
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import (
    Arrival,
    ArrivalPart,
    BenchCheck,
    Bottle,
    Consignment,
    Group,
    RulebookVersion,
    Sample,
    Sighting,
    User,
)
from intake.permissions import require
from intake.rules.facts import Line, SeenFacts
from intake.rules.judge import judge
from intake.rules.looks import faults_in
from intake.rules.suggesting import BottleOutcome, suggest
from intake.states import BottleState, ConsignmentState

#: A check that reaches us later than this after it was made is no record of that moment any more
#: (our choice): a scan may wait out a lost network, not a night.
LATEST_CHECK = timedelta(hours=12)

#: States of a bottle that has no check that counts.
UNCHECKED = (BottleState.EXPECTED, BottleState.MISSING)
ACID_ADDED = ("acid_added_ml", "acid_added_mol_l", "acid_added_at")
SEEN_FIELDS = tuple(field.name for field in fields(SeenFacts) if field.name != "checked_at")


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of a check: the bottle as it stands now and what the rules suggest for it.

    ``wants_acid`` says that they advise to add acid to it here.
    """

    bottle: Bottle
    suggestion: BottleOutcome
    wants_acid: bool = False


def suggestion_for(bottle: Bottle) -> BottleOutcome:
    """What the rules suggest for a stored bottle, by its present facts."""
    return _suggested(bottle, bottle.checks.filter(undone_at__isnull=True).first()).suggestion


def _suggested(bottle: Bottle, check: BenchCheck | None) -> Checked:
    """What the rules make of ``bottle`` as ``check`` found it, without asking the database."""
    book = rulebook_of(bottle.consignment.rulebook)
    its_facts = bottle_facts(bottle, check, bottle.arrival)
    judgement = judge(sample_facts(bottle.sample, bottle.consignment.zone), [its_facts], book)
    wants_acid = any(advice.code == "acid.add" for advice in judgement.advice)
    return Checked(bottle, suggest(judgement, [its_facts], book)[0], wants_acid)


def _check_seen(seen: Mapping[str, object]) -> None:
    unknown = set(seen) - set(SEEN_FIELDS)
    if unknown:
        raise ValueError(f"not things reception sees: {sorted(unknown)}")
    low, high = seen.get("ph_low"), seen.get("ph_high")
    for name, value in (("ph_low", low), ("ph_high", high)):
        if isinstance(value, int | float) and not 0 <= value <= 14:
            raise EntryProblem(
                _("A strip cannot show pH %(value)s. Give a value between 0 and 14.")
                % {"value": f"{value:g}"},
                {name: _("Give a pH between 0 and 14.")},
            )
    if isinstance(low, int | float) and isinstance(high, int | float) and low > high:
        raise EntryProblem(
            _("The pH seen runs from %(low)s to %(high)s; give the lower value first.")
            % {"low": f"{low:g}", "high": f"{high:g}"},
            {"ph_low": _("Give the lower value first.")},
        )


def _refuse_acid_for_anions(bottle: Bottle, seen: Mapping[str, object]) -> None:
    """Acid is never added to a bottle for anions: it destroys nitrite and adds what is measured."""
    if bottle.line == Line.ANION and any(seen.get(name) is not None for name in ACID_ADDED):
        sentence = _(
            "Bottle %(bottle)s is for anions: no acid goes into it, ever. If some did, say so in the remark."
        ) % {"bottle": bottle}
        raise EntryProblem(sentence, {"remark": sentence})


def _refuse_contradiction(bottle: Bottle, seen: Mapping[str, object]) -> None:
    """Nobody calls a bottle in order and in the same breath names what is wrong with it."""
    wrong = faults_in(bottle_facts(bottle, None, None), seen)
    if wrong:
        names = " and ".join(fault.name for fault in wrong)
        raise EntryProblem(
            _("Bottle %(bottle)s cannot be in order and %(names)s. Take one of the two back.")
            % {"bottle": bottle, "names": names},
            {"in_order": _("You also say: %(names)s.") % {"names": names}},
        )


def _check_moment(checked_at: datetime, at: datetime) -> None:
    if not at - LATEST_CHECK <= checked_at <= at:
        raise EntryProblem(_("The check was made too long ago to be recorded now. Look at the bottle again."))


def note_sighting(bottle: Bottle, arrival: Arrival, *, by: User, at: datetime) -> None:
    """Note that ``bottle`` was scanned in ``arrival`` and is not checked yet; once is enough."""
    require(by, "bottle.check", bottle)
    if arrival.closed_at is None:
        seen = Sighting(arrival=arrival, bottle=bottle, scanned_at=at, scanned_by=by)
        Sighting.objects.bulk_create([seen], ignore_conflicts=True)


@transaction.atomic
def check_bottle(
    bottle: Bottle,
    arrival: Arrival,
    *,
    by: User,
    at: datetime,
    seen: Mapping[str, object],
    in_order: bool = False,
    remark: str = "",
    checked_at: datetime | None = None,
    token: str = "",
) -> Checked:
    """Record what was seen on ``bottle`` and judge it anew.

    ``checked_at`` is when the bottle was looked at, where that was before the entry at ``at``.
    A bottle seen in order to which the rules have no objection is accepted by this act. Any
    other is put on hold until a person decides. A former check of the bottle is kept as undone.
    """
    require(by, "bottle.check", bottle)
    take_token(token, by=by, verb="bottle.check", at=at)
    require_open(arrival)
    _check_seen(seen)
    _refuse_acid_for_anions(bottle, seen)
    _check_moment(checked_at or at, at)
    if in_order:
        _refuse_contradiction(bottle, seen)
    if not arrival.parts.filter(consignment=bottle.consignment_id).exists():
        raise MoveNotAllowed(
            _("Bottle %(bottle)s belongs to a consignment that is not part of this arrival.")
            % {"bottle": bottle}
        )
    take_turn([bottle.consignment_id])
    before = bottle.state
    check = BenchCheck(
        arrival=arrival,
        bottle=bottle,
        checked_at=checked_at or at,
        entered_at=at,
        checked_by=by,
        in_order=in_order,
        remark=remark.strip(),
        **seen,
    )
    bottle.arrival = arrival
    checked = _suggested(bottle, check)
    decision = Decision.ACCEPTED if in_order and checked.suggestion.clear else Decision.HELD
    move_to_be_judged(
        bottle,
        STATE_OF[decision],
        arrival=arrival,
        decision=decision,
        decision_reason="",
        decided_by=by if decision == Decision.ACCEPTED else None,
        decided_at=at if decision == Decision.ACCEPTED else None,
    )
    if before not in UNCHECKED:
        bottle.checks.filter(undone_at__isnull=True).update(undone_at=at, undone_by=by)
    check.save(force_insert=True)
    judge_in_turn([bottle], at=at)
    record.write(
        by=by,
        at=at,
        verb="bottle.check",
        subject=f"bottle {bottle.number}",
        consignment=bottle.consignment,
        before={"state": before},
        after={
            "state": bottle.state,
            "seen in order": in_order,
            **{name: value for name, value in seen.items() if value is not None},
        },
        reason=remark.strip(),
    )
    return checked


@transaction.atomic
def undo_check(bottle: Bottle, *, by: User, at: datetime, token: str = "") -> Bottle:
    """Take the last check of ``bottle`` back; it is expected again, and the check is kept as undone."""
    require(by, "bottle.check", bottle)
    take_token(token, by=by, verb="bottle.undo", at=at)
    take_turn([bottle.consignment_id])
    undone = bottle.checks.filter(undone_at__isnull=True).update(undone_at=at, undone_by=by)
    if not undone:
        raise MoveNotAllowed(
            _("Bottle %(bottle)s has not been checked; there is nothing to undo.") % {"bottle": bottle}
        )
    before = bottle.state
    move_to_be_judged(
        bottle,
        BottleState.EXPECTED,
        arrival=None,
        decision="",
        decision_reason="",
        decided_by=None,
        decided_at=None,
    )
    judge_in_turn([bottle], at=at)
    record.write(
        by=by,
        at=at,
        verb="bottle.undo",
        subject=f"bottle {bottle.number}",
        consignment=bottle.consignment,
        before={"state": before},
        after={"state": bottle.state},
    )
    return bottle


@transaction.atomic
def take_in_unannounced(
    arrival: Arrival,
    *,
    by: User,
    at: datetime,
    entry: SampleEntry,
    consignment: Consignment | None = None,
    group: Group | None = None,
    token: str = "",
) -> Bottle:
    """Take in a bottle that nobody announced, with what its label says and a number of ours.

    It joins ``consignment``, or a new consignment of ``group`` that the group is asked to
    complete. Without either it stands under a group that is named later. ``entry`` has exactly
    one bottle. What the label does not say stays unknown, and the rules then assume the worst.
    """
    require(by, "arrival.open")
    take_token(token, by=by, verb="bottle.take-in", at=at)
    require_open(arrival)
    if len(entry.bottles) != 1:
        raise ValueError("an unannounced bottle is exactly one bottle")
    if consignment is None:
        consignment = _consignment_for_surprises(group or unknown_group(), by=by, at=at)
    if not arrival.parts.filter(consignment=consignment).exists():
        ArrivalPart.objects.create(arrival=arrival, consignment=consignment)
    sample = _sample_for(consignment, entry, at)
    stated: BottleEntry = entry.bottles[0]
    values = {name: getattr(stated, name) for name in BOTTLE_FIELDS}
    values["ions"] = list(stated.ions)
    bottle = Bottle.objects.create(
        number=free_number(Bottle, numbers.BOTTLE),
        consignment=consignment,
        sample=sample,
        line=stated.line,
        announced=False,
        **values,
    )
    note_sighting(bottle, arrival, by=by, at=at)
    judge_bottles([bottle], at=at)
    record.write(
        by=by,
        at=at,
        verb="bottle.take-in",
        subject=f"bottle {bottle.number}",
        consignment=consignment,
        after={"own id": sample.own_id, "line": bottle.line, "ions": bottle.ions},
    )
    return bottle


def _sample_for(consignment: Consignment, entry: SampleEntry, at: datetime) -> Sample:
    """The sample of that id if the consignment has one, else a new one."""
    sample = consignment.samples.filter(own_id=entry.own_id).first()
    if sample is not None:
        return sample
    last = consignment.samples.order_by("-position").values_list("position", flat=True).first() or 0
    sample = Sample.objects.create(
        consignment=consignment,
        position=last + 1,
        declared_at=at,
        **{name: getattr(entry, name) for name in SAMPLE_FIELDS},
    )
    index_consignments([consignment.pk])
    return sample


def _consignment_for_surprises(group: Group, *, by: User, at: datetime) -> Consignment:
    consignment = Consignment.objects.create(
        number=free_number(Consignment, numbers.CONSIGNMENT),
        group=group,
        title="Came without registration",
        rulebook=RulebookVersion.objects.get(default=True),
        zone=group.zone,
        state=ConsignmentState.RECEIVED,
        created_at=at,
        created_by=by,
        received_at=at,
    )
    index_consignments([consignment.pk])
    record.write(
        by=by,
        at=at,
        verb="consignment.make",
        subject=consignment,
        consignment=consignment,
        after={"title": consignment.title, "group": group.name},
    )
    return consignment
