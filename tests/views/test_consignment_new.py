"""Making a consignment, afresh or like a former one."""

import pytest
from django.urls import reverse

from intake.models import Consignment, Membership, RulebookVersion
from tests.factories import sample, sent
from tests.views.pages import address, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(signed_in, submitter):
    return signed_in(submitter)


def new_form(group, book, **changes):
    return {
        "token": "a token",
        "group": group.pk,
        "title": "Mill brook",
        "purpose": "",
        "rulebook": book.pk,
        "zone": "Europe/Berlin",
        "requested_on": "",
    } | changes


def test_a_new_consignment_leads_on_to_its_samples(client, group, rulebook):
    response = client.post(reverse("intake:consignment_new"), new_form(group, rulebook))
    made = Consignment.objects.get()
    assert response.status_code == 302
    assert response.url == address("samples", made)
    assert (made.title, made.group, made.rulebook, made.zone) == (
        "Mill brook",
        group,
        rulebook,
        "Europe/Berlin",
    )


def test_the_usual_zone_and_the_default_rulebook_are_chosen_already(client, group, rulebook):
    form = client.get(reverse("intake:consignment_new")).context["form"]
    assert form["zone"].value() == group.zone
    assert form.fields["rulebook"].queryset.first() == rulebook


def test_only_offered_rulebooks_can_be_chosen(client, group, rulebook, system):
    hidden = RulebookVersion.objects.create(
        code="old", version=1, data={}, digest="1" * 64, dated="2020-01-01", offered=False, created_by=system
    )
    page = client.post(reverse("intake:consignment_new"), new_form(group, rulebook, rulebook=hidden.pk))
    assert page.status_code == 422
    assert "This rulebook is not offered any more" in text_of(page)


def test_with_several_groups_the_zone_may_stay_the_group_s_own(client, submitter, other_group, rulebook):
    Membership.objects.create(user=submitter, group=other_group)
    client.post(reverse("intake:consignment_new"), new_form(other_group, rulebook, zone=""))
    assert Consignment.objects.get().zone == "America/Halifax"


def test_nobody_makes_one_for_a_group_of_others(client, other_group, rulebook):
    page = client.post(reverse("intake:consignment_new"), new_form(other_group, rulebook))
    assert page.status_code == 422
    assert other_group.name not in text_of(page)
    assert not Consignment.objects.exists()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"title": " "}, "Give the consignment a title."),
        ({"title": "x" * 201}, "The title is too long: use at most 200 characters."),
        ({"zone": "Mars/Olympus"}, "is not a time zone we know"),
        ({"requested_on": "soon"}, "This is not a date."),
        ({"requested_on": "1926-03-03"}, "This day is over."),
        ({"requested_on": "2126-03-03"}, "more than two years away"),
    ],
)
def test_a_head_that_cannot_be_is_explained_at_its_field(client, group, rulebook, changes, sentence):
    page = client.post(reverse("intake:consignment_new"), new_form(group, rulebook, **changes))
    assert page.status_code == 422
    assert sentence in text_of(page)
    assert "Error:" in page.content.decode().split("</title>")[0]
    assert not Consignment.objects.exists()


def test_emoji_and_right_to_left_titles_are_kept(client, group, rulebook):
    title = "🌊 نهر الأردن שלום"
    client.post(reverse("intake:consignment_new"), new_form(group, rulebook, title=title))
    assert Consignment.objects.get().title == title


def test_the_same_form_twice_makes_one_and_leads_to_it(client, group, rulebook):
    first = client.post(reverse("intake:consignment_new"), new_form(group, rulebook))
    second = client.post(reverse("intake:consignment_new"), new_form(group, rulebook))
    assert Consignment.objects.count() == 1
    assert first.url == second.url


def test_going_back_and_writing_another_title_makes_another(client, group, rulebook):
    client.post(reverse("intake:consignment_new"), new_form(group, rulebook))
    client.post(reverse("intake:consignment_new"), new_form(group, rulebook, title="Other"))
    assert Consignment.objects.count() == 2


# Like a former one


def test_a_new_one_like_a_former_takes_habits_but_no_dates_or_readings(client, submitter, group, rulebook):
    former = sent(submitter, group, rulebook, sample("S1"), sample("S2"), title="Mill brook")
    address_of_copy = f"{reverse('intake:consignment_new')}?like={former.number}"
    assert address_of_copy in client.get(address("consignment", former)).content.decode()
    form = client.get(address_of_copy).context["form"]
    assert form["title"].value() == "Mill brook"
    client.post(address_of_copy, new_form(group, rulebook, title="Mill brook, again"))
    made = Consignment.objects.get(title="Mill brook, again")
    assert [sample.own_id for sample in made.samples.all()] == ["S1", "S2"]
    copy = made.samples.first()
    assert (copy.site, copy.ec_reference, copy.water_kind) == ("Lower weir", "25", "river")
    assert (copy.collected_at, copy.ph, copy.ec_value, copy.water_temperature_c) == (None, None, None, None)
    bottle = copy.bottles.get(line="cation")
    assert (bottle.filter_pore_um, bottle.acid_kind, bottle.acid_mol_l) == (0.45, "nitric", 1.0)
    assert (bottle.to_brim, bottle.chilled, bottle.chilled_at, bottle.acid_at) == (None, None, None, None)
    assert not set(made.bottles.values_list("number")) & set(former.bottles.values_list("number"))


def test_nobody_copies_what_they_may_not_know_of(client, stranger, other_group, group, rulebook):
    theirs = sent(stranger, other_group, rulebook)
    for answer in (
        client.get(reverse("intake:consignment_new"), {"like": theirs.number}),
        client.post(f"{reverse('intake:consignment_new')}?like={theirs.number}", new_form(group, rulebook)),
    ):
        assert answer.status_code == 404
    assert Consignment.objects.count() == 1
