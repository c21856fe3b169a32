"""Two people open the same form; the second to save is told, and what they typed is still there."""

from __future__ import annotations

import html
from dataclasses import dataclass
from urllib.parse import urlsplit

import pytest
from django.urls import reverse

from intake.models import Arrival, Consignment, Group, RulebookVersion, User
from labqueue.models import Unit
from tests.walk.walking import Form, read

pytestmark = pytest.mark.django_db
MANAGER, RECEPTION, SUBMITTER = "manager@demo.example", "reception@demo.example", "orrel@demo.example"


@dataclass(frozen=True)
class Edit:
    """A form that changes something: who opens it, where, its telling field, what either types."""

    name: str
    who: str
    field: str
    first: str
    second: str


EDITS = [
    Edit("consignment_amend", MANAGER, "title", "Lower weir", "Upper weir"),
    Edit("arrival_transport", RECEPTION, "temperature_c", "5.5", "6.5"),
    Edit("group", MANAGER, "name", "Reed people", "Moor people"),
    Edit("person_role", MANAGER, "role", "reception", "manager"),
    Edit("profile", MANAGER, "name", "Vera First", "Vera Second"),
    Edit("lab_policy", MANAGER, "keep_years", "7", "9"),
    Edit("rulebook_settings", MANAGER, "title", "First title", "Second title"),
    Edit("rulebook_row", MANAGER, "limit_value", "3", "4"),
    Edit("unit", MANAGER, "inject_min", "21", "22"),
    Edit("hours", MANAGER, "opens_0", "07:15", "07:45"),
    Edit("date", MANAGER, "note", "First word", "Second word"),
]


def address_of(name: str) -> str:
    """Where the form stands, for some thing of the demo laboratory that it fits."""
    sent = Consignment.objects.filter(state="sent")
    draft = RulebookVersion.objects.filter(published_at=None).first()
    of_draft = {"code": draft.code, "version": draft.version}
    made = {
        "consignment_amend": lambda: reverse("intake:consignment_amend", args=[sent[0].number]),
        "arrival_transport": lambda: reverse(
            "intake:arrival_transport", args=[Arrival.objects.filter(closed_at=None)[0].number]
        ),
        "group": lambda: reverse("intake:group", args=[Group.objects.first().pk]),
        "person_role": lambda: reverse("intake:person", args=[User.objects.get(email=SUBMITTER).pk]),
        "profile": lambda: reverse("intake:profile"),
        "lab_policy": lambda: reverse("intake:lab_policy"),
        "rulebook_settings": lambda: reverse("intake:rulebook_settings", kwargs=of_draft),
        "rulebook_row": lambda: reverse("intake:rulebook_row", kwargs={**of_draft, "number": 1}),
        "unit": lambda: reverse("labqueue:unit", args=[Unit.objects.first().pk]),
        "hours": lambda: reverse("labqueue:hours"),
        "date": lambda: reverse("labqueue:date", args=[sent[0].number]),
    }
    return made[name]()


def form_with(client, address: str, field: str) -> tuple[Form, str]:
    """The form of the page that has ``field``, and the field's whole name in it."""
    page = client.get(address)
    assert page.status_code == 200, address
    for form in read(address, page.content.decode()).forms:
        for name in form.fields:
            if form.method == "post" and (name == field or name.endswith(f"-{field}")):
                return form, name
    raise AssertionError(f"No form with {field} at {address}.")


def test_the_second_to_save_is_told_and_keeps_what_they_typed(walker):
    wrong = {edit.name: told for edit in EDITS if (told := interleave(walker, edit)) != AS_IT_SHOULD_BE}
    assert wrong == {}


#: First saved, second refused as a conflict, its own text still there, the other's shown.
AS_IT_SHOULD_BE = (302, 409, True, True)


def interleave(walker, edit: Edit) -> tuple[int, int, bool, bool]:
    """What two people get who open the same form and save one after the other."""
    one, other = walker(edit.who), walker(edit.who)
    address = address_of(edit.name)
    (mine, name), (theirs, _) = (form_with(client, address, edit.field) for client in (one, other))
    path = urlsplit(mine.action).path
    reason = {"reason": "as they told us"} if "reason" in mine.fields else {}
    first = one.post(path, {**mine.as_sent, **reason, name: edit.first})
    second = other.post(path, {**theirs.as_sent, **reason, name: edit.second})
    import re

    if first.status_code == 422:
        print(
            edit.name,
            re.findall(r'<div class="notice notice-error.*?</div>', first.content.decode(), re.S)[:1],
        )
    text = html.unescape(second.content.decode())
    return first.status_code, second.status_code, edit.second in text, edit.first in text
