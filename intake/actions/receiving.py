"""Receiving: opening an arrival, checking bottles, closing it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import mails, numbers, record
from intake.actions.judging import judge_bottles
from intake.actions.numbering import free_number
from intake.actions.questioning import ask_about, held_bottles
from intake.actions.reviewing import hold_what_no_longer_passes
from intake.actions.steps import claim, keep_outcome, require_open, take_token
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Arrival, ArrivalPart, Bottle, Consignment, User
from intake.permissions import require
from intake.querysets import BottleQuerySet
from intake.states import BottleState, ConsignmentState

#: An arrival entered later than this after it happened needs a reason (our choice, no source).
LATE_ENTRY = timedelta(minutes=15)
#: The warmest and coldest a box can plausibly be, °C; beyond this it is a typing slip (our choice).
TEMPERATURE_RANGE_C = (-30.0, 60.0)

TRANSPORT_FIELDS = ("carrier", "temperature_c", "measured_on", "cooling", "seal", "remark")


def transport_problems(transport: Mapping[str, object]) -> dict[str, str]:
    """What cannot stand about how a box came, by the name of the fact; empty when nothing is wrong."""
    problems = {}
    temperature = transport.get("temperature_c")
    low, high = TEMPERATURE_RANGE_C
    if isinstance(temperature, int | float):
        if not low <= temperature <= high:
            problems["temperature_c"] = _(
                "%(temperature)s °C cannot be the temperature of a box. Read the thermometer again and "
                "give a figure between %(low)s and %(high)s °C."
            ) % {"temperature": f"{temperature:g}", "low": f"{low:g}", "high": f"{high:g}"}
        if not transport.get("measured_on"):
            problems["measured_on"] = _(
                "Say what the temperature was read on: choose bottle, temperature blank or melt water."
            )
    return problems


def moment_problems(received_at: datetime, at: datetime, reason: str) -> dict[str, str]:
    """What cannot stand about the moment of handing over, entered at ``at``, by the name of the fact."""
    if received_at > at:
        return {
            "received_at": _(
                "The arrival lies in the future. Give the moment at which the box was handed over."
            )
        }
    if at - received_at > LATE_ENTRY and not reason.strip():
        return {
            "earlier_reason": _(
                "You enter this arrival later than it happened. Say why it is entered only now."
            )
        }
    return {}


def _refuse(problems: dict[str, str]) -> None:
    if problems:
        raise EntryProblem(" ".join(map(str, problems.values())), problems)


def _refuse_unknown(transport: Mapping[str, object]) -> None:
    unknown = set(transport) - set(TRANSPORT_FIELDS)
    if unknown:
        raise ValueError(f"not transport facts: {sorted(unknown)}")


@transaction.atomic
def open_arrival(
    consignments: Sequence[Consignment],
    *,
    by: User,
    at: datetime,
    received_at: datetime,
    earlier_reason: str = "",
    transport: Mapping[str, object] | None = None,
    token: str = "",
) -> Arrival:
    """Open an arrival of ``consignments`` (part of each at least), or of a box nobody announced.

    ``received_at`` is the stated moment of handing over, ``at`` the moment of entry; a reason
    is due when they lie more than ``LATE_ENTRY`` apart.
    """
    require(by, "arrival.open")
    take_token(token, by=by, verb="arrival.open", at=at)
    transport = transport or {}
    _refuse_unknown(transport)
    _refuse({**transport_problems(transport), **moment_problems(received_at, at, earlier_reason)})
    arrival = Arrival.objects.create(
        number=free_number(Arrival, numbers.ARRIVAL),
        received_at=received_at,
        entered_at=at,
        earlier_reason=earlier_reason.strip(),
        received_by=by,
        **transport,
    )
    for consignment in consignments:
        _add_part(arrival, consignment, by=by, at=at)
    if not consignments:
        after = {"received": received_at, "announced": False}
        record.write(by=by, at=at, verb="arrival.open", subject=f"arrival {arrival.number}", after=after)
    keep_outcome(token, number=arrival.number)
    return arrival


def _add_part(arrival: Arrival, consignment: Consignment, *, by: User, at: datetime) -> None:
    if consignment.state not in (ConsignmentState.SENT, ConsignmentState.RECEIVED):
        raise MoveNotAllowed(
            _("%(consignment)s is %(state)s; only a sent consignment can arrive.")
            % {"consignment": consignment, "state": consignment.get_state_display()}
        )
    ArrivalPart.objects.create(arrival=arrival, consignment=consignment)
    if consignment.state == ConsignmentState.SENT:
        claim(
            Consignment.objects.filter(
                pk=consignment.pk, state=ConsignmentState.SENT, version=consignment.version
            ),
            _(
                "%(consignment)s was changed by its group a moment ago. Look it up again to see what "
                "changed, then open the arrival."
            )
            % {"consignment": consignment},
            state=ConsignmentState.RECEIVED,
            received_at=arrival.received_at,
            version=consignment.version + 1,
        )
        consignment.refresh_from_db()
    record.write(
        by=by,
        at=at,
        verb="arrival.open",
        subject=f"arrival {arrival.number}",
        consignment=consignment,
        after={
            "received": arrival.received_at,
            **{
                name: getattr(arrival, name)
                for name in TRANSPORT_FIELDS
                if getattr(arrival, name) is not None
            },
        },
        reason=arrival.earlier_reason,
    )


@transaction.atomic
def add_consignment(arrival: Arrival, consignment: Consignment, *, by: User, at: datetime) -> None:
    """A further consignment was found in the same box."""
    require(by, "arrival.open")
    require_open(arrival)
    if not arrival.parts.filter(consignment=consignment).exists():
        _add_part(arrival, consignment, by=by, at=at)


@transaction.atomic
def amend_transport(arrival: Arrival, *, by: User, at: datetime, transport: Mapping[str, object]) -> Arrival:
    """State or correct how the box came; every bottle checked in it is judged anew.

    What was accepted as in order and does not pass by the new facts is put on hold.
    """
    require(by, "arrival.open")
    require_open(arrival)
    _refuse_unknown(transport)
    _refuse(transport_problems(transport))
    before = {name: getattr(arrival, name) for name in transport}
    was, becomes = record.differences(before, transport)
    if not becomes:
        return arrival
    claim(
        Arrival.objects.filter(pk=arrival.pk, closed_at=None, **was),
        _("Somebody else wrote down the transport a moment ago. Load the page anew to see it."),
        **becomes,
    )
    for name, value in becomes.items():
        setattr(arrival, name, value)
    judge_bottles(arrival.bottles.all(), at=at)
    for consignment in arrival.consignments.all():
        record.write(
            by=by,
            at=at,
            verb="arrival.amend",
            subject=f"arrival {arrival.number}",
            consignment=consignment,
            before=was,
            after=becomes,
        )
    hold_what_no_longer_passes(arrival, by=by, at=at)
    return arrival


def unchecked_in(arrival: Arrival) -> BottleQuerySet:
    """Bottles that were scanned in ``arrival`` and that nobody has checked."""
    return Bottle.objects.filter(sightings__arrival=arrival, state=BottleState.EXPECTED)


@transaction.atomic
def close_arrival(
    arrival: Arrival,
    *,
    by: User,
    at: datetime,
    more_to_come: bool,
    scanned_are_here: bool | None = None,
    token: str = "",
) -> Arrival:
    """Finish an arrival. Bottles that were expected and did not come are missing.

    With ``more_to_come`` they stay expected, because another box is on its way. Bottles that were
    scanned in it and not checked are no missing ones: the person says whether they are here, and
    stay expected, or whether only their number was scanned. The groups are
    asked about the bottles that are on hold, one question a cause. The
    temperature must have been written down first, or stated as not measurable in the remark.
    """
    require(by, "arrival.open")
    take_token(token, by=by, verb="arrival.close", at=at)
    require_open(arrival)
    if arrival.temperature_c is None and not arrival.remark.strip():
        raise EntryProblem(
            _("Write down the transport temperature first, or say in the remark why none could be read."),
            {"temperature_c": _("Write down the figure; “on ice” alone is not enough.")},
        )
    waiting = unchecked_in(arrival)
    if scanned_are_here is None and waiting.exists():
        sentence = _("Some bottles were scanned and not checked. Check them, or say whether they are here.")
        raise EntryProblem(sentence, {"scanned": _("Say whether these bottles are here.")})
    kept = set(waiting.values_list("pk", flat=True)) if scanned_are_here else set()
    claim(
        Arrival.objects.filter(pk=arrival.pk, closed_at__isnull=True),
        _("Somebody closed arrival %(arrival)s a moment ago.") % {"arrival": arrival},
        closed_at=at,
    )
    arrival.closed_at = at
    for consignment in arrival.consignments.all():
        expected = consignment.bottles.filter(state=BottleState.EXPECTED)
        absent = expected.exclude(pk__in=kept)
        missing = [] if more_to_come else list(absent.values_list("number", flat=True))
        unchecked = list(expected.filter(pk__in=kept).values_list("number", flat=True))
        if missing:
            absent.update(state=BottleState.MISSING)
        record.write(
            by=by,
            at=at,
            verb="arrival.close",
            subject=f"arrival {arrival.number}",
            consignment=consignment,
            after={"missing": missing, "here, not checked": unchecked, "more to come": more_to_come},
        )
    mails.arrival_closed(arrival.pk, at=at)
    ask_about(held_bottles().filter(arrival=arrival), by=by, at=at)
    return arrival


#: What a list of an arrival's bottles shows; how each was kept is left in the database.
LISTED = (
    "number",
    "line",
    "state",
    "decision",
    "decision_reason",
    "decided_by",
    "weightiest",
    "announced",
    "arrival",
    "sample__own_id",
    "consignment__title",
)


def bottles_of(arrival: Arrival) -> list[Bottle]:
    """Every bottle that the arrival's consignments announced or that came in it, as lists show it."""
    return list(
        Bottle.objects.of_arrival(arrival)
        .with_scanned(arrival)
        .select_related("sample", "consignment")
        .only(*LISTED)
        .order_by("consignment", "sample__position", "line")
    )
