"""`manage.py backup FILE`: a copy of the database, taken while it is in use."""

from __future__ import annotations

from pathlib import Path

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from labqueue.safekeeping import BackupFault, make_backup


class Command(BaseCommand):
    help = "Write a backup of the database to a new file; the server may go on meanwhile."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="the file to write, for example lab-2026-03-04.backup")

    def handle(self, *args: object, **options: object) -> None:
        try:
            manifest = make_backup(options["file"], at=timezone.now())
        except BackupFault as fault:
            raise CommandError(str(fault)) from fault
        counts = manifest["counts"]
        self.stdout.write(
            f"{options['file']}: {counts['intake_bottle']} bottles, {counts['intake_recordentry']} entries "
            f"of the record in {len(manifest['heads'])} chains. SHA-256 {manifest['sha256']}"
        )
