"""The desk: what each scan answers, and that nothing passes unseen or is lost."""

from datetime import timedelta

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from intake import numbers
from intake.actions import receiving
from intake.actions.checking import check_bottle
from intake.actions.sending import withdraw_consignment
from intake.models import Arrival, BenchCheck, Bottle, RecordEntry
from intake.views.bench import LISTED_AT_THE_DESK
from tests.factories import RECEIVED, anion_bottle, draft, opened, sample, sent
from tests.views.scanner import Scanner

pytestmark = pytest.mark.django_db

#: Queries of one scan that shows a bottle: session, person, arrival, bottle, that it was scanned, and
#: what stands beside it.
SHOWING = 11
#: Queries of one that records a check: five to find it, the action with its begin and end, five to show it.
CHECKING = 30


@pytest.fixture(autouse=True)
def at_the_moment_of_arrival(monkeypatch):
    """Every request of these tests comes at RECEIVED."""
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)


@pytest.fixture
def consignment(submitter, group, rulebook):
    return sent(submitter, group, rulebook, sample("W-1"), sample("W-2"))


@pytest.fixture
def arrival(reception, consignment):
    return opened(reception, consignment)


@pytest.fixture
def scan(signed_in, reception, arrival):
    return Scanner(signed_in(reception), arrival)


@pytest.fixture
def anion(consignment):
    return consignment.bottles.filter(line="anion").first()


@pytest.fixture
def cation(consignment):
    return consignment.bottles.filter(line="cation").first()


def state(bottle):
    bottle.refresh_from_db()
    return bottle.state


def test_one_scan_and_one_key_accept_a_bottle_with_nothing_wrong(scan, anion):
    shown = scan(anion.number)
    assert (shown["tone"], shown["on"]) == ("look", anion.number)
    assert "Full to the brim" in shown["panel"]
    assert state(anion) == "expected", "showing a bottle records nothing"
    answer = scan(".OK")
    assert (answer["tone"], answer["word"]) == ("accepted", "Accepted")
    assert state(anion) == "ready"
    seen = BenchCheck.objects.get()
    assert (seen.in_order, seen.cold, seen.headspace, seen.label_matches) == (True, True, False, True)


def test_the_number_may_be_typed_in_groups_and_small_letters(scan, anion):
    assert scan(numbers.grouped(anion.number).lower())["on"] == anion.number


def test_scanning_on_leaves_the_bottle_unchecked_and_says_so(scan, anion, cation):
    scan(anion.number)
    answer = scan(cation.number)
    assert numbers.grouped(anion.number) in answer["left"]
    assert answer["on"] == cation.number
    assert state(anion) == "expected"
    assert not BenchCheck.objects.exists()


def test_an_acidified_bottle_asks_for_the_strip(scan, cation):
    scan(cation.number)
    asked = scan(".OK")
    assert (asked["tone"], asked["asking"]) == ("ask", "ph")
    assert "never into the bottle" in asked["sentence"]
    assert "gloves" in asked["panel"]
    assert state(cation) == "expected"
    assert scan("1,5")["tone"] == "accepted"
    assert BenchCheck.objects.get().ph_low == 1.5
    assert state(cation) == "ready"


def test_declared_hazards_stand_on_the_screen_with_the_usual_caution(
    scan, submitter, group, rulebook, reception, arrival
):
    foul = sent(submitter, group, rulebook, sample("F-1", hazards="sewage, <b>"), title="Foul")
    receiving.add_consignment(arrival, foul, by=reception, at=RECEIVED)
    shown = scan(foul.bottles.first().number)["panel"]
    assert "Declared: sewage, &lt;b&gt;." in shown
    assert "local codes come first" in shown


def test_without_declared_hazards_none_are_shown(scan, anion):
    assert "Declared:" not in scan(anion.number)["panel"]


def test_a_strip_without_acid_holds_the_bottle(scan, cation):
    scan(cation.number)
    scan(".OK")
    answer = scan("6-7")
    assert (answer["tone"], answer["word"]) == ("stopped", "On hold")
    assert state(cation) == "on hold"


