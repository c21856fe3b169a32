"""Asking groups about bottles on hold, their answers, reminders and what falls to the manager."""

from datetime import timedelta

import pytest
from django.core import mail

from intake import record
from intake.actions import questioning, receiving
from intake.actions.answering import answer_question
from intake.actions.checking import check_bottle
from intake.actions.deciding import decide_bottle
from intake.errors import AlreadyDone, EntryProblem, MoveNotAllowed, NotPermitted, SomebodyWasFaster
from intake.models import Answer, Bottle, ClockRow, Question, RecordEntry
from tests.factories import RECEIVED, opened, sample, sent

pytestmark = pytest.mark.django_db

WARM = {"temperature_c": 15.0, "cooling": "none"}
LATER = RECEIVED + timedelta(minutes=30)
UNLIKE = {"label_matches": False}


def emptied(by, submitter, group, rulebook, *, seen, count=3, close=True):
    """An arrival of ``count`` samples, two bottles each, on all of which ``seen`` was found."""
    consignment = sent(submitter, group, rulebook, *(sample(f"S{n}") for n in range(1, count + 1)))
    arrival = opened(by, consignment)
    for bottle in consignment.bottles.select_related("sample", "consignment"):
        check_bottle(bottle, arrival, by=by, at=RECEIVED, seen=seen)
    if close:
        receiving.close_arrival(arrival, by=by, at=RECEIVED, more_to_come=False)
    return consignment


@pytest.fixture
def unlike(reception, submitter, group, rulebook):
    """Three samples, six bottles, all with a label unlike the list: one question."""
    return emptied(reception, submitter, group, rulebook, seen=UNLIKE)


@pytest.fixture
def question(unlike):
    return Question.objects.get()


def answer(question, by, choice, words="", **changes):
    return answer_question(question, by=by, at=LATER, choice=choice, words=words, **changes)


def states(consignment):
    return sorted(set(consignment.bottles.values_list("state", "decision")))


# Asking


def test_many_bottles_of_one_cause_are_one_question(question, unlike):
    assert (question.code, question.what) == ("label.mismatch", "Label unlike the list")
    assert question.asked.count() == unlike.bottles.count() == 6
    assert (question.consignment, question.arrival) == (unlike, unlike.arrivals.get())


def test_two_causes_are_two_questions_about_the_same_bottles(reception, submitter, group, rulebook):
    seen = {"label_matches": False, "leaking": True}
    consignment = emptied(reception, submitter, group, rulebook, seen=seen, count=2)
    asked = {question.code: question.asked.count() for question in consignment.questions.all()}
    assert asked == {"label.mismatch": 4, "bottle.leaking": 4}


def test_what_reception_wrote_is_the_cause_where_the_rules_have_none(reception, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    arrival = opened(reception, consignment)
    bottle = consignment.bottles.first()
    check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={}, remark="smells of fuel")
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=True)
    question = Question.objects.get()
    assert (question.code, question.sentence) == ("reception.doubt", "smells of fuel")


def test_nothing_is_asked_while_the_box_is_being_emptied(reception, submitter, group, rulebook):
    emptied(reception, submitter, group, rulebook, seen=UNLIKE, close=False)
    assert not Question.objects.exists()


def test_an_answer_is_useful_until_the_soonest_clock_that_can_be_kept(question, unlike):
    clocks = ClockRow.objects.keepable(RECEIVED).filter(bottle__consignment=unlike)
    soonest = min(clocks.values_list("due_at", flat=True))
    assert question.useful_until == soonest
    span = soonest - RECEIVED
    assert question.remind_at == RECEIVED + span / 2
    assert question.remind_at < question.falls_at < soonest


def test_departure_consultation_and_who_was_asked_are_on_record(question, unlike):
    """ISO/IEC 17025:2017 7.4.3."""
    told = RecordEntry.objects.get(verb="question.ask")
    assert told.consignment == unlike
    assert told.after["found"] == question.sentence
    assert record.readable(told.after["people asked"]) == ["Sami Submitter"]
    assert len(told.after["bottles"]) == 6


@pytest.mark.django_db(transaction=True)
def test_one_mail_asks_the_group_and_nobody_else(reception, submitter, stranger, group, rulebook):
    mail.outbox.clear()
    seen = {"label_matches": False, "leaking": True}
    emptied(reception, submitter, group, rulebook, seen=seen)
    (asked,) = (one for one in mail.outbox if one.subject.startswith("Your word is needed"))
    assert asked.to == [submitter.email]
    for question in Question.objects.all():
        assert f"/questions/{question.pk}/" in asked.body
        assert question.sentence in asked.body
    assert "Europe/Berlin" in asked.body


def test_a_bottle_put_on_hold_later_joins_or_asks_anew(reception, submitter, group, rulebook):
    consignment = sent(submitter, group, rulebook)
    arrival = opened(reception, consignment)
    for bottle in consignment.bottles.all():
        check_bottle(bottle, arrival, by=reception, at=RECEIVED, seen={}, in_order=True)
    receiving.close_arrival(arrival, by=reception, at=RECEIVED, more_to_come=False)
    assert not Question.objects.exists()
    for bottle in consignment.bottles.all():
        decide_bottle(bottle, by=reception, at=LATER, decision="held", reason="colour looks odd")
    assert Question.objects.get().asked.count() == 2


