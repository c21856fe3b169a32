"""`manage.py load_rulebooks`: store the shipped rulebooks that are not stored yet."""

from __future__ import annotations

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from intake.actions.rulebooks import take_rulebooks
from intake.errors import EntryProblem
from intake.models import User
from intake.shipped import shipped_codes, shipped_data


class Command(BaseCommand):
    help = "Stores the shipped rulebooks that are not stored yet; stored versions are never changed."

    def handle(self, *args: object, **options: object) -> None:
        books = [shipped_data(code) for code in shipped_codes()]
        try:
            new = take_rulebooks(books, by=User.objects.system(), at=timezone.now())
        except EntryProblem as problem:
            raise CommandError(problem.sentence) from None
        for version in new:
            self.stdout.write(f"Rulebook {version} is now there.")