@pytest.mark.parametrize("text", ["15", "14.1", "1-15", "3-2"])
def test_a_ph_no_strip_shows_is_asked_again(scan, cation, text):
    scan(cation.number)
    scan(".OK")
    answer = scan(text)
    assert (answer["tone"], answer["asking"], answer["on"]) == ("stopped", "ph", cation.number)
    assert not BenchCheck.objects.exists()
    assert scan("1.5")["tone"] == "accepted"


def test_a_word_is_no_ph(scan, cation):
    scan(cation.number)
    scan(".OK")
    answer = scan("seven")
    assert answer["asking"] == "ph"
    assert "no pH" in answer["sentence"]


def test_scanning_on_while_the_ph_is_asked_leaves_the_bottle_unchecked(scan, anion, cation):
    scan(cation.number)
    scan(".OK")
    answer = scan(anion.number)
    assert numbers.grouped(cation.number) in answer["left"]
    assert (answer["asking"], state(cation)) == ("", "expected")


@pytest.mark.parametrize(
    ("keys", "seen"),
    [
        ("1", {"cold": False}),
        ("2", {"headspace": True}),
        (".3", {"leaking": True}),
        ("5", {"cloudy": True}),
        ("6", {"label_matches": False}),
        ("7", {"broken": True}),
        ("8", {"frozen": True}),
        ("51", {"cold": False, "cloudy": True}),
    ],
)
def test_a_digit_marks_what_is_wrong_and_holds_the_bottle(scan, anion, keys, seen):
    scan(anion.number)
    answer = scan(keys)
    assert (answer["tone"], answer["word"]) == ("stopped", "On hold")
    assert state(anion) == "on hold"
    made = BenchCheck.objects.get()
    assert made.in_order is False
    looked_at = ("cold", "headspace", "leaking", "cloudy", "label_matches", "broken", "frozen")
    assert {name: getattr(made, name) for name in looked_at} == {**dict.fromkeys(looked_at), **seen}


def test_a_mark_that_costs_nothing_says_how_to_accept(scan, cation):
    """The house rulebook asks no temperature for cations: the mark holds the bottle, the rules do not."""
    scan(cation.number)
    answer = scan("1")
    assert (answer["word"], state(cation)) == ("On hold", "on hold")
    assert "so it waits for a decision" in answer["sentence"]
    assert scan(".AGREE")["tone"] == "accepted"


def test_wrong_acid_asks_for_the_strip_and_keeps_the_other_marks(scan, cation):
    scan(cation.number)
    asked = scan("14")
    assert (asked["asking"], asked["marks"]) == ("ph", "14")
    scan("5.5")
    made = BenchCheck.objects.get()
    assert (made.ph_low, made.cold, made.in_order) == (5.5, False, False)


def test_the_desk_leaves_out_what_only_the_sender_could_have_done(scan, anion):
    scan(anion.number)
    text = str(scan("2"))
    assert "After analysis:" in text
    assert "Before sending:" not in text


def test_something_else_asks_in_words(scan, anion):
    scan(anion.number)
    assert scan("9")["asking"] == "remark"
    scan("cap is cracked")
    assert (BenchCheck.objects.get().remark, state(anion)) == ("cap is cracked", "on hold")


def test_two_questions_at_once_are_asked_one_after_the_other(scan, anion):
    scan(anion.number)
    assert "one after the other" in scan("49")["sentence"]
    assert state(anion) == "expected"


def test_keys_without_a_bottle_on_the_screen_do_nothing(scan):
    for key in (".OK", ".3", ".PH1.5", ".AGREE"):
        assert scan(key)["tone"] == "stopped"
    assert not BenchCheck.objects.exists()


