"""Hand out the work that is due: for servers other than `manage.py serve`, by a timer."""

from __future__ import annotations

from django.core.management.base import BaseCommand
from django.utils import timezone

from intake.tasks.tending import tend


class Command(BaseCommand):
    help = "Take up the jobs that are due: mails, uploads, reminders, nightly checks."

    def handle(self, *args: object, **options: object) -> None:
        given = 0
        while once := tend(timezone.now()):
            given += once
        self.stdout.write(f"{given} jobs taken up.")
