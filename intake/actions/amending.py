"""Whether a consignment may still be amended, and what is due when it was sent already."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext_lazy as _

from intake import mails
from intake.actions.entries import SampleEntry
from intake.errors import EntryProblem, MoveNotAllowed
from intake.models import Consignment, RecordEntry
from intake.states import ConsignmentState

#: Why a consignment that stands elsewhere cannot be amended any more.
TOO_LATE: dict[str, str] = {
    ConsignmentState.RECEIVED: (
        _(
            "Bottles of this consignment have arrived, so it can no longer be changed here. Tell the "
            "laboratory what is wrong in it."
        )
    ),
    ConsignmentState.WITHDRAWN: (
        _("This consignment was withdrawn and can no longer be changed. Make a new one like it instead.")
    ),
}
SAY_WHY = _("Say why you change it; the laboratory was told otherwise.")
#: Samples named in a refusal; the others stand on the page.
MOST_NAMED = 5


def require_amendable(consignment: Consignment) -> None:
    """Raise ``MoveNotAllowed`` once something of it arrived or it was withdrawn."""
    if not consignment.may_be_amended:
        raise MoveNotAllowed(TOO_LATE[ConsignmentState(consignment.state)])


def require_reason(consignment: Consignment, reason: str) -> None:
    """Raise ``EntryProblem`` for a change without a reason, once the laboratory was told."""
    if consignment.is_sent and not reason.strip():
        raise EntryProblem(SAY_WHY, {"reason": SAY_WHY})


def refuse_incomplete(sample_count: int, without_bottle: Sequence[str]) -> None:
    """Raise ``EntryProblem`` for what cannot be sent: no sample, or samples without a bottle."""
    if not sample_count:
        raise EntryProblem(_("There are no samples yet. Enter at least one, then send."))
    if without_bottle:
        names = ", ".join(without_bottle[:MOST_NAMED])
        raise EntryProblem(
            _("No bottle is entered for %(names)s. Say which ions you want for each, or take the sample out.")
            % {"names": names}
        )


def require_whole(consignment: Consignment, entries: Sequence[SampleEntry]) -> None:
    """What was sent stays fit to be sent. Raises ``EntryProblem``."""
    if not consignment.is_sent:
        return
    if not entries:
        raise EntryProblem(
            _("This would leave a sent consignment without samples. Withdraw it if nothing will come.")
        )
    refuse_incomplete(len(entries), [entry.own_id for entry in entries if not entry.bottles])


def tell_of(entry: RecordEntry, consignment: Consignment) -> None:
    """Mail the managers what ``entry`` changed after sending."""
    if consignment.is_sent:
        mails.consignment_amended(entry.pk, at=entry.at)
