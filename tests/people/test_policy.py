"""A second factor that the laboratory demands, lost factors, and ending sessions."""

from __future__ import annotations

import time

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import TOTP
from django.core.cache import cache
from django.test import Client
from django.urls import NoReverseMatch, reverse

from intake.actions.policy import change_policy, policy
from intake.choices import SecondFactorFor
from intake.errors import EntryProblem, NotPermitted, SomebodyWasFaster
from intake.middleware import SecondFactorFirst
from intake.models import RecordEntry
from intake.signing import browser_of, sessions_of
from intake.tasks.regular import clear_away
from tests.access import TABLE
from tests.conftest import PASSWORD
from tests.factories import ENTERED
from tests.people.test_second_factor import code_of
from tests.test_access import EVERY_ADDRESS

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("jobs_at_once")]
SECRET = "JBSWY3DPEHPK3PXP"
ENROL = "/account/second-factor/"


@pytest.fixture(autouse=True)
def nobody_tried_yet():
    cache.clear()
    yield
    cache.clear()


def demand(manager, of, **changes):
    given = {"version": policy().version, "second_factor": of, "keep_years": policy().keep_years, **changes}
    return change_policy(by=manager, at=ENTERED, **given)


def open_to(client, address="/profile/"):
    answer = client.get(address)
    return answer.status_code == 200 or answer["Location"]


def test_nobody_needs_a_second_factor_until_a_manager_says_so(signed_in, manager, submitter):
    assert policy().second_factor == SecondFactorFor.NOBODY
    assert open_to(signed_in(manager)) is True


@pytest.mark.parametrize(
    ("of", "led"),
    [("staff", {"reception", "manager"}), ("everybody", {"reception", "manager", "submitter"})],
)
def test_whoever_it_is_demanded_of_is_led_to_enrolment_at_once(
    signed_in, manager, reception, submitter, of, led
):
    people = {"manager": manager, "reception": reception, "submitter": submitter}
    clients = {name: signed_in(who) for name, who in people.items()}
    assert all(open_to(client) is True for client in clients.values())
    demand(manager, of)
    for name, client in clients.items():
        assert open_to(client) == (ENROL if name in led else True), name
    assert "Your laboratory asks for a second factor" in clients["manager"].get(ENROL).content.decode()


def some_address(name, parameters):
    """An address of that name; which thing it names does not matter, for nobody gets as far as it."""
    words = {"number": "C2345678", "arrival": "A2345678", "token": "x", "slug": "acid", "secret": "x"}
    for whole in (words, words | {"number": 1}, words | {"number": 1, "arrival": 1}):
        try:
            return reverse(name, kwargs={one: whole.get(one, GUESSES.get(one, 1)) for one in parameters})
        except NoReverseMatch:
            continue
    raise AssertionError(f"No address of {name} was found.")


GUESSES = {"code": "house", "kind": "csv", "table": "clocks", "role": "submitter", "key": "x"}


OF_PAGES = ("intake:", "labqueue:")
LEADING = [
    name for name in TABLE if name.startswith(OF_PAGES) and not name.startswith(SecondFactorFirst.OPEN)
]


@pytest.mark.parametrize("name", sorted(LEADING))
def test_every_page_of_staff_leads_there_until_a_factor_is_there(signed_in, manager, name):
    demand(manager, "staff")
    address = some_address(name, EVERY_ADDRESS[name])
    client = signed_in(manager)
    for answer in (client.get(address), client.post(address)):
        assert (answer.status_code, answer["Location"]) == (302, ENROL)


def test_codes_from_an_app_open_the_pages_again(signed_in, manager):
    demand(manager, "staff")
    client = Client()
    client.post("/account/sign-in/", {"login": manager.email, "password": PASSWORD})
    assert open_to(client) == ENROL
    page = client.get("/account/second-factor/app/on/", follow=True)
    page = client.post(page.redirect_chain[-1][0], {"password": PASSWORD}, follow=True)
    secret = page.context["form"].secret
    client.post("/account/second-factor/app/on/", {"code": code_of(secret, time.time())})
    assert open_to(client) is True
    cache.clear()
    client.post("/account/second-factor/app/off/")
    assert open_to(client) == ENROL


