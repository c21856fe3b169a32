"""`manage.py restore FILE`: a backup put back, into an empty laboratory only."""

from __future__ import annotations

from pathlib import Path

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from labqueue.safekeeping import BackupFault, put_back


class Command(BaseCommand):
    help = "Put a backup back into an empty laboratory, and compare it with its manifest."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="a file that manage.py backup wrote")

    def handle(self, *args: object, **options: object) -> None:
        try:
            manifest = put_back(options["file"])
        except BackupFault as fault:
            raise CommandError(str(fault)) from fault
        call_command("migrate", verbosity=0, interactive=False)
        counts = manifest["counts"]
        self.stdout.write(
            f"Restored as of {manifest['made_at']}: {counts['intake_bottle']} bottles, "
            f"{counts['intake_recordentry']} entries of the record. Now run verify_record and "
            "rejudge --dry-run."
        )
