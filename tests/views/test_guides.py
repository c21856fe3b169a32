"""Help: every guide and reason opens for everybody, its links lead somewhere, its figures are right."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from intake.choices import Role
from intake.pictures.drawings import EC_ENDS, PH_ENDS, PLOT, floor_curve, nitrate_bars
from intake.reasons import REASONS, reason_of
from intake.rules.catalogue import ALL
from intake.rules.floor import floor_allows
from intake.views.guides import GUIDES

PAGES = [
    reverse("intake:help"),
    *(reverse("intake:guide", args=[role.value]) for role in GUIDES),
    *(reverse("intake:reason", args=[reason.slug]) for reason in REASONS),
]


@pytest.mark.django_db
@pytest.mark.parametrize("address", PAGES)
def test_help_needs_no_account_and_no_query(client, address, django_assert_num_queries):
    with django_assert_num_queries(0):
        answer = client.get(address)
    assert answer.status_code == 200


@pytest.mark.django_db
@pytest.mark.parametrize("address", PAGES)
def test_every_link_of_the_help_leads_somebody_to_a_page(signed_in, manager, submitter, address):
    people = [signed_in(manager), signed_in(submitter)]
    main = people[0].get(address).content.decode().partition("<main")[2].partition("</main>")[0]
    links = set(re.findall(r'href="(/[^"#]*)"', main))
    assert links
    for link in links:
        assert 200 in [there.get(link).status_code for there in people], link


@pytest.mark.django_db
@pytest.mark.parametrize("role", [role.value for role in GUIDES])
def test_one_s_own_guide_comes_first(request, signed_in, role):
    person = request.getfixturevalue("manager" if role == Role.MANAGER else role)
    text = signed_in(person).get(reverse("intake:help")).content.decode()
    assert re.findall(r"/help/(submitter|reception|manager)/", text)[0] == role


@pytest.mark.django_db
@pytest.mark.parametrize("address", [reverse("intake:guide", args=["admin"]), "/help/why/nothing/"])
def test_what_the_help_does_not_have_is_not_found(client, address):
    assert client.get(address).status_code == 404


@pytest.mark.django_db
@pytest.mark.parametrize("reason", REASONS, ids=lambda reason: reason.slug)
def test_each_reason_has_a_drawing_with_words(client, reason):
    text = client.get(reverse("intake:reason", args=[reason.slug])).content.decode()
    drawing = re.search(r'<svg[^>]*role="img" aria-labelledby="drawn"><title id="drawn">([^<]+)', text)
    assert drawing
    assert len(drawing[1].split()) >= 8


def test_every_finding_has_a_reason():
    assert [rule.code for rule in ALL if reason_of(rule.code) is None] == []


@pytest.mark.django_db
def test_a_finding_s_page_leads_to_its_reason(client):
    text = client.get(reverse("intake:rule", args=["acid.in_anion_bottle"])).content.decode()
    assert reverse("intake:reason", args=["acid"]) in text


def test_nitrate_of_the_usual_dose():
    # 0.5 mL of 1 mol/L is 0.5 mmol; in 50.5 mL that is 9.901 mmol/L, times 62.00 g/mol.
    bars = nitrate_bars(50.0, 0.5, 1.0)
    assert bars.added_mg_l == 614
    assert bars.before_width / bars.after_width == pytest.approx(5.0 / 618.9, rel=0.05)


def test_the_cross_of_the_drawing_lies_where_no_water_is():
    curve = floor_curve()
    assert not floor_allows(3.0, 30.0, 25.0)
    points = [tuple(map(float, point.split(","))) for point in curve.line.split()]
    below = next(down for across, down in points if across >= curve.slip[0])
    assert curve.slip[1] > below
    left, top, right, bottom = PLOT
    assert all(left <= across <= right and top <= down <= bottom for across, down in points)
    assert (points[0][0], points[-1][0]) == (left, right)
    assert PH_ENDS[0] < 3.0 and EC_ENDS[0] < 30.0