def test_recovery_codes_alone_are_no_factor(signed_in, manager):
    demand(manager, "staff")
    Authenticator.objects.create(user=manager, type=Authenticator.Type.RECOVERY_CODES, data={})
    assert open_to(signed_in(manager)) == ENROL


def test_it_costs_no_query(signed_in, manager, django_assert_num_queries):
    client = signed_in(manager)
    TOTP.activate(manager, SECRET)
    client.get("/help/")
    with django_assert_num_queries(2):  # the session, and the person with whether their factor is due
        client.get("/help/")
    demand(manager, "everybody")
    with django_assert_num_queries(2):
        client.get("/help/")


def test_only_a_manager_settles_it_and_the_record_says_so(manager, reception, submitter):
    for other in (reception, submitter):
        with pytest.raises(NotPermitted):
            demand(other, "nobody")
    demand(manager, "staff", keep_years=10)
    entry = RecordEntry.objects.get(verb="policy.change")
    assert (entry.before, entry.after) == (
        {"second_factor": "nobody", "keep_years": 5},
        {"second_factor": "staff", "keep_years": 10},
    )


@pytest.mark.parametrize("wrong", [{"second_factor": "guests"}, {"keep_years": 0}, {"keep_years": 101}])
def test_what_cannot_hold_is_refused(manager, wrong):
    with pytest.raises(EntryProblem):
        demand(manager, "staff", **wrong)


def test_a_stale_page_shows_what_holds_now_and_keeps_what_was_typed(signed_in, manager):
    client = signed_in(manager)
    page = client.get("/people/policy/")
    version = page.context["form"]["version"].value()
    demand(manager, "nobody", keep_years=7)
    answer = client.post(
        "/people/policy/", {"version": version, "second_factor": "nobody", "keep_years": "9"}
    )
    assert answer.status_code == 409
    text = answer.content.decode()
    assert "<dd>7</dd>" in text
    assert 'value="9"' in text
    again = {
        "version": answer.context["form"]["version"].value(),
        "second_factor": "nobody",
        "keep_years": "9",
    }
    assert client.post("/people/policy/", again).status_code == 302
    assert policy().keep_years == 9
    with pytest.raises(SomebodyWasFaster):
        demand(manager, "nobody", keep_years=3, version=0)


# Lost factors


def test_a_manager_takes_a_lost_factor_away_and_says_how_they_knew(signed_in, manager, submitter, mailoutbox):
    TOTP.activate(submitter, SECRET)
    client = signed_in(manager)
    address = f"/people/{submitter.pk}/factor/"
    assert client.post(address, {"reason": " "}).status_code == 422
    assert client.post(address, {"reason": "called back"}).status_code == 302
    assert not Authenticator.objects.filter(user=submitter).exists()
    assert RecordEntry.objects.get(verb="person.take_factor_away").reason == "called back"
    assert client.post(address, {"reason": "again"}).status_code == 409


def test_nobody_takes_their_own_factor_away_there(signed_in, manager):
    TOTP.activate(manager, SECRET)
    client = signed_in(manager)
    assert client.post(f"/people/{manager.pk}/factor/", {"reason": "mine"}).status_code == 409
    assert Authenticator.objects.filter(user=manager).exists()


# Sessions

FIREFOX = "Mozilla/5.0 (X11; Linux x86_64; rv:128.0) Gecko/20100101 Firefox/128.0"


def sign_in(person, **headers):
    client = Client(headers={"user-agent": FIREFOX, **headers})
    client.post("/account/sign-in/", {"login": person.email, "password": PASSWORD})
    return client


