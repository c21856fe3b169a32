"""Judgements to and from plain data.

An object with ``findings`` (each with ``code``, ``weight``, ``sentence``, ``remedies`` of
``stage`` and ``sentence``, ``source``, ``fact``, ``bottle``, ``ions``), ``clocks`` (the fields
of ``Clock``) and ``advice`` (the fields of ``Advice``; ``figures`` is an object).
"""

from __future__ import annotations

from typing import Any

from intake.rules.book import Limit, LimitUnit
from intake.rules.judgement import Advice, Clock, Finding, Judgement, Remedy, Stage, Weight
from intake.rules.plain import PlainDataError, Problem, Reader, every_field, to_plain


def judgement_to_data(judgement: Judgement) -> dict[str, Any]:
    """``judgement`` as plain data; ``judgement_from_data`` gives the same one back."""
    return {
        "findings": [every_field(finding) for finding in judgement.findings],
        "clocks": [every_field(clock) for clock in judgement.clocks],
        "advice": [
            {**every_field(item), "figures": {name: to_plain(value) for name, value in item.figures}}
            for item in judgement.advice
        ],
    }


def judgement_from_data(data: object) -> Judgement:
    """The judgement that ``data`` holds. Raises ``PlainDataError`` for what is wrong with it."""
    problems: list[Problem] = []
    reader = Reader(data, "", problems)
    judgement = Judgement(
        tuple(_finding(part) for part in reader.parts("findings", "finding")),
        tuple(_clock(part) for part in reader.parts("clocks", "clock")),
        tuple(_advice(part) for part in reader.parts("advice", "advice")),
    )
    reader.finish()
    if problems:
        raise PlainDataError(problems)
    return judgement


def _finding(reader: Reader) -> Finding:
    finding = Finding(
        code=reader.text("code", needed=True),
        weight=reader.choice("weight", Weight) or Weight.NOTE,
        sentence=reader.text("sentence"),
        remedies=tuple(_remedy(part) for part in reader.parts("remedies", "remedy")),
        source=reader.text("source"),
        fact=reader.text("fact"),
        bottle=reader.text("bottle"),
        ions=reader.texts("ions"),
    )
    reader.finish()
    return finding


def _remedy(reader: Reader) -> Remedy:
    remedy = Remedy(reader.choice("stage", Stage) or Stage.BEFORE_SENDING, reader.text("sentence"))
    reader.finish()
    return remedy


def _clock(reader: Reader) -> Clock:
    clock = Clock(
        bottle=reader.text("bottle", needed=True),
        ion=reader.text("ion", needed=True),
        starts_at=reader.moment("starts_at"),
        limit=_limit(reader.part("limit")),
        due_at=reader.moment("due_at"),
        grossly_late_at=reader.moment("grossly_late_at"),
        row=reader.whole("row", 1, 10**6),
        reason=reader.text("reason"),
        assumed=reader.flag("assumed") or False,
        stopped_at=reader.moment("stopped_at"),
        void=reader.flag("void") or False,
    )
    reader.finish()
    return clock


def _limit(reader: Reader | None) -> Limit | None:
    if reader is None:
        return None
    limit = Limit(reader.number("value", 0) or 0, reader.choice("unit", LimitUnit) or LimitUnit.IMMEDIATELY)
    reader.finish()
    return limit


def _advice(reader: Reader) -> Advice:
    figures = reader.value("figures") or {}
    advice = Advice(
        code=reader.text("code", needed=True),
        bottle=reader.text("bottle"),
        sentence=reader.text("sentence"),
        source=reader.text("source"),
        figures=tuple(figures.items()) if isinstance(figures, dict) else (),
    )
    reader.finish()
    return advice
