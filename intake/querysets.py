"""Reading: who sees what, and in which order. Every view starts from ``visible_to``."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, NoReturn, Self

from django.db import models
from django.db.models import Count, Exists, F, Max, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from intake.choices import JobState
from intake.states import STANDING_DATES, WAITING, BottleState, ConsignmentState, DateState

if TYPE_CHECKING:
    from intake.models import Arrival, Consignment, User


#: Drafts are their group's own.
TOLD_TO_RECEPTION = tuple(state for state in ConsignmentState if state != ConsignmentState.DRAFT)
#: What a group does to a consignment that changes what it declares.
AMENDMENTS = ("consignment.amend", "samples.enter")


def _signed_in(user: User) -> bool:
    return user.is_authenticated and user.is_active


def _of_visible(user: User) -> Q:
    """The condition that a row's consignment is one that ``user`` may know of.

    As ``ConsignmentQuerySet.visible_to``, but it never lists the consignments themselves.
    """
    from intake.models import Membership

    if not _signed_in(user):
        return Q(pk__in=())
    if user.is_manager:
        return Q(consignment__isnull=False)
    if user.is_reception:
        return Q(consignment__state__in=TOLD_TO_RECEPTION)
    return Q(consignment__group__in=Membership.objects.filter(user=user).values("group"))


class GroupQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """Groups ``user`` may know of: all for the laboratory's people, else their own."""
        if not _signed_in(user):
            return self.none()
        return self if user.is_staff else self.filter(membership__user=user)


class InvitationQuerySet(models.QuerySet):
    def open_at(self, now: datetime) -> Self:
        """Invitations whose link still works at ``now``."""
        return self.filter(accepted_at=None, revoked_at=None, expires_at__gte=now)


class ConsignmentQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """Consignments ``user`` may know of. Reception does not see drafts."""
        if not _signed_in(user):
            return self.none()
        if user.is_manager:
            return self
        if user.is_reception:
            return self.filter(state__in=TOLD_TO_RECEPTION)
        return self.filter(group__membership__user=user)

    def with_what_matters(self, now: datetime) -> Self:
        """Add what a list shows: ``bottle_count``, ``weightiest`` and ``next_due_at``.

        ``weightiest`` is the rank of the heaviest finding, -1 for none; ``next_due_at`` the
        clock that runs out next and can still be kept, of bottles neither refused, missing nor
        withdrawn.
        """
        from intake.models import Bottle, ClockRow

        bottles = Bottle.objects.filter(consignment=OuterRef("pk")).order_by().values("consignment")
        clocks = (
            ClockRow.objects.keepable(now)
            .filter(bottle__consignment=OuterRef("pk"))
            .exclude(bottle__state__in=(BottleState.REFUSED, BottleState.MISSING))
            .exclude(bottle__consignment__state=ConsignmentState.WITHDRAWN)
            .order_by("due_at", "pk")
        )
        return self.annotate(
            bottle_count=Coalesce(Subquery(bottles.annotate(count=Count("pk")).values("count")), 0),
            weightiest=Coalesce(Subquery(bottles.annotate(most=Max("weightiest")).values("most")), -1),
            next_due_at=Subquery(clocks.values("due_at")[:1]),
        )

    def with_amendment(self) -> Self:
        """Add ``amended_at``: when it was last changed after it was sent, empty if it was not."""
        from intake.models import RecordEntry

        changes = RecordEntry.objects.after_sending().filter(consignment=OuterRef("pk"))
        return self.annotate(amended_at=Subquery(changes.order_by("-position").values("at")[:1]))

    def announced(self) -> Self:
        """Sent, or partly here: what reception may still expect something of."""
        return self.filter(state__in=(ConsignmentState.SENT, ConsignmentState.RECEIVED))

    def still_expected(self, now: datetime) -> Self:
        """Announced consignments of which bottles have yet to come, the soonest clock first.

        Adds ``to_come``, how many bottles, and ``soonest_due_at``, the next moment at which an
        ion of one of them is lost; empty where no clock can be kept any more.
        """
        from intake.models import Bottle, ClockRow

        expected = Bottle.objects.filter(state=BottleState.EXPECTED)
        own = expected.filter(consignment=OuterRef("pk")).order_by().values("consignment")
        clocks = ClockRow.objects.keepable(now).filter(
            bottle__consignment=OuterRef("pk"), bottle__state=BottleState.EXPECTED
        )
        return (
            self.announced()
            .filter(pk__in=expected.order_by().values("consignment"))
            .annotate(
                to_come=Coalesce(Subquery(own.annotate(count=Count("pk")).values("count")), 0),
                soonest_due_at=Subquery(clocks.order_by("due_at", "pk").values("due_at")[:1]),
            )
            .order_by(F("soonest_due_at").asc(nulls_last=True), "pk")
        )


class ArrivalQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """Arrivals are the laboratory's own: a box may hold the bottles of several groups."""
        return self if _signed_in(user) and user.is_staff else self.none()

    def on_the_bench(self) -> Self:
        """Arrivals that are not closed yet."""
        return self.filter(closed_at__isnull=True)

    def with_progress(self) -> Self:
        """Add ``checked``, the bottles checked in the arrival, and ``to_come``, those expected still."""
        from intake.models import Bottle

        came = Bottle.objects.filter(arrival=OuterRef("pk")).order_by().values("arrival")
        part = "consignment__arrival_parts__arrival"
        expected = Bottle.objects.filter(**{part: OuterRef("pk")}, state=BottleState.EXPECTED).order_by()
        return self.annotate(
            checked=Coalesce(Subquery(came.annotate(count=Count("pk")).values("count")), 0),
            to_come=Coalesce(Subquery(expected.values(part).annotate(count=Count("pk")).values("count")), 0),
        )


class SampleQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        return self.filter(_of_visible(user))


class BottleQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """Bottles of the consignments ``user`` may know of; a manager knows of all."""
        if _signed_in(user) and user.is_manager:
            return self
        if _signed_in(user) and user.is_reception:
            # The same as below; every scan asks for it, and a join is written and planned faster.
            return self.exclude(consignment__state=ConsignmentState.DRAFT)
        return self.filter(_of_visible(user))

    def waiting(self) -> Self:
        """Bottles that stand in the laboratory and still want an injection."""
        return self.filter(state__in=WAITING)

    def with_next_due(self, now: datetime) -> Self:
        """Add ``next_due_at`` and ``next_ion``: the clock that runs out next and can still be kept.

        A clock due exactly ``now`` can still be kept. Both are empty where none is left.
        """
        from intake.models import ClockRow

        keepable = ClockRow.objects.filter(
            bottle=OuterRef("pk"), stopped_at__isnull=True, void=False, due_at__gte=now
        ).order_by("due_at", "pk")
        return self.annotate(
            next_due_at=Subquery(keepable.values("due_at")[:1]),
        )

    def of_arrival(self, arrival: Arrival) -> Self:
        """Bottles that the consignments of ``arrival`` announced or that came in it."""
        return self.filter(consignment__arrival_parts__arrival=arrival)

    def with_scanned(self, arrival: Arrival) -> Self:
        """Add ``scanned``: whether the bottle was scanned at the desk of ``arrival``."""
        from intake.models import Sighting

        return self.annotate(scanned=Exists(Sighting.objects.filter(arrival=arrival, bottle=OuterRef("pk"))))

    def in_expiry_order(self, now: datetime) -> Self:
        """The soonest clock that can still be kept first; bottles with none left come last."""
        return self.with_next_due(now).order_by(F("next_due_at").asc(nulls_last=True), "pk")

    def to_discard(self, until: datetime) -> Self:
        """Refused not after ``until``, or measured with no injection after it, and not discarded yet."""
        from intake.models import ClockRow

        later = ClockRow.objects.filter(bottle=OuterRef("pk"), stopped_at__gt=until)
        over = Q(state=BottleState.REFUSED, decided_at__lte=until)
        over |= Q(~Exists(later), state=BottleState.MEASURED)
        states = (BottleState.REFUSED, BottleState.MEASURED)
        return self.filter(over, state__in=states, discarded_at__isnull=True, arrival__isnull=False)


class ClockQuerySet(models.QuerySet):
    def running(self) -> Self:
        return self.filter(stopped_at__isnull=True, void=False)

    def keepable(self, now: datetime) -> Self:
        """Running clocks that are not over at ``now``; exactly due is still in time."""
        return self.running().filter(due_at__gte=now)

    def due_before(self, moment: datetime) -> Self:
        return self.running().filter(due_at__lt=moment)


class QuestionQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        return self.filter(_of_visible(user))

    def open(self) -> Self:
        """Questions without an answer of which a bottle still is on hold."""
        from intake.models import AskedBottle

        held = AskedBottle.objects.filter(question=OuterRef("pk"), bottle__state=BottleState.ON_HOLD)
        return self.filter(Exists(held), answered_at__isnull=True)

    def most_urgent_first(self) -> Self:
        return self.order_by(F("useful_until").asc(nulls_last=True), "pk")


class DateRequestQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """Dates of the consignments ``user`` may know of."""
        return self.filter(_of_visible(user))

    def standing(self) -> Self:
        """Those that take room: asked for, proposed or agreed, and not withdrawn."""
        return self.filter(state__in=STANDING_DATES).exclude(consignment__state=ConsignmentState.WITHDRAWN)

    def open(self) -> Self:
        """Those that wait for an answer of the laboratory."""
        return self.standing().filter(state=DateState.ASKED)


class JobQuerySet(models.QuerySet):
    def open(self) -> Self:
        return self.filter(state=JobState.WAITING)

    def sheets_of(self, consignment: Consignment, user: User) -> Self:
        """What ``user`` asked for and what still goes on with sheets of ``consignment``."""
        return self.open().filter(consignment=consignment, user=user).order_by("pk")


class RecordQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """Entries of the consignments ``user`` may know of; the laboratory's own for managers."""
        own = _of_visible(user)
        if _signed_in(user) and user.is_manager:
            own |= Q(consignment__isnull=True)
        return self.filter(own)

    def after_sending(self) -> Self:
        """What a group changed in a consignment after it had sent it."""
        sending = self.model.objects.filter(consignment=OuterRef("consignment"), verb="consignment.send")
        return self.filter(
            verb__in=AMENDMENTS, position__gt=Subquery(sending.order_by().values("position")[:1])
        )

    def update(self, **kwargs: object) -> NoReturn:
        raise TypeError("The record is append-only.")

    def delete(self) -> NoReturn:
        raise TypeError("The record is append-only.")


class RecordManager(models.Manager.from_queryset(RecordQuerySet)):
    """The record with who did it, whose name every telling needs."""

    def get_queryset(self) -> RecordQuerySet:
        return super().get_queryset().select_related("actor")


class StatementQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        return self.filter(_of_visible(user))

    def update(self, **kwargs: object) -> NoReturn:
        raise TypeError("A statement is never changed; a correction makes the next one.")

    def delete(self) -> NoReturn:
        raise TypeError("A statement is never deleted.")
