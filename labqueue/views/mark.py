"""The mark of the site, for browsers that ask for it without being told where it is."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.templatetags.static import static
from django.views.decorators.http import require_safe


@require_safe
def mark(request: HttpRequest) -> HttpResponse:
    """Files and plain answers have no head in which a page would name its mark."""
    return redirect(static("mark.svg"))
