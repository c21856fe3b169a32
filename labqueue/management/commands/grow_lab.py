"""`manage.py grow_lab`: grow the demo laboratory, to see what size does to speed."""

from __future__ import annotations

from argparse import ArgumentParser

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from intake.models import User
from labqueue.growing import grow


class Command(BaseCommand):
    help = (
        "Copies what the demo laboratory has received until there are so many bottles of the past and so "
        "many that wait. Invented data: refuses where anybody but the demo's people has an account."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--history", type=int, default=100_000, help="bottles measured in the past")
        parser.add_argument("--waiting", type=int, default=1_000, help="bottles that wait now")

    def handle(self, *args: object, history: int, waiting: int, **options: object) -> None:
        if history < 0 or waiting < 0:
            raise CommandError("Numbers of bottles are not negative.")
        if User.objects.exclude(email__endswith="@demo.example").exclude(role="system").exists():
            raise CommandError(
                "This laboratory has people who are not the demo's; grow_lab fills with invented bottles and "
                "does not touch it. Load a demo laboratory into an empty database first: manage.py load_demo"
            )
        try:
            past, present = grow(history, waiting, at=timezone.now(), told=self._told)
        except LookupError:
            raise CommandError(
                "There is nothing to copy: the demo laboratory is not loaded (manage.py load_demo)."
            ) from None
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
        self.stdout.write(f"Added {past:,} bottles of the past and {present:,} that wait.")

    def _told(self, done: int, of: int) -> None:
        if self.stderr.isatty():
            self.stderr.write(f"\r{done:,} of {of:,} bottles", ending="")