def test_one_sees_where_one_is_signed_in_and_ends_the_others(submitter, stranger):
    here, phone, library = sign_in(submitter), sign_in(submitter), sign_in(submitter)
    theirs = sign_in(stranger)
    page = here.get("/profile/sessions/").content.decode()
    assert page.count("Firefox on Linux") >= 3
    assert page.count("this one") == 1
    last = sessions_of(submitter)[0]
    here.post("/profile/sessions/", {"session": str(last.pk)})
    assert open_to(library).startswith("/account/sign-in/")
    assert open_to(phone) is True
    here.post("/profile/sessions/", {"session": "others"})
    assert open_to(phone).startswith("/account/sign-in/")
    assert open_to(here) is True
    assert open_to(theirs) is True
    assert [entry.after for entry in RecordEntry.objects.filter(verb="person.end_sessions")] == [
        {"sessions": 1},
        {"sessions": 1},
    ]


@pytest.mark.parametrize("chosen", ["", "0", "x", "-1", "9" * 30, "\x00"])
def test_what_is_no_session_of_mine_ends_nothing(submitter, stranger, chosen):
    here, theirs = sign_in(submitter), sign_in(stranger)
    for session in (chosen, str(sessions_of(stranger)[0].pk)):
        assert here.post("/profile/sessions/", {"session": session}).status_code == 302
    assert open_to(theirs) is True
    assert open_to(here) is True


def test_a_manager_ends_the_sessions_of_somebody_else(signed_in, manager, reception, submitter):
    there = sign_in(submitter)
    assert signed_in(reception).post(f"/people/{submitter.pk}/sessions/").status_code == 403
    assert open_to(there) is True
    client = signed_in(manager)
    assert "Firefox on Linux" in client.get(f"/people/{submitter.pk}/").content.decode()
    client.post(f"/people/{submitter.pk}/sessions/")
    assert open_to(there).startswith("/account/sign-in/")


def test_a_changed_password_leaves_the_session_that_changed_it_alone_on_the_list(submitter):
    here, other = sign_in(submitter), sign_in(submitter)
    new = "a quite different set of words"
    here.post("/account/password/", {"oldpassword": PASSWORD, "password1": new, "password2": new})
    submitter.refresh_from_db()
    assert len(sessions_of(submitter)) == 1
    assert open_to(other).startswith("/account/sign-in/")


def test_a_switched_off_person_is_signed_in_nowhere(submitter):
    sign_in(submitter)
    submitter.is_active = False
    submitter.save()
    assert sessions_of(submitter) == []


def test_what_is_known_of_ended_sessions_is_cleared_away_at_night(submitter):
    from allauth.usersessions.models import UserSession
    from django.contrib.sessions.models import Session

    sign_in(submitter), sign_in(submitter)
    old = Session.objects.order_by("pk").first()
    Session.objects.filter(pk=old.pk).update(expire_date=ENTERED)
    clear_away(ENTERED)
    (left,) = UserSession.objects.all()
    assert left.session_key != old.pk


@pytest.mark.parametrize(
    ("header", "words"),
    [
        (FIREFOX, "Firefox on Linux"),
        (
            "Mozilla/5.0 (Windows NT 10.0) AppleWebKit/537 Chrome/126.0 Safari/537 Edg/126.0",
            "Edge on Windows",
        ),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) Version/17.5 Safari/604",
            "Safari on iPhone",
        ),
        ("Mozilla/5.0 (Linux; Android 14) Chrome/126.0 Mobile Safari/537", "Chrome or Chromium on Android"),
        ("", "a browser"),
    ],
)
def test_browsers_are_told_in_words(header, words):
    assert browser_of(header) == words


def test_who_is_behind_a_proxy_is_counted_by_their_own_address(settings, rf):
    """Else one who guesses would lock everybody out, since all come from the proxy."""
    from allauth.account.adapter import get_adapter

    request = rf.get("/", headers={"x-forwarded-for": "203.0.113.9, 198.51.100.7"}, REMOTE_ADDR="10.0.0.1")
    assert get_adapter().get_client_ip(request) == "10.0.0.1"
    settings.ALLAUTH_TRUSTED_PROXY_COUNT = 1
    assert get_adapter().get_client_ip(request) == "198.51.100.7"
