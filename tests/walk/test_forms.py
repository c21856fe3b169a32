"""Whatever is sent with any form: a page comes back, and what is nobody's to set stays as it was."""

from __future__ import annotations

import random
from urllib.parse import urlsplit

import pytest
from django.apps import apps
from django.core.cache import cache
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.people.test_any_input import TEXT
from tests.walk.test_pages import digest_of_everything
from tests.walk.walking import Form, pages_of

pytestmark = pytest.mark.django_db
WALKERS = ("manager@demo.example", "reception@demo.example", "orrel@demo.example")

#: Every name of a column of ours, so that some might be bound from what is sent.
COLUMNS = sorted(
    {
        field.name
        for label in ("intake", "labqueue")
        for model in apps.get_app_config(label).get_models()
        for field in model._meta.concrete_fields
    }
    | {"is_staff", "is_manager", "pk", "by", "at"}
)
ODD = st.one_of(
    TEXT, st.sampled_from(["-1", "0", "1e999", "nan", "2026-02-30", "\ud7ff\x00", "../../etc", "[]"])
)


def forms_of(client: Client) -> list[Form]:
    """One of each kind of form that changes something, but the one that signs out."""
    found: dict[object, Form] = {}
    for page in pages_of(client):
        for form in page.reader.forms if page.reader else ():
            if form.method == "post" and form.kind[0] != "account_logout":
                found.setdefault(form.kind, form)
    return list(found.values())


def send(client: Client, form: Form, sent: dict[str, str]) -> int:
    """The status of the answer; whatever it changed is taken back."""
    cache.clear()
    with transaction.atomic():
        status = client.post(urlsplit(form.action).path, sent).status_code
        transaction.set_rollback(True)
    return status


def odd_entries(form: Form) -> st.SearchStrategy[dict[str, str]]:
    """The form as it stands with some fields chosen otherwise, some odd, and some that it does not have."""
    names = sorted(form.fields)
    one_of = {name: st.sampled_from(choices) for name, choices in form.choices.items() if choices}
    values = {name: st.one_of(ODD, one_of.get(name, ODD)) for name in names}
    changed = st.fixed_dictionaries({}, optional=values)
    return st.tuples(changed, st.dictionaries(st.sampled_from(COLUMNS), ODD, max_size=3)).map(
        lambda both: {**both[1], **form.fields, **both[0]}
    )


@pytest.mark.parametrize("who", WALKERS)
def test_no_input_of_any_form_is_a_fault(walker, who):
    client = walker(who)
    forms = forms_of(client)
    assert len(forms) >= 12
    for form in forms:
        no_fault_of(client, form)


def no_fault_of(client: Client, form: Form) -> None:
    @settings(
        max_examples=3,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(odd_entries(form))
    def no_fault(sent: dict[str, str]) -> None:
        assert send(client, form, sent) < 500, (form.action, sent)

    no_fault()


@pytest.mark.skipif(
    connection.vendor != "sqlite", reason="PostgreSQL does not give keys back after a rollback"
)
@pytest.mark.parametrize("who", WALKERS)
def test_what_a_form_does_not_ask_is_bound_nowhere(walker, who, monkeypatch):
    """The same request with the name of every column beside it leaves the same database behind."""
    client = walker(who)
    forms = forms_of(client)
    moment = timezone.now()
    monkeypatch.setattr(timezone, "now", lambda: moment)
    changed = 0
    before = digest_of_everything()
    for form in forms:
        filled = {name: value or likely(form, name) for name, value in form.fields.items()}
        plain = after(client, form, filled, monkeypatch)
        more = {name: "1" for name in COLUMNS if name not in form.fields and name not in form.choices}
        assert after(client, form, {**more, **filled}, monkeypatch) == plain, form.action
        changed += plain != before
    assert changed >= 3


def likely(form: Form, name: str) -> str:
    """Something for a field that stands empty: one of its choices, else a word."""
    return next((choice for choice in form.choices.get(name, ()) if choice), "as agreed")


def after(client: Client, form: Form, sent: dict[str, str], monkeypatch) -> dict[str, str]:
    """Digests of all tables as the request leaves them; random choices come out alike each time."""
    chance = random.Random(5)
    monkeypatch.setattr("secrets.choice", chance.choice)
    monkeypatch.setattr("secrets.token_bytes", chance.randbytes)
    for name in ("token_urlsafe", "token_hex"):
        monkeypatch.setattr(f"secrets.{name}", lambda size=32: f"{chance.getrandbits(size * 8):x}")
    cache.clear()
    with transaction.atomic():
        client.post(urlsplit(form.action).path, sent)
        left = digest_of_everything()
        transaction.set_rollback(True)
    return left


@pytest.mark.skipif(connection.vendor != "sqlite", reason="each action is one transaction on either")
def test_what_the_record_cannot_tell_is_not_done(walker, monkeypatch):
    """The record fails at every form of the manager: whatever would have been told leaves no trace."""
    client = walker(WALKERS[0])
    forms = forms_of(client)
    before = digest_of_everything()

    def broken(**entry):
        raise RuntimeError("The record cannot be written.")

    monkeypatch.setattr("intake.record.write", broken)
    failed = 0
    for form in forms:
        filled = {name: value or likely(form, name) for name, value in form.fields.items()}
        cache.clear()
        with transaction.atomic():
            failed += client.post(urlsplit(form.action).path, filled).status_code == 500
            left = digest_of_everything()
            transaction.set_rollback(True)
        if failed and left != before:
            changed = {table for table in left if left[table] != before[table]}
            assert changed <= WITHOUT_RECORD, (form.action, changed)
    assert failed >= 5


#: What is prepared or concerns nobody's work, and is not told in the record.
WITHOUT_RECORD = {"labqueue_plandraft", "labqueue_savedview", "intake_stagedsheet", "intake_labpolicy"}
