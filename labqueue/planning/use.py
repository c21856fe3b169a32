"""How much of the hours that were there a unit used. Pure; intervals are pairs of aware moments."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

Interval = tuple[datetime, datetime]


def joined(intervals: Iterable[Interval]) -> list[Interval]:
    """``intervals`` in order, those that touch or overlap made one; empty ones are left out."""
    found: list[Interval] = []
    for begin, end in sorted(interval for interval in intervals if interval[0] < interval[1]):
        if found and begin <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((begin, end))
    return found


def common(first: Sequence[Interval], second: Sequence[Interval]) -> list[Interval]:
    """What two lists as ``joined`` makes them have in common."""
    found: list[Interval] = []
    here = there = 0
    while here < len(first) and there < len(second):
        begin = max(first[here][0], second[there][0])
        end = min(first[here][1], second[there][1])
        if begin < end:
            found.append((begin, end))
        if first[here][1] <= second[there][1]:
            here += 1
        else:
            there += 1
    return found


def without(intervals: Sequence[Interval], taken: Sequence[Interval]) -> list[Interval]:
    """``intervals`` less ``taken``, both as ``joined`` makes them."""
    found: list[Interval] = []
    for begin, end in intervals:
        at = begin
        for out, back in taken:
            if back <= at or out >= end:
                continue
            if out > at:
                found.append((at, out))
            at = max(at, back)
        if at < end:
            found.append((at, end))
    return found


def length(intervals: Iterable[Interval]) -> timedelta:
    """The sum of all lengths."""
    return sum((end - begin for begin, end in intervals), timedelta(0))
