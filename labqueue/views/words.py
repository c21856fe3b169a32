"""The words of the scripts in another language."""

from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_cache_control
from django.views.i18n import JavaScriptCatalog

#: How long a browser may keep them, in seconds; our choice.
KEPT_FOR = 3600


class Words(JavaScriptCatalog):
    """What ``gettext`` of ``static/js/words.js`` looks words up in. The address names the language."""

    domain = "djangojs"
    packages = ("labqueue",)

    def get(self, request: HttpRequest, *args: object, language: str, **kwargs: object) -> HttpResponse:
        if language not in dict(settings.LANGUAGES):
            raise Http404
        with translation.override(language):
            answer = super().get(request, *args, **kwargs)
        patch_cache_control(answer, private=True, max_age=KEPT_FOR)
        return answer
