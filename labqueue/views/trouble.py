"""What is answered when the database cannot do its part: what is the matter, and what to do."""

from __future__ import annotations

import sys

from django.db import DatabaseError, InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils.translation import gettext_lazy as _
from django.views.defaults import bad_request, server_error

#: RFC 9110, 15.6.4: the server cannot answer now; a while later it may.
AWAY = 503
LATER_S = "30"

FULL = (
    _("The disk of the server is full"),
    _("Whoever looks after the server has to make room on the disk that holds the database. Tell them now."),
)
READ_ONLY = (
    _("The database cannot be written"),
    _(
        "Whoever looks after the server has to see why: the disk may be mounted read-only, or the "
        "database's file or account may have lost the right to write. Tell them now."
    ),
)
BUSY = (
    _("The database was busy for too long"),
    _(
        "Somebody else's work held it. Wait a moment, then send it again; if that happens often, tell "
        "the manager of your laboratory."
    ),
)
GONE = (
    _("The database does not answer"),
    _("Whoever looks after the server has to see to it. If it is being restarted, it is back in a minute."),
)
#: What SQLite (result codes 13, 8, 10, 5) and PostgreSQL (SQLSTATE 53100, 25006, 55P03) say, in parts.
MARKS = (
    (("is full", "no space left", "could not extend"), FULL),
    (("readonly", "read-only", "disk i/o error"), READ_ONLY),
    (("is locked", "lock timeout", "couldn't get a connection"), BUSY),
)


def named(problem: BaseException | None) -> tuple[str, str] | None:
    """What is the matter and what to do, if ``problem`` is the database's; ``None`` for our own faults."""
    if not isinstance(problem, DatabaseError | InterfaceError):
        return None
    said = str(problem).lower()
    for marks, told in MARKS:
        if any(mark in said for mark in marks):
            return told
    return GONE if isinstance(problem, OperationalError | InterfaceError) else None


def trouble(request: HttpRequest) -> HttpResponse:
    """The page for a fault that nothing caught; Django's log has told of it. It reads no database."""
    told = named(sys.exc_info()[1])
    return server_error(request) if told is None else _page(request, *told)


def refused(request: HttpRequest, exception: Exception) -> HttpResponse:
    """The page for a request that could not be taken. A session that could not be stored is one, too."""
    problem: BaseException | None = exception
    while problem is not None:
        if told := named(problem):
            return _page(request, *told)
        problem = problem.__context__
    return bad_request(request, exception)


def _page(request: HttpRequest, what: str, todo: str) -> HttpResponse:
    page = render_to_string("503.html", {"what": what, "todo": todo, "request": request})
    response = HttpResponse(page, status=AWAY)
    response.headers["Retry-After"] = LATER_S
    return response
