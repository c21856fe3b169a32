"""The trip check: open to everybody, stores nothing, its answer has an address."""

from __future__ import annotations

from datetime import datetime, timedelta
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from intake.actions.judging import rulebook_of
from intake.models import RulebookVersion
from intake.phrasebook import said
from intake.rules.acidifying import CARE
from intake.rules.words import say_number
from intake.shown import show_list, show_weekday
from intake.views.answers import CANNOT_BE_TAKEN
from labqueue.forms.trip import TripForm, address_of
from labqueue.laboratory import bench
from labqueue.planning.changes import alternatives
from labqueue.planning.faring import Check, OutingAnswer
from labqueue.planning.outing import Outing
from labqueue.tripwords import Clocks, bottles_told, ion_groups, option, squares, verdict

#: Opening hours are wanted from a week before the trip, or from today for a trip long past, to
#: beyond any holding time.
LOOKED_BACK, LOOKED_AHEAD = timedelta(days=8), timedelta(days=1300)


@require_safe
def trip(request: HttpRequest) -> HttpResponse:
    """What to take, by when to be back, which days work, what to change when none does."""
    zone = getattr(request.user, "zone", "") or settings.TIME_ZONE
    form = TripForm(request.GET or None, at=request.at, zone=zone)
    context: dict[str, object] = {"at": request.at, "form": form}
    status = 200
    if form.is_valid():
        context |= _answered(form, request.at)
    elif form.is_bound:
        status = CANNOT_BE_TAKEN
    return render(request, "labqueue/trip.html", context, status=status)


def _answered(form: TripForm, at: datetime) -> dict[str, object]:
    outing, version = form.outing(), form.cleaned_data["book"]
    laboratory = bench(outing.begins - LOOKED_BACK, outing.begins + LOOKED_AHEAD, at)
    check = Check(outing, rulebook_of(version), laboratory, form.first_day())
    answer = check.answer()
    clocks = Clocks(outing.zone, laboratory.opening.zone, form.cleaned_data["begins"].year)

    def address(changed: Outing) -> str:
        return f"{reverse('labqueue:trip')}?{address_of(changed, version)}#answer"

    tone, sentence = verdict(answer, clocks)
    tried = alternatives(check, answer)
    return {
        "answer": answer,
        "zone": outing.zone,
        "clocks": clocks,
        "tone": tone,
        "verdict": sentence,
        "over": outing.begins < at,
        "unclear": form.clocks_unclear(),
        "bottles": [bottles_told(planned) for planned in answer.bottles],
        "care": CARE if any(planned.acid for planned in answer.bottles) else "",
        "groups": ion_groups(answer.chosen, clocks),
        "days": squares(answer, address),
        "options": [option(one, clocks, address(one.outing)) for one in tried],
        "consignment": f"{reverse('intake:consignment_new')}?{_prefilled(answer, version, clocks)}",
    }


def _prefilled(answer: OutingAnswer, version: RulebookVersion, clocks: Clocks) -> str:
    """What a new consignment can take over from a trip."""
    outing = answer.outing
    begins, ends = (moment.astimezone(ZoneInfo(outing.zone)) for moment in (outing.begins, outing.ends))
    told = {
        "sites": ngettext("%(count)s site", "%(count)s sites", outing.sites) % {"count": outing.sites},
        "day": f"{show_weekday(begins)} {begins.year}",
        "from": f"{begins:%H:%M}",
        "to": f"{ends:%H:%M}" if ends.date() == begins.date() else f"{show_weekday(ends)} {ends:%H:%M}",
        "ions": show_list(said(ion.ion) for ion in answer.chosen.ions),
    }
    purpose = _("Planned: %(sites)s, %(day)s %(from)s to %(to)s; %(ions)s.") % told
    if outing.ec_us_cm is not None:
        purpose += " " + _("Expected EC %(ec)s µS/cm.") % {"ec": say_number(outing.ec_us_cm)}
    given: dict[str, object] = {
        "title": _("Trip of %(day)s, %(sites)s") % told,
        "purpose": purpose,
        "zone": outing.zone,
        "rulebook": str(version.pk),
    }
    injections = [ion.injection_at for ion in answer.chosen.ions if ion.injection_at is not None]
    if injections:
        given["requested_on"] = max(injections).astimezone(ZoneInfo(clocks.there)).date().isoformat()
    given |= {"sites": outing.sites, "ions": [ion.ion for ion in answer.chosen.ions]}
    doses = [one.acid.dose_ml for one in answer.bottles if one.acid is not None]
    if doses:
        given["acid_ml"] = f"{doses[0]:g}"
    return urlencode(given, doseq=True)
