"""Somebody's calendar as iCalendar (RFC 5545): agreed days, and for managers the clocks that run out.

It tells the group and the title of a consignment, nothing of its samples. Every entry keeps its
UID, and its SEQUENCE rises with each change.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.db.models import Count, Max, Min, OuterRef, Subquery
from django.db.models.functions import TruncHour
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from icalendar import Calendar, Event

from intake.models import ClockRow, Consignment, DateRequest, RecordEntry, User
from intake.states import WAITING, ConsignmentState, DateState

#: How far back entries are shown, and how often a reader is told to look again (our choices).
PAST_DAYS, PAST_CLOCKS, LOOK_AGAIN = timedelta(days=90), timedelta(days=2), timedelta(hours=1)
#: More entries than this make a file that calendars refuse; the soonest stay (our choice).
MOST_ENTRIES = 2000
#: What TEXT of RFC 5545 3.3.11 cannot hold: every control character but the tab; line ends are
#: escaped by the library.
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


def agenda_of(user: User, at: datetime) -> bytes:
    """The calendar of ``user`` at ``at``, in four queries at most."""
    calendar = Calendar()
    calendar.add("prodid", "-//labqueue//days and clocks//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", _("Laboratory"))  # RFC 7986 5.1
    calendar.add("refresh-interval", LOOK_AGAIN, parameters={"VALUE": "DURATION"})  # RFC 7986 5.7
    for entry in _days(user, at):
        calendar.add_component(entry)
    if user.is_manager:
        for entry in _clocks(at):
            calendar.add_component(entry)
    return calendar.to_ical()


def _entry(uid: str, changed_at: datetime, sequence: int, summary: str, number: str) -> Event:
    site = urlsplit(settings.SITE_ADDRESS)
    entry = Event()
    entry.add("uid", f"{uid}@{site.hostname or 'labqueue'}")
    entry.add("dtstamp", changed_at.astimezone(UTC).replace(microsecond=0))
    entry.add("sequence", sequence)
    entry.add("summary", _CONTROL.sub(" ", summary))
    entry.add("url", f"{settings.SITE_ADDRESS}/consignments/{number}/")
    return entry


def _days(user: User, at: datetime) -> Iterator[Event]:
    """Agreed days of analysis; whole days, since a calendar day belongs to no zone."""
    agreed = (
        DateRequest.objects.visible_to(user)
        .standing()
        .filter(state=DateState.AGREED, day__gte=(at - PAST_DAYS).date())
        .select_related("consignment__group")
        .order_by("day", "pk")
    )
    for date in agreed[:MOST_ENTRIES]:
        consignment = date.consignment
        summary = _("Analysis: %(group)s, %(title)s") % _names(consignment)
        entry = _entry(f"day-{date.pk}", date.changed_at, date.version, summary, consignment.number)
        entry.add("dtstart", date.day)
        entry.add("dtend", date.day + timedelta(days=1))
        entry.add("transp", "TRANSPARENT")
        yield entry


def _clocks(at: datetime) -> Iterator[Event]:
    """When clocks of waiting bottles are due: one entry a consignment and hour, at its first clock."""
    due = (
        ClockRow.objects.running()
        .filter(bottle__state__in=WAITING, due_at__gte=at - PAST_CLOCKS)
        .exclude(bottle__consignment__state=ConsignmentState.WITHDRAWN)
        .annotate(hour=TruncHour("due_at", tzinfo=UTC))
        .order_by()
        .values("bottle__consignment", "hour")
        .annotate(first=Min("due_at"), bottles=Count("bottle", distinct=True))
        .order_by("first", "bottle__consignment")
    )
    groups = list(due[:MOST_ENTRIES])
    last = RecordEntry.objects.filter(consignment=OuterRef("pk")).order_by()
    consignments = (
        Consignment.objects.filter(pk__in={group["bottle__consignment"] for group in groups})
        .select_related("group")
        .annotate(
            edition=Subquery(last.values("consignment").annotate(most=Max("position")).values("most")),
            edited_at=Subquery(last.values("consignment").annotate(most=Max("at")).values("most")),
        )
        .in_bulk()
    )
    for group in groups:
        consignment = consignments[group["bottle__consignment"]]
        told = _names(consignment) | {"count": group["bottles"]}
        summary = (
            ngettext(
                "Due: %(group)s, %(title)s (%(count)s bottle)",
                "Due: %(group)s, %(title)s (%(count)s bottles)",
                group["bottles"],
            )
            % told
        )
        entry = _entry(
            f"due-{consignment.pk}-{group['hour']:%Y%m%d%H}",
            consignment.edited_at or consignment.created_at,
            consignment.edition or 0,
            summary,
            consignment.number,
        )
        entry.add("dtstart", group["first"].astimezone(UTC).replace(microsecond=0))
        entry.add("transp", "TRANSPARENT")
        yield entry


def _names(consignment: Consignment) -> dict[str, object]:
    return {"group": consignment.group.name, "title": consignment.title}
