"""Agreeing on a day of analysis: asked for, confirmed, proposed otherwise, accepted, declined."""

from __future__ import annotations

from datetime import date, datetime

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.utils.functional import lazy
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from intake import mails, record
from intake.actions.steps import claim, take_token, take_turn
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Consignment, DatePolicy, DateRequest, User
from intake.permissions import require
from intake.rules.facts import Line
from intake.rules.moments import local
from intake.shown import show_day
from intake.states import DATE_MOVES, ConsignmentState, DateState, may_move
from labqueue.capacity import DayRoom, room_on

#: A day said only once it is known who reads it.
shown_day = lazy(show_day, str)
FASTER = _("Somebody changed this date a moment ago. Load the page anew to see how it stands.")
#: Furthest day that can be asked for, in days from today; beyond it the year is a slip (our choice).
FURTHEST_DAYS = 730


def today(at: datetime) -> date:
    """The day it is at ``at`` on the laboratory's calendar."""
    return local(at, settings.TIME_ZONE).date()


def policy() -> DatePolicy:
    return DatePolicy.objects.filter(pk=1).first() or DatePolicy(pk=1)


def _check_day(day: date, at: datetime) -> DayRoom:
    ahead = (day - today(at)).days
    if ahead < 0:
        sentence = _("This day is over. Choose today or a later day.")
    elif ahead > FURTHEST_DAYS:
        sentence = _("This day is more than two years away. Check the year.")
    else:
        room = room_on(day)
        if not room.closed:
            return room
        sentence = _("The laboratory is closed on this day. Choose another.")
    raise EntryProblem(sentence, {"day": sentence})


def _require_open(consignment: Consignment) -> None:
    if consignment.state == ConsignmentState.WITHDRAWN:
        raise MoveNotAllowed(_("This consignment was withdrawn; no day can be agreed for it."))


def _standing(consignment: Consignment) -> DateRequest:
    found = DateRequest.objects.filter(consignment=consignment).first()
    if found is None:
        raise MoveNotAllowed(_("No day was asked for yet."))
    return found


def _values(asked: DateRequest) -> dict[str, object]:
    return {
        name: getattr(asked, name) for name in ("state", "day", "anion_bottles", "cation_bottles", "note")
    }


def _change(
    asked: DateRequest,
    state: DateState,
    *,
    by: User,
    at: datetime,
    version: int,
    verb: str,
    sentence: object,
    **values: object,
) -> None:
    """Move ``asked`` to ``state``, write the record and tell both sides."""
    if not may_move(DATE_MOVES, asked.state, state):
        raise MoveNotAllowed(
            _("This day is %(state)s; that cannot be done to it.") % {"state": asked.get_state_display()}
        )
    before = _values(asked)
    claim(
        DateRequest.objects.filter(pk=asked.pk, version=version, state=asked.state),
        FASTER,
        state=state,
        version=version + 1,
        changed_at=at,
        changed_by=by,
        **values,
    )
    asked.refresh_from_db()
    _tell(asked, before, by=by, at=at, verb=verb, sentence=sentence)


def _tell(
    asked: DateRequest, before: dict[str, object], *, by: User, at: datetime, verb: str, sentence: object
) -> None:
    was, becomes = record.differences(before, _values(asked))
    record.write(
        by=by,
        at=at,
        verb=verb,
        subject=asked.consignment,
        consignment=asked.consignment,
        before=was,
        after=becomes,
    )
    mails.date_changed(asked.pk, sentence, at=at)


@transaction.atomic
def ask_for_date(
    consignment: Consignment,
    *,
    by: User,
    at: datetime,
    day: date,
    anion_bottles: int,
    cation_bottles: int,
    note: str = "",
    version: int | None = None,
    token: str = "",
) -> DateRequest:
    """Ask that so many bottles be measured on ``day``; also to change what was asked or agreed.

    Where the laboratory lets days confirm themselves, a day with room for all is agreed at once.
    ``version`` is that of the standing request, ``None`` if there was none. The consignment's
    wanted day becomes ``day``.
    """
    require(by, "date.ask", consignment)
    take_token(token, by=by, verb="date.ask", at=at)
    take_turn([consignment.pk])
    _require_open(consignment)
    _check_day(day, at)
    if not anion_bottles and not cation_bottles:
        raise EntryProblem(
            _("Say for how many bottles you ask."), {"anion_bottles": _("Say for how many bottles you ask.")}
        )
    # Taking the row's lock first, so that two groups cannot both be given the last places.
    DatePolicy.objects.get_or_create(pk=1)
    DatePolicy.objects.filter(pk=1).update(version=F("version") + 1)
    former = DateRequest.objects.filter(consignment=consignment).first()
    wanted = {Line.ANION: anion_bottles, Line.CATION: cation_bottles}
    agreed = policy().confirms_itself and room_on(day, without=former).takes(wanted)
    state = DateState.AGREED if agreed else DateState.ASKED
    given = {
        "day": day,
        "anion_bottles": anion_bottles,
        "cation_bottles": cation_bottles,
        "note": note.strip(),
    }
    said = (
        _("{who} asked for {day}; there is room, so the day is agreed.")
        if agreed
        else _("{who} asked for {day}. The laboratory will answer.")
    )
    sentence = format_lazy(said, who=by, day=shown_day(day))
    if former is None:
        asked = DateRequest.objects.create(
            consignment=consignment, state=state, changed_at=at, changed_by=by, **given
        )
        _tell(asked, {}, by=by, at=at, verb="date.ask", sentence=sentence)
    else:
        asked = former
        _ask_again(asked, state, by=by, at=at, version=version, sentence=sentence, given=given)
    Consignment.objects.filter(pk=consignment.pk).update(requested_on=day)
    consignment.requested_on = day
    return asked


