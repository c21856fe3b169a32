"""The desk: one box that takes every scan and every key, and what it answers."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from intake import numbers
from intake.actions.checking import suggestion_for
from intake.actions.judging import bottle_facts, rulebook_of
from intake.alike import reasons_of
from intake.forms.scans import COMMANDS, PREFIX, ScanForm
from intake.hazards import caution, hazards_at_the_desk
from intake.models import AdviceRow, Arrival, BenchCheck, FindingRow
from intake.phrasebook import said
from intake.pictures.squares import squares
from intake.rules.looks import FAULTS, faults_of, looks_of, wants_strip
from intake.rules.outcomes import Reception
from intake.states import BottleState
from intake.views.answers import new_token
from intake.views.bench import (
    LAB_ZONE,
    Tally,
    arrival_or_404,
    for_reception,
    scanned_at,
    wants_data,
)
from intake.views.comparing import acid_declared, filter_declared
from intake.views.deskwork import RECHECKABLE, STOPPED, TOLD, UNCHECKED, Answer, Desk, bottle_on_screen
from intake.views.scanning import answer, show

#: Advice that helps before the bottle is put away: the pH to expect and the acid still to give.
BEFORE_THE_CHECK = ("acid.expected_ph", "acid.dose")
#: And once it is checked: the acid to add here, what acid does to every result.
AFTER_THE_CHECK = ("acid.add", "acid.volume_factor", "acid.dose")
#: How many of the last checks stand beside the box.
LAST = 10
LAST_SHOWN = ("checked_by", "bottle__number", "bottle__state", "bottle__sample__own_id")


@require_http_methods(("GET", "HEAD", "POST"))
@scanned_at
def desk(request: HttpRequest, number: str) -> HttpResponse:
    """The desk of one arrival."""
    at = request.at
    arrival = arrival_or_404(request, number)
    if arrival.closed_at is not None and request.method != "POST":
        return redirect("intake:arrival", arrival.number)
    said = _said(request, arrival, at)
    if wants_data(request):
        return JsonResponse(_as_data(request, arrival, said, at))
    return render(request, "intake/desk.html", _context(request, arrival, said, at))


def _said(request: HttpRequest, arrival: Arrival, at: datetime) -> Answer:
    """The answer to what was scanned; without a scan, what there is to do."""
    if request.method != "POST":
        shown = numbers.tidy(request.GET.get("on", ""))
        if shown:
            return show(Desk(request.user, at, arrival, at), shown)
        return Answer(TOLD, _("Ready"), _("Scan a bottle."))
    form = ScanForm(request.POST)
    if not form.is_valid():
        return Answer(STOPPED, _("Not recorded"), _("That could not be read. Scan it again."))
    said = form.cleaned_data
    standing = Desk(
        user=request.user,
        at=at,
        arrival=arrival,
        checked_at=at - timedelta(seconds=said["age_s"] or 0),
        on=numbers.tidy(said["on"]),
        asking=said["asking"],
        marks=said["marks"],
        token=said["token"],
    )
    return answer(standing, form.entry())


def _as_data(request: HttpRequest, arrival: Arrival, said: Answer, at: datetime) -> dict[str, object]:
    context = _context(request, arrival, said, at)
    return {
        "tone": said.tone,
        "word": said.word,
        "sentence": said.sentence,
        "left": context["left"],
        "on": said.on,
        "asking": said.asking,
        "marks": said.marks,
        "panel": render_to_string("intake/_desk_panel.html", context, request),
        "progress": render_to_string("intake/_desk_progress.html", context, request),
    }


def _context(request: HttpRequest, arrival: Arrival, said: Answer, at: datetime) -> dict[str, object]:
    """What the page and its parts show, in a fixed number of queries."""
    progress = Tally.of(arrival)
    checks = BenchCheck.objects.filter(arrival=arrival, undone_at__isnull=True)
    left = _("Bottle %(number)s is left unchecked.") % {"number": numbers.grouped(said.left)}
    return {
        "at": at,
        "zone": LAB_ZONE,
        "arrival": arrival,
        "said": said,
        "left": left if said.left else "",
        "token": new_token(),
        "progress": progress,
        "last": checks.select_related("bottle__sample").only(*LAST_SHOWN).order_by("-pk")[:LAST],
        "shown": _panel(request, said, progress),
        "faults": FAULTS,
        "caution": caution(),
    }


def _panel(request: HttpRequest, said: Answer, progress: Tally) -> dict[str, object] | None:
    """The bottle on the screen: what was declared, what to look at, what the rules say."""
    if not numbers.is_number(said.on, numbers.BOTTLE):
        return None
    bottle = said.bottle or bottle_on_screen(request.user, said.on)
    if bottle is None:
        return None
    facts = bottle_facts(bottle, None, None)
    suggestion = suggestion_for(bottle) if bottle.state == BottleState.ON_HOLD else None
    helpful = BEFORE_THE_CHECK if bottle.state in UNCHECKED else AFTER_THE_CHECK
    advice = list(AdviceRow.objects.filter(bottle=bottle, code__in=helpful).order_by("code"))
    heavy = FindingRow.objects.filter(sample=bottle.sample_id, rank__gte=1)
    findings = [row for row in heavy if row.bottle_id in (None, bottle.pk)]
    return {
        "bottle": bottle,
        "looks": looks_of(facts, rulebook_of(bottle.consignment.rulebook)),
        "strip": wants_strip(facts),
        "faults": faults_of(facts),
        "marked": [fault for fault in faults_of(facts) if fault.key in said.marks],
        "findings": findings,
        "confirmed": reasons_of(bottle.sample, findings),
        "advice": advice,
        "acid_to_add": any(row.code == "acid.add" for row in advice),
        "unchecked": bottle.state in UNCHECKED,
        "open": bottle.state in RECHECKABLE,
        "elsewhere": bottle.consignment_id not in progress.consignments,
        "suggestion": suggestion,
        "agreeable": suggestion is not None and suggestion.reception is not Reception.ON_HOLD,
        "hazards": hazards_at_the_desk(bottle),
        "acid": acid_declared(bottle),
        "filter": filter_declared(bottle),
    }


#: What the words behind the full stop do, for the card.
COMMAND_SENTENCES = {
    "OK": gettext_lazy("The bottle on the screen is in order"),
    "AGREE": gettext_lazy("Decide as the rules suggest"),
    "UNDO": gettext_lazy("Take back the last check"),
    "ADD": gettext_lazy("This consignment came in the box too"),
    "LEAVE": gettext_lazy("Clear the screen, leave the bottle unchecked"),
}
#: Values that strips usually show, for the card.
STRIP_VALUES = ("1", "1.5", "2", "2.5", "3", "4", "5", "6", "7")


@require_GET
@for_reception
def command_card(request: HttpRequest) -> HttpResponse:
    """Every command as a word and a code to scan, for printing."""
    sections = (
        (_("Bottle"), [(f"{PREFIX}{word}", COMMAND_SENTENCES[word]) for word in COMMANDS]),
        (_("What is wrong"), [(f"{PREFIX}{fault.key}", capfirst(said(fault.name))) for fault in FAULTS]),
        (
            _("pH on the strip"),
            [
                (f"{PREFIX}PH{value}", _("pH %(value)s, all else in order") % {"value": value})
                for value in STRIP_VALUES
            ],
        ),
    )
    context = {
        "at": request.at,
        "zone": LAB_ZONE,
        "sections": [
            (name, [(text, sentence, squares(text)) for text, sentence in commands])
            for name, commands in sections
        ],
    }
    return render(request, "intake/command_card.html", context)
