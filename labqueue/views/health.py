"""Does it run? For monitors; tells nothing about the laboratory."""

from __future__ import annotations

import logging

from django.db import DatabaseError, connection
from django.db.backends.utils import CursorWrapper
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

logger = logging.getLogger("labqueue.health")


#: Clocks further apart than this write records whose order cannot be trusted (our choice).
MOST_APART_S = 2


def clock_words(apart_s: float) -> str:
    """How far this machine's clock is ahead of the database's, in words; warns in the log where too far."""
    if abs(apart_s) <= MOST_APART_S:
        return "agrees with the database's"
    logger.warning("This machine's clock and the database's are %.1f s apart.", apart_s)
    return f"is {abs(apart_s):.1f} s {'ahead of' if apart_s > 0 else 'behind'} the database's"


@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 while the database answers, else 503; and whether two machines agree on the time."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM intake_rulebookversion LIMIT 1")
            apart_s = _apart(cursor)
    except DatabaseError:
        logger.exception("The database does not answer.")
        return JsonResponse({"database": "does not answer"}, status=503)
    return JsonResponse({"database": "answers", "clock": clock_words(apart_s)})


def _apart(cursor: CursorWrapper) -> float:
    """Seconds by which this machine's clock is ahead of the database server's; SQLite has no other clock."""
    if connection.vendor != "postgresql":
        return 0.0
    cursor.execute("SELECT clock_timestamp()")
    return (timezone.now() - cursor.fetchone()[0]).total_seconds()