def test_an_unknown_bottle(scan, anion):
    scan(anion.number)
    stranger = numbers.new_number(numbers.BOTTLE)
    answer = scan(stranger)
    assert (answer["tone"], answer["on"]) == ("stopped", "")
    assert "No bottle that was sent to us" in answer["sentence"]
    assert scan(".OK")["tone"] == "stopped", "the key does not fall back on the bottle before"
    assert state(anion) == "expected"


def test_a_misread_number_keeps_the_screen(scan, anion):
    scan(anion.number)
    wrong = anion.number[:-1] + ("2" if anion.number[-1] != "2" else "3")
    answer = scan(wrong)
    assert (answer["word"], answer["on"]) == ("Misread", anion.number)


def test_a_submitters_own_code_names_our_numbers(scan, anion):
    answer = scan("w-1")
    assert answer["word"] == "A sample id"
    assert numbers.grouped(anion.number) in answer["sentence"]


def test_an_own_code_of_digits_never_marks_a_fault(scan, submitter, group, rulebook, reception, arrival):
    numbered = sent(submitter, group, rulebook, sample("12"), title="Numbered")
    receiving.add_consignment(arrival, numbered, by=reception, at=RECEIVED)
    bottle = numbered.bottles.get(line="anion")
    scan(bottle.number)
    answer = scan("12")
    assert answer["word"] == "A sample id"
    assert state(bottle) == "expected"
    scan(".12")
    assert state(bottle) == "on hold"


@pytest.mark.parametrize("text", ["4006381333931", "hello", "🧪", "‮evil", "12a", "0", "11"])
def test_a_code_that_means_nothing(scan, anion, text):
    scan(anion.number)
    answer = scan(text)
    assert (answer["tone"], answer["on"]) == ("stopped", anion.number)
    assert state(anion) == "expected"


def test_no_such_command(scan):
    assert scan(".DANCE")["word"] == "No such command"


def test_a_bottle_of_another_consignment_may_be_added(scan, submitter, group, rulebook, arrival):
    other = sent(submitter, group, rulebook, sample("X-1"), title="Second box")
    bottle = other.bottles.get(line="anion")
    answer = scan(bottle.number)
    assert answer["word"] == "Another consignment"
    assert "Second box" in answer["sentence"]
    assert scan(".OK")["tone"] == "stopped"
    assert state(bottle) == "expected"
    assert scan(".ADD")["tone"] == "look"
    assert scan(".OK")["tone"] == "accepted"
    assert arrival.parts.count() == 2


def test_a_packing_list_continues_or_adds(scan, submitter, group, rulebook, consignment):
    assert scan(consignment.number)["word"] == "Part of this arrival"
    other = sent(submitter, group, rulebook, sample("X-1"), title="Second box")
    assert scan(other.number)["word"] == "Another consignment"
    assert scan(".ADD")["word"] == "Added"


def test_a_scanned_bottle_is_told_apart_from_one_nobody_saw(scan, arrival, anion, cation):
    """A scan is noted once and is no check; undoing a check leaves the bottle among the scanned."""
    first = scan(anion.number)["progress"]
    assert "Scanned, not checked" in first
    scan(anion.number)
    assert [seen.bottle for seen in arrival.sightings.all()] == [anion]
    assert "Scanned, not checked" not in scan(".OK")["progress"]
    assert "Scanned, not checked" in scan(".UNDO")["progress"]
    assert not RecordEntry.objects.filter(verb="bottle.check", subject=f"bottle {cation.number}").exists()


def test_opening_the_desk_at_a_bottle_notes_nothing(signed_in, reception, arrival, anion):
    page = signed_in(reception).get(reverse("intake:desk", args=[arrival.number]), {"on": anion.number})
    assert "Look at this bottle" in page.text
    assert not arrival.sightings.exists()


def test_what_was_withdrawn_is_said_and_not_offered(scan, submitter, group, rulebook, arrival):
    other = sent(submitter, group, rulebook, sample("X-1"), title="Taken back")
    withdraw_consignment(other, by=submitter, at=RECEIVED, reason="Wrong bottles")
    for number in (other.number, other.bottles.first().number):
        answer = scan(number)
        assert answer["word"] == "Withdrawn"
        assert "Taken back" in answer["sentence"]
        assert ".ADD" not in str(answer)
    assert arrival.parts.count() == 1


