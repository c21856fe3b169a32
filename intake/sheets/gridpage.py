"""The sheet on a page, on its way out: headings, rows, and what is wrong or found at each cell."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.forms.utils import flatatt
from django.utils.safestring import SafeString
from django.utils.text import capfirst

from intake.models import FindingRow
from intake.phrasebook import said
from intake.rules.ions import BY_NAME, SETS
from intake.sheets.columns import COLUMNS, Column, Group, Kind, column_of
from intake.sheets.grid import PostedRow
from intake.sheets.problems import CellProblem
from intake.sheets.rowtexts import entry_of, raw_texts
from intake.standing import SampleStanding

#: Empty rows under the filled ones, and on a page with none.
SPARE_ROWS, FIRST_ROWS = 2, 5


#: What is shown in an empty cell to tell how a moment is typed.
SHAPES = {
    Kind.DATE: "2026-03-04",
    Kind.TIME: "14:05",
    Kind.MOMENT: "2026-03-04 14:05",
    Kind.SINCE: "14:20",
}


def words_of(column: Column) -> list[str]:
    """Words that are offered while typing in ``column``."""
    if column.kind is Kind.IONS:
        return [name for name, ions in SETS.items() if all(BY_NAME[ion].line is column.line for ion in ions)]
    if column.kind is Kind.SINCE:
        return ["at once", "yes", "no"]
    if column.kind is Kind.MOMENT and column.group is not Group.SAMPLE:
        return ["at once"]
    return [label for _, label in column.choices] + [word for word, _ in column.words[:1]]


@dataclass(frozen=True, slots=True)
class Heading:
    """One column of the page; ``rare`` ones are folded away until asked for.

    ``words_id`` names the list of words offered in it, shared by columns that offer the same.
    ``frame`` and ``attributes`` are the HTML attributes that its cells and their fields share,
    worked out once because a page has thousands of them.
    """

    column: Column
    rare: bool
    words_id: str
    frame: SafeString
    attributes: SafeString

    @property
    def code(self) -> str:
        return self.column.code


def heading_of(column: Column, *, rare: bool, words_id: str, begins: bool) -> Heading:
    """The heading of ``column``; ``begins`` says that a group of columns begins with it."""
    digits = column.kind is Kind.NUMBER and not column.words and column.least == 0
    frame = {"data-label": said(column.short_heading)}
    field: dict[str, object] = {"name": column.code, "size": column.width}
    if rare:
        frame["data-rare"] = "yes"
    if begins:
        frame["data-opens"] = capfirst(said(column.group.value))
    if words_id:
        field["list"] = words_id
    if digits:
        field["inputmode"] = "decimal"
    if column.kind is Kind.TEXT:
        field["dir"] = "auto"
    if column.kind in SHAPES:
        field["placeholder"] = SHAPES[column.kind]
    return Heading(column, rare, words_id, flatatt(frame), flatatt(field))


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of the page: what stands in it, what is wrong with it, what the rules say of it."""

    heading: Heading
    value: str
    problems: tuple[str, ...] = ()
    findings: tuple[FindingRow, ...] = ()

    @property
    def remarked(self) -> bool:
        return bool(self.problems or self.findings)

    @property
    def heaviest(self) -> FindingRow | None:
        return max(self.findings, key=lambda finding: finding.rank, default=None)


@dataclass(frozen=True, slots=True)
class Said:
    """A finding with the code and heading of the column that caused it, empty for none of the row."""

    finding: FindingRow
    code: str
    heading: str


@dataclass(frozen=True, slots=True)
class GridRow:
    """One row of the page with its cells in the order of the columns, and all findings of the sample."""

    number: int
    was: str
    cells: tuple[Cell, ...]
    said: tuple[Said, ...] = ()


@dataclass(frozen=True, slots=True)
class Grid:
    """The whole page. ``spans`` are the groups' headings with their everyday and all columns counted.

    ``empty`` is the pattern of a row to be added.
    """

    headings: tuple[Heading, ...]
    spans: tuple[tuple[str, int, int], ...]
    words: tuple[tuple[str, tuple[str, ...]], ...]
    rows: tuple[GridRow, ...]
    empty: GridRow
    problems: tuple[CellProblem, ...] = ()
    unsaved: bool = False


