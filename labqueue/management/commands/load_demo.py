"""`manage.py load_demo`: fill an empty database with the demo laboratory."""

from __future__ import annotations

from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.utils import timezone

from intake.demo.scenario import STORIES
from intake.demo.telling import tell_all
from intake.models import Group
from labqueue.demobench import set_up_bench


class Command(BaseCommand):
    help = "Fills an empty database with the demo laboratory; where there is anything already, does nothing."

    def handle(self, *args: object, **options: object) -> None:
        if Group.objects.exists():
            self.stdout.write("The laboratory has groups already; everything entered is kept as it is.")
            return
        call_command("load_rulebooks", stdout=self.stdout)
        now = timezone.now()
        bottles = tell_all(STORIES, at=now)
        set_up_bench(at=now)
        self.stdout.write(f"The demo laboratory is loaded: {len(STORIES)} consignments, {bottles} bottles.")
