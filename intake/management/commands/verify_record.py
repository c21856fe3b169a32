"""Walk the record's chains and the statements' seals, and name whatever was tampered with."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError

from intake import record, sealing
from intake.models import ChainHead, RecordEntry, Statement


class Command(BaseCommand):
    help = (
        "Check that no entry of the record was altered, taken out or slipped in, and that every "
        "statement is what was released."
    )

    def handle(self, *args: object, **options: object) -> None:
        found = [*record.faults(), *sealing.faults()]
        for fault in found:
            self.stderr.write(str(fault))
        if found:
            raise CommandError(f"{len(found)} faults in the record; the first is named above.")
        entries, chains = RecordEntry.objects.count(), ChainHead.objects.count()
        statements = Statement.objects.count()
        self.stdout.write(f"{entries} entries in {chains} chains: nothing altered, removed or inserted.")
        self.stdout.write(f"{statements} statements: every seal holds.")
