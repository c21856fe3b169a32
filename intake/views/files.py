"""Answers that are files to keep."""

from __future__ import annotations

from django.http import HttpResponse

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
CSV = "text/csv; charset=utf-8"


def file_answer(content: bytes, name: str, kind: str) -> HttpResponse:
    """``content`` as a file called ``name``, which is ours and plain ASCII."""
    return HttpResponse(
        content, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
