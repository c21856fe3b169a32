"""How gunicorn serves labqueue: one process with several threads; more processes on PostgreSQL only."""

from typing import Any

from labqueue import settings

bind = settings.BIND
workers = settings.PROCESSES
threads = settings.THREADS
worker_class = "gthread"
timeout = 60
graceful_timeout = 30
umask = 0o077
certfile = settings.CERTIFICATE or None
keyfile = settings.CERTIFICATE_KEY or None
# The proxy's header is believed only where the settings say that there is one.
forwarded_allow_ips = "*" if settings.BEHIND_PROXY else ""
errorlog = "-"


def post_worker_init(worker: Any) -> None:
    """Each serving process also sees to it that jobs are taken up."""
    from intake.tasks.tending import start

    # SQLite has one serving process; on PostgreSQL there may be others at work.
    start(alone=not settings.WORKERS and "sqlite" in settings.DATABASES["default"]["ENGINE"])
