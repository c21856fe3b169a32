"""`manage.py make_manager ADDRESS`: the first account of a new laboratory."""

from __future__ import annotations

import getpass

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from intake.actions.admitting import admit_person
from intake.choices import Role
from intake.errors import EntryProblem
from intake.models import User


class Command(BaseCommand):
    help = "Makes a lab manager's account. Name and password are asked for."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", help="the mail address the manager signs in with")
        parser.add_argument("--name", default="", help="the manager's name; asked for when left out")
        parser.add_argument("--password-stdin", action="store_true", help="read the password from input")

    def handle(self, *args: object, **options: object) -> None:
        name = str(options["name"]) or input("Name: ")
        password = input() if options["password_stdin"] else self.ask_twice()
        try:
            person = admit_person(
                by=User.objects.system(),
                at=timezone.now(),
                email=str(options["email"]),
                name=name,
                role=Role.MANAGER,
                password=password,
                zone=settings.TIME_ZONE,
            )
        except EntryProblem as problem:
            raise CommandError(" ".join([problem.sentence, *problem.problems.values()])) from None
        self.stdout.write(f"{person.name} can now sign in as {person.email} and invite everybody else.")

    def ask_twice(self) -> str:
        password = getpass.getpass("Password: ")
        if password != getpass.getpass("The same again: "):
            raise CommandError("The two passwords are not the same; nothing was made.")
        return password
