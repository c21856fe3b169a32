"""NUL characters, which PostgreSQL stores none of (its manual, 8.3), reach no form, search or address."""

from __future__ import annotations

import pytest
from django.urls import reverse

from intake.models import Group
from intake.sheets.problems import SheetProblem
from intake.sheets.results import read_results

pytestmark = pytest.mark.django_db
SEARCHES = (
    "/consignments/",
    "/queue/",
    "/reception/",
    "/storage/",
    "/trip/",
    "/overview/",
    "/questions/",
    "/help/",
)


@pytest.mark.parametrize("address", SEARCHES)
def test_a_search_finds_what_stands_without_it(signed_in, manager, address):
    client = signed_in(manager)
    plain = client.get(address, {"q": "weir", "search": "weir"})
    odd = client.get(address, {"q": "we\x00ir", "search": "\x00weir", "\x00": "\x00"})
    assert odd.status_code == plain.status_code
    assert odd.status_code in (200, 422)


def test_what_is_typed_is_taken_without_it(signed_in, manager):
    client = signed_in(manager)
    answer = client.post("/people/groups/new/", {"name": "Reed\x00moor", "zone": "Europe/Vienna\x00"})
    assert answer.status_code == 302
    assert Group.objects.get().name == "Reedmoor"


@pytest.mark.parametrize(
    "address",
    [reverse("intake:consignment", args=["C\x002345678"]), "/invitation/a\x00b/", "/calendar/\x00.ics"],
)
def test_an_address_with_one_leads_nowhere(signed_in, manager, address):
    assert signed_in(manager).get(address).status_code == 404


def test_a_list_with_one_is_refused_as_a_whole():
    with pytest.raises(SheetProblem, match="neither a CSV"):
        read_results(b"Bottle,Ion,Value\nB2,nitrate\x00,1\n", "mg/L")