def grid_of_standings(standings: Sequence[SampleStanding], zone: str) -> Grid:
    """The page for what is stored, with every finding at the cell that caused it."""
    texts = []
    for standing in standings:
        entry = entry_of(standing.sample, [item.bottle for item in standing.bottles])
        texts.append(raw_texts(entry, zone))
    headings = _headings(texts)
    rows = [
        _row(number, standing.sample.own_id, its_texts, headings, _said(standing))
        for number, (standing, its_texts) in enumerate(zip(standings, texts, strict=True), 1)
    ]
    spare = FIRST_ROWS if not rows else SPARE_ROWS
    rows += [_row(len(rows) + place, "", {}, headings) for place in range(1, spare + 1)]
    return _grid(headings, rows)


def grid_of_posted(rows: Sequence[PostedRow], problems: Sequence[CellProblem]) -> Grid:
    """The page for what was typed and not saved, with every problem at its cell."""
    faulty = {problem.column: problem.sentence for problem in problems}
    headings = _headings([faulty, *(row.texts for row in rows)])
    wrong: dict[tuple[int, str], list[str]] = defaultdict(list)
    for problem in problems:
        wrong[problem.row, problem.column].append(problem.sentence)
    made = [
        GridRow(
            number=row.number,
            was=row.was,
            cells=tuple(
                Cell(
                    heading,
                    row.texts.get(heading.column.code, ""),
                    tuple(wrong[row.number, heading.column.code]),
                )
                for heading in headings
            ),
        )
        for row in rows
    ]
    return _grid(headings, made, tuple(problems), unsaved=True)


def _grid(
    headings: tuple[Heading, ...],
    rows: Sequence[GridRow],
    problems: tuple[CellProblem, ...] = (),
    unsaved: bool = False,
) -> Grid:
    spans = []
    for group in Group:
        its = [heading for heading in headings if heading.column.group is group]
        spans.append((group.value, sum(not heading.rare for heading in its), len(its)))
    words = {heading.words_id: tuple(words_of(heading.column)) for heading in headings if heading.words_id}
    return Grid(
        headings,
        tuple(spans),
        tuple(words.items()),
        tuple(rows),
        _row(1, "", {}, headings),
        problems,
        unsaved,
    )


def _headings(texts: Iterable[Mapping[str, str]]) -> tuple[Heading, ...]:
    """The headings; a column that is rare but filled somewhere is not folded away."""
    filled = {code for row in texts for code, text in row.items() if text}
    lists: dict[tuple[str, ...], str] = {}
    made: list[Heading] = []
    for column in COLUMNS:
        words = tuple(words_of(column))
        words_id = lists.setdefault(words, f"words-{column.code}") if words else ""
        rare = not column.everyday and column.code not in filled
        begins = not made or made[-1].column.group is not column.group
        made.append(heading_of(column, rare=rare, words_id=words_id, begins=begins))
    return tuple(made)


def _said(standing: SampleStanding) -> tuple[Said, ...]:
    """The findings of a sample, the heaviest first, with the columns that caused them.

    What both bottles have from the same cell, such as the filter, is said once.
    """
    lines: dict[int | None, str | None] = {item.bottle.pk: item.bottle.line for item in standing.bottles}
    said: dict[tuple[str, str], Said] = {}
    for finding in sorted(standing.all_findings(), key=lambda finding: (-finding.rank, finding.pk)):
        column = column_of(finding.fact, lines.get(finding.bottle_id))
        one = Said(finding, column.code if column else "", column.heading if column else "")
        said.setdefault((one.code, finding.sentence), one)
    return tuple(said.values())


def _row(
    number: int, was: str, texts: Mapping[str, str], headings: Sequence[Heading], said: Sequence[Said] = ()
) -> GridRow:
    at_cells: dict[str, list[FindingRow]] = defaultdict(list)
    for one in said:
        at_cells[one.code].append(one.finding)
    cells = tuple(
        Cell(heading, texts.get(heading.column.code, ""), findings=tuple(at_cells[heading.column.code]))
        for heading in headings
    )
    return GridRow(number, was, cells, tuple(said))
