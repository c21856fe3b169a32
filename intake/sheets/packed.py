"""What stands in a workbook as bytes and back, so that it is parsed once and kept until it is saved.

JSON, since it is also what the process that parses uploads answers: reading it can run nothing.
"""

from __future__ import annotations

import json
import zlib
from datetime import date, datetime, time, timedelta
from typing import Any

from intake.sheets.headings import Headings
from intake.sheets.read import Sheet
from intake.sheets.table import RawRow
from intake.sheets.texts import Formula, SheetError


def _marked(value: object) -> object:
    """A cell that JSON has no form for, as a list of its kind and its content."""
    match value:
        case Formula():
            return ["formula", value.text]
        case SheetError():
            return ["error", value.text]
        case datetime():
            return ["moment", value.isoformat()]
        case date():
            return ["date", value.isoformat()]
        case time():
            return ["time", value.isoformat()]
        case timedelta():
            return ["span", value.total_seconds()]
        case _:
            return ["other", str(value)]


READERS: dict[str, Any] = {
    "formula": Formula,
    "error": SheetError,
    "moment": datetime.fromisoformat,
    "date": date.fromisoformat,
    "time": time.fromisoformat,
    "span": lambda seconds: timedelta(seconds=seconds),
    "other": str,
}


def _cell(value: object) -> object:
    return READERS[value[0]](value[1]) if isinstance(value, list) else value


def pack(sheet: Sheet) -> bytes:
    content = {
        "title": sheet.title,
        "number": sheet.number,
        "zone": sheet.zone,
        "row": sheet.headings.row,
        "places": list(sheet.headings.places.items()),
        "extra": sheet.headings.extra,
        "rows": [[row.number, dict(row.cells)] for row in sheet.rows],
    }
    return zlib.compress(json.dumps(content, default=_marked).encode(), 1)


def unpack(data: bytes) -> Sheet:
    content = json.loads(zlib.decompress(data))
    rows = (
        RawRow(number, {code: _cell(value) for code, value in cells.items()})
        for number, cells in content["rows"]
    )
    headings = Headings(content["row"], dict(content["places"]), tuple(content["extra"]))
    return Sheet(content["title"], tuple(rows), headings, content["number"], content["zone"])