def test_a_draft_stays_unknown(scan, submitter, group, rulebook):
    hidden = draft(submitter, group, rulebook, sample("D-1"), title="Secret draft")
    for number in (hidden.number, hidden.bottles.first().number):
        answer = scan(number)
        assert "Unknown" in answer["word"]
        assert "Secret" not in str(answer)


def test_scanning_twice_says_who_checked_it(scan, anion):
    scan(anion.number)
    assert scan(anion.number)["tone"] == "look", "not checked yet: it is simply shown again"
    scan(".OK")
    answer = scan(anion.number)
    assert answer["word"] == "Checked already"
    assert "Rolf Reception" in answer["sentence"]
    assert scan(".OK")["word"] == "Checked already"
    assert BenchCheck.objects.count() == 1


def test_a_fault_found_later_is_still_recorded(scan, anion):
    scan(anion.number)
    scan(".OK")
    scan(anion.number)
    scan("3")
    assert state(anion) == "on hold"


def test_a_refused_bottle_stays_refused(scan, anion):
    Bottle.objects.filter(pk=anion.pk).update(state="refused", decision_reason="wrong river")
    answer = scan(anion.number)
    assert answer["word"] == "Refused already"
    assert "wrong river" in answer["sentence"]
    scan(".OK")
    scan("3")
    assert state(anion) == "refused"


def test_undo_takes_the_last_one_back(scan, anion, cation):
    scan(anion.number)
    scan(".OK")
    answer = scan(".UNDO")
    assert (answer["word"], answer["on"]) == ("Undone", anion.number)
    assert state(anion) == "expected"
    assert scan(".UNDO")["tone"] == "stopped"


def test_undo_never_takes_back_what_somebody_else_did(scan, manager, arrival, anion):
    check_bottle(anion, arrival, by=manager, at=RECEIVED, seen={"cold": True}, in_order=True)
    assert scan(".UNDO")["tone"] == "stopped"
    assert state(anion) == "ready"


def test_agreeing_with_the_rules_decides(scan, anion):
    scan(anion.number)
    held = scan("2")
    assert "The rules suggest: accepted with a reservation" in held["panel"]
    answer = scan(".AGREE")
    assert answer["tone"] == "accepted"
    anion.refresh_from_db()
    assert (anion.state, anion.decision) == ("ready", "reserved")


def test_the_same_scan_sent_again_changes_nothing(scan, anion):
    scan(anion.number)
    standing = dict(scan.standing)
    first = scan(".OK", token="t-1")
    scan.standing = standing
    again = scan(".OK", token="t-1")
    assert (first["tone"], again["tone"]) == ("accepted", "accepted")
    assert BenchCheck.objects.count() == 1
    assert RecordEntry.objects.filter(verb="bottle.check").count() == 1


def test_a_scan_that_waited_keeps_the_moment_it_was_made(scan, anion):
    scan(anion.number)
    scan(".OK", age_s="90")
    made = BenchCheck.objects.get()
    assert made.entered_at - made.checked_at == timedelta(seconds=90)


def test_progress_counts_and_lists_what_is_to_come(scan, anion):
    scan(anion.number)
    answer = scan(".OK")
    assert "of 4 checked" in answer["progress"]
    assert answer["progress"].count("<li><span>W-") == 3


