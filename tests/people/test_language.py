"""Choosing the language of pages: in the foot, in the profile, on every device."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.test import Client
from django.utils import translation

from intake.actions import people
from intake.errors import EntryProblem, NotPermitted
from intake.models import RecordEntry
from tests.factories import ENTERED

pytestmark = pytest.mark.django_db
DOOR = "/account/sign-in/"


def choose(client: Client, language: str, back: str = "/", **more: object):
    return client.post("/language/", {"language": language, "next": back}, **more)


def language_of(answer) -> str:
    """What the page says of itself; its header says the same."""
    (said,) = (part.split('"')[0] for part in answer.content.decode().split('<html lang="')[1:])
    assert answer["Content-Language"] == said
    return said


def test_a_page_without_a_choice_speaks_what_the_browser_asks_for():
    client = Client()
    assert language_of(client.get(DOOR)) == "en"
    assert language_of(client.get(DOOR, headers={"accept-language": "de-AT,de;q=0.9,en;q=0.5"})) == "de"
    assert language_of(client.get(DOOR, headers={"accept-language": "fr"})) == "en"
    assert "Accept-Language" in client.get(DOOR)["Vary"]
    assert "Cookie" in client.get(DOOR)["Vary"]


def test_somebody_who_is_not_signed_in_chooses_in_the_foot():
    client = Client()
    answer = choose(client, "de", f"{DOOR}?next=/profile/")
    assert (answer.status_code, answer["Location"]) == (302, f"{DOOR}?next=/profile/")
    page = client.get(DOOR)
    assert language_of(page) == "de"
    assert '<button class="button button-link" name="language" value="de" lang="de" aria-current="true">' in (
        page.content.decode()
    )
    choose(client, "en")
    assert language_of(client.get(DOOR, headers={"accept-language": "de"})) == "en"
    assert RecordEntry.objects.count() == 0


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:1", "2026-02-30", ""]
)
def test_the_way_back_leads_to_no_other_site(back):
    assert choose(Client(), "de", back)["Location"] == "/"


@pytest.mark.parametrize("language", ["", "fr", "de-AT", "../de", "x" * 5000])
def test_a_language_that_is_not_there_changes_nothing(signed_in, submitter, language):
    answer = choose(signed_in(submitter), language, "/profile/")
    assert answer["Location"] == "/profile/"
    assert "language" not in answer.cookies
    submitter.refresh_from_db()
    assert submitter.language == ""


def test_a_person_finds_the_language_on_another_device(signed_in, submitter):
    choose(signed_in(submitter), "de")
    submitter.refresh_from_db()
    assert submitter.language == "de"
    elsewhere = signed_in(submitter)
    page = elsewhere.get("/profile/", headers={"accept-language": "en"})
    assert language_of(page) == "de"
    entry = RecordEntry.objects.get(verb="person.change_profile")
    assert (entry.before, entry.after) == ({"language": ""}, {"language": "de"})
    assert language_of(Client().get(DOOR)) == "en"  # nothing of it is left for the next request


def test_the_foot_leads_back_to_the_page_with_its_question(signed_in, submitter):
    page = signed_in(submitter).get("/consignments/?q=weir&state=sent").content.decode()
    assert '<input type="hidden" name="next" value="/consignments/?q=weir&amp;state=sent">' in page


def test_the_foot_of_the_answer_to_a_form_leads_to_the_first_page(signed_in, submitter):
    page = signed_in(submitter).post("/profile/", {"name": "", "zone": "UTC"}).content.decode()
    assert '<input type="hidden" name="next" value="/">' in page


def test_the_profile_knows_the_language(signed_in, submitter):
    client = signed_in(submitter)
    sent = {"name": submitter.name, "zone": submitter.zone, "language": "de"}
    page = client.post("/profile/", sent, follow=True)
    assert language_of(page) == "de"
    client.post("/profile/", {**sent, "language": ""})
    submitter.refresh_from_db()
    assert submitter.language == ""
    # The browser is asked again, not the choice that it was given before.
    assert language_of(client.get("/profile/", headers={"accept-language": "en"})) == "en"


def test_people_choose_for_themselves(submitter, manager):
    with pytest.raises(NotPermitted):
        people.choose_language(person=submitter, by=manager, at=ENTERED, language="de")
    with pytest.raises(EntryProblem):
        people.choose_language(person=submitter, by=submitter, at=ENTERED, language="fr")
    submitter.is_active = False
    with pytest.raises(NotPermitted):
        people.choose_language(person=submitter, by=submitter, at=ENTERED, language="de")


def test_choosing_the_same_again_is_no_entry(submitter):
    for _time in range(2):
        people.choose_language(person=submitter, by=submitter, at=ENTERED, language="de")
    assert RecordEntry.objects.filter(verb="person.change_profile").count() == 1


def test_the_language_of_a_person_needs_a_secret_like_every_form(submitter):
    client = Client(enforce_csrf_checks=True)
    client.force_login(submitter)
    assert choose(client, "de").status_code == 403
    submitter.refresh_from_db()
    assert submitter.language == ""
    page = client.get("/profile/").content.decode()
    secret = page.split('name="csrfmiddlewaretoken" value="')[1].split('"')[0]
    assert client.post("/language/", {"language": "de", "csrfmiddlewaretoken": secret}).status_code == 302
    submitter.refresh_from_db()
    assert submitter.language == "de"


def test_who_is_not_signed_in_chooses_without_a_cookie_beforehand():
    client = Client(enforce_csrf_checks=True)
    assert not client.get("/trip/").cookies
    assert choose(client, "de").cookies[settings.LANGUAGE_COOKIE_NAME].value == "de"


def test_figures_keep_their_point_in_german():
    from django.template import Context, Template

    with translation.override("de"):
        said = Template("{{ pore }} {{ many }} {% load humanize %}{{ many|intcomma }}").render(
            Context({"pore": 0.45, "many": 12345})
        )
    assert said == "0.45 12345 12,345"


def test_days_are_said_in_german_and_fields_stay_readable_for_browsers():
    from datetime import date

    from django import forms
    from django.utils.dateformat import format as said

    with translation.override("de"):
        months = [said(date(2026, month, 1), "M") for month in range(1, 13)]
        field = forms.DateField(widget=forms.DateInput(attrs={"type": "date"}))
        shown = field.widget.render("day", date(2026, 3, 9))
    assert months == ["Jan", "Feb", "Mär", "Apr", "Mai", "Jun", "Jul", "Aug", "Sep", "Okt", "Nov", "Dez"]
    assert 'value="2026-03-09"' in shown


def test_the_words_of_the_scripts_come_in_the_language_of_their_address():
    answer = Client().get("/words/de.js")
    assert answer["Content-Type"].startswith("text/javascript")
    assert "django.catalog" in answer.content.decode()
    assert Client().get("/words/fr.js").status_code == 404
    assert b"/words/" not in Client().get(DOOR).content
    german = Client().get(DOOR, headers={"accept-language": "de"})
    assert b'<script defer src="/words/de.js">' in german.content
