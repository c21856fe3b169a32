"""Every address, visited by everybody, held against the table in ``tests/access.py``."""

from __future__ import annotations

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from intake import jobs
from intake.actions import closing, questioning, rulebooks
from intake.actions.checking import check_bottle
from intake.actions.photographing import add_photograph
from intake.actions.stowing import make_place
from intake.choices import JobKind
from intake.models import Group
from intake.sealing import digest_of
from intake.stating import statement_content
from tests.access import TABLE, Answers
from tests.factories import ENTERED, RECEIVED, draft, opened, photograph_file, sample, sent

pytestmark = pytest.mark.django_db
PEOPLE = Answers._fields
WORDS = {
    200: "page",
    403: "no",
    404: "hidden",
    405: "method",
    409: "stands",
    410: "gone",
    422: "form",
}

#: The canary stands in every text that a stranger must never read.
CANARY = "Kanarienvogel"


def addresses(resolver: URLResolver, space: str = "") -> dict[str, dict[str, object]]:
    """Every named address with the names of its parameters."""
    found: dict[str, dict[str, object]] = {}
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLPattern):
            found[f"{space}{pattern.name}"] = dict.fromkeys(pattern.pattern.regex.groupindex)
        else:
            name = f"{space}{pattern.namespace}:" if pattern.namespace else space
            found |= addresses(pattern, name)
    return found


EVERY_ADDRESS = addresses(get_resolver())


@pytest.fixture
def world(submitter, stranger, reception, manager, group, rulebook):
    """One of everything, belonging to the group of ``submitter``."""
    group.name = f"{CANARY} group"
    group.save(update_fields=["name"])
    consignment = draft(
        submitter, group, rulebook, sample(f"{CANARY} 1", site=CANARY), title=CANARY, purpose=CANARY
    )
    received = sent(submitter, group, rulebook, sample(f"{CANARY} 2", site=CANARY), title=CANARY)
    arrival = opened(reception, received)
    doubtful = sent(submitter, group, rulebook, sample(f"{CANARY} 3", site=CANARY), title=CANARY)
    check_bottle(
        doubtful.bottles.first(),
        opened(reception, doubtful),
        by=reception,
        at=RECEIVED,
        seen={"label_matches": False},
    )
    (question,) = questioning.ask_about(questioning.held_bottles(), by=reception, at=RECEIVED)
    book = rulebooks.start_version(rulebook, by=manager, at=ENTERED)
    received.refresh_from_db()
    statement = closing.issue_statement(
        received, by=manager, at=RECEIVED, seen=digest_of(statement_content(received)), early=True
    )
    return {
        "people": {
            "nobody": None,
            "stranger": stranger,
            "submitter": submitter,
            "reception": reception,
            "manager": manager,
        },
        "draft": consignment,
        "received": received,
        "arrival": arrival,
        "statement": statement,
        "book": book,
        "group": group,
        "question": question,
        "job": jobs.leave(JobKind.READ_SHEET, at=ENTERED, by=submitter, consignment=consignment),
        "photograph": add_photograph(
            arrival, by=reception, at=RECEIVED, data=photograph_file(), caption=CANARY
        ),
        "place": make_place(by=reception, at=RECEIVED, name="Fridge 2", kind="fridge"),
    }


#: Addresses that name one thing in a way of their own.
OF_ONE_THING = {
    "intake:job": lambda world: {"key": world["job"].key},
    "intake:place": lambda world: {"number": world["place"].number},
    "intake:place_card": lambda world: {"number": world["place"].number},
    "intake:photograph": lambda world: {
        "number": world["arrival"].number,
        "key": world["photograph"].key,
    },
    "intake:photograph_remove": lambda world: {
        "number": world["arrival"].number,
        "key": world["photograph"].key,
    },
    "intake:question": lambda world: {"pk": world["question"].pk},
    "intake:arrival_slip": lambda world: {
        "number": world["received"].number,
        "arrival": world["arrival"].number,
    },
}