def test_the_laboratory_asks_and_nobody_else(submitter, unlike):
    with pytest.raises(NotPermitted):
        questioning.ask_about(questioning.held_bottles(), by=submitter, at=LATER)


def test_asking_again_about_the_same_changes_nothing(reception, question):
    assert questioning.ask_about(questioning.held_bottles(), by=reception, at=LATER) == []
    assert Question.objects.count() == 1
    assert RecordEntry.objects.filter(verb="question.ask").count() == 1


# Answering


def test_going_on_reserves_every_bottle_with_a_disclaimer(question, unlike, submitter):
    """ISO/IEC 17025:2017 7.4.3: the disclaimer names the results that may be affected."""
    given = answer(question, submitter, "go on with a reservation", "They are ours, the ink ran.")
    assert states(unlike) == [("ready", "reserved")]
    bottle = unlike.bottles.select_related("decided_by").first()
    assert bottle.decided_by == submitter
    for said in ("Results for", "may be affected", question.sentence, "They are ours, the ink ran."):
        assert said in bottle.decision_reason
    assert "nitrate" in given.disclaimer
    assert ClockRow.objects.filter(bottle=bottle, waiting=True).exists()
    told = RecordEntry.objects.get(verb="question.answer")
    assert (told.actor, told.reason) == (submitter, "They are ours, the ink ran.")
    assert told.after["disclaimer"] == given.disclaimer
    assert RecordEntry.objects.filter(verb="bottle.decide", actor=submitter).count() == 6


@pytest.mark.parametrize("choice", ["discard the bottles", "discard the bottles, new ones will come"])
def test_discarding_refuses_every_bottle(question, unlike, submitter, choice):
    answer(question, submitter, choice)
    assert states(unlike) == [("refused", "refused")]
    assert choice in unlike.bottles.first().decision_reason
    assert not ClockRow.objects.filter(bottle__consignment=unlike, waiting=True).exists()


@pytest.fixture
def warm(reception, submitter, group, rulebook):
    """A box that came warm a day late: some ions are concerned, others are not."""
    late = RECEIVED + timedelta(days=1)
    consignment = sent(submitter, group, rulebook)
    arrival = receiving.open_arrival(
        [consignment], by=reception, at=late, received_at=late, transport={**WARM, "measured_on": "bottle"}
    )
    bottle = consignment.bottles.get(line="anion")
    check_bottle(bottle, arrival, by=reception, at=late, seen={"cold": False})
    receiving.close_arrival(arrival, by=reception, at=late, more_to_come=True)
    return consignment


def test_giving_up_ions_lets_the_others_go_on(warm, submitter):
    question = next(q for q in warm.questions.all() if "give up the ions concerned" in q.choices)
    answer(question, submitter, "give up the ions concerned", "We only need chloride.")
    bottle = warm.bottles.get(line="anion")
    assert set(bottle.dropped) == set(question.ions)
    assert set(bottle.ions) - set(bottle.dropped) == {"fluoride", "chloride", "bromide"}
    assert (bottle.state, bottle.decision) == ("ready", "accepted")
    assert "We only need chloride." in bottle.dropped["nitrate"]


def test_a_bottle_waits_until_all_its_questions_are_answered(reception, submitter, group, rulebook):
    seen = {"label_matches": False, "leaking": True}
    consignment = emptied(reception, submitter, group, rulebook, seen=seen, count=1)
    first, second = consignment.questions.all()
    answer(first, submitter, "go on with a reservation")
    assert states(consignment) == [("on hold", "held")]
    answer(second, submitter, "go on with a reservation")
    assert states(consignment) == [("ready", "reserved")]
    reason = consignment.bottles.first().decision_reason
    assert first.sentence in reason
    assert second.sentence in reason


def test_discarding_for_one_cause_settles_the_other(reception, submitter, group, rulebook):
    seen = {"label_matches": False, "leaking": True}
    consignment = emptied(reception, submitter, group, rulebook, seen=seen, count=1)
    first, second = consignment.questions.all()
    answer(first, submitter, "discard the bottles")
    assert not Question.objects.open().exists()
    with pytest.raises(MoveNotAllowed, match="laboratory has decided"):
        answer(second, submitter, "go on with a reservation")
    second.refresh_from_db()
    assert second.answered_at is None


def test_what_reception_decided_meanwhile_stays(question, unlike, submitter, reception):
    bottle = unlike.bottles.first()
    decide_bottle(bottle, by=reception, at=RECEIVED, decision="refused", reason="empty")
    answer(question, submitter, "go on with a reservation")
    bottle.refresh_from_db()
    assert (bottle.state, bottle.decision_reason) == ("refused", "empty")
    assert unlike.bottles.filter(state="ready").count() == 5


