"""The answer of a trip check in words: what the page shows, with nothing left to reckon."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from zoneinfo import ZoneInfo

from django.utils.functional import cached_property
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, pgettext_lazy

from intake.choices import LINE_NAMES
from intake.phrasebook import said
from intake.pictures.signs import Sign
from intake.rules.judgement import Finding
from intake.rules.words import say_number, say_span
from intake.shown import show_list, show_weekday
from labqueue.hours import MINUTE
from labqueue.planning.changes import Alternative, Change
from labqueue.planning.faring import DAYS, DayAnswer, IonAnswer, OutingAnswer
from labqueue.planning.outing import BottlesToTake, Outing
from labqueue.planning.trip import Obstacle

#: So many ions are named before "and so many more".
NAMED = 3

WORKS = Sign(gettext_lazy("Works"), "kept", "kept")
PARTLY = Sign(gettext_lazy("In part"), "caution", "caution")
FAILS = Sign(gettext_lazy("Fails"), "run-out", "run-out")
IN_TIME = Sign(gettext_lazy("In time"), "kept", "kept")
TOO_LATE = Sign(gettext_lazy("Too late"), "run-out", "run-out")
NO_LIMIT = Sign(gettext_lazy("No limit set"), "none", "none")
LOST = Sign(gettext_lazy("Lost"), "run-out", "run-out")


def say_clock(moment: datetime, zone: str, year: int) -> str:
    """A moment with its weekday, on the clock of ``zone``, which the page names beside it.

    The year is said only where it is not ``year``, that of the trip.
    """
    there = moment.astimezone(ZoneInfo(zone))
    of_year = "" if there.year == year else f" {there.year}"
    return f"{show_weekday(there)}{of_year} {there:%H:%M}"


def _shortened(ions: Iterable[IonAnswer]) -> str:
    names = [said(ion.ion) for ion in ions]
    if len(names) <= NAMED + 1:
        return show_list(names)
    return _("%(named)s and %(more)s more") % {
        "named": ", ".join(names[:NAMED]),
        "more": len(names) - NAMED,
    }


@dataclass(frozen=True, slots=True)
class Told:
    """One moment on both clocks; ``there`` is empty where the laboratory's shows the same."""

    here: str
    there: str


@dataclass(frozen=True)
class Clocks:
    """The sampler's zone and the laboratory's, and the year that need not be said."""

    here: str
    there: str
    year: int

    @cached_property
    def apart(self) -> bool:
        return self.here != self.there

    def tell(self, moment: datetime | None) -> Told | None:
        if moment is None:
            return None
        here, there = (say_clock(moment, zone, self.year) for zone in (self.here, self.there))
        return Told(here, there if self.apart else "")


@dataclass(frozen=True, slots=True)
class IonGroup:
    """Ions that fare alike."""

    ions: tuple[str, ...]
    sign: Sign
    sentence: str
    latest: Told | None
    due: Told | None
    injection: Told | None


def ion_groups(day: DayAnswer, clocks: Clocks) -> list[IonGroup]:
    """The ions of ``day`` in groups with the same limit, the most pressing first."""
    far = datetime.max.replace(tzinfo=day.outing.ends.tzinfo)

    def pressing(ion: IonAnswer) -> tuple[object, ...]:
        return (ion.due_at or far, ion.line, ion.latest_at or far, ion.lost, ion.obstacle or "")

    found = []
    for _key, members in groupby(sorted(day.ions, key=pressing), key=pressing):
        alike = list(members)
        one = alike[0]
        found.append(
            IonGroup(
                tuple(ion.ion for ion in alike),
                _ion_sign(one),
                _ion_sentence(one, day.outing),
                clocks.tell(one.latest_at),
                clocks.tell(one.due_at),
                clocks.tell(one.injection_at),
            )
        )
    return found


def _ion_sign(ion: IonAnswer) -> Sign:
    if ion.lost:
        return LOST
    if ion.due_at is None:
        return NO_LIMIT
    return IN_TIME if ion.in_time else TOO_LATE


