"""Logs as one JSON object a line, with the id of the request and without mail addresses."""

from __future__ import annotations

import json
import logging
import re
from contextvars import ContextVar
from datetime import UTC, datetime

request_id: ContextVar[str] = ContextVar("request_id", default="")

ADDRESS = re.compile(r"[^\s@<>\"'(),;:=]+@[^\s@<>\"'(),;:=]+")
#: What a middleware or view may add to a line by ``extra=``.
EXTRAS = ("method", "route", "status", "took_ms", "user")


class RequestFacts(logging.Filter):
    """Adds the id of the request being answered, and replaces its address by its route."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.request_id = request_id.get()
        request = getattr(record, "request", None)
        path = getattr(request, "path", "")
        if len(path) > 1:
            match = getattr(request, "resolver_match", None)
            route = match.route if match else "an unknown address"
            record.msg = record.getMessage().replace(path, f"/{route}")
            record.args = ()
        return True


class JsonLines(logging.Formatter):
    """One line a record; what people typed cannot break it, since JSON escapes line ends."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
            "request_id": getattr(record, "request_id", ""),
        }
        line |= {name: getattr(record, name) for name in EXTRAS if hasattr(record, name)}
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return ADDRESS.sub("(mail address)", json.dumps(line, ensure_ascii=False))
