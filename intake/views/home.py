"""The first page: it leads each role to the page that answers its first question."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from intake.choices import Role
from intake.navigation import address_of

FIRST_PAGES = {
    Role.SUBMITTER: "intake:consignments",
    Role.RECEPTION: "intake:reception",
    Role.MANAGER: "labqueue:queue",
}


@login_required
def home(request: HttpRequest) -> HttpResponse:
    first = address_of(FIRST_PAGES.get(request.user.role, ""))
    if first:
        return redirect(first)
    return render(request, "intake/home.html", {"at": request.at})
