"""`manage.py demo`: a laboratory to try out, on this machine only."""

from __future__ import annotations

import os
import socket

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.servers.basehttp import get_internal_wsgi_application, run
from django.utils import timezone

from intake.actions.admitting import admit_person
from intake.choices import Role
from intake.demo.people import PASSWORD, PEOPLE
from intake.models import User
from intake.tasks.tending import start, stop
from labqueue.actions.equipping import make_usual_units

HOST = "127.0.0.1"
PORTS = range(1024, 65536)
BLANK_MANAGER = "manager@demo.example"


def is_free(port: int) -> bool:
    """Whether this machine would let a server listen on ``port``."""
    with socket.socket() as probe:
        # On Windows the option would let two programs share a port.
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
            probe.listen()
        except OSError:
            return False
    return True


class Command(BaseCommand):
    help = "Sets up the demo laboratory, or a blank one, and serves it on this machine."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", default="8000", help="the port to serve on (8000)")
        parser.add_argument("--empty", action="store_true", help="a blank laboratory with one manager")
        parser.add_argument("--no-server", action="store_true", help="only set it up")

    def handle(self, *args: object, **options: object) -> None:
        if settings.PRODUCTION:
            raise CommandError("The demo's sign-ins are known to everybody; it does not run in production.")
        port = None if options["no_server"] else self.free_port(str(options["port"]))
        if port is not None and not os.environ.get("LABQUEUE_ADDRESS"):
            # Links in mails lead to where this server really listens.
            settings.SITE_ADDRESS = f"http://{HOST}:{port}"
        call_command("migrate", verbosity=0, interactive=False)
        if options["empty"]:
            self.load_blank()
        else:
            call_command("load_demo", stdout=self.stdout)
            make_usual_units(by=User.objects.system(), at=timezone.now())
        if port is None:
            return
        self.stdout.write(self.welcome(port))
        self.stdout.flush()
        self.serve(port)

    def serve(self, port: int) -> None:
        """Django's own small server: enough for one machine, and the same on every system."""
        tenders = start(alone=True)
        try:
            run(HOST, port, get_internal_wsgi_application(), threading=True)
        except KeyboardInterrupt:
            self.stdout.write("\nStopped; what was entered is kept.")
        finally:
            stop(tenders)

    def free_port(self, text: str) -> int:
        if not text.isascii() or not text.isdigit() or int(text) not in PORTS:
            raise CommandError(f"PORT={text} is not a port. Choose a whole number from 1024 to 65535.")
        port = int(text)
        if not is_free(port):
            other = next((one for one in range(port + 1, 65536) if is_free(one)), 8001)
            raise CommandError(
                f"Port {port} of this machine is taken by another program. "
                f"Choose another: make demo PORT={other}"
            )
        return port

    def load_blank(self) -> None:
        call_command("load_rulebooks", stdout=self.stdout)
        if not User.objects.filter(role=Role.MANAGER).exists():
            admit_person(
                by=User.objects.system(),
                at=timezone.now(),
                email=BLANK_MANAGER,
                name="Lab manager",
                role=Role.MANAGER,
                password=PASSWORD,
                zone=settings.TIME_ZONE,
            )

    def welcome(self, port: int) -> str:
        known = {person.email for person in PEOPLE} | {BLANK_MANAGER}
        people = User.objects.filter(email__in=known, is_active=True).order_by("pk")
        rows = "\n".join(
            f"    {user.email:<23} {user.name:<16} {user.get_role_display()}"
            + "".join(f", {group}" for group in user.groups.order_by("name"))
            for user in people
        )
        return (
            f"\nThe laboratory is at http://{HOST}:{port}/\n\n"
            f"Sign in as one of these; the password of each is: {PASSWORD}\n\n{rows}\n\n"
            f"Its data lie in {settings.VAR_DIR}; mails become files in {settings.VAR_DIR / 'mail'}.\n"
            "Stop it with Control-C."
        )
