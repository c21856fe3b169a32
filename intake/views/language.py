"""Choosing the language of pages, by anybody, on any page."""

from __future__ import annotations

from contextlib import AbstractContextManager

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils import translation
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_POST

from intake.actions import people
from intake.errors import Refused


@csrf_exempt
@require_POST
def choose(request: HttpRequest) -> HttpResponse:
    """Show pages in another language from now on, and lead back to the page one was on.

    For somebody signed in it is kept with the person and held to the token of the form. For others it is
    a preference of the browser, as public pages set no cookie to hold it to.
    """
    language = request.POST.get("language", "")
    answer = HttpResponseRedirect(_way_back(request))
    if language not in dict(settings.LANGUAGES):
        return answer
    if request.user.is_authenticated:
        return _kept_with_the_person(request, answer, language)
    return keep_language(answer, language)


@csrf_protect
def _kept_with_the_person(request: HttpRequest, answer: HttpResponse, language: str) -> HttpResponse:
    try:
        people.choose_language(person=request.user, by=request.user, at=request.at, language=language)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return answer
    return keep_language(answer, language)


def _way_back(request: HttpRequest) -> str:
    """The page one was on, if it is one of ours; else the first page."""
    asked = request.POST.get("next", "")
    safe = url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return asked if safe and asked.startswith("/") else "/"


def keep_language(answer: HttpResponse, language: str) -> HttpResponse:
    """Let this browser ask for ``language`` also while nobody is signed in; empty for its own."""
    name, path = settings.LANGUAGE_COOKIE_NAME, settings.LANGUAGE_COOKIE_PATH
    if not language:
        answer.delete_cookie(name, path=path, samesite=settings.LANGUAGE_COOKIE_SAMESITE)
        return answer
    answer.set_cookie(
        name,
        language,
        max_age=settings.LANGUAGE_COOKIE_AGE,
        path=path,
        secure=settings.LANGUAGE_COOKIE_SECURE,
        httponly=settings.LANGUAGE_COOKIE_HTTPONLY,
        samesite=settings.LANGUAGE_COOKIE_SAMESITE,
    )
    return answer


def language_or_present(language: str) -> AbstractContextManager[None]:
    """What is said to somebody who has just chosen ``language``; empty changes nothing."""
    return translation.override(language or translation.get_language())
