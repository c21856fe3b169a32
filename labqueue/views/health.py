"""Does it run? For monitors; tells nothing about the laboratory."""

from __future__ import annotations

import logging

from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe

logger = logging.getLogger("labqueue.health")


@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 while the database answers, else 503."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM intake_rulebookversion LIMIT 1")
    except DatabaseError:
        logger.exception("The database does not answer.")
        return JsonResponse({"database": "does not answer"}, status=503)
    return JsonResponse({"database": "answers"})
