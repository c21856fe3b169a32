"""`manage.py make_manager ADDRESS`: the first account of a new laboratory."""

from __future__ import annotations

import getpass

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone

from intake import record
from intake.choices import Role
from intake.models import User


class Command(BaseCommand):
    help = "Makes a lab manager's account. The password is asked for, or read from the first line of input."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", help="the mail address the manager signs in with")
        parser.add_argument("--name", default="", help="the manager's name; asked for when left out")
        parser.add_argument("--password-stdin", action="store_true", help="read the password from input")

    def handle(self, *args: object, **options: object) -> None:
        email = str(options["email"]).strip().lower()
        try:
            validate_email(email)
        except ValidationError:
            raise CommandError(f"“{email}” is not a mail address.") from None
        if User.objects.filter(email=email).exists():
            raise CommandError(f"There is an account of {email} already.")
        name = str(options["name"]) or input("Name: ").strip()
        password = input() if options["password_stdin"] else self.ask_twice()
        try:
            validate_password(password, User(email=email, name=name))
        except ValidationError as problem:
            raise CommandError(" ".join(problem.messages)) from None
        with transaction.atomic():
            user = User.objects.create_user(email, password, name=name, role=Role.MANAGER)
            record.write(
                by=User.objects.system(),
                at=timezone.now(),
                verb="person.make",
                subject=user,
                after={"role": user.role},
            )
        self.stdout.write(f"{name} can now sign in as {email} and invite everybody else.")

    def ask_twice(self) -> str:
        password = getpass.getpass("Password: ")
        if password != getpass.getpass("The same again: "):
            raise CommandError("The two passwords are not the same; nothing was made.")
        return password
