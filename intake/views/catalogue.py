"""Every finding the rules can make: what, why, what to do, source, an example."""

from __future__ import annotations

from functools import lru_cache

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from intake.reasons import reason_of
from intake.rules.catalogue import ALL, BY_CODE
from intake.rules.judge import judge
from intake.rules.judgement import Finding


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
    return render(request, "intake/rules.html", {"subjects": sorted(subjects.items())})


@require_safe
def rule(request: HttpRequest, code: str) -> HttpResponse:
    """One finding, with an example."""
    if code not in BY_CODE:
        raise Http404
    context = {"rule": BY_CODE[code], "example": _example_of(code), "reason": reason_of(code)}
    return render(request, "intake/rule.html", context)
