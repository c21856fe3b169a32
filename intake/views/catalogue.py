"""Every finding the rules can make: what, why, what to do, source, an example."""

from __future__ import annotations

from functools import lru_cache

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import pgettext_lazy
from django.views.decorators.http import require_safe

from intake.reasons import reason_of
from intake.rules.catalogue import ALL, BY_CODE
from intake.rules.judge import judge
from intake.rules.judgement import Finding

#: What findings are about, by what their codes begin with.
SUBJECTS = {
    "acid": pgettext_lazy("subject of findings", "Acid"),
    "additive": pgettext_lazy("subject of findings", "Additive"),
    "arrival": pgettext_lazy("subject of findings", "Arrival"),
    "bottle": pgettext_lazy("subject of findings", "Bottle"),
    "brim": pgettext_lazy("subject of findings", "Brim"),
    "clock": pgettext_lazy("subject of findings", "Clock"),
    "cold": pgettext_lazy("subject of findings", "Cold"),
    "collection": pgettext_lazy("subject of findings", "Collection"),
    "container": pgettext_lazy("subject of findings", "Container"),
    "filter": pgettext_lazy("subject of findings", "Filter"),
    "frozen": pgettext_lazy("subject of findings", "Frozen"),
    "injection": pgettext_lazy("subject of findings", "Injection"),
    "ion": pgettext_lazy("subject of findings", "Ion"),
    "label": pgettext_lazy("subject of findings", "Label"),
    "readings": pgettext_lazy("subject of findings", "Readings"),
    "seal": pgettext_lazy("subject of findings", "Seal"),
    "seen": pgettext_lazy("subject of findings", "Seen"),
    "statement": pgettext_lazy("subject of findings", "Statement"),
    "volume": pgettext_lazy("subject of findings", "Volume"),
}


@lru_cache(maxsize=256)
def _example_of(code: str) -> Finding:
    """What the rule says of its own example."""
    case = BY_CODE[code].example
    judgement = judge(case.sample, case.bottles, case.book)
    return next(finding for finding in judgement.findings if finding.code == code)


@require_safe
def rules(request: HttpRequest) -> HttpResponse:
    """All findings, by subject. Open to everybody: there is nothing of any lab in it."""
    subjects: dict[str, list[object]] = {}
    for entry in ALL:
        subjects.setdefault(entry.code.partition(".")[0], []).append(entry)
    said = sorted((str(SUBJECTS[code]), entries) for code, entries in subjects.items())
    return render(request, "intake/rules.html", {"subjects": said})


@require_safe
def rule(request: HttpRequest, code: str) -> HttpResponse:
    """One finding, with an example."""
    if code not in BY_CODE:
        raise Http404
    context = {"rule": BY_CODE[code], "example": _example_of(code), "reason": reason_of(code)}
    return render(request, "intake/rule.html", context)
