"""Walk the record's chains and name whatever was tampered with."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError

from intake import record
from intake.models import ChainHead, RecordEntry


class Command(BaseCommand):
    help = "Check that no entry of the record was altered, taken out or slipped in."

    def handle(self, *args: object, **options: object) -> None:
        found = list(record.faults())
        for fault in found:
            self.stderr.write(str(fault))
        if found:
            raise CommandError(f"{len(found)} faults in the record; the first is named above.")
        entries, chains = RecordEntry.objects.count(), ChainHead.objects.count()
        self.stdout.write(f"{entries} entries in {chains} chains: nothing altered, removed or inserted.")
