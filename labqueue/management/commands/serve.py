"""`manage.py serve`: serve for production, on settings that are safe or not at all."""

from __future__ import annotations

import os
import sys

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from labqueue.checks import refuse_unsafe


class Command(BaseCommand):
    help = "Brings the database up to date and starts gunicorn, on safe production settings only."
    requires_system_checks: list[str] = []

    def handle(self, *args: object, **options: object) -> None:
        os.umask(0o077)
        try:
            refuse_unsafe()
        except ImproperlyConfigured as problem:
            raise CommandError(str(problem)) from None
        call_command("migrate", interactive=False, verbosity=1)
        call_command("load_rulebooks")
        call_command("collectstatic", interactive=False, verbosity=0)
        self.stdout.write(f"Serving {', '.join(settings.ALLOWED_HOSTS)} on {settings.BIND}.")
        self.stdout.flush()
        # Gunicorn takes this process over, so that whoever started it can stop it.
        command = [
            sys.executable,
            "-m",
            "gunicorn",
            "-c",
            "python:labqueue.gunicorn_settings",
            "labqueue.wsgi",
        ]
        os.chdir(settings.BASE_DIR)
        os.execv(sys.executable, [*command, "labqueue.wsgi"])  # noqa: S606