def _ion_sentence(ion: IonAnswer, outing: Outing) -> str:
    if ion.lost:
        return _("A bottle kept like this cannot give this value at all.")
    if ion.due_at is None:
        return _("The rulebook sets no limit; ask the laboratory.")
    if ion.obstacle is Obstacle.LIMIT_TOO_SHORT:
        return _("Preparation and start-up at the laboratory alone take longer than this limit.")
    if ion.obstacle is Obstacle.NOBODY_THERE:
        return _("Nobody is at the laboratory early enough to take the bottles in and start a run.")
    if ion.obstacle is Obstacle.UNITS_TAKEN:
        return _("The units are taken until it is too late; ask the laboratory whether a run can be moved.")
    if ion.obstacle is not None and ion.latest_at is None:
        return _("It would have to be at reception before the last sample is taken.")
    if ion.obstacle is not None:
        span = said(say_span((ion.latest_at - outing.ends) // MINUTE))
        return _("That leaves %(span)s from the last sample to reception.") % {"span": span}
    return ""


def verdict(answer: OutingAnswer, clocks: Clocks) -> tuple[str, str]:
    """Tone and sentence of the answer as a whole."""
    day = answer.chosen
    if not day.ions:
        return "warning", _("Nothing can be said: the rulebook knows none of these ions.")
    if day.works:
        latest = min((ion.latest_at for ion in day.ions if ion.latest_at is not None), default=None)
        if latest is None:
            return "success", _("This trip works: the rulebook sets no limit for these ions.")
        by = clocks.tell(latest)
        there = f" ({by.there} {clocks.there})" if by.there else ""
        return "success", _(
            "This trip works. Have the cooler at reception by %(by)s %(zone)s%(there)s at the latest."
        ) % {"by": by.here, "zone": clocks.here, "there": there}
    lost = show_list(said(ion.ion) for ion in day.failing)
    return "error", _("As planned, no injection can start in time for: %(ions)s.") % {"ions": lost}


@dataclass(frozen=True, slots=True)
class DaySquare:
    """One sampling day of the calendar."""

    words: str
    weekday: int
    sign: Sign
    reason: str
    address: str
    chosen: bool


def day_square(day: DayAnswer, chosen: bool, address: str) -> DaySquare:
    begins = day.outing.begins.astimezone(ZoneInfo(day.outing.zone))
    sign = WORKS if day.works else FAILS if len(day.failing) == len(day.ions) else PARTLY
    return DaySquare(show_weekday(begins), begins.weekday(), sign, _day_reason(day), address, chosen)


def _day_reason(day: DayAnswer) -> str:
    """Why a day fails, by its most pressing ion; empty where it works."""
    if day.works:
        return ""
    lost = [ion for ion in day.failing if ion.lost]
    if lost:
        return _("%(ions)s: lost when kept like this") % {"ions": _shortened(lost)}
    first = min(ion.due_at for ion in day.failing if ion.due_at is not None)
    alike = [ion for ion in day.failing if ion.due_at == first]
    zone = day.outing.zone
    year = first.astimezone(ZoneInfo(zone)).year
    told = {"ions": _shortened(day.failing), "due": say_clock(first, zone, year)}
    if alike[0].injection_at is None:
        return _("%(ions)s: due %(due)s, no injection before") % told
    told["from"] = say_clock(alike[0].injection_at, zone, year)
    return _("%(ions)s: due %(due)s, first injection %(from)s") % told


@dataclass(frozen=True, slots=True)
class Option:
    """One change that was tried: what to do, what it brings, the address of the changed trip."""

    words: str
    result: str
    sign: Sign
    address: str
    against: tuple[Finding, ...]


HELPS = Sign(pgettext_lazy("a suggested change", "Works"), "kept", "kept")
HELPS_IN_PART = Sign(gettext_lazy("Helps in part"), "caution", "caution")
HELPS_NOT = Sign(gettext_lazy("Does not help"), "void", "void")


def option(tried: Alternative, clocks: Clocks, address: str) -> Option:
    sign = HELPS if tried.works else HELPS_IN_PART if tried.saved else HELPS_NOT
    return Option(_what_to_do(tried, clocks), _what_it_brings(tried), sign, address, tried.against)


def _what_to_do(tried: Alternative, clocks: Clocks) -> str:
    outing = tried.outing
    if tried.change is Change.LEAVE_OUT:
        return _("Leave out %(ions)s") % {"ions": show_list(said(ion) for ion in tried.saved)}
    if tried.change is Change.OTHER_DAY:
        return _("Go on %(day)s instead") % {
            "day": show_weekday(outing.begins.astimezone(ZoneInfo(outing.zone)).date())
        }
    if tried.change is Change.QUICKER:
        by = clocks.tell(outing.arrives)
        return _("Have the cooler at reception by %(by)s, %(span)s after the last sample") % {
            "by": by.here,
            "span": said(say_span(outing.transport_min)),
        }
    return {
        Change.FILTER: _("Filter at the water"),
        Change.CHILL: _("Put the bottles on ice at once"),
        Change.FREEZE: _("Freeze the bottles at once"),
        Change.CHILL_NOT_FREEZE: _("Keep them on ice, do not freeze"),
        Change.ACIDIFY: _("Acidify the bottles for cations"),
    }[tried.change]


def _what_it_brings(tried: Alternative) -> str:
    late = show_list(said(ion.ion) for ion in tried.day.failing)
    saved = show_list(said(ion) for ion in tried.saved)
    if tried.day.works and tried.change is Change.LEAVE_OUT:
        left = len(tried.day.ions)
        told = ngettext(
            "The other ion is then in time.", "The other %(left)s ions are then in time.", left
        ) % {"left": left}
    elif tried.day.works:
        told = _("Every ion is then in time.")
    elif tried.saved:
        told = _("Saves %(saved)s; %(late)s would still be too late.") % {"saved": saved, "late": late}
    else:
        told = _("By this rulebook the same ions would still be too late.")
    if tried.change in (Change.OTHER_DAY, Change.LEAVE_OUT) or tried.saved:
        told += " " + _("%(works)s of the %(days)s days would work.") % {
            "works": tried.days_that_work,
            "days": DAYS,
        }
    return told


@dataclass(frozen=True, slots=True)
class Bottles:
    """One line of the packing: bottles, and the acid that goes into them."""

    count: int
    volume: str
    line: str
    ions: tuple[str, ...]
    acid: str
    more: str


def bottles_told(planned: BottlesToTake) -> Bottles:
    acid, more = "", ""
    if planned.acid is not None:
        dose = planned.acid
        strength = say_number(dose.mol_l)
        acid = _("%(dose)s mL of %(strength)s mol/L nitric acid into each, %(total)s mL in all") % {
            "dose": say_number(dose.dose_ml),
            "strength": strength,
            "total": say_number(round(dose.total_ml, 2)),
        }
        if dose.too_weak:
            more = _(
                "Acid of %(strength)s mol/L cannot reach pH %(ph)s: ask the laboratory for stronger."
            ) % {
                "strength": strength,
                "ph": say_number(dose.target_ph),
            }
        elif not dose.usual:
            more = _("More than the usual dose: the water you expect would use that up before pH %(ph)s.") % {
                "ph": say_number(dose.target_ph)
            }
    return Bottles(
        planned.count,
        say_number(planned.volume_ml),
        str(LINE_NAMES[planned.line.value]),
        planned.ions,
        acid,
        more,
    )


def squares(answer: OutingAnswer, address: Callable[[Outing], str]) -> list[DaySquare]:
    chosen = answer.outing.begins
    return [day_square(day, day.outing.begins == chosen, address(day.outing)) for day in answer.days]
