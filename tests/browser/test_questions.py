"""A group answers what reception asked; at each width, by keyboard, with axe looking on."""

from __future__ import annotations

import pytest
from django.utils import timezone

from intake.actions import receiving
from intake.actions.checking import check_bottle
from intake.models import Question
from tests.browser.chromium import Page
from tests.browser.test_desk import announced, on_the_bench, water

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def asked(reception, submitter, group, rulebook):
    """A consignment whose bottles stand on hold for two causes."""
    waters = [water(own_id) for own_id in ("M-1", "M-2", "M-3")]
    consignment = announced(submitter, group, rulebook, "Mill brook, spring", *waters)
    arrival = on_the_bench(reception, consignment)
    for bottle in consignment.bottles.select_related("sample", "consignment"):
        seen = {"label_matches": False} if bottle.line == "anion" else {"leaking": True}
        check_bottle(bottle, arrival, by=reception, at=timezone.now(), seen=seen)
    receiving.close_arrival(arrival, by=reception, at=timezone.now(), more_to_come=False)
    return consignment


def test_the_group_answers_in_place(at_width: Page, sign_in, assert_accessible, asked, submitter):
    sign_in(submitter)
    at_width.go("/questions/")
    at_width.wait_for_text("Label unlike the list")
    assert_accessible()
    at_width.go(f"/consignments/{asked.number}/")
    at_width.wait_for_text("Answer the 2 questions below.")
    assert_accessible()
    question = Question.objects.get(code="label.mismatch")
    at_width.go(f"/questions/{question.pk}/")
    assert_accessible()
    at_width.press("Answer")
    at_width.wait_for_text("Choose one of the answers.")
    assert_accessible()
    at_width.find("input[value='go on with a reservation']").click()
    at_width.type_into("In your words", "Ours; the ink ran.")
    at_width.press("Answer")
    at_width.wait_for_text("Your answer is recorded and has taken effect.")
    assert_accessible()
    assert set(asked.bottles.filter(line="anion").values_list("state", "decision")) == {("ready", "reserved")}
    at_width.go(f"/questions/{question.pk}/")
    at_width.wait_for_text("The results carry:")
    assert_accessible()
    assert all("status of 422" in error for error in at_width.script_errors())
