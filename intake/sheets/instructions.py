"""The sheet that tells how to fill the workbook, and how to stay unhurt while sampling."""

from __future__ import annotations

from typing import Any

from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from intake.sheets.columns import COLUMNS

#: Width of the column of text, in characters.
WIDTH = 100

#: Handling of nitric acid and of water that may be hazardous: usual laboratory cautions, in our words.
CAUTIONS = (
    "Nitric acid burns skin and eyes and harms when breathed in. Wear goggles and acid-proof gloves, work "
    "where the air moves, and keep water at hand to rinse with.",
    "To dilute, add acid to water slowly, never water to acid. Keep acid away from metals and from "
    "anything that burns. Carry it in a closed, labelled bottle inside a second container.",
    "Acid on skin or in an eye: rinse at once with much water for at least 15 minutes and see a doctor.",
    "Water that may be hazardous (sewage, mine drainage, spills, anything unknown): tell the lab before you "
    "send it, wear gloves, close bottles tightly, wipe them and mark them.",
    "Rules of your institution, your country and your courier come before this sheet. If you are not "
    "trained to handle acid, let somebody who is add it, or ask the lab to.",
)

#: Common practice for ion chromatography; the rulebook of the consignment has the last word.
STEPS = (
    "Filter first, through 0.45 µm in the field, and rinse filter and bottle with a little of the sample.",
    "Fill one bottle for anions and one for cations, 50 mL each, to the brim: no air under the cap.",
    "Add acid to the cation bottle only, as agreed with the lab. Acid in the anion bottle spoils it.",
    "Put the bottles on ice at once and keep them cold. Nitrite and nitrate wait two days at most.",
)

HABITS = (
    "One row is one sample. The row marked as example is not read; you may leave it or delete it.",
    "All dates and times are local times of {zone}. Where clocks go back and show an hour twice, "
    "add the offset from UTC, such as 02:30+02:00.",
    "Dates as 2026-03-04 or 4 Mar 2026. A date such as 3/4/26 can be read in two ways and is asked about.",
    "Leave a cell empty if you do not know. Decimal commas and points are both read.",
    "A bottle exists when its ions are filled in. Leave all its columns empty if there is none.",
    "Columns may stand in any order, and you may add your own. Formulas are not read: paste values.",
    "Rarely needed columns are folded away; unfold them with the plus sign above the headings.",
)


def font(**style: Any) -> Font:
    """A font of the workbook's own family; one without a family becomes whatever the program likes."""
    return Font(name="Calibri", **{"size": 11, **style})


def fit_to_paper(sheet: Worksheet) -> None:
    """Print ``sheet`` in landscape, as wide as one page."""
    sheet.page_setup.orientation = "landscape"
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.fitToHeight = 0


def write_instructions(sheet: Worksheet, zone: str) -> None:
    """Fill ``sheet`` with cautions, steps, habits and the list of columns."""
    sheet.column_dimensions["A"].width = 34
    sheet.column_dimensions["B"].width = WIDTH
    row = 1
    for title, lines in (
        ("Look after yourself", CAUTIONS),
        ("At the water", STEPS),
        ("Filling the sheet", tuple(line.format(zone=zone) for line in HABITS)),
    ):
        heading = sheet.cell(row, 1, title)
        heading.font = font(bold=True, size=13)
        heading.alignment = Alignment(vertical="top")
        for line in lines:
            _write_line(sheet, row, line)
            row += 1
        row += 1
    for place, title in enumerate(("Column", "What goes there"), 1):
        sheet.cell(row, place, title).font = font(bold=True, size=13)
    for column in COLUMNS:
        row += 1
        choices = ", ".join(label for _, label in column.choices)
        sheet.cell(row, 1, column.heading).alignment = Alignment(vertical="top")
        _write_line(sheet, row, f"{column.hint} Choices: {choices}." if choices else column.hint)
    sheet.protection.sheet = True
    fit_to_paper(sheet)


def _write_line(sheet: Worksheet, row: int, line: str) -> None:
    """A line of text, its row high enough: not every program fits the height by itself."""
    sheet.cell(row, 2, line).alignment = Alignment(wrap_text=True, vertical="top")
    sheet.row_dimensions[row].height = 16 * -(-len(line) // (WIDTH + 8))
