"""What can be wrong with a sheet, typed: one cell, or the whole file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from intake.errors import Refused


class CellFault(ValueError):
    """One cell cannot be taken as it is. ``sentence`` says what is wrong and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class CellProblem:
    """A fault at one cell. ``row`` is the number people see; ``letter`` the workbook's column, if any.

    ``column`` is the code of the column, ``value`` what stands in the cell, shortened.
    """

    row: int
    column: str
    heading: str
    value: str
    sentence: str
    letter: str = ""

    @property
    def place(self) -> str:
        """Where it is, in words."""
        if self.letter:
            return f"row {self.row}, column {self.letter} ({self.heading})"
        cell = self.heading  # on a page, which heads its columns in the reader's language
        return f"row {self.row}, {cell}"


class SheetProblem(Refused):
    """A file that cannot be read as a sheet of samples. Nothing was taken from it."""

    def __init__(self, sentence: str, problems: Iterable[CellProblem] = ()) -> None:
        super().__init__(sentence)
        self.problems = tuple(problems)