def test_of_many_to_come_the_first_are_listed_and_the_rest_counted(
    signed_in, submitter, reception, group, rulebook
):
    """What an answer costs does not grow with the box; the page of the arrival lists all."""
    bottles = LISTED_AT_THE_DESK + 3
    consignment = sent(
        submitter, group, rulebook, *(sample(f"W-{n}", bottles=(anion_bottle(),)) for n in range(bottles))
    )
    scan = Scanner(signed_in(reception), opened(reception, consignment))
    last = consignment.bottles.order_by("-sample__position").first()
    progress = scan(last.number)["progress"]
    assert progress.index(str(last.sample.own_id)) < progress.index("W-0"), "what was scanned comes first"
    assert progress.count("<li><span>W-") == LISTED_AT_THE_DESK
    assert "and 3 more, on the page of this arrival" in progress
    progress = scan(".OK")["progress"]
    assert "and 2 more, on the page of this arrival" in progress
    assert f"of {bottles} checked" in progress


@pytest.mark.parametrize(
    "more",
    [
        {"asking": "everything"},
        {"marks": "abc"},
        {"on": "x" * 99},
        {"age_s": "-5"},
        {"token": "x" * 99},
        {"text": "x" * 5000},
    ],
)
def test_what_no_desk_sends_is_answered_in_a_sentence(scan, more):
    answer = scan(**{"text": ".OK", **more})
    assert answer["tone"] == "stopped"
    assert not BenchCheck.objects.exists()


def test_signed_out_the_script_is_told_and_the_page_asks(client, arrival, anion):
    address = reverse("intake:desk", args=[arrival.number])
    told = client.post(address, {"text": anion.number}, headers={"accept": "application/json"})
    assert (told.status_code, told.json()) == (401, {"sign_in": True})
    assert client.get(address).status_code == 302


def test_without_the_script_one_scan_a_page_does_the_same(signed_in, reception, arrival, anion):
    client = signed_in(reception)
    address = reverse("intake:desk", args=[arrival.number])
    page = client.post(address, {"text": anion.number})
    assert "Look at this bottle" in page.text
    assert f'name="on" value="{anion.number}"' in page.text
    page = client.post(address, {"on": anion.number, "key": ".OK", "token": "t"})
    assert "Accepted" in page.text
    assert state(anion) == "ready"
    page = client.post(address, {"on": anion.number, "key": ".OK", "token": "t"})
    assert page.status_code == 200
    assert BenchCheck.objects.count() == 1


def test_submitters_and_strangers_have_no_desk(signed_in, submitter, stranger, arrival):
    for person in (submitter, stranger):
        answer = signed_in(person).get(reverse("intake:desk", args=[arrival.number]))
        assert answer.status_code in (403, 404)


def test_a_desk_of_no_arrival_is_not_there(signed_in, reception):
    number = numbers.new_number(numbers.ARRIVAL)
    assert signed_in(reception).get(reverse("intake:desk", args=[number])).status_code == 404


def test_a_closed_arrival_has_no_desk_any_more(scan, signed_in, reception, arrival, anion):
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=True)
    answer = signed_in(reception).get(reverse("intake:desk", args=[arrival.number]))
    assert answer.url == reverse("intake:arrival", args=[arrival.number])
    scan(anion.number)
    assert "is closed" in scan(".OK")["sentence"]


@pytest.mark.parametrize("samples", [1, 10])
def test_a_scan_costs_the_same_however_many_bottles_there_are(
    signed_in, submitter, reception, group, rulebook, samples, django_assert_num_queries
):
    consignment = sent(submitter, group, rulebook, *(sample(f"W-{n}") for n in range(samples)))
    scan = Scanner(signed_in(reception), opened(reception, consignment))
    bottle = consignment.bottles.filter(line="anion").first()
    scan(bottle.number)
    with django_assert_num_queries(SHOWING):
        scan(bottle.number)
    # A database with many writers at once is asked for the turn, too.
    with django_assert_num_queries(CHECKING + connection.features.has_select_for_update):
        scan(".OK", token="t")
    assert Arrival.objects.count() == 1


def test_the_card_names_every_command(signed_in, reception):
    page = signed_in(reception).get(reverse("intake:command_card")).text
    for text in (".OK", ".UNDO", ".AGREE", ".ADD", ".LEAVE", ".1", ".9", ".PH1.5"):
        assert f"<kbd>{text}</kbd>" in page
