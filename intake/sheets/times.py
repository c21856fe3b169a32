"""Reading dates, times of day and moments on local clocks. No order of day and month is guessed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from intake.rules.moments import zone_named
from intake.rules.words import MONTHS, say_list
from intake.sheets.problems import CellFault
from intake.sheets.texts import plain, quoted

#: Years outside these are slips of the hand; the rules judge all others. Our choice.
FIRST_YEAR, LAST_YEAR = 1970, 2100

LONG_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
MONTH_NUMBERS = {
    **{name: number for number, name in enumerate(LONG_MONTHS, 1)},
    **{name[:3]: number for number, name in enumerate(LONG_MONTHS, 1)},
    "sept": 9,
}

YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})", re.ASCII)
EIGHT_DIGITS = re.compile(r"(\d{4})(\d{2})(\d{2})", re.ASCII)
DAY_NAMED = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .-]*([a-z]{3,9})\.?[ ,-]*(\d{1,4})", re.ASCII)
MONTH_NAMED = re.compile(r"([a-z]{3,9})\.? *(\d{1,2})(?:st|nd|rd|th)?(?: *, *| +)(\d{4})", re.ASCII)
NUMBERS_ONLY = re.compile(r"(\d{1,2}) ?([-/.]) ?(\d{1,2}) ?\2 ?(\d{4}|\d{2})", re.ASCII)
DAY_COUNT = re.compile(r"[2-6]\d{4}(\.\d+)?", re.ASCII)

OFFSET = re.compile(r"(?P<rest>.*?) ?(?P<offset>z|utc|gmt|[+-]\d\d:?\d\d(:\d\d)?)", re.ASCII)
CLOCK = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?::(\d{2})(\.\d{1,6})?)? ?([ap]\.?m\.?)?(?: ?(?:h|hrs))?", re.ASCII
)
FOUR_DIGITS = re.compile(r"(\d{1,2})(\d{2})(?: ?(?:h|hrs))?", re.ASCII)
HALF_DAY = re.compile(r"(\d{1,2}) ?([ap]\.?m\.?)", re.ASCII)
HOUR_ONLY = re.compile(r"(?:about|around|ca\.?|~)? ?(\d{1,2}) ?h(?:ours?|rs?)?", re.ASCII)
DAY_FRACTION = re.compile(r"0?\.\d{3,}", re.ASCII)

HOW_TO_DATE = "Type it as year-month-day, such as 2026-03-04, or with the month's name: 4 Mar 2026."
HOW_TO_TIME = "Type a time on the 24-hour clock such as 14:05."


@dataclass(frozen=True, slots=True)
class Clock:
    """A time of day. ``offset`` is the one typed with it; ``to_the_hour`` if only the hour is known."""

    at: time
    offset: timedelta | None = None
    to_the_hour: bool = False


def say_day(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def day_of(text: str) -> date | None:
    """The date in ``text``; ``None`` when it does not look like a date.

    Raises ``CellFault`` when it looks like one that is impossible, uncertain or out of range.
    """
    wanted = plain(text)
    for pattern, order in ((YEAR_FIRST, (1, 3, 4)), (EIGHT_DIGITS, (1, 2, 3))):
        if match := pattern.fullmatch(wanted):
            year, month, day = (int(match[group]) for group in order)
            return _day(year, month, day, text)
    if match := DAY_NAMED.fullmatch(wanted):
        return _named_day(match[3], match[2], match[1], text)
    if match := MONTH_NAMED.fullmatch(wanted):
        return _named_day(match[3], match[1], match[2], text)
    if match := NUMBERS_ONLY.fullmatch(wanted):
        return _day_in_doubt(int(match[1]), int(match[3]), match[4], text)
    if DAY_COUNT.fullmatch(wanted):
        counted = date(1899, 12, 30) + timedelta(days=int(float(wanted)))
        raise CellFault(
            f"{quoted(text)} is how a spreadsheet counts days; as a date it would be {say_day(counted)}. "
            "Type the date itself."
        )
    return None


def _named_day(year: str, name: str, day: str, text: str) -> date | None:
    month = MONTH_NUMBERS.get(name)
    if month is None:
        return None
    if len(year) != 4:
        raise CellFault(f"{quoted(text)} has no year of four digits. Type it such as 4 Mar 2026.")
    return _day(int(year), month, int(day), text)


def _day(year: int, month: int, day: int, text: str) -> date:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise CellFault(
            f"{quoted(text)} has the year {year}; only {FIRST_YEAR} to {LAST_YEAR} can be. Check the year."
        )
    try:
        return date(year, month, day)
    except ValueError:
        raise CellFault(f"There is no such date as {quoted(text)}. {HOW_TO_DATE}") from None


def _day_in_doubt(first: int, second: int, year_text: str, text: str) -> date:
    """A date in numbers with the year last: only taken when one order alone is possible."""
    year = int(year_text) + (2000 if len(year_text) == 2 else 0)
    readings = []
    for day, month in ((first, second), (second, first)):
        try:
            reading = date(year, month, day)
        except ValueError:
            continue
        if reading not in readings:
            readings.append(reading)
    if not readings:
        raise CellFault(f"There is no such date as {quoted(text)}. {HOW_TO_DATE}")
    if len(readings) == 1 and len(year_text) == 4:
        return _day(year, readings[0].month, readings[0].day, text)
    meant = say_list((say_day(reading) for reading in readings), "or")
    raise CellFault(f"{quoted(text)} is not certain: did you mean {meant}? {HOW_TO_DATE}")


def clock_of(text: str) -> Clock | None:
    """The time of day in ``text``; ``None`` when it does not look like one.

    Raises ``CellFault`` when it looks like one that is impossible or uncertain.
    """
    wanted, offset = plain(text), None
    if match := OFFSET.fullmatch(wanted):
        wanted, offset = match["rest"], _offset(match["offset"])
    if wanted == "noon":
        return Clock(time(12), offset)
    if match := CLOCK.fullmatch(wanted):
        hour = _full_hour(int(match[1]), match[5], text)
        fraction = int(float(match[4]) * 1_000_000 + 0.5) if match[4] else 0
        return Clock(_time(hour, int(match[2]), text, int(match[3] or 0), fraction), offset)
    if match := FOUR_DIGITS.fullmatch(wanted):
        return Clock(_time(int(match[1]), int(match[2]), text), offset)
    if match := HALF_DAY.fullmatch(wanted):
        return Clock(_time(_full_hour(int(match[1]), match[2], text), 0, text), offset)
    if match := HOUR_ONLY.fullmatch(wanted):
        return Clock(_time(int(match[1]), 0, text), offset, to_the_hour=True)
    _refuse_uncertain(wanted, text)
    return None


def _refuse_uncertain(wanted: str, text: str) -> None:
    if match := re.fullmatch(r"(\d{1,2})[:.](\d)", wanted, re.ASCII):
        raise CellFault(
            f"{quoted(text)} can be read as {match[1]}:{match[2]}0 or {match[1]}:0{match[2]}. {HOW_TO_TIME}"
        )
    if re.fullmatch(r"\d{1,2}", wanted, re.ASCII) and int(wanted) < 24:
        raise CellFault(
            f"{quoted(text)} has no minutes. Type {int(wanted):02}:00, "
            f"or {int(wanted)} h if you only know the hour."
        )
    if DAY_FRACTION.fullmatch(wanted):
        minutes = round(float(wanted) * 1440) % 1440
        raise CellFault(
            f"{quoted(text)} is how a spreadsheet counts parts of a day; as a time it would be "
            f"{minutes // 60:02}:{minutes % 60:02}. Type the time itself."
        )


def _offset(text: str) -> timedelta:
    if text[0] not in "+-":
        return timedelta(0)
    digits = text[1:].replace(":", "").ljust(6, "0")
    size = timedelta(hours=int(digits[:2]), minutes=int(digits[2:4]), seconds=int(digits[4:]))
    return size if text[0] == "+" else -size


def _full_hour(hour: int, half: str | None, text: str) -> int:
    if not half:
        return hour
    if not 1 <= hour <= 12:
        raise CellFault(f"{quoted(text)} is not a time: with am or pm the hour is 1 to 12. {HOW_TO_TIME}")
    return hour % 12 + (12 if half.startswith("p") else 0)


def _time(hour: int, minute: int, text: str, second: int = 0, microsecond: int = 0) -> time:
    if (hour, minute, second) == (24, 0, 0):
        raise CellFault(f"{quoted(text)} is midnight: type 00:00 with the date of the day that begins.")
    try:
        return time(hour, minute, second, microsecond)
    except ValueError:
        raise CellFault(f"There is no such time as {quoted(text)}. {HOW_TO_TIME}") from None


def day_and_clock_of(text: str) -> tuple[date, Clock | None] | None:
    """A date, or a date with a time after it; ``None`` when ``text`` does not look like either."""
    day = day_of(text)
    if day is not None:
        return day, None
    for gap in reversed(list(re.finditer(r"[ ,]+|(?<=\d)[tT](?=\d)", text))):
        before, after = text[: gap.start()], text[gap.end() :]
        clock = clock_of(after) if re.search(r"\d|noon", after) else None
        day = day_of(before) if clock is not None else None
        if day is not None:
            return day, clock
    return None


def moment(day: date, clock: Clock, zone: str) -> datetime:
    """The moment, in UTC, at which the clocks of ``zone`` show ``clock`` on ``day``.

    Raises ``CellFault`` for a time that clocks skip or show twice, unless an offset settles it.
    """
    there = zone_named(zone)
    shown = datetime.combine(day, clock.at)
    first, second = (shown.replace(tzinfo=there, fold=fold) for fold in (0, 1))
    offsets = [first.utcoffset() or timedelta(0), second.utcoffset() or timedelta(0)]
    if clock.offset is not None:
        if clock.offset and clock.offset not in offsets:
            raise CellFault(
                f"The offset {say_offset(clock.offset)} is not used in {zone} on {say_day(day)}; "
                f"{say_list(sorted({say_offset(offset) for offset in offsets}), 'or')} is. Check the time."
            )
        return (shown - clock.offset).replace(tzinfo=UTC)
    if offsets[0] == offsets[1]:
        return first.astimezone(UTC)
    typed = [f"{say_clock(clock.at)}{say_offset(offset)}" for offset in offsets]
    if first.astimezone(UTC).astimezone(there).replace(tzinfo=None) == shown:
        raise CellFault(
            f"On {say_day(day)} the clocks in {zone} show {say_clock(clock.at)} twice, because they go back. "
            f"Type {typed[0]} for the first time or {typed[1]} for the second."
        )
    raise CellFault(
        f"On {say_day(day)} the clocks in {zone} never show {say_clock(clock.at)}, because they go forward. "
        f"Type the time they showed, or with its offset: {typed[0]} or {typed[1]}."
    )


def first_after(start: datetime, clock: Clock, zone: str) -> datetime:
    """The first moment at or after ``start``, to the minute, when the clocks of ``zone`` show ``clock``."""
    day = start.astimezone(zone_named(zone)).date()
    for days in (0, 1, 2):
        found = moment(day + timedelta(days=days), clock, zone)
        if found >= start.replace(second=0, microsecond=0):
            return max(found, start)
    raise CellFault("This time does not come soon after the collection. Type it with its date.")


def say_clock(at: time) -> str:
    """``at`` as the sheet writes it: seconds only where there are any."""
    if at.microsecond:
        return at.isoformat(timespec="microseconds")
    return at.isoformat(timespec="seconds" if at.second else "minutes")


def say_offset(offset: timedelta) -> str:
    """``offset`` from UTC such as ``+02:00``."""
    seconds = round(abs(offset).total_seconds())
    hours, rest = divmod(seconds, 3600)
    minutes, rest = divmod(rest, 60)
    sign = "-" if offset < timedelta(0) else "+"
    return f"{sign}{hours:02}:{minutes:02}" + (f":{rest:02}" if rest else "")


def clock_text(at: datetime, zone: str) -> str:
    """The local time of ``at``, with its offset where the clocks of ``zone`` show it twice."""
    there = at.astimezone(zone_named(zone))
    other = there.replace(fold=1 - there.fold)
    text = say_clock(there.time())
    if there.utcoffset() == other.utcoffset():
        return text
    return text + say_offset(there.utcoffset() or timedelta(0))


def day_text(at: datetime, zone: str) -> str:
    """The local date of ``at``."""
    return at.astimezone(zone_named(zone)).date().isoformat()


def moment_text(at: datetime, zone: str) -> str:
    """``at`` on the clocks of ``zone``, as the sheet writes it."""
    return f"{day_text(at, zone)} {clock_text(at, zone)}"
