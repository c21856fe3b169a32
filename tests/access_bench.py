"""The rows of ``tests/access.py`` that concern the bench, trips and days, and what a row holds."""

from __future__ import annotations

from typing import NamedTuple


class Answers(NamedTuple):
    nobody: str
    stranger: str
    submitter: str
    reception: str
    manager: str


BENCH: dict[str, tuple[Answers, Answers]] = {
    "labqueue:overview": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:overview_file": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:trip": (
        Answers("page", "page", "page", "page", "page"),
        Answers("method", "method", "method", "method", "method"),
    ),
    "labqueue:dates": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "away"),
    ),
    "labqueue:date": (
        Answers("door", "hidden", "page", "hidden", "page"),
        Answers("door", "hidden", "page", "hidden", "page"),
    ),
    "labqueue:field_card": (
        Answers("door", "hidden", "page", "hidden", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:queue": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:queue_ahead": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:queue_file": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:queue_selected": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:queue_selected_file": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:queue_selected_hold": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "labqueue:queue_selected_first": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "labqueue:queue_views": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "labqueue:queue_view": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:queue_view_delete": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:bench": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:equipment": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:unit_new": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "labqueue:usual_units": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "away"),
    ),
    "labqueue:unit": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:unit_retire": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:hours": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "labqueue:day_close": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "labqueue:day_open": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:plan": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "labqueue:plan_draft": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:plan_step": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:plan_accept": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:plan_cost": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:priority": (
        Answers("door", "no", "no", "no", "page"),
        Answers("door", "no", "no", "no", "form"),
    ),
    "labqueue:plan_bottle": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:run": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:run_file": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "method", "method", "method", "method"),
    ),
    "labqueue:run_start": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:run_cancel": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:run_fail": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:run_tray": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:run_repeat": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:injections_upload": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:injections_match": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:injection_hand": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:injection_void": (
        Answers("door", "no", "no", "no", "hidden"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
    "labqueue:injections_planned": (
        Answers("door", "method", "method", "method", "method"),
        Answers("door", "no", "no", "no", "hidden"),
    ),
}
