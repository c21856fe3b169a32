"""What every request passes through: its moment, the age of the session, what may be kept."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.conf import settings
from django.contrib.auth import logout
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone, translation
from django.utils.cache import add_never_cache_headers

from intake.signing import SEEN_AT

Answer = Callable[[HttpRequest], HttpResponse]

SIGNED_IN_AT = "signed_in_at"
NUL = "\x00"


def moment_of_request(answer: Answer) -> Answer:
    """Read the clock once: ``request.at`` is what the page calls now."""

    def middleware(request: HttpRequest) -> HttpResponse:
        request.at = timezone.now()
        return answer(request)

    return middleware


def session_age(answer: Answer) -> Answer:
    """End sessions that rested too long or are too old, whatever their cookie says.

    The moment last seen is written at most once a minute, so that reading pages stays reading.
    """
    idle = timedelta(seconds=settings.SESSION_IDLE_SECONDS)
    oldest = timedelta(seconds=settings.SESSION_COOKIE_AGE)

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated:
            now = int(request.at.timestamp())
            began = request.session.setdefault(SIGNED_IN_AT, now)
            seen = request.session.get(SEEN_AT, now)
            if now - began > oldest.total_seconds() or now - seen > idle.total_seconds():
                logout(request)
            elif SEEN_AT not in request.session or now - seen >= 60:
                request.session[SEEN_AT] = now
        return answer(request)

    return middleware


def language_of_person(answer: Answer) -> Answer:
    """Whoever has chosen a language gets it on every device, whatever browser and cookie say."""

    def middleware(request: HttpRequest) -> HttpResponse:
        chosen = getattr(request.user, "language", "")
        if chosen and chosen != request.LANGUAGE_CODE and chosen in dict(settings.LANGUAGES):
            translation.activate(chosen)
            request.LANGUAGE_CODE = chosen
        return answer(request)

    return middleware


class WithoutNul:
    """Take out the NUL characters of what was typed; an address that holds one leads nowhere.

    They cannot be seen and mean nothing, and PostgreSQL stores none (its manual, 8.3 Character
    Types); this one place keeps them from every form, search and address.
    """

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.answer(request)

    def process_view(self, request: HttpRequest, *view: object) -> None:
        if NUL in request.path_info:
            raise Http404
        for name in ("GET", "POST"):
            sent = getattr(request, name)
            if any(NUL in key or any(NUL in one for one in values) for key, values in sent.lists()):
                setattr(request, name, _without_nul(sent))


def _without_nul(sent: QueryDict) -> QueryDict:
    kept = sent.copy()
    kept.clear()
    for key, values in sent.lists():
        kept.setlist(key.replace(NUL, ""), [one.replace(NUL, "") for one in values])
    return kept


class SecondFactorFirst:
    """Lead people of whom the laboratory demands a second factor to setting one up, from every page."""

    #: Names of pages that stay open: the doors, the icon, the language and what monitors ask.
    OPEN = ("account_", "mfa_", "health", "mark", "intake:language", "words")

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.answer(request)

    def process_view(self, request: HttpRequest, *view: object) -> HttpResponse | None:
        due = getattr(request.user, "factor_due", False)
        if due and not request.resolver_match.view_name.startswith(self.OPEN):
            return redirect("mfa_index")
        return None


def keep_nothing(answer: Answer) -> Answer:
    """Pages made for somebody signed in are stored nowhere."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = answer(request)
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated and not response.has_header("Cache-Control"):
            add_never_cache_headers(response)
        return response

    return middleware
