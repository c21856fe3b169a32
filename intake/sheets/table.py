"""Rows of raw cells into samples, with every fault found in one pass; and samples back into cells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from intake.actions.entries import BottleEntry, SampleEntry
from intake.rules.facts import AcidKind, Line, Precision
from intake.rules.moments import start_of_day
from intake.sheets.cells import DayCell, Measure, Pair, Stated, read_cell
from intake.sheets.columns import BY_CODE, COLUMNS, Group, of_group
from intake.sheets.problems import CellFault, CellProblem
from intake.sheets.texts import BLANK, shortened
from intake.sheets.times import Clock, day_text, first_after, moment, say_day

GROUP_OF_LINE = {Line.ANION: Group.ANION, Line.CATION: Group.CATION}


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row as it was typed. ``number`` is the one people see; ``cells`` maps column codes to values."""

    number: int
    cells: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Reading:
    """What a sheet says: the samples of its sound rows, their row numbers, and every fault found.

    While there are ``problems`` the samples are not all there: nothing should be saved.
    """

    entries: tuple[SampleEntry, ...]
    numbers: tuple[int, ...]
    problems: tuple[CellProblem, ...]


def is_blank(raw: object) -> bool:
    """Whether a person would call this cell empty."""
    return raw is None or (isinstance(raw, str) and not raw.strip(BLANK))


def read_rows(rows: Iterable[RawRow], zone: str, letters: Mapping[str, str] | None = None) -> Reading:
    """Read ``rows`` as samples whose local times are those of ``zone``; blank rows are passed over.

    ``letters`` maps column codes to the letters of a workbook's columns, for the problems.
    """
    entries: list[SampleEntry] = []
    numbers: list[int] = []
    problems: list[CellProblem] = []
    first_rows: dict[str, int] = {}
    for row in rows:
        if all(is_blank(raw) for raw in row.cells.values()):
            continue
        reader = RowReader(row, zone, letters or {})
        entry = reader.entry()
        if entry.own_id and first_rows.setdefault(entry.own_id, row.number) != row.number:
            reader.fault(
                "own_id",
                f"Rows {first_rows[entry.own_id]} and {row.number} both call their sample "
                f"“{entry.own_id}”. Give one of them another id.",
            )
        problems += reader.problems
        if not reader.problems:
            entries.append(entry)
            numbers.append(row.number)
    return Reading(tuple(entries), tuple(numbers), tuple(problems))