def _ask_again(
    asked: DateRequest,
    state: DateState,
    *,
    by: User,
    at: datetime,
    version: int | None,
    sentence: object,
    given: dict[str, object],
) -> None:
    before = _values(asked)
    claim(
        DateRequest.objects.filter(pk=asked.pk, version=-1 if version is None else version),
        FASTER,
        state=state,
        version=asked.version + 1,
        changed_at=at,
        changed_by=by,
        **given,
    )
    asked.refresh_from_db()
    _tell(asked, before, by=by, at=at, verb="date.ask", sentence=sentence)


@transaction.atomic
def agree_date(
    consignment: Consignment, *, by: User, at: datetime, version: int, note: str = "", token: str = ""
) -> DateRequest:
    """Confirm the day that was asked for, over-full or not: the manager sees the room and decides."""
    require(by, "date.answer", consignment)
    take_token(token, by=by, verb="date.agree", at=at)
    take_turn([consignment.pk])
    _require_open(consignment)
    asked = _standing(consignment)
    if asked.state != DateState.ASKED:
        raise MoveNotAllowed(
            _("This day is %(state)s; only one asked for is confirmed.")
            % {"state": asked.get_state_display()}
        )
    _change(
        asked,
        DateState.AGREED,
        by=by,
        at=at,
        version=version,
        verb="date.agree",
        sentence=format_lazy(_("{who} confirmed {day}."), who=by, day=shown_day(asked.day)),
        note=note.strip(),
    )
    return asked


@transaction.atomic
def propose_date(
    consignment: Consignment,
    *,
    by: User,
    at: datetime,
    version: int,
    day: date,
    note: str = "",
    token: str = "",
) -> DateRequest:
    """Propose another day; the group accepts it or asks again."""
    require(by, "date.answer", consignment)
    take_token(token, by=by, verb="date.propose", at=at)
    take_turn([consignment.pk])
    _require_open(consignment)
    asked = _standing(consignment)
    _check_day(day, at)
    _change(
        asked,
        DateState.PROPOSED,
        by=by,
        at=at,
        version=version,
        verb="date.propose",
        sentence=format_lazy(
            _("{who} proposes {day} instead of {former}. Accept it or ask again."),
            who=by,
            day=shown_day(day),
            former=shown_day(asked.day),
        ),
        day=day,
        note=note.strip(),
    )
    return asked


@transaction.atomic
def accept_date(
    consignment: Consignment, *, by: User, at: datetime, version: int, token: str = ""
) -> DateRequest:
    """Accept the day that the laboratory proposed."""
    require(by, "date.ask", consignment)
    take_token(token, by=by, verb="date.accept", at=at)
    take_turn([consignment.pk])
    _require_open(consignment)
    asked = _standing(consignment)
    if asked.state != DateState.PROPOSED:
        raise MoveNotAllowed(
            _("This day is %(state)s; only a proposed one is accepted.")
            % {"state": asked.get_state_display()}
        )
    _change(
        asked,
        DateState.AGREED,
        by=by,
        at=at,
        version=version,
        verb="date.accept",
        sentence=format_lazy(_("{who} accepted {day}."), who=by, day=shown_day(asked.day)),
    )
    return asked


@transaction.atomic
def decline_date(
    consignment: Consignment, *, by: User, at: datetime, version: int, note: str = "", token: str = ""
) -> DateRequest:
    """Say that this day will not be, from either side; the group may ask again."""
    require(by, "date.ask", consignment)
    take_token(token, by=by, verb="date.decline", at=at)
    take_turn([consignment.pk])
    asked = _standing(consignment)
    _change(
        asked,
        DateState.DECLINED,
        by=by,
        at=at,
        version=version,
        verb="date.decline",
        sentence=format_lazy(_("{who} declined {day}."), who=by, day=shown_day(asked.day)),
        note=note.strip(),
    )
    return asked


@transaction.atomic
def set_policy(*, by: User, at: datetime, confirms_itself: bool, token: str = "") -> DatePolicy:
    """Let days with room confirm themselves, or not."""
    require(by, "date.answer")
    take_token(token, by=by, verb="date.policy", at=at)
    DatePolicy.objects.get_or_create(pk=1)
    standing = policy()
    if standing.confirms_itself == confirms_itself:
        return standing
    claim(
        DatePolicy.objects.filter(pk=1, confirms_itself=standing.confirms_itself),
        FASTER,
        confirms_itself=confirms_itself,
        version=F("version") + 1,
    )
    record.write(
        by=by,
        at=at,
        verb="date.policy",
        subject="days of analysis",
        before={"confirms_itself": standing.confirms_itself},
        after={"confirms_itself": confirms_itself},
    )
    return policy()
