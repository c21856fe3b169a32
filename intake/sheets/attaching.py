"""Which injection each row of a file of results belongs to, and with which factors.

A row names its injection by run and place, by the moment, by the bottle, or by several of these;
by the bottle alone it is the last. What the run list knows of dilution and acid is taken from there.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db.models import Q
from django.utils.translation import gettext as _

from intake.actions.results import Value, acid_factors
from intake.actions.storing import in_parts
from intake.models import Injection
from intake.numbers import tidy
from intake.rules.values import Stated
from intake.rules.words import say_moment, say_number
from intake.sheets.problems import CellFault
from intake.sheets.results import HEADINGS, ResultFault, ResultRow


class Fault(CellFault):
    """A fault of one cell, with the column it stands in."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code


def attach(
    rows: Sequence[ResultRow], *, dilution_applied: bool, acid_applied: bool, zone: str
) -> tuple[list[Value], list[ResultFault]]:
    """The values of ``rows`` with their injections, and what is wrong with the others."""
    shots = _Shots(rows, zone)
    factors = acid_factors([shot.bottle_id for shot in shots.all])
    values: list[Value] = []
    faults: list[ResultFault] = []
    seen: dict[tuple[int, str], int] = {}
    for row in rows:
        try:
            shot = shots.of(row)
            _refuse(row, shot, seen)
        except Fault as fault:
            faults.append(ResultFault(row.row, HEADINGS[fault.code], fault.sentence))
            continue
        seen[shot.pk, row.ion] = row.row
        acid = shot.volume_factor or factors.get(shot.bottle_id, 1.0)
        stated = Stated(
            row.ion,
            row.value,
            row.unit,
            row.as_element,
            row.dilution or shot.dilution or 1.0,
            dilution_applied,
            acid,
            acid_applied,
        )
        values.append(Value(shot.bottle, shot, stated, row.below, row.top, row.remark))
    return values, faults


class _Shots:
    """The injections that the rows of one file may mean; read in few queries."""

    def __init__(self, rows: Sequence[ResultRow], zone: str) -> None:
        self._zone = zone
        found: dict[int, Injection] = {}
        for name, wanted in (
            ("bottle__number__in", {tidy(row.bottle) for row in rows if row.bottle}),
            ("run__in", {tidy(row.run) for row in rows if row.run and not row.bottle}),
        ):
            for part in in_parts(sorted(wanted)):
                counting = Injection.objects.filter(Q(**{name: part}), voided_at__isnull=True)
                for shot in counting.select_related("bottle__consignment"):
                    found[shot.pk] = shot
        self.all = sorted(found.values(), key=lambda shot: (shot.at, shot.pk))
        self._of_bottle: dict[str, list[Injection]] = defaultdict(list)
        self._of_place: dict[tuple[str, int | None], list[Injection]] = defaultdict(list)
        for shot in self.all:
            self._of_bottle[shot.bottle.number].append(shot)
            self._of_place[shot.run, shot.place].append(shot)

    def of(self, row: ResultRow) -> Injection:
        """The injection that ``row`` means; raises ``Fault``."""
        if row.bottle:
            found = self._of_bottle.get(tidy(row.bottle), [])
            if not found:
                sentence = _(
                    "No bottle %(number)s was injected. Check the number, or enter the injection first."
                )
                raise Fault("bottle", sentence % {"number": row.bottle[:30]})
        else:
            found = self._of_place.get((tidy(row.run), row.place), [])
            if not found:
                sentence = _("No injection of run %(run)s, place %(place)s is entered. Check both.")
                raise Fault("place", sentence % {"run": row.run[:20], "place": row.place})
        found = self._narrowed(row, found)
        return found[-1]

    def _narrowed(self, row: ResultRow, found: list[Injection]) -> list[Injection]:
        for code, given, fits in (
            ("run", row.run[:20], lambda shot: shot.run == tidy(row.run)),
            ("place", row.place, lambda shot: shot.place == row.place),
            ("injected", row.injected, lambda shot: _same_minute(shot.at, row.injected)),
        ):
            if not given:
                continue
            left = [shot for shot in found if fits(shot)]
            if not left:
                raise Fault(code, self._nothing(row, found))
            found = left
        return found

    def _nothing(self, row: ResultRow, found: Iterable[Injection]) -> str:
        known = "; ".join(
            " ".join(part for part in (say_moment(shot.at, self._zone), shot.label) if part) for shot in found
        )
        sentence = _("There is no such injection of bottle %(number)s; entered are: %(known)s.")
        return sentence % {"number": row.bottle[:30] or "–", "known": known[:300]}


def _same_minute(shot: datetime, given: datetime | None) -> bool:
    return given is not None and shot.replace(second=0, microsecond=0) == given.replace(
        second=0, microsecond=0
    )


def _refuse(row: ResultRow, shot: Injection, seen: dict[tuple[int, str], int]) -> None:
    bottle = shot.bottle
    if row.ion not in bottle.ions or row.ion in bottle.dropped:
        sentence = _("%(ion)s was not asked for in bottle %(number)s. Leave the row out.")
        raise Fault("ion", sentence % {"ion": row.ion, "number": bottle})
    if (shot.pk, row.ion) in seen:
        sentence = _(
            "%(ion)s of this injection of bottle %(number)s is there twice; row %(row)s has it too. "
            "Keep the row that is right."
        )
        raise Fault("ion", sentence % {"ion": row.ion, "number": bottle, "row": seen[shot.pk, row.ion]})
    if _diluted_otherwise(row.dilution, shot.dilution) and not row.remark:
        sentence = _(
            "The run list had it diluted 1:%(planned)s, the file says 1:%(given)s. Put right which is "
            "wrong; if it was diluted otherwise than planned, say so under Remark."
        )
        told = {"planned": say_number(shot.dilution), "given": say_number(row.dilution)}
        raise Fault("dilution", sentence % told)


def _diluted_otherwise(given: float | None, planned: float | None) -> bool:
    return given is not None and planned is not None and abs(given - planned) > 1e-6 * planned
