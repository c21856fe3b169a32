"""The document that ``manage.py judge`` reads, as JSON Schema (draft 2020-12), drawn from the facts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import datetime
from enum import StrEnum
from inspect import cleandoc
from types import MappingProxyType, NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

from intake.rules.facts import BottleFacts, SampleFacts

DRAFT = "https://json-schema.org/draft/2020-12/schema"

_PLAIN: Mapping[type, Mapping[str, str]] = MappingProxyType(
    {
        str: {"type": "string"},
        bool: {"type": "boolean"},
        float: {"type": "number"},
        datetime: {"type": "string", "format": "date-time"},
    }
)


def facts_schema() -> dict[str, Any]:
    """Every field of the facts with its type, its choices and whether it has to be there."""
    return {
        "$schema": DRAFT,
        "title": "The facts of one sample and its bottles",
        "type": "object",
        "additionalProperties": False,
        "required": ["sample"],
        "properties": {
            "sample": _schema(SampleFacts),
            "bottles": {"type": ["array", "null"], "items": _schema(BottleFacts)},
            "rulebook": {
                "description": "The code of a shipped rulebook, or a rulebook written out.",
                "type": ["string", "object", "null"],
            },
        },
    }


def _schema(hint: Any) -> dict[str, Any]:
    if get_origin(hint) is UnionType:
        [stated] = [part for part in get_args(hint) if part is not NoneType]
        return _schema(stated)
    if get_origin(hint) in (tuple, frozenset):
        return {"type": "array", "items": _schema(get_args(hint)[0])}
    if is_dataclass(hint):
        return _object(hint)
    if issubclass(hint, StrEnum):
        return {"enum": [member.value for member in hint]}
    return dict(_PLAIN[hint])


def _object(kind: Any) -> dict[str, Any]:
    """An object of facts; a field that need not be there may also be null: nobody stated it."""
    hints = get_type_hints(kind)
    properties = {}
    required = []
    for field in fields(kind):
        schema = _schema(hints[field.name])
        if field.default is MISSING and field.default_factory is MISSING:
            required.append(field.name)
            properties[field.name] = schema
        else:
            properties[field.name] = {"anyOf": [schema, {"type": "null"}]}
    return {
        "description": cleandoc(kind.__doc__),
        "type": "object",
        "additionalProperties": False,
        "required": required,
        "properties": properties,
    }