class RowReader:
    """Reads one row; collects its faults in ``problems`` instead of stopping at the first."""

    def __init__(self, row: RawRow, zone: str, letters: Mapping[str, str]) -> None:
        self.row = row
        self.zone = zone
        self.letters = letters
        self.problems: list[CellProblem] = []
        self.broken: set[str] = set()
        self.values: dict[str, Any] = {}
        for column in COLUMNS:
            raw = row.cells.get(column.code)
            if is_blank(raw):
                continue
            try:
                self.values[column.code] = read_cell(column, raw)
            except CellFault as fault:
                self.fault(column.code, fault.sentence)
        self.collected_at, self.precision = self._collected()

    def fault(self, code: str, sentence: str) -> None:
        """Note a fault at one cell; the first one at a cell is enough."""
        if code in self.broken:
            return
        column = BY_CODE[code]
        value = self.row.cells.get(code)
        self.broken.add(code)
        self.problems.append(
            CellProblem(
                row=self.row.number,
                column=code,
                heading=column.heading,
                value="" if value is None else shortened(value),
                sentence=sentence,
                letter=self.letters.get(code, ""),
            )
        )

    def entry(self) -> SampleEntry:
        """The sample of this row; only to be used when ``problems`` is empty afterwards."""
        values = self.values
        if "own_id" not in values and "own_id" not in self.broken:
            self.fault("own_id", "This row has no sample id. Type your own name for the sample.")
        ec_value, ec_unit = self._ec()
        return SampleEntry(
            own_id=values.get("own_id") or "",
            site=values.get("site") or "",
            collection=values.get("collection") or "grab",
            collected_at=self.collected_at,
            collection_began_at=self._began(),
            precision=self.precision,
            ph=self._number("ph"),
            ec_value=ec_value,
            ec_unit=ec_unit,
            ec_reference=values.get("ec_reference") or "unknown",
            water_temperature_c=self._number("water_temperature"),
            water_kind=values.get("water_kind") or "unknown",
            alkalinity_meq_l=self._number("alkalinity"),
            chlorinated=values.get("chlorinated"),
            hazards=values.get("hazards") or "",
            bottles=self._bottles(),
        )

    def _number(self, code: str) -> float | None:
        measure: Measure | None = self.values.get(code)
        return None if measure is None else measure.value

    def _ec(self) -> tuple[float | None, str]:
        measure: Measure | None = self.values.get("ec")
        chosen: str | None = self.values.get("ec_unit")
        typed = read_cell(BY_CODE["ec_unit"], measure.unit) if measure and measure.unit else None
        if typed and chosen and typed != chosen:
            self.fault("ec", f"The reading is in {typed} but the EC unit says {chosen}. Make them agree.")
        if measure and not typed and not chosen and "ec_unit" not in self.broken:
            self.fault("ec_unit", "There is an EC but no unit. Choose the unit the meter showed.")
        return (measure.value if measure else None), str(typed or chosen or "µS/cm")

    def _collected(self) -> tuple[datetime | None, str]:
        cell: DayCell | None = self.values.get("collected_date")
        clock: Clock | None = self.values.get("collected_time")
        if self.broken & {"collected_date", "collected_time"}:
            return None, Precision.UNKNOWN.value
        if cell is None:
            if clock is not None:
                self.fault("collected_date", "There is a time of collection but no date. Type the date.")
            return None, Precision.UNKNOWN.value
        if clock and cell.clock and clock != cell.clock:
            self.fault("collected_time", "The date beside it already carries another time. Keep only one.")
            return None, Precision.UNKNOWN.value
        clock = clock or cell.clock
        if clock is None:
            return self._start_of(cell.day)
        try:
            at = moment(cell.day, clock, self.zone)
        except CellFault as fault:
            self.fault(
                "collected_time" if "collected_time" in self.values else "collected_date", fault.sentence
            )
            return None, Precision.UNKNOWN.value
        return at, (Precision.HOUR if clock.to_the_hour else Precision.MINUTE).value

    def _start_of(self, day: date) -> tuple[datetime | None, str]:
        """A collection of which only the day is known, which must be a day the zone had."""
        start = start_of_day(day, self.zone)
        if day_text(start, self.zone) != day.isoformat():
            self.fault("collected_date", f"{say_day(day)} was left out in {self.zone}. Check the date.")
            return None, Precision.UNKNOWN.value
        return start, Precision.DATE.value

    def _began(self) -> datetime | None:
        stated: Stated | None = self.values.get("began")
        if stated is None:
            return None
        if self.values.get("collection") != "composite" and "collection" not in self.broken:
            self.fault(
                "collection",
                "The row says when a composite began, but not that it is one. "
                "Choose composite, or empty “composite began”.",
            )
        if stated.day is None or stated.clock is None:
            self.fault("began", "Type the date as well as the time, such as 2026-03-03 14:00.")
            return None
        return self._at("began", stated)

    def _at(self, code: str, stated: Stated | None) -> datetime | None:
        """The moment that ``stated`` means, once the moment of collection is known."""
        if stated is None or not (stated.at_once or stated.clock):
            return None
        try:
            if stated.clock and stated.day:
                return moment(stated.day, stated.clock, self.zone)
            if self.collected_at is not None:
                return (
                    self.collected_at
                    if stated.clock is None
                    else first_after(self.collected_at, stated.clock, self.zone)
                )
        except CellFault as fault:
            self.fault(code, fault.sentence)
            return None
        if not self.broken & {"collected_date", "collected_time"}:
            meaning = "A time without a date" if stated.clock else "“At once”"
            self.fault(
                code,
                f"{meaning} counts from the collection, which this row does not date. "
                "Type the date of collection, or a full date and time here.",
            )
        return None

    def _bottles(self) -> tuple[BottleEntry, ...]:
        lines = [line for line in Line if self._has_bottle(line)]
        self._check_filter(lines)
        return tuple(self._bottle(line) for line in lines)

    def _has_bottle(self, line: Line) -> bool:
        code = f"{line}_ions"
        if self.values.get(code):
            return True
        told = [column for column in of_group(GROUP_OF_LINE[line]) if column.code in self.values]
        if told and code not in self.broken:
            self.fault(
                code,
                f"The row describes an {line} bottle but names no ions for it. "
                f"Name the ions, or empty “{told[0].heading}”.".replace("an cation", "a cation"),
            )
        return False

    def _check_filter(self, lines: list[Line]) -> None:
        if self.broken & {"anion_ions", "cation_ions"}:
            return
        for column in of_group(Group.KEPT):
            pair: Pair | None = self.values.get(column.code)
            if pair is None:
                continue
            if not lines:
                self.fault("anion_ions", "The row describes a filter but names no ions. Name them.")
                return
            for line in Line:
                side = getattr(pair, line.value)
                if line not in lines and side is not None and pair.anion != pair.cation:
                    self.fault(column.code, f"There is no {line} bottle in this row. Type one value alone.")

    def _bottle(self, line: Line) -> BottleEntry:
        def cell(name: str) -> Any:
            return self.values.get(f"{line}_{name}")

        chilled, frozen = cell("chilled"), cell("frozen")
        pore = self._side("filter_pore", line)
        acidified, acid_kind = self._acid(line)
        return BottleEntry(
            line=line.value,
            ions=cell("ions"),
            volume_ml=self._number(f"{line}_volume"),
            container=cell("container") or "",
            to_brim=cell("brim"),
            chilled=chilled.happened if chilled else None,
            chilled_at=self._at(f"{line}_chilled", chilled),
            frozen=frozen.happened if frozen else None,
            frozen_at=self._at(f"{line}_frozen", frozen),
            filter_pore_um=pore.value if pore else None,
            filter_membrane=self._side("filter_membrane", line) or "",
            filtered_at=self._at("filtered_at", self._side("filtered_at", line)),
            acidified=acidified,
            acid_kind=acid_kind,
            acid_grade=cell("acid_grade") or "",
            acid_mol_l=self._number(f"{line}_acid_mol_l"),
            acid_ml=self._number(f"{line}_acid_ml"),
            acid_at=self._at(f"{line}_acid_at", cell("acid_at")),
            additive=cell("additive") or "",
        )

    def _side(self, code: str, line: Line) -> Any:
        pair: Pair | None = self.values.get(code)
        return getattr(pair, line.value) if pair else None

    def _acid(self, line: Line) -> tuple[bool | None, str]:
        """Whether acid was added, and which: as stated, else as its amounts tell."""
        kind: str | None = self.values.get(f"{line}_acid")
        volume = self._number(f"{line}_acid_ml")
        details = [f"{line}_{name}" for name in ("acid_mol_l", "acid_ml", "acid_at", "acid_grade")]
        told = [code for code in details if self.values.get(code) not in (None, Measure(0.0))]
        if kind is None and not told:
            return (False, AcidKind.NONE.value) if volume == 0 else (None, "")
        if kind == AcidKind.NONE.value:
            if told:
                self.fault(
                    f"{line}_acid",
                    f"The row says no acid, yet “{BY_CODE[told[0]].heading}” is filled. "
                    "Name the acid, or empty that cell.",
                )
            return False, kind
        return True, "" if kind in (None, "yes") else str(kind)
