"""Reading numbers as people type them: decimal commas, spaces, a unit after the number."""

from __future__ import annotations

import math
import re

from intake.rules.words import say_number
from intake.sheets.problems import CellFault
from intake.sheets.texts import plain, quoted

NUMBER = re.compile(
    r"(?P<sign>[+-]?) ?(?P<digits>[\d.,'’ ]*\d)(?P<power>e[+-]?\d{1,3})?(?P<unit>.*)", re.ASCII
)

#: Beyond this no reading in any of our units is real; it keeps slips from looking like numbers.
GREATEST = 1e9


def number_of(text: str, units: tuple[str, ...], unit: str, least: float | None) -> tuple[float, str]:
    """The number in ``text`` and the unit typed after it (as in ``units``), or ``""``.

    Raises ``CellFault`` when there is no one certain reading.
    """
    match = NUMBER.fullmatch(plain(text).replace("٫", "."))
    if match is None:
        raise CellFault(f"{quoted(text)} is not a number. Type digits such as 7.4, or leave it empty.")
    typed = re.sub(r"^mu(?=[sm])", "u", match["unit"].replace(" ", ""))
    if typed and typed not in units:
        raise CellFault(_unit_sentence(text, match["unit"].strip(), unit))
    readings = [float(digits + (match["power"] or "")) for digits in _readings(match["digits"], text)]
    sign = -1.0 if match["sign"] == "-" else 1.0
    return _certain([sign * reading for reading in readings], text, least), typed


def _unit_sentence(text: str, typed: str, unit: str) -> str:
    if not unit:
        return f"{quoted(text)} is a number with {quoted(typed)} after it. Type the number alone."
    return (
        f"{quoted(text)} has {quoted(typed)} after the number; this column is in {unit}. "
        f"Type the number in {unit}."
    )


def _readings(digits: str, text: str) -> list[str]:
    """Every way to read ``digits``, as Python writes numbers."""
    digits = re.sub(r"(?<=\d)[ '’](?=\d{3}(\D|$))", "", digits)
    if re.search(r"[ '’]", digits):
        raise CellFault(f"{quoted(text)} has a gap inside the number. Type it without the gap.")
    dots, commas = digits.count("."), digits.count(",")
    if not commas:
        if dots > 1:
            return _grouped_only(digits, ".", text)
        return [digits]
    if dots:
        decimal = max(".", ",", key=digits.rfind)
        grouping = "," if decimal == "." else "."
        if digits.count(decimal) > 1:
            raise CellFault(f"{quoted(text)} is not a number. Use one decimal point, such as 1200.5.")
        whole, rest = digits.split(decimal)
        return [f"{_grouped_only(whole, grouping, text)[0]}.{rest}"]
    if commas > 1:
        return _grouped_only(digits, ",", text)
    readings = [digits.replace(",", ".")]
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", digits):
        readings.append(digits.replace(",", ""))
    return readings


def _grouped_only(digits: str, grouping: str, text: str) -> list[str]:
    """``digits`` grouped in threes, without the grouping."""
    if not re.fullmatch(rf"\d{{1,3}}(\{grouping}\d{{3}})+", digits):
        raise CellFault(f"{quoted(text)} is not a number. Use one decimal point, such as 1200.5.")
    return [digits.replace(grouping, "")]


def _certain(readings: list[float], text: str, least: float | None) -> float:
    """The one reading there is. Two raise ``CellFault``, and so does a number that cannot be."""
    if len(readings) > 1:
        small, large = (say_number(reading, 12) for reading in readings)
        raise CellFault(
            f"{quoted(text)} can be read as {small} or as {large}. "
            f"Type {small} with a point, or {large} without the comma."
        )
    value = readings[0]
    if not math.isfinite(value) or abs(value) > GREATEST:
        raise CellFault(f"{quoted(text)} is too large to be a reading. Check the number.")
    if least is not None and value < least:
        raise CellFault(f"{quoted(text)} is below {say_number(least, 6)}, which cannot be. Check the number.")
    return value