def arguments(world: dict, name: str, parameters: dict) -> dict[str, object]:
    """Values for the parameters of an address, by what they name there."""
    if name in (
        "intake:person",
        "intake:person_role",
        "intake:person_group",
        "intake:person_off",
        "intake:person_on",
        "intake:person_sessions",
        "intake:person_factor",
        "intake:person_forget",
    ):
        return {"pk": world["people"]["submitter"].pk}
    if name in OF_ONE_THING:
        return OF_ONE_THING[name](world)
    if "group_pk" in parameters:
        return {"group_pk": world["group"].pk}
    values: dict[str, object] = {
        "code": "filter.none" if name == "intake:rule" else world["book"].code,
        "version": world["book"].version,
        "slug": "acid",
        "language": "de",
        "role": "submitter",
        "key": "no-such-key",
        "table": "clocks",
        "token": "no-such-token",
        "secret": "no-such-secret",
        "uidb36": "1",
        "pk": world["group"].pk,
        "kind": "csv",
        "position": 1,
    }
    if "rulebooks" in str(reverse_pattern(name)):
        values["number"] = 1
    elif "arrivals" in str(reverse_pattern(name)):
        values["number"] = world["arrival"].number
    elif name == "intake:statement_draft":
        values["number"] = world["received"].number
    elif "statements" in str(reverse_pattern(name)):
        values["number"] = world["statement"].number
    elif "bottles" in str(reverse_pattern(name)):
        values["number"] = world["received"].bottles.first().number
    else:
        values["number"] = world["draft"].number
    return {parameter: values[parameter] for parameter in parameters}


def reverse_pattern(name: str) -> str:
    def find(resolver: URLResolver, space: str, before: str) -> str | None:
        for pattern in resolver.url_patterns:
            if isinstance(pattern, URLPattern):
                if f"{space}{pattern.name}" == name:
                    return before + str(pattern.pattern)
            else:
                inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
                hit = find(pattern, inner, before + str(pattern.pattern))
                if hit is not None:
                    return hit
        return None

    return find(get_resolver(), "", "") or ""


def answer_of(response) -> str:
    """The word of the table for a response."""
    if response.status_code == 302:
        return "door" if "/account/sign-in/" in response["Location"] else "away"
    return WORDS[response.status_code]


def visit(person, address: str, method: str):
    """The answer to ``person``; whatever it changed is taken back, so that no visit depends on another."""
    client = Client(raise_request_exception=False)
    cache.clear()  # attempts are counted there
    with transaction.atomic():
        if person is not None:
            client.force_login(person)
        response = getattr(client, method)(address)
        transaction.set_rollback(True)
    return response


def test_every_address_stands_in_the_table():
    assert set(TABLE) == set(EVERY_ADDRESS)


@pytest.mark.parametrize("name", sorted(TABLE))
def test_everybody_gets_the_answer_of_the_table(world, name):
    address = reverse(name, kwargs=arguments(world, name, EVERY_ADDRESS[name]))
    for method, expected in zip(("get", "post"), TABLE[name], strict=True):
        for who in PEOPLE:
            response = visit(world["people"][who], address, method)
            assert answer_of(response) == getattr(expected, who), f"{method} {address} as {who}"
            if who == "stranger" and method == "get":
                assert CANARY not in response.content.decode("utf-8", "replace"), address


@pytest.mark.parametrize("name", sorted(name for name in TABLE if "number" in EVERY_ADDRESS[name]))
def test_a_strangers_number_is_answered_exactly_like_one_that_does_not_exist(world, name):
    mine = arguments(world, name, EVERY_ADDRESS[name])
    if not isinstance(mine["number"], str):
        pytest.skip("rows of rulebooks belong to no group")
    nowhere = {**mine, "number": f"{mine['number'][0]}2345678"}
    stranger = world["people"]["stranger"]
    for method in ("get", "post"):
        theirs = visit(stranger, reverse(name, kwargs=mine), method)
        missing = visit(stranger, reverse(name, kwargs=nowhere), method)
        assert theirs.status_code == missing.status_code
        assert same_page(theirs, mine["number"]) == same_page(missing, nowhere["number"])


def same_page(response, number: str) -> str:
    """The page without what differs from request to request: its moment, its token, its address."""
    import re

    text = response.content.decode().replace(str(number), "NUMBER")
    return re.sub(r'data-now="[^"]*"|name="csrfmiddlewaretoken" value="[^"]*"', "", text)


def test_reading_changes_nothing(world):
    """A GET of any address by anybody leaves the record and every group as they were."""
    from intake.models import Consignment, RecordEntry, Token

    def state():
        return (
            RecordEntry.objects.count(),
            Token.objects.count(),
            list(Consignment.objects.values_list("pk", "version", "state")),
            Group.objects.count(),
        )

    before = state()
    for name in TABLE:
        address = reverse(name, kwargs=arguments(world, name, EVERY_ADDRESS[name]))
        for person in world["people"].values():
            visit(person, address, "get")
    assert state() == before