def test_only_the_group_and_the_manager_answer(question, reception, stranger, manager):
    for nobody in (reception, stranger):
        with pytest.raises(NotPermitted):
            answer(question, nobody, "discard the bottles", "x")
    with pytest.raises(EntryProblem, match="whom you asked") as refused:
        answer(question, manager, "discard the bottles")
    assert "words" in refused.value.problems
    assert answer(question, manager, "discard the bottles", "Sami on the telephone").answered_by == manager


def test_an_answer_that_the_rulebook_does_not_allow_is_refused(question, submitter):
    for choice in ("give up the ions concerned", "accept", ""):
        with pytest.raises(EntryProblem, match="listed answers"):
            answer(question, submitter, choice)


def test_the_first_of_two_answers_counts(question, unlike, submitter, manager):
    same = Question.objects.get(pk=question.pk)
    answer(question, submitter, "go on with a reservation")
    with pytest.raises(SomebodyWasFaster):
        answer(same, manager, "discard the bottles", "nobody answered")
    assert states(unlike) == [("ready", "reserved")]
    assert Answer.objects.count() == 1


def test_the_same_form_twice_counts_once(question, submitter):
    answer(question, submitter, "go on with a reservation", token="t")
    with pytest.raises(AlreadyDone):
        answer(question, submitter, "go on with a reservation", token="t")


def test_a_failing_record_rolls_everything_back(question, unlike, submitter, monkeypatch):
    write = questioning.record.write

    def fail(**told):
        if told["verb"] == "bottle.decide":
            raise RuntimeError("disk full")
        return write(**told)

    monkeypatch.setattr("intake.record.write", fail)
    with pytest.raises(RuntimeError):
        answer(question, submitter, "discard the bottles")
    question.refresh_from_db()
    assert question.answered_at is None
    assert not Answer.objects.exists()
    assert states(unlike) == [("on hold", "held")]


# Reminding and handing over


def at_share(question, share):
    return question.asked_at + (question.useful_until - question.asked_at) * share


@pytest.mark.parametrize(("share", "reminded", "fell"), [(0.49, 0, 0), (0.5, 1, 0), (0.75, 1, 1)])
def test_a_question_reminds_at_half_and_falls_before_the_clock_does(question, system, share, reminded, fell):
    at = at_share(question, share)
    assert len(questioning.remind(by=system, at=at)) == reminded
    assert len(questioning.hand_over(by=system, at=at)) == fell
    assert RecordEntry.objects.filter(verb="question.remind").count() == reminded
    assert RecordEntry.objects.filter(verb="question.fall").count() == fell


def test_nobody_is_reminded_twice_or_after_the_answer(question, system, submitter):
    at = at_share(question, 0.6)
    assert questioning.remind(by=system, at=at)
    assert not questioning.remind(by=system, at=at)
    answer(question, submitter, "discard the bottles")
    assert not questioning.hand_over(by=system, at=question.useful_until)


def test_a_question_whose_bottles_were_decided_reminds_nobody(question, unlike, system, reception):
    for bottle in unlike.bottles.all():
        decide_bottle(bottle, by=reception, at=LATER, decision="refused", reason="empty")
    assert not questioning.remind(by=system, at=question.useful_until)


def test_only_system_and_manager_remind(question, submitter, reception):
    for person in (submitter, reception):
        with pytest.raises(NotPermitted):
            questioning.remind(by=person, at=question.useful_until)


@pytest.mark.django_db(transaction=True)
def test_the_mails_go_to_the_group_then_to_the_manager(
    reception, submitter, group, rulebook, system, manager
):
    emptied(reception, submitter, group, rulebook, seen=UNLIKE)
    question = Question.objects.get()
    mail.outbox.clear()
    questioning.remind(by=system, at=question.remind_at)
    questioning.hand_over(by=system, at=question.falls_at)
    reminder, fell = mail.outbox
    assert (reminder.to, fell.to) == ([submitter.email], [manager.email])
    assert submitter.email in fell.body
    assert all(f"/questions/{question.pk}/" in one.body for one in (reminder, fell))


def test_a_box_left_open_does_not_keep_the_group_waiting(reception, submitter, group, rulebook, system):
    emptied(reception, submitter, group, rulebook, seen=UNLIKE, close=False)
    soon = RECEIVED + questioning.OPEN_FOR - timedelta(seconds=1)
    assert not questioning.ask_about_boxes_left_open(by=system, at=soon)
    late = RECEIVED + questioning.OPEN_FOR
    assert len(questioning.ask_about_boxes_left_open(by=system, at=late)) == 1
    assert not questioning.ask_about_boxes_left_open(by=system, at=late)


def test_a_refused_bottle_taken_up_again_waits_again(question, unlike, reception):
    bottle = unlike.bottles.first()
    decide_bottle(bottle, by=reception, at=LATER, decision="refused", reason="empty")
    decide_bottle(bottle, by=reception, at=LATER, decision="held")
    assert Bottle.objects.filter(asked__question=question, state="on hold").count() == 6
    assert Question.objects.count() == 1
