"""Ask, remind and hand over: what time does to questions. Run every few minutes by a timer."""

from __future__ import annotations

from django.core.management.base import BaseCommand
from django.utils import timezone

from intake.actions import questioning
from intake.models import User


class Command(BaseCommand):
    help = "Remind groups of open questions and hand those nearly out of time to the lab manager."

    def handle(self, *args: object, **options: object) -> None:
        at, system = timezone.now(), User.objects.system()
        asked = questioning.ask_about_boxes_left_open(by=system, at=at)
        reminded = questioning.remind(by=system, at=at)
        handed = questioning.hand_over(by=system, at=at)
        self.stdout.write(f"{len(asked)} asked, {len(reminded)} reminded, {len(handed)} handed over.")
