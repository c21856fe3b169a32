"""Seeing to it that jobs are taken up: by a thread of each serving process, or by a command now and then."""

from __future__ import annotations

import logging
import threading
from collections.abc import Collection
from datetime import datetime

from django.db import DatabaseError, connections
from django.utils import timezone

from intake import jobs
from intake.tasks.regular import first_moments

logger = logging.getLogger(__name__)

#: How often it is looked for jobs that nobody rang for, in seconds: repeated attempts, regular jobs
#: and those of a process that is gone.
EVERY_S = 10.0


def tend(at: datetime, kinds: Collection[str] = tuple(jobs.WAYS)) -> int:
    """Hand out what is due at ``at``; returns how many jobs that were."""
    jobs.keep_regular(at, {kind: first for kind, first in first_moments(at).items() if kind in kinds})
    return jobs.hand_out(at, kinds)


class Tender(threading.Thread):
    """Hands out jobs of ``kinds`` for as long as its process lives."""

    def __init__(self, kinds: Collection[str], *, heeds_bell: bool) -> None:
        super().__init__(name="tender", daemon=True)
        self.kinds = kinds
        self.heeds_bell = heeds_bell
        self.over = threading.Event()

    def run(self) -> None:
        while not self.over.is_set():
            given = self.once()
            if not given:
                self.wait()

    def once(self) -> int:
        """One round; a database that is away now is asked again in the next."""
        try:
            return tend(timezone.now(), self.kinds)
        except Exception:
            logger.exception("the jobs that are due could not be handed out")
            return 0
        finally:
            # A connection that a fault left broken is not used again.
            connections.close_all()

    def wait(self) -> None:
        if self.heeds_bell:
            jobs.bell.wait(EVERY_S)
            jobs.bell.clear()
        else:
            self.over.wait(EVERY_S)

    def stop(self) -> None:
        """Let it end after the job it is at."""
        self.over.set()
        jobs.bell.set()


def start(*, alone: bool = False) -> list[Tender]:
    """Tend jobs in this process from now on; what may take long has a thread of its own.

    ``alone`` says that no other process works on jobs, so that whatever was taken up broke off.
    """
    if alone:
        _take_back()
    tenders = [Tender(jobs.PROMPT, heeds_bell=True), Tender(jobs.LONG, heeds_bell=False)]
    jobs.tended.set()
    for tender in tenders:
        tender.start()
    return tenders


def _take_back() -> None:
    """A database that is away or cannot be written stops no server from starting; it can still be read."""
    try:
        jobs.take_back(timezone.now())
    except DatabaseError:
        logger.exception("what broke off could not be taken back; it is taken up again after its silence")
    finally:
        connections.close_all()


def stop(tenders: list[Tender]) -> None:
    """Let ``tenders`` end, and wait for that."""
    jobs.tended.clear()
    for tender in tenders:
        tender.stop()
    for tender in tenders:
        tender.join()
