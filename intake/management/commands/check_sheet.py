"""``manage.py check_sheet FILE``: what is wrong in a workbook, without saving anything."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from intake.rules.moments import zone_named
from intake.rules.words import say_list
from intake.sheets.guard import MOST_BYTES
from intake.sheets.problems import SheetProblem
from intake.sheets.read import Sheet, read_sheet
from intake.sheets.table import Reading, read_rows


class Command(BaseCommand):
    help = (
        "Check a workbook of samples. Saves nothing and needs no database. Ends with 1 if something is wrong."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the workbook (.xlsx)")
        parser.add_argument("--zone", default="", help="zone of its local times; else the one it names")
        parser.add_argument("--json", action="store_true", help="answer for machines")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            with path.open("rb") as opened:
                data = opened.read(MOST_BYTES + 1)
        except OSError as problem:
            raise CommandError(f"{path} could not be opened: {problem.strerror}.") from problem
        try:
            sheet = read_sheet(data)
            reading = read_rows(sheet.rows, self._zone(options["zone"], sheet), sheet.letters)
        except SheetProblem as problem:
            self._answer(
                options["json"], {"file": str(path), "refused": problem.sentence}, [problem.sentence]
            )
            raise SystemExit(1) from None
        self._tell(path, sheet, reading, as_json=options["json"])
        if reading.problems:
            raise SystemExit(1)

    def _zone(self, given: str, sheet: Sheet) -> str:
        zone = given or sheet.zone
        if not zone:
            raise CommandError(
                "The workbook names no time zone. Give it with --zone, such as --zone Europe/Berlin."
            )
        try:
            zone_named(zone)
        except ValueError as problem:
            raise CommandError(f"{problem} Use a name such as Europe/Berlin.") from problem
        return zone

    def _tell(self, path: Path, sheet: Sheet, reading: Reading, *, as_json: bool) -> None:
        wrong_rows = {problem.row for problem in reading.problems}
        told = {
            "file": str(path),
            "refused": None,
            "consignment": sheet.number or None,
            "samples": len(sheet.rows),
            "rows_wrong": len(wrong_rows),
            "columns_absent": list(sheet.absent),
            "columns_ignored": list(sheet.extra),
            "problems": [
                {
                    "row": problem.row,
                    "letter": problem.letter,
                    "column": problem.column,
                    "heading": problem.heading,
                    "value": problem.value,
                    "sentence": problem.sentence,
                }
                for problem in reading.problems
            ],
        }
        lines = [
            f"{problem.place[:1].upper()}{problem.place[1:]}: {problem.sentence}"
            for problem in reading.problems
        ]
        if sheet.absent:
            lines.append(f"Not in the sheet, so not stated: {say_list(sheet.absent)}.")
        if sheet.extra:
            lines.append(f"Columns that were not read: {say_list(sheet.extra)}.")
        lines.append(
            f"{len(sheet.rows):,} samples, {len(wrong_rows):,} with something to correct. Nothing was saved."
        )
        self._answer(as_json, told, lines)

    def _answer(self, as_json: bool, told: dict[str, object], lines: list[str]) -> None:
        self.stdout.write(json.dumps(told, ensure_ascii=False, indent=2) if as_json else "\n".join(lines))
