"""Gives every request an id, and the log one line about it."""

from __future__ import annotations

import logging
import re
import time
import uuid
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

from labqueue.logs import request_id

Answer = Callable[[HttpRequest], HttpResponseBase]
ID_OF_PROXY = re.compile(r"[A-Za-z0-9-]{8,64}")
logger = logging.getLogger("labqueue.requests")


class RequestId:
    """Gives each request an id, sends it back in a header and writes one line of log for it.

    The line names the route, never the address itself: an address can carry the key of an
    invitation or what somebody searched for. Of the person it names the number only.
    """

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        given = request.headers.get("X-Request-ID", "") if settings.BEHIND_PROXY else ""
        identity = given if ID_OF_PROXY.fullmatch(given) else uuid.uuid4().hex
        held = request_id.set(identity)
        began = time.perf_counter()
        try:
            response = self.get_response(request)
            response.headers["X-Request-ID"] = identity
            self.tell(request, response, (time.perf_counter() - began) * 1000)
        finally:
            request_id.reset(held)
        return response

    def tell(self, request: HttpRequest, response: HttpResponseBase, took_ms: float) -> None:
        match = request.resolver_match
        user = getattr(request, "user", None)
        logger.info(
            "answered",
            extra={
                "method": request.method if request.method in ("GET", "POST", "HEAD") else "other",
                "route": match.route if match else "",
                "status": response.status_code,
                "took_ms": round(took_ms, 1),
                "user": user.pk if user is not None and user.is_authenticated else None,
            },
        )
