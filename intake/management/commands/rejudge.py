"""Judge every stored sample again and tell what comes out differently."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from intake.actions import rejudging
from intake.models import User


class Command(BaseCommand):
    help = "Judge every sample again and compare with what is stored."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="only tell; store nothing")

    def handle(self, *args: object, **options: object) -> None:
        compared, differing = 0, []
        for difference in rejudging.differences():
            compared += 1
            if difference is not None:
                differing.append(difference)
                self.stdout.write(str(difference))
        self.stdout.write(f"{compared} samples compared, {len(differing)} differ.")
        if differing and not options["dry_run"]:
            rejudging.rejudge(differing, by=User.objects.system(), at=timezone.now())
            self.stdout.write(f"{len(differing)} judgements stored anew.")
