"""Steps shared by the tests of statements: measured bottles and issued statements."""

from __future__ import annotations

from datetime import timedelta

from intake.actions import placing
from intake.actions.closing import issue_statement
from intake.actions.injecting import Shot, record_injections
from intake.models import Bottle, Consignment
from intake.sealing import digest_of
from intake.stating import statement_content
from tests.bench.bench import again, received
from tests.factories import COLLECTED, RECEIVED

PLACED_AT = RECEIVED + timedelta(hours=1)
INJECTED = COLLECTED + timedelta(hours=12)
NOW = COLLECTED + timedelta(hours=200)


def measured(by, reception, manager, group, rulebook, *entries, at=INJECTED) -> list[Bottle]:
    """Bottles of ``entries``, received, placed and all injected at ``at``."""
    bottles = received(by, reception, group, rulebook, *entries)
    placing.place_bottles(bottles, by=manager, at=PLACED_AT, label="run R1")
    bottles = again(bottles)
    record_injections([Shot(bottle, at, "run R1") for bottle in bottles], by=manager, at=NOW)
    return again(bottles)


def consignment_of(bottles) -> Consignment:
    return Consignment.objects.select_related("group", "rulebook").get(pk=bottles[0].consignment_id)


def issued(consignment, by, at=NOW, **more):
    """The statement of ``consignment``, issued by ``by`` who read it as it stands."""
    return issue_statement(consignment, by=by, at=at, seen=digest_of(statement_content(consignment)), **more)
