"""Units and the laboratory's hours: made and changed by the manager, each change recorded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time

import holidays
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from intake import record
from intake.actions.steps import claim, take_token
from intake.errors import EntryProblem, SomebodyWasFaster
from intake.models import User
from intake.permissions import require
from intake.stored import stored_words
from labqueue.models import ClosedDay, Laboratory, OpeningHours, Run, Unit
from labqueue.states import STANDING

UNIT_FIELDS = (
    "name",
    "line",
    "inject_min",
    "equil_min",
    "startup_inj",
    "qc_every",
    "qc_inj",
    "batch_every",
    "batch_inj",
    "tray_places",
    "reserved_places",
    "turnaround_min",
    "topup",
    "largest_dilution",
    "out_from",
    "out_until",
    "out_reason",
)

#: One shift: weekday (Monday is 0), opening, closing.
Shift = tuple[int, time, time]

USUAL_SHIFTS: tuple[Shift, ...] = tuple((weekday, time(8), time(17)) for weekday in range(5))
#: What a laboratory of ordinary size has; common practice, to be changed to one's own.
USUAL_UNITS = (("Anion 1", "anion"), ("Anion 2", "anion"), ("Cation 1", "cation"))


def laboratory() -> Laboratory:
    """The one row of the laboratory, or its defaults before anybody set them."""
    return Laboratory.objects.filter(pk=1).first() or Laboratory(pk=1)


def holiday_countries() -> dict[str, list[str]]:
    """Countries (ISO 3166-1, two letters) whose public holidays are known, with their regions."""
    known = holidays.list_supported_countries(include_aliases=False)
    return {country: regions for country, regions in known.items() if len(country) == 2}


def _values(unit: Unit) -> dict[str, object]:
    return {name: getattr(unit, name) for name in UNIT_FIELDS}


def _check_unit(values: Mapping[str, object], pk: int | None) -> None:
    problems: dict[str, str] = {}
    if Unit.objects.filter(name=values["name"]).exclude(pk=pk).exists():
        problems["name"] = _("Another unit has this name. Choose one that tells the two apart.")
    if values["reserved_places"] >= values["tray_places"]:
        problems["reserved_places"] = _(
            "The tray has no place left for samples. Give fewer, or a larger tray."
        )
    began, ends = values.get("out_from"), values.get("out_until")
    if ends is not None and began is None:
        problems["out_from"] = _("Say from when it is out of service.")
    elif ends is not None and ends <= began:
        problems["out_until"] = _("It comes back after it went out of service. Give a later moment.")
    if problems:
        raise EntryProblem(_("The unit cannot be kept like this."), problems)


@transaction.atomic
def make_unit(values: Mapping[str, object], *, by: User, at: datetime, token: str = "") -> Unit:
    """Add a unit; ``values`` by the names of ``UNIT_FIELDS``."""
    require(by, "bench.plan")
    take_token(token, by=by, verb="unit.make", at=at)
    _check_unit(values, None)
    unit = Unit.objects.create(**values)
    record.write(by=by, at=at, verb="unit.make", subject=unit.name, after=values)
    return unit


@transaction.atomic
def change_unit(
    unit: Unit, values: Mapping[str, object], *, by: User, at: datetime, version: int, token: str = ""
) -> Unit:
    """Change a unit that is at ``version``. Runs already planned keep their places and moments."""
    require(by, "bench.plan")
    take_token(token, by=by, verb="unit.change", at=at)
    _check_unit(values, unit.pk)
    if values["line"] != unit.line and unit.runs.exists():
        raise EntryProblem(
            _("The unit cannot be kept like this."),
            {
                "line": _("%(unit)s has runs of the %(line)s line. Add another unit for the other line.")
                % {"unit": unit, "line": unit.line}
            },
        )
    before, after = record.differences(_values(unit), dict(values))
    claim(
        Unit.objects.filter(pk=unit.pk, version=version, retired_at__isnull=True),
        _("Somebody changed %(unit)s after you opened it. Load the page anew, then make your change again.")
        % {"unit": unit},
        **values,
        version=version + 1,
    )
    unit.refresh_from_db()
    record.write(by=by, at=at, verb="unit.change", subject=unit.name, before=before, after=after)
    return unit


@transaction.atomic
def retire_unit(unit: Unit, *, by: User, at: datetime, token: str = "") -> Unit:
    """Take a unit out for good; its runs stay. Refused while runs are planned on it or running."""
    require(by, "bench.plan")
    take_token(token, by=by, verb="unit.retire", at=at)
    standing = Run.objects.filter(unit=unit, state__in=STANDING).order_by("planned_start")
    if standing:
        names = ", ".join(str(run) for run in standing)
        raise EntryProblem(
            _("%(unit)s still has runs to do: %(names)s. Cancel or end them first.")
            % {"unit": unit, "names": names}
        )
    claim(
        Unit.objects.filter(pk=unit.pk, retired_at__isnull=True),
        _("Somebody else has taken %(unit)s out already.") % {"unit": unit},
        retired_at=at,
        version=unit.version + 1,
    )
    unit.refresh_from_db()
    record.write(by=by, at=at, verb="unit.retire", subject=unit.name)
    return unit


@stored_words()
def _hours_told() -> list[str]:
    """The opening hours as the record tells them."""
    return [str(shift) for shift in OpeningHours.objects.all()]


@transaction.atomic
def set_hours(
    shifts: Sequence[Shift],
    *,
    by: User,
    at: datetime,
    country: str,
    region: str,
    margin_min: int,
    version: int,
    token: str = "",
) -> Laboratory:
    """Set the weekly opening hours, the public holidays and the margin, all at once.

    ``version`` is that of the laboratory when the hours were read.
    """
    require(by, "bench.plan")
    take_token(token, by=by, verb="hours.set", at=at)
    _check_holidays(country, region)
    Laboratory.objects.get_or_create(pk=1)
    claim(
        Laboratory.objects.filter(pk=1, version=version),
        _(
            "Somebody changed the hours after you opened them. Load the page anew, then make your "
            "change again."
        ),
        country=country,
        region=region,
        margin_min=margin_min,
        version=version + 1,
    )
    before = _hours_told()
    OpeningHours.objects.all().delete()
    OpeningHours.objects.bulk_create(
        OpeningHours(weekday=weekday, opens=opens, closes=closes) for weekday, opens, closes in shifts
    )
    after = _hours_told()
    record.write(
        by=by,
        at=at,
        verb="hours.set",
        subject="opening hours",
        before={"hours": before},
        after={"hours": after, "holidays": f"{country} {region}".strip(), "margin_min": margin_min},
    )
    return laboratory()


def _check_holidays(country: str, region: str) -> None:
    if not country:
        if region:
            raise EntryProblem(
                _("The hours cannot be kept like this."), {"country": _("Choose the country of the region.")}
            )
        return
    regions = holiday_countries().get(country)
    if regions is None:
        raise EntryProblem(
            _("The hours cannot be kept like this."),
            {"country": _("The holidays of this country are not known here. Add closed days by hand.")},
        )
    if region and region not in regions:
        known = ", ".join(regions) or "none"
        raise EntryProblem(
            _("The hours cannot be kept like this."),
            {
                "region": _(
                    "%(country)s has no region %(region)s with holidays of its own. Known: %(known)s."
                )
                % {"country": country, "region": region, "known": known}
            },
        )


@transaction.atomic
def close_day(day: date, reason: str, *, by: User, at: datetime, token: str = "") -> ClosedDay:
    """Note a day on which nobody is there."""
    require(by, "bench.plan")
    take_token(token, by=by, verb="day.close", at=at)
    if not reason.strip():
        raise EntryProblem(
            _("Say why the laboratory is closed."), {"reason": _("Say why; it is shown in plans.")}
        )
    if ClosedDay.objects.filter(day=day).exists():
        raise EntryProblem(_("This day is closed already."), {"day": _("This day is closed already.")})
    closed = ClosedDay.objects.create(day=day, reason=reason.strip())
    record.write(by=by, at=at, verb="day.close", subject=f"{day:%Y-%m-%d}", reason=reason.strip())
    return closed


@transaction.atomic
def open_day(closed: ClosedDay, *, by: User, at: datetime) -> None:
    """Take a closed day back."""
    require(by, "bench.plan")
    deleted, _kinds = ClosedDay.objects.filter(pk=closed.pk).delete()
    if not deleted:
        raise SomebodyWasFaster(_("Somebody else has opened this day already."))
    record.write(by=by, at=at, verb="day.open", subject=f"{closed.day:%Y-%m-%d}", reason=closed.reason)


@transaction.atomic
def make_usual_units(*, by: User, at: datetime) -> list[Unit]:
    """Two anion units, one cation unit and a working week, where there is none yet."""
    require(by, "bench.plan")
    if not OpeningHours.objects.exists():
        lab = laboratory()
        set_hours(
            USUAL_SHIFTS,
            by=by,
            at=at,
            country=lab.country,
            region=lab.region,
            margin_min=lab.margin_min,
            version=lab.version,
        )
    if Unit.objects.exists():
        return list(Unit.objects.all())
    return [
        make_unit({**_values(Unit()), "name": name, "line": line}, by=by, at=at) for name, line in USUAL_UNITS
    ]
