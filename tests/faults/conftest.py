"""A seeded laboratory for each module, its server running."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from urllib.parse import quote

import pytest
from django.db import connection

from tests.faults.lab import Lab

#: How often each fault is tried: a few times with every run, a hundred with `make faults`.
TIMES = int(os.environ.get("LABQUEUE_FAULTS", "2"))


@pytest.fixture
def laboratory(tmp_path, request) -> Iterator[Callable[..., Lab]]:
    """``laboratory(bottles)`` is a new one of the kind of database that the tests run on."""
    made: list[tuple[Lab, str]] = []

    def make(bottles: int, settings: str = "labqueue.settings") -> Lab:
        url = name = ""
        if connection.vendor == "postgresql":
            request.getfixturevalue("transactional_db")
            ours = connection.settings_dict
            name = f"faults_{os.getpid()}_{len(made)}"
            _statement(f"CREATE DATABASE {name}")
            url = f"postgresql://{ours['USER']}@/{name}?host={quote(ours['HOST'])}"
        lab = Lab(tmp_path, url, settings)
        made.append((lab, name))
        lab.seeded = lab.seed(bottles)
        return lab

    yield make
    for lab, name in made:
        lab.kill()
        if name:
            _statement(f"DROP DATABASE {name} WITH (FORCE)")


def _statement(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)
